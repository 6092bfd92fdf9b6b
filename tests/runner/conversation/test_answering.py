"""What a decision does to the run: one line at most, to the question that stood, and its clip."""

from __future__ import annotations

import pytest

np = pytest.importorskip("numpy")

from hypothesis import given  # noqa: E402
from hypothesis import strategies as st  # noqa: E402

from runner.conversation.answering import (  # noqa: E402
    NOTHING_GIVEN,
    TOO_LATE,
    Answering,
    wanted,
)
from runner.conversation.microphone import NOTHING  # noqa: E402
from runner.conversation.standing import Standing, Way, now  # noqa: E402
from runner.engine.effects import Prompt, Voice  # noqa: E402
from runner.speech.decision import Decision, Verdict, evidence, sentence  # noqa: E402
from runner.speech.lexicon import lexicon  # noqa: E402
from tests.runner.conversation.desks import OIL, Done, NotingDesk  # noqa: E402
from tests.runner.terminal.fakes import view  # noqa: E402

WAY = Way(lexicon())
SOUND = np.zeros(160, np.float32)
ASK = view().ask
ORDER = f"correct {OIL.key} "


def decision(verdict: Verdict, line: str = "", *, ask: int = ASK, why: str = "") -> Decision:
    return Decision(verdict, ask, line, why, best=line or "released", recogniser="one", score=-0.5)


class Told:
    """Decisions carried out at a desk that keeps clips."""

    def __init__(self, order: str = "", desk: NotingDesk | None = None) -> None:
        self.desk = desk or NotingDesk()
        self.stands: Standing = now(self.desk, self.desk.hears, self.desk.shown, order, WAY)
        self.answering = Answering(self.desk, lambda _: b"sound")

    def carry_out(self, made: Decision) -> str:
        return self.answering.carry_out(made, self.stands, SOUND)


@pytest.mark.parametrize("verdict", [Verdict.ACCEPT, Verdict.READ_BACK])
def test_what_is_taken_or_read_back_is_one_line_with_its_grounds_and_then_its_clip(
    verdict: Verdict,
) -> None:
    told = Told()
    made = decision(verdict, "unsure: released" * (verdict is Verdict.READ_BACK) or "released")
    assert told.carry_out(made) == ""
    assert told.desk.done == [Done("line", made.line, ASK, evidence=evidence(made)), Done("clip")]


def test_what_was_not_understood_is_told_why_then_called_once_more_and_logged() -> None:
    told = Told()
    made = decision(Verdict.SAY_AGAIN, why="not clear")
    assert told.carry_out(made) == ""
    assert told.desk.done == [
        Done("say", sentence(made), kind=Voice.REFUSED),
        Done("again", "", ASK, evidence=evidence(made)),
        Done("clip"),
    ]
    assert sentence(made) == "SAY AGAIN: NOT CLEAR"


def test_nothing_is_done_about_nothing_and_only_silence_at_the_key_is_told() -> None:
    told = Told()
    assert told.carry_out(decision(Verdict.NOTHING, why="no address")) == ""
    assert told.desk.done == []
    assert told.carry_out(decision(Verdict.NOTHING, why="nothing heard")) == ""
    assert told.desk.done == [Done("say", NOTHING, kind=Voice.STATUS)]


@given(
    verdict=st.sampled_from(Verdict),
    line=st.sampled_from(["released", "unsure: 54", "correction ", "snag ", "disregard"]),
    order=st.sampled_from(["", "snag ", ORDER]),
    ask=st.integers(0, 20).filter(lambda n: n != ASK),
)
def test_what_was_said_to_another_question_does_nothing_but_say_so(
    verdict: Verdict, line: str, order: str, ask: int
) -> None:
    told = Told(order)
    assert told.carry_out(decision(verdict, line, ask=ask)) == ""
    late = [Done("say", TOO_LATE, kind=Voice.REFUSED)]
    assert told.desk.done == ([] if verdict is Verdict.NOTHING else late)


@given(
    verdict=st.sampled_from(Verdict),
    why=st.sampled_from(["nothing heard", "not clear", "no address", ""]),
    line=st.sampled_from(["released", "unsure: 54", "correction ", "snag ", "disregard",
                          f"{ORDER}54", "snag smell", "discontinue"]),
    order=st.sampled_from(["", "snag ", ORDER]),
)  # fmt: skip
def test_an_utterance_is_one_line_at_most_and_a_clip_only_behind_a_line(
    verdict: Verdict, why: str, line: str, order: str
) -> None:
    told = Told(order)
    told.carry_out(decision(verdict, line, why=why))
    lines = [one for one in told.desk.done if one.what in ("line", "again")]
    assert len(lines) <= 1
    assert all(one.ask == ASK for one in lines)
    assert told.desk.what.count("clip") == len(lines)
    if lines:
        assert told.desk.what[-1] == "clip"


