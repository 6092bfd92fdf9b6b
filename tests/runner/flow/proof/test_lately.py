"""What is kept for being looked at often decides nothing: without it the same is found."""

from __future__ import annotations

from decimal import Decimal

import pytest

from runner.engine import events as ev
from runner.flow.proof import lately
from runner.flow.proof.explore import Explorer
from runner.flow.proof.lately import Lately, Numbers
from runner.flow.proof.makers import Makers
from tests.runner.engine.generator import aircraft
from tests.runner.flow.proof.planted import explored

Patch = pytest.MonkeyPatch

GOALS = (
    ("before shutdown.rotor_brake: rotor_rpm BELOW 70 RPM", ("an interruption", "the paper card")),
    ("take_off.hover_power", ("an interruption", "the paper card", "fire_in_start")),
    ("clutch_fault.clutch_head", ()),
)


def graph(explorer: Explorer) -> tuple[object, ...]:
    """Everything that was explored, in its order."""
    return (
        explorer.parents, explorer.edges, explorer.held, explorer.closed, explorer.ended,
        explorer.spent, explorer.result.reached, explorer.result.transitions,
        {drill: len(seen) for drill, seen in explorer.seen_within.items()},
    )  # fmt: skip


@pytest.mark.parametrize(("goal", "beside"), GOALS)
def test_what_is_forgotten_at_once_is_found_the_same(
    goal: str, beside: tuple[str, ...], monkeypatch: Patch
) -> None:
    table = aircraft("corvane_c4")
    kept = explored(table, goal, *beside)
    monkeypatch.setattr(lately, "MOST_KEPT", 1)
    assert len(kept.parents) > 20
    assert graph(explored(table, goal, *beside)) == graph(kept)


def test_two_things_have_one_number_exactly_if_they_are_equal() -> None:
    numbers = Numbers()
    things = [("a", 1), ("a", (1,)), (), ("a", 1), ("a", Decimal("1.0")), ("b", 1)]
    found = [numbers.of(thing) for thing in things]
    assert [[a == b for b in things] for a in things] == [[a == b for b in found] for a in found]


def test_an_object_is_held_as_long_as_it_can_be_found(monkeypatch: Patch) -> None:
    monkeypatch.setattr(lately, "MOST_KEPT", 3)
    kept: Lately[int] = Lately()
    for number in range(20):
        held = [number]
        # Were the one before not held, the new one could stand at its place.
        assert id(held) not in kept
        assert kept.keep(id(held), held, number) == number
        assert kept[id(held)] == ([number], number)
        assert len(kept) <= 3


def test_an_event_made_once_is_the_event_that_was_meant() -> None:
    step = next(s for s in aircraft("tiny").steps.values() if s.reading)
    make = Makers()

    def made(at: int, ask: int, role: str, text: str) -> list[ev.Event]:
        return [
            make.now(ev.SayAgain, at), make.now(ev.Discontinue, at),
            make.said(ev.NotSo, at, ask, role), make.said(ev.Affirm, at, ask, role),
            make.answer(at, ask, role, text), make.correct(at, step, text),
            make.accept(at, ask, role, text, False), make.accept(at, ask, role, text, True),
        ]  # fmt: skip

    for at, ask, role, text in ((1, 2, "commander", "3"), (1, 2, "copilot", "3"), (2, 1, "", "4")):
        wanted = [
            ev.SayAgain(at), ev.Discontinue(at),
            ev.NotSo(at, ask, role), ev.Affirm(at, ask, role),
            ev.Answer(at, ask, role, value=text), ev.Correct(at, step=step.id, value=text),
            ev.Accept(at, ask, role, reason=text),
            ev.Accept(at, ask, role, reason=text, emergency=True),
        ]  # fmt: skip
        first, second = made(at, ask, role, text), made(at, ask, role, text)
        assert first == wanted
        assert [id(event) for event in first] == [id(event) for event in second]
