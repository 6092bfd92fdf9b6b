"""The copy page: figures by flight, empty where nothing is known, never guessed."""

from __future__ import annotations

from dataclasses import replace

from runner.engine import events as ev
from runner.engine.effects import Figure
from runner.engine.figures import BUILT_IN, figures
from runner.engine.state import Kept, Marked, State, Visit, initial
from runner.engine.table import Copied, Table
from runner.flow.model import CopyDoc
from tests.runner.engine.crew import Crew
from tests.runner.engine.generator import aircraft
from tests.runner.engine.test_flights import landed

MINUTE = 60_000


def table(*entries: Copied) -> Table:
    return replace(aircraft("probe"), copied=entries)


def built_in(name: str) -> Copied:
    return Copied(BUILT_IN[name], figure=name)


def value(crew: Crew, step: str) -> Copied:
    """An entry for what a step gives."""
    flow, _ = step.split(".")
    one = crew.table.steps[step]
    unit = crew.table.names[one.gives].unit
    return Copied("Value", "", one.gives, unit, ((flow, crew.table.flows[flow].index(step)),))


def state(
    *marks: tuple[str, float, int], flights: tuple[float, ...] = (0,), **more: object
) -> State:
    """A state whose flights began at these minutes, with marks of (what, minute, flight)."""
    kept = tuple(Marked(what, int(at * MINUTE), flight) for what, at, flight in marks)
    begun = [int(at * MINUTE) for at in flights]
    visits = tuple(Visit(n, "nose", n, at, ()) for n, at in enumerate(begun[:-1], 1))
    return State(
        initial(), at=10**9, marks=kept, flight=len(begun), flight_began=begun[-1],
        archive=visits, **more,
    )  # fmt: skip


def told(found: list[Figure]) -> list[tuple[int, str, str]]:
    """Flight, label and value of each figure; a time by its minute."""
    return [
        (one.flight, one.label, one.value if one.at is None else str(one.at / MINUTE))
        for one in found
    ]


FLOWN = (
    ("engine start", 10, 1), ("rotor start", 14, 1), ("take-off", 20, 1), ("landing", 45.5, 1),
    ("rotor stop", 50, 1), ("engine stop", 52, 1),
)  # fmt: skip


def test_the_figures_of_the_engines_own_are_those_that_an_author_may_name() -> None:
    annotation = str(CopyDoc.keys["figure"].annotation)
    assert all(repr(name) in annotation for name in BUILT_IN)
    assert annotation.count("'") == 2 * len(BUILT_IN)


def test_an_aircraft_without_a_copy_page_has_no_figures() -> None:
    assert figures(aircraft("probe"), state(*FLOWN)) == []


def test_a_flight_that_has_ended_has_its_times_and_minutes_in_the_authors_order() -> None:
    names = ("landing", "take-off", "engine start", "rotor stop", "flight minutes",
             "rotor minutes", "engine minutes", "starts", "landings")  # fmt: skip
    found = figures(table(*map(built_in, names)), state(*FLOWN))
    # 20 to 45.5 is 25.5 min, the half minute counted up (`hours`)
    assert told(found) == [
        (1, "Landing", "45.5"), (1, "Take-off", "20.0"), (1, "Engine start", "10.0"),
        (1, "Rotor stop", "50.0"), (1, "Flight minutes", "26"), (1, "Rotor minutes", "36"),
        (1, "Engine minutes", "42"), (1, "Starts", "1"), (1, "Landings", "1"),
    ]  # fmt: skip
    assert [one.unit for one in found] == ["UTC"] * 4 + ["min"] * 3 + ["", ""]
    assert all(not one.value for one in found[:4])


def test_what_has_not_happened_is_empty_and_what_still_runs_has_no_minutes() -> None:
    entries = tuple(map(built_in, ("engine stop", "engine minutes", "flight minutes")))
    found = figures(table(*entries), state(("engine start", 10, 1)))
    assert found[0] == Figure("Engine stop", "", "UTC", 1, None)
    assert [one.value for one in found[1:]] == ["", "0"]