def test_an_order_to_correct_the_latest_answer_names_its_item_from_then_on() -> None:
    """Between the order and the value another item may be answered by a key: the value is of the
    item that was said."""
    told = Told()
    assert told.carry_out(decision(Verdict.ACCEPT, "correction ")) == ORDER
    assert told.desk.done == [
        Done("say", "CORRECTION, OIL TEMPERATURE: SAY WHAT IS RIGHT", kind=Voice.OUTCOME)
    ]


def test_an_order_to_correct_an_item_is_kept_as_it_is() -> None:
    told = Told()
    assert told.carry_out(decision(Verdict.ACCEPT, ORDER)) == ORDER
    assert told.desk.texts == ["CORRECTION, OIL TEMPERATURE: SAY WHAT IS RIGHT"]


def test_where_nothing_was_answered_there_is_nothing_to_correct() -> None:
    told = Told(desk=NotingDesk(view(latest=None)))
    assert told.carry_out(decision(Verdict.ACCEPT, "correction ")) == ""
    assert told.desk.done == [Done("say", NOTHING_GIVEN, kind=Voice.REFUSED)]


def test_a_snag_wants_words_and_its_line_ends_it() -> None:
    told = Told()
    assert told.carry_out(decision(Verdict.ACCEPT, "snag ")) == "snag "
    assert told.desk.texts == ["SNAG: SAY WHAT, OR DISREGARD"]
    behind = Told("snag ")
    assert behind.carry_out(decision(Verdict.ACCEPT, "snag smell of oil")) == ""
    assert [one.text for one in behind.desk.done if one.what == "line"] == ["snag smell of oil"]


@pytest.mark.parametrize("order", ["snag ", ORDER])
def test_disregard_breaks_an_order_off_and_reaches_the_list_otherwise(order: str) -> None:
    told = Told(order)
    assert told.carry_out(decision(Verdict.ACCEPT, "disregard")) == ""
    assert told.desk.done == [Done("say", "DISREGARDED", kind=Voice.ECHO)]
    bare = Told()
    bare.carry_out(decision(Verdict.ACCEPT, "disregard"))
    assert bare.desk.what == ["line", "clip"]


@pytest.mark.parametrize("order", ["snag ", ORDER])
@pytest.mark.parametrize("verdict", [Verdict.NOTHING, Verdict.SAY_AGAIN])
def test_an_order_is_kept_while_nothing_was_understood(order: str, verdict: Verdict) -> None:
    assert Told(order).carry_out(decision(verdict, why="not clear")) == order


@pytest.mark.parametrize("order", ["snag ", ORDER])
def test_say_again_is_of_the_order_that_waits_and_never_drops_it(order: str) -> None:
    """Dropped in silence, the next words would answer the question that stands."""
    told = Told(order)
    assert told.carry_out(decision(Verdict.ACCEPT, "say again")) == order
    assert told.desk.done == [Done("say", wanted(order, told.desk), kind=Voice.OUTCOME)]


def test_correction_while_something_is_read_back_is_of_what_is_read_back() -> None:
    told = Told(desk=NotingDesk(view(prompt=Prompt.READ_BACK, latest=OIL, before=(OIL,))))
    made = decision(Verdict.ACCEPT, "correction ")
    assert told.carry_out(made) == ""
    assert told.desk.done == [Done("line", "negative", ASK, evidence=evidence(made)), Done("clip")]


def test_without_clips_none_are_made() -> None:
    desk = NotingDesk()
    stands = now(desk, desk.hears, desk.shown, "", WAY)
    for verdict in Verdict:
        Answering(desk).carry_out(decision(verdict, "released"), stands, SOUND)
    assert not desk.clips


def test_a_clip_that_cannot_be_kept_costs_nothing_and_is_said_once() -> None:
    told = Told()
    told.desk.trouble = "no room"
    for _ in range(3):
        told.carry_out(decision(Verdict.ACCEPT, "released"))
    assert told.desk.what.count("line") == 3
    assert told.desk.texts == ["CLIP NOT KEPT: no room"]
    told.desk.trouble = "the recording was lost"
    told.carry_out(decision(Verdict.ACCEPT, "released"))
    assert told.desk.texts[1:] == ["CLIP NOT KEPT: the recording was lost"]


def test_a_clip_that_cannot_be_made_costs_nothing() -> None:
    def fails(_: object) -> bytes:
        raise OSError("no encoder")

    desk = NotingDesk()
    stands = now(desk, desk.hears, desk.shown, "", WAY)
    assert (
        Answering(desk, fails).carry_out(decision(Verdict.ACCEPT, "released"), stands, SOUND) == ""
    )
    assert desk.what == ["line", "say"]
    assert desk.texts == ["CLIP NOT KEPT: OSError: no encoder"]
