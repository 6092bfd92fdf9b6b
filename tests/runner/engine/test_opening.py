"""The first screen: read by both, or the wrong aircraft."""

from __future__ import annotations

from pathlib import Path

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.session import Session
from runner.flow.loader import load_aircraft

TINY = Path(__file__).resolve().parents[2] / "data" / "tiny"
CREW = (("commander", "A Holt"), ("copilot", "B Ray"))


def opened() -> Session:
    session = Session(load_aircraft(TINY).table)
    session.send(ev.Opened(0, ("crew",), CREW, (), (("counter:start_attempts", "2"),)))
    return session


def test_the_first_list_waits_for_both_readers() -> None:
    session = opened()
    assert session.state.question.prompt is Prompt.FIRST_PAGE
    session.send(ev.PageRead(1, "commander"))
    assert session.send(ev.PageRead(2, "commander")) == (("refused", "already read"),)
    assert session.state.question.prompt is Prompt.FIRST_PAGE
    session.send(ev.PageRead(3, "copilot"))
    assert session.state.question.prompt is not Prompt.FIRST_PAGE


def test_an_unnamed_reader_is_neither_of_two() -> None:
    session = opened()
    for at in (1, 2):
        assert session.send(ev.PageRead(at)) == (("refused", "say who"),)
    session.send(ev.PageRead(3, "copilot"))
    assert session.send(ev.PageRead(4)) == (("refused", "say who"),)
    assert session.state.unread == ("commander",)


def test_one_person_alone_need_not_be_named() -> None:
    for mode in ("solo", "single-pilot"):
        session = Session(load_aircraft(TINY).table)
        session.send(ev.Opened(0, (mode,), CREW[:1], (), ()))
        session.send(ev.PageRead(1))
        assert session.state.question.prompt is not Prompt.FIRST_PAGE
        assert session.send(ev.PageRead(2)) == (("refused", "already read"),)


def test_the_wrong_aircraft_ends_the_run_with_no_list_closed() -> None:
    session = opened()
    outcome = session.send(ev.NotSo(1, session.state.ask, "commander"))
    assert ("left behind", "outside", "wrong aircraft") in outcome
    assert session.state.question.prompt is Prompt.CLOSED
    assert not session.state.plan
    assert all(visit.left for visit in session.state.archive)
    refused = session.send(ev.NextFlight(2))
    assert refused[0][:2] == ("refused", "not next flight")


def test_in_a_list_not_so_never_ends_the_run() -> None:
    session = opened()
    session.send(ev.PageRead(1, "commander"))
    session.send(ev.PageRead(2, "copilot"))
    session.send(ev.NotSo(3, session.state.ask, "commander"))
    assert session.state.question.prompt is not Prompt.CLOSED
    assert session.state.plan
