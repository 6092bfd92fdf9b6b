"""What was said beside an answer forbids to take it: a denial, a correction, a number."""

from __future__ import annotations

import pytest

from runner.speech.decision import Verdict
from tests.runner.speech.judging import (
    ACCEPT,
    AGAIN,
    ASKED,
    PHRASES,
    READ_BACK,
    heard,
    judged,
    other,
)


@pytest.mark.parametrize(
    ("line", "free", "why"),
    [
        ("released", "Not released.", "denied"),
        ("released", "Released, no wait", "denied"),
        ("released", "It isn’t released", "denied"),
        ("released", "Knot released", ""),
        ("no fire seen", "No fire seen.", ""),
        ("no fire seen", "not no fire seen", "denied"),
        ("affirm", "negative affirm", "denied"),
        ("29.9", "not 29.9", "denied"),
        ("next flight", "not next flight", ""),
        ("released", "parked correction", "repaired"),
        ("next flight", "released, correction, next flight", "repaired"),
        ("correction ", "Correction.", ""),
        ("correction ", "Correction five four", "correction alone"),
    ],
)
def test_what_was_said_beside_the_answer_forbids_to_take_it(line: str, free: str, why: str) -> None:
    made = judged(heard(line, "parked", margin=50.0, free=free), other(line))
    assert made.why == why
    assert made.verdict is (AGAIN if why else ACCEPT)


@pytest.mark.parametrize(
    ("free", "score", "verdict"),
    [
        *(
            (free, -1.0, AGAIN)
            for free in (
                "One four five zero.",
                "47",
                "1,450",
                "1-4-5-0",
                "1 4 5 0",
                "Seventeen.",
                "Eleven",
                "Twenty.",
                "One four five zero rpm",
                "29.92 inches",
                "minus one five",
                "29 point 92",
            )
        ),
        *(
            (free, -1.0, ACCEPT)
            for free in (
                "One.",
                "4",
                "Too.",
                "-5",
                "One for the road",
                "Two rotors",
                "One on four",
                "Point",
            )
        ),
        ("One four five zero.", 0.1, ACCEPT),
    ],
)
def test_a_number_is_no_answer_of_words_unless_that_is_likelier(
    free: str, score: float, verdict: Verdict
) -> None:
    made = judged(heard("released", "parked", margin=50.0, score=score, free=free),
                  other("released"))  # fmt: skip
    assert made.verdict is verdict
    assert made.why == ("not of the list" if verdict is AGAIN else "")


def test_an_answer_with_a_number_in_it_may_be_written_as_one() -> None:
    six = tuple(p._replace(ways=("released at two two",)) if p.line == "released" else p
                for p in PHRASES)  # fmt: skip
    best = heard("released", "parked", margin=50.0, free="22")
    assert judged(best, other("released")).verdict is AGAIN
    made = judged(best, other("released"), answers=ASKED._replace(phrases=six))
    assert made.verdict is ACCEPT


def test_what_corrected_itself_is_read_back_in_its_last_form() -> None:
    made = judged(heard("parked", "released", margin=50.0, free="Parked. Correction, released."))
    assert (made.verdict, made.line, made.best) == (READ_BACK, "unsure: released", "released")
    number = judged(
        heard("17", "16", margin=50.0, free="one seven correction one six decimal five")
    )
    assert (number.verdict, number.line) == (READ_BACK, "unsure: 16.5")
    for free in ("17 correction 99", "17 correction 16.55", "17 correction blue", "17 correction"):
        again = judged(heard("17", "16", margin=50.0, free=free))
        assert (again.verdict, again.why, again.line) == (AGAIN, "repaired", "")
    critical = ASKED._replace(critical=True, read_back=frozenset())
    made = judged(heard("parked", margin=50.0, free="parked correction pump on"), other("parked"),
                  answers=critical)  # fmt: skip
    assert made.verdict is AGAIN


def test_a_number_behind_the_address_is_no_answer_of_words_either() -> None:
    phrases = tuple(p._replace(ways=tuple(f"list {w}" for w in p.ways)) for p in PHRASES)
    answers = ASKED._replace(phrases=phrases)
    best = heard("released", "parked", margin=50.0, score=-1.0, free="List, one four five zero")
    made = judged(best, other("released"), answers=answers, open_=True)
    assert (made.verdict, made.why) == (AGAIN, "not of the list")
