"""What is made of anything at all that may be heard."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from runner.engine import events as ev
from runner.speech.agreement import LIGHT, decide, kind_of
from runner.speech.decision import (
    LONGEST_EVIDENCE,
    REASONS,
    UNSURE,
    evidence,
    sentence,
)
from runner.speech.heard import Heard, Ranked, Sort
from runner.speech.thresholds import Kind
from tests.runner.speech.judging import (
    ACCEPT,
    AGAIN,
    ASKED,
    BOTH,
    FORM,
    LIMITS,
    READ_BACK,
    SORTS,
    heard,
    judged,
    other,
)

LINES = st.sampled_from([*SORTS, "29.9", "below 40", "drop 3", "70", "accept 1", "off"])
HEARD = st.builds(
    Heard, st.sampled_from(("one", "two", "three")),
    st.lists(st.builds(Ranked, LINES, st.floats(-40, 0), st.sampled_from(Sort)), max_size=5).map(
        lambda rows: tuple(sorted(rows, key=lambda r: -r.score))
    ),
    st.sampled_from(("", "released", "list released", "not released", "correction 20", "¿")),
    st.none() | st.floats(-40, 0),
)  # fmt: skip


@given(st.lists(HEARD, max_size=3), st.booleans(), st.booleans(), st.none() | st.floats(-20, 40))
def test_whatever_was_heard_only_answers_of_the_set_are_taken(
    given_heard: list[Heard], critical: bool, open_: bool, snr: float | None
) -> None:
    answers = ASKED._replace(critical=critical, read_back=frozenset() if critical else BOTH)
    made = decide(given_heard, answers, LIMITS, snr, open_microphone=open_)
    assert made.ask == 7
    assert made.why in REASONS
    assert (made.line != "") is (made.verdict in (ACCEPT, READ_BACK))
    if made.line:
        line = made.line.removeprefix(UNSURE)
        assert line in SORTS or (FORM.low <= Decimal(line.split()[-1]) <= FORM.high)
        assert made.line.startswith(UNSURE) is (made.verdict is READ_BACK)
    passes = made.verdict is ACCEPT and line not in LIGHT and kind_of(
        Ranked(line, 0.0, made.sort), answers) is not Kind.AWAY if made.line else False  # fmt: skip
    if critical and passes and made.sort is not Sort.CONTROL:
        agreeing = [one for one in given_heard[1:] if one.ranked and one.ranked[0].line == line]
        assert agreeing
        assert " " in line or made.sort is Sort.NUMBER
    if critical:
        assert made.verdict is not READ_BACK
    if open_ and passes:
        assert given_heard[0].free.startswith("list")
    text = evidence(made)
    assert len(text) <= LONGEST_EVIDENCE
    assert not text or ev.Snag(1, text=text)
    said = sentence(made)
    assert (said != "") is (made.verdict is AGAIN)
    assert "{" not in said


@given(st.floats(-6, 0), st.floats(0, 9), st.floats(0, 3), st.floats(0, 3))
def test_what_is_heard_more_clearly_is_never_taken_less(
    score: float, margin: float, better: float, further: float
) -> None:
    order = [AGAIN, READ_BACK, ACCEPT]
    for opinions in ([], [other("released")], [other("parked")]):
        before = judged(heard("released", "parked", score=score, margin=margin), *opinions)
        after = judged(
            heard("released", "parked", score=score + better, margin=margin + further), *opinions
        )
        assert order.index(after.verdict) >= order.index(before.verdict)
