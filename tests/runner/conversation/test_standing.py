"""What may be said just now: to a question, and behind an order that wants something."""

from __future__ import annotations

import pytest

np = pytest.importorskip("numpy")

from runner.conversation.answering import Answering  # noqa: E402
from runner.conversation.standing import FREE, Way, item_of, now, of_snag, standing  # noqa: E402
from runner.engine.effects import Prompt  # noqa: E402
from runner.speech.decision import Decision, Verdict  # noqa: E402
from runner.speech.heard import Sort  # noqa: E402
from runner.speech.lexicon import lexicon  # noqa: E402
from tests.runner.conversation.desks import BRAKE, OIL, NotingDesk, asked  # noqa: E402
from tests.runner.terminal.fakes import number, view  # noqa: E402

WAY = Way(lexicon())
BREAKS_OFF = {"disregard", "say again", "stand by"}
WAYS_OUT = {"discontinue", "mark take-off", "mark landing"}


def lines(desk: NotingDesk, order: str, way: Way = WAY) -> set[str]:
    return {p.line for p in now(desk, desk.hears, desk.shown, order, way).answers.phrases}


def test_without_an_order_all_that_answers_the_question_may_be_said() -> None:
    desk = NotingDesk()
    found = now(desk, desk.hears, desk.shown, "", WAY)
    assert (found.ask, found.opener, found.free) == (desk.hears.ask, "", False)
    assert {"released", "say again", "correction ", "snag "} <= lines(desk, "")
    assert f"correct {OIL.key} " in lines(desk, "")
    assert not desk.corrected


def test_with_an_open_microphone_what_passes_is_addressed() -> None:
    found = standing(asked(), view(), Way(lexicon(), open_microphone=True))
    ways = {p.line: p.ways for p in found.answers.phrases}
    assert all(way.startswith("list ") for way in ways["released"])
    assert not any(way.startswith("list ") for way in ways["disregard"])


@pytest.mark.parametrize("order", [f"correct {OIL.key} ", "correction "])
def test_behind_an_order_to_correct_only_the_item_s_own_answers_are_heard(order: str) -> None:
    desk = NotingDesk()
    found = now(desk, desk.hears, desk.shown, order, WAY)
    assert (found.opener, found.free, desk.corrected) == (order, False, [OIL.key])
    drills = {f"drill {key}" for key, _ in desk.shown.drills}
    own = {f"{order}released", f"{order}not so"}
    assert lines(desk, order) == own | BREAKS_OFF | drills | WAYS_OUT
    assert found.answers.number is None


def test_behind_an_order_to_correct_a_value_its_number_is_heard() -> None:
    desk = NotingDesk()
    desk.listens_to = number(meanings=())
    found = now(desk, desk.hears, desk.shown, f"correct {OIL.key} ", WAY)
    assert found.answers.number is not None
    drills = {f"drill {key}" for key, _ in desk.shown.drills}
    assert {p.line for p in found.answers.phrases} == BREAKS_OFF | WAYS_OUT | drills


def test_where_nothing_was_answered_the_latest_answer_has_no_order_and_no_free_words() -> None:
    """It must not become a snag: any words would be taken."""
    desk = NotingDesk(view(latest=None))
    found = now(desk, desk.hears, desk.shown, "correction ", WAY)
    assert (found.opener, found.free) == ("", False)
    assert not desk.corrected


def test_behind_a_snag_any_words_are_wanted_and_the_set_holds_what_breaks_off() -> None:
    desk = NotingDesk()
    found = now(desk, desk.hears, desk.shown, "snag ", WAY)
    assert {p.line for p in of_snag(desk.shown, WAY).answers.phrases} == BREAKS_OFF
    drills = {f"drill {key}" for key, _ in desk.shown.drills}
    assert (found.opener, found.free, found.ask) == (FREE, True, desk.shown.ask)
    assert {p.line for p in found.answers.phrases} == BREAKS_OFF | WAYS_OUT | drills
    assert {p.sort for p in found.answers.phrases} == {Sort.CONTROL}
    assert found.answers.number is None


def test_the_item_of_an_order_is_named_as_the_crew_reads_it() -> None:
    shown = view(latest=OIL, before=(BRAKE,), items=())
    assert item_of("correction ", shown) == "OIL TEMPERATURE"
    assert item_of(f"correct {BRAKE.key} ", shown) == "ROTOR BRAKE"
    assert item_of("correct no.such ", shown) == ""
    assert item_of("correction ", view(latest=None)) == ""
    station = view(items=(BRAKE,), latest=None)
    assert item_of(f"correct {BRAKE.key} ", station) == "ROTOR BRAKE"


def test_behind_an_order_an_open_microphone_wants_the_address_too() -> None:
    desk = NotingDesk()
    stands = now(desk, desk.hears, desk.shown, f"correct {OIL.key} ", Way(lexicon(), True))
    right = [p for p in stands.answers.phrases if p.line.startswith("correct ")]
    assert right
    assert all(way.startswith(WAY.language.address) for p in right for way in p.ways)


def test_an_order_to_correct_stands_also_while_something_is_read_back() -> None:
    desk = NotingDesk(view(prompt=Prompt.READ_BACK, latest=OIL, before=(OIL,)))
    desk.listens_to = asked(prompt=Prompt.READ_BACK)
    stands = now(desk, desk.hears, desk.shown, f"correct {OIL.key} ", WAY)
    assert f"correct {OIL.key} released" in [p.line for p in stands.answers.phrases]


def test_what_is_by_key_alone_is_no_word() -> None:
    page = asked(prompt=Prompt.FIRST_PAGE, meanings=(), responses=())
    lines = {p.line for p in standing(page, view(prompt=Prompt.FIRST_PAGE), WAY).answers.phrases}
    by_key = WAY._replace(by_key=frozenset({"page read"}))
    stands = standing(page, view(prompt=Prompt.FIRST_PAGE), by_key)
    assert {p.line for p in stands.answers.phrases} == lines >= {"page read"}
    desk = NotingDesk(view(prompt=Prompt.FIRST_PAGE))
    made = Decision(Verdict.ACCEPT, stands.ask, "page read", best="page read")
    assert Answering(desk).carry_out(made, stands, np.zeros(1, np.float32)) == ""
    assert desk.texts == ["NOT TAKEN: THIS IS BY KEY"]


@pytest.mark.parametrize("order", [FREE, f"correct {OIL.key} "])
def test_the_ways_out_are_open_whatever_waits(order: str) -> None:
    desk = NotingDesk(view(latest=OIL, before=(OIL,), drills=(("fire", "Fire in start"),)))
    found = lines(desk, order)
    assert {"discontinue", "drill fire", "mark take-off", "disregard"} <= found
    assert not {"released", "put off", "continue"} & found
