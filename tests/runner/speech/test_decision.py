"""What of a decision is logged, and what is said of it."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.session import transition
from runner.speech.agreement import decide
from runner.speech.decision import (
    Decision,
    evidence,
    sentence,
)
from runner.speech.heard import Heard, Ranked, Sort
from tests.runner.speech.day import day
from tests.runner.speech.judging import (
    ACCEPT,
    LIMITS,
    READ_BACK,
    heard,
    judged,
    other,
)


def test_the_log_keeps_on_what_grounds_it_was_taken() -> None:
    made = judged(
        heard("released", "parked", "pump on", margin=3.1, score=-0.42, free="Released."),
        other("released"),
    )
    assert evidence(made) == (
        "released; one score -0.42 margin 3.10 quiet; two: released; "
        "next: parked -3.10, pump on -6.20; wrote: Released."
    )
    unsure = judged(heard("29.9", "29.5", score=-3.0, margin=1.0), Heard("two", ()))
    assert evidence(unsure) == (
        "29.9 (read back, not clear); one score -3.00 margin 1.00 quiet; two: no answer; "
        "next: 29.5 -1.00"
    )
    assert evidence(judged()) == "nothing heard"


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (judged(heard("released", "parked", score=-9.0)), "SAY AGAIN: NOT CLEAR"),
        (judged(heard("released", "parked", score=-1.0, margin=0.2)),
         "SAY AGAIN: RELEASED OR PARKED?"),
        (judged(heard("tick a.hook", "parked", score=-1.0, margin=0.2)),
         "SAY AGAIN: HOOK LATCHED OR PARKED?"),
        (judged(heard("29.9", "29.5", score=-1.0, margin=0.2)),
         "SAY AGAIN: TWO NINE DECIMAL NINE OR TWO NINE DECIMAL FIVE?"),
        (judged(heard("released", "parked", score=-4.5), other("parked")),
         "SAY AGAIN: HEARD IN TWO WAYS"),
        (judged(heard("released", "parked", free="not released")),
         "SAY AGAIN: HEARD NOT, NOT TAKEN"),
        (judged(heard("released", "parked", margin=9.0)), ""),
        (judged(), ""),
    ],
)  # fmt: skip
def test_what_was_not_taken_says_why_and_what_to_do(made: Decision, said: str) -> None:
    assert sentence(made) == said


def test_a_decision_about_a_real_question_is_taken_by_the_list() -> None:
    """Every answer of the day that two recognisers heard clearly is taken by the engine, and what
    was read back by hearing is asked *affirm* by it, once."""
    taken = read = 0
    for said in day():
        answers = said.set(said.role)
        best = next((p for p in answers.phrases if p.sort is Sort.RESPONSE
                     and isinstance(said.event, ev.Answer) and not said.event.item
                     and said.read(p.line).but(role="") == said.event.but(role="", source="voice")),
                    None)  # fmt: skip
        if best is None:
            continue
        ranked = (Ranked(best.line, -1.0, best.sort), Ranked("wilco", -9.0, Sort.CONTROL))
        for free_score in (-0.9, 1.5):
            one = Heard("one", ranked, "", free_score)
            opinions = [other(best.line)._replace(ranked=ranked)] if free_score < 0 else []
            made = decide([one, *opinions], answers, LIMITS, 20.0)
            if not made.line:
                assert free_score > 0
                assert not answers.read_back
                continue
            event = said.read(made.line).but(role=said.role)
            kinds = [item[0] for item in transition(said.table, said.state, event)[1]]
            assert "refused" not in kinds
            assert made.verdict is (ACCEPT if free_score < 0 else READ_BACK)
            if made.verdict is READ_BACK:
                assert kinds.count("read back") == 1
                read += 1
            else:
                taken += 1
    assert taken > 300
    assert read > 100
