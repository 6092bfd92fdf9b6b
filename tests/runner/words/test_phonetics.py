"""How alike phrases sound."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.words.phonetics import LEAST, alike, distance, sounds

PHRASES = st.text(alphabet="ABCDEFGHIJKLMNOPQRSTUVWXYZ '-0123456789", max_size=24)


def apart(one: str, other: str) -> float:
    return distance(sounds(one), sounds(other))


@given(PHRASES)
def test_a_phrase_is_no_way_from_itself(phrase: str) -> None:
    assert apart(phrase, phrase.lower()) == 0


@given(PHRASES, PHRASES)
def test_the_way_back_is_as_long(one: str, other: str) -> None:
    assert apart(one, other) == pytest.approx(apart(other, one))


@given(PHRASES, PHRASES, PHRASES)
def test_a_way_round_is_never_shorter_by_more_than_the_table_allows(
    one: str, between: str, other: str
) -> None:
    # Sounds alike in two groups make the table no metric of sounds; of rows it bounds how much.
    round_about = apart(one, between) + apart(between, other)
    assert apart(one, other) <= 2.5 * round_about + 1e-9


@given(PHRASES, PHRASES)
def test_sounds_more_or_less_cost_at_least_what_is_said(one: str, other: str) -> None:
    more = abs(len(sounds(one)) - len(sounds(other)))
    assert apart(one, other) >= more * LEAST - 1e-9


@given(PHRASES, PHRASES, st.floats(0, 8))
def test_what_is_not_worked_out_is_only_what_is_too_far(one: str, other: str, most: float) -> None:
    exact = apart(one, other)
    given = distance(sounds(one), sounds(other), most)
    assert given == exact if exact <= most else given > most


@given(PHRASES)
def test_every_sound_is_one_of_the_table(phrase: str) -> None:
    assert set(sounds(phrase)) <= set("abdefghijklmnoprstuvwzCNSTZ")


# The words that the radiotelephony standard changed so that they are heard apart (ICAO Annex 10
# volume II: niner and fife for 9 and 5, affirm for affirmative; the reasons from memory).
@pytest.mark.parametrize(
    ("changed", "plain"),
    [(("niner", "fife"), ("nine", "five")), (("affirm", "negative"), ("affirmative", "negative"))],
)
def test_words_that_the_standard_made_apart_are_further_apart(
    changed: tuple[str, str], plain: tuple[str, str]
) -> None:
    longest = [max(len(sounds(word)) for word in pair) for pair in (changed, plain)]
    assert apart(*changed) / longest[0] > apart(*plain) / longest[1]


# Place of articulation is lost first in noise, voicing later (Miller and Nicely 1955, from memory).
@pytest.mark.parametrize(
    ("near", "far"),
    [(("pen", "ten"), ("ten", "men")), (("mop", "nop"), ("mop", "sop")),
     (("fin", "thin"), ("fin", "bin")), (("cut", "put"), ("cut", "nut"))],
)  # fmt: skip
def test_what_noise_takes_first_is_nearer(near: tuple[str, str], far: tuple[str, str]) -> None:
    assert apart(*near) < apart(*far)


@pytest.mark.parametrize(
    ("spelled", "said"),
    [("BRAKE", "breik"), ("RELEASED", "relisd"), ("FENCE", "fens"), ("GAUGE", "goj"),
     ("ROUGH", "raf"), ("CHECK", "Cek"), ("THROTTLE", "Trotl"), ("QUICK", "kwik"),
     ("PHASE", "feis"), ("PUMPED", "pumpd"), ("LOADED", "loded"), ("ICE", "ais")],
)  # fmt: skip
def test_spelling_becomes_sounds(spelled: str, said: str) -> None:
    assert "".join(sounds(spelled)) == said


def test_digits_are_said_one_by_one() -> None:
    assert sounds("10") == sounds("one zero")
    assert sounds("9") == sounds("niner")


@pytest.mark.parametrize(
    ("one", "other", "near"),
    [("five", "nine", False), ("fifteen", "fifty", True), ("INCREASING", "decreasing", True),
     ("on", "off", True), ("pump on", "pump off", True), ("released", "parked", False),
     ("cut-off", "cut off", False), ("brake on", "brake on", False)],
)  # fmt: skip
def test_phrases_are_told_apart_by_what_they_do_not_share(one: str, other: str, near: bool) -> None:
    assert alike(one, other) is near
    assert alike(other, one) is near