def test_several_take_offs_of_one_flight_are_numbered() -> None:
    marks = (*FLOWN[:4], ("take-off", 46, 1), ("landing", 48, 1))
    entries = (built_in("take-off"), built_in("landings"), built_in("flight minutes"))
    assert told(figures(table(*entries), state(*marks))) == [
        (1, "Take-off 1", "20.0"), (1, "Take-off 2", "46.0"), (1, "Landings", "2"),
        (1, "Flight minutes", "28"),
    ]  # fmt: skip


def test_minutes_of_an_engine_that_runs_on_are_parted_where_the_next_flight_began() -> None:
    marks = (("engine start", 10, 1), ("take-off", 20, 1), ("landing", 40, 1),
             ("take-off", 70, 2), ("landing", 80, 2), ("engine stop", 85, 2))  # fmt: skip
    entries = tuple(map(built_in, ("engine minutes", "flight minutes", "starts", "engine stop")))
    assert told(figures(table(*entries), state(*marks, flights=(0, 50)))) == [
        (1, "Engine minutes", "40"), (1, "Flight minutes", "20"), (1, "Starts", "1"),
        (1, "Engine stop", ""),
        (2, "Engine minutes", "35"), (2, "Flight minutes", "10"), (2, "Starts", "0"),
        (2, "Engine stop", "85.0"),
    ]  # fmt: skip


def test_snags_and_open_defects_stand_with_their_flight_and_none_is_said() -> None:
    snags = (Kept("vibration", 30 * MINUTE, ""), Kept("smell", 55 * MINUTE, ""))
    defects = (Kept("carried over", 0, ""), Kept("mended", 20 * MINUTE, "", open=False))
    shown = state(*FLOWN, flights=(0, 55), snags=snags, defects=defects)
    assert told(figures(table(built_in("snags"), built_in("defects")), shown)) == [
        (1, "Snags", "vibration"), (1, "Defects", "carried over"),
        (2, "Snags", "smell"), (2, "Defects", "NONE"),
    ]  # fmt: skip


def copied(crew: Crew, step: str) -> list[Figure]:
    return figures(replace(crew.table, copied=(value(crew, step),)), crew.run.state)


def test_a_value_is_empty_until_it_is_given_and_while_it_is_not_met() -> None:
    crew = Crew().until("stopping.let_go")
    assert copied(crew, "stopping.let_go") == [Figure("Value", "", "", 1)]
    crew.taken("115")
    assert copied(crew, "stopping.let_go") == [Figure("Value", "", "", 1)]
    crew.accept()
    assert copied(crew, "stopping.let_go") == [Figure("Value", "115", "rpm", 1)]


def test_a_value_keeps_what_its_flight_gave_when_the_next_one_begins() -> None:
    crew = landed(Crew())
    given = str(crew.run.state.values["let_go"])
    crew.send(ev.NextFlight(crew.at))
    assert copied(crew, "stopping.let_go") == [
        Figure("Value", given, "rpm", 1), Figure("Value", "", "", 2),
    ]  # fmt: skip
    crew.until("stopping.let_go")
    assert copied(crew, "stopping.let_go")[0].value == given
    other = "97" if given != "97" else "96"
    crew.taken(other)
    assert [one.value for one in copied(crew, "stopping.let_go")] == [given, other]


def test_a_correction_behind_a_closed_list_is_what_is_copied() -> None:
    crew = landed(Crew())
    crew.correct("stopping.let_go", "98", "commander")
    assert crew.latch("stopping.let_go").value != "98"
    assert [one.value for one in copied(crew, "stopping.let_go")] == ["98"]


def test_a_side_of_a_limit_is_no_figure() -> None:
    crew = Crew().until("stopping.brake_rpm")
    crew.say("below 60")
    assert copied(crew, "stopping.brake_rpm") == [Figure("Value", "", "", 1)]


def test_a_counter_has_its_present_count_in_the_present_flight_alone() -> None:
    crew = landed(Crew())
    name = next(iter(crew.table.counters))
    entry = Copied("Attempts", "", name)
    crew.send(ev.NextFlight(crew.at))
    assert figures(replace(crew.table, copied=(entry,)), crew.run.state) == [
        Figure("Attempts", str(crew.run.state.values[name]), "", 2)
    ]
