"""What a day forgets nothing of: the stop that goes on, the first flight, the way down, defects."""

from __future__ import annotations

from decimal import Decimal

from runner.engine import events as ev
from runner.engine.state import How
from runner.engine.views import current
from tests.runner.engine.crew import Crew, item, refused
from tests.runner.engine.willing import Willing


def second_flight(crew: Crew) -> Crew:
    """The first flight is over, the second begun."""
    crew.until("papers")
    crew.send(ev.NextFlight(crew.at))
    assert crew.run.state.flight == 2
    return crew


def plan(crew: Crew) -> tuple[str, ...]:
    """The lists that follow."""
    found: tuple[str, ...] = crew.run.state.plan
    return found


def day(answers: dict[str, str] | None = None) -> tuple[Crew, dict[str, str]]:
    """A crew of the demonstration aircraft and what it answers where it has a choice."""
    picks = {
        "shutdown.rotor_found": "TURNING", "shutdown.engine_found": "RUNNING",
        "start.prime": "TWO STROKES", "brief.cabin_load": "ONLY CREW",
        "brief.hook_use": "STAYS EMPTY", "start.firing": "CATCHES",
    }  # fmt: skip
    return Crew("corvane_c4"), {**picks, **(answers or {})}


def go(crew: Crew, picks: dict[str, str], step: str = "", closed: str = "") -> None:
    """Goes on until a step is asked, a list is closed, or (neither named) the drill has ended."""
    willing = Willing(crew.run)
    for _ in range(2500):
        state = crew.run.state
        if step and crew.asked == step:
            return
        if closed and any(v.flow == closed and v.flight == state.flight for v in state.archive):
            return
        if not step and not closed and state.drill is None:
            return
        found = current(crew.table, state)
        if found is not None and found[2].id in picks and state.pending is None:
            crew.say(picks[found[2].id])
        else:
            crew.run.send(willing.event())
    raise LookupError(f"{step or closed} never came; last {crew.asked}")


def entered_since(crew: Crew, outcome: int) -> list[str]:
    """The lists entered since the outcome of this number."""
    return [i[1] for o in crew.run.outcomes[outcome:] for i in o if i[0] == "entered"]


# the stop that goes on -------------------------------------------------------------------------


def test_a_stop_that_goes_on_in_the_lists_is_counted_with_every_list() -> None:
    crew, picks = day()
    go(crew, picks, closed="post_flight")
    crew.send(ev.NextFlight(crew.at))
    assert crew.run.state.values["stopped_minutes"] < 20
    go(crew, picks, step="brief.weather_and_notices")
    skipped = {"run_up", "magnetos"}
    assert skipped <= set(crew.run.state.valid)
    assert skipped.isdisjoint(plan(crew))
    crew.pause(3 * 3600)
    begun = len(crew.run.outcomes)
    go(crew, picks, step="start.starter")
    assert crew.latch("turn_through.turned").how is How.ANSWERED
    assert crew.latch("long_stop.under_the_nose").how is How.ANSWERED
    assert skipped.isdisjoint(crew.run.state.valid)
    assert skipped <= set(plan(crew))
    told = [i for o in crew.run.outcomes[begun:] for i in o if i[:1] == ("happened",)]
    assert told == [("happened", "stopped over 30 min", "magnetos", "run_up")]
    assert plan(crew) == tuple(sorted(plan(crew), key=crew.table.order.index))


def test_a_list_skipped_as_valid_loses_it_once_a_stop_and_what_is_closed_later_keeps_it() -> None:
    crew = second_flight(Crew())
    assert "run_up" in crew.run.state.valid
    assert "run_up" not in plan(crew)
    crew.pause(29 * 60)
    stopped = crew.run.state.moments.get("engine stopped")
    assert stopped is not None
    crew.until("couple")
    assert crew.run.at - stopped > 29 * 60_000
    assert crew.run.state.engine
    assert "run_up" in crew.run.state.valid


def test_once_the_engine_runs_the_minutes_of_the_stop_stand() -> None:
    crew, picks = day()
    go(crew, picks, closed="post_flight")
    crew.send(ev.NextFlight(crew.at))
    go(crew, picks, step="warm_up.bus_voltage")
    minutes = crew.run.state.values["stopped_minutes"]
    crew.pause(3 * 3600)
    go(crew, picks, closed="short_run_up")
    assert crew.run.state.values["stopped_minutes"] == minutes < Decimal(20)
    go(crew, picks, closed="switches")
    begun = len(crew.run.outcomes)
    crew.pause(3600)
    go(crew, picks, closed="post_flight")
    assert crew.run.state.values["stopped_minutes"] == minutes
    assert entered_since(crew, begun) in (["secure"], ["post_flight", "secure"], [])


def test_what_happens_while_a_flight_is_made_ready_brings_its_lists_back() -> None:
    crew, picks = day()
    go(crew, picks, closed="post_flight")
    crew.send(ev.NextFlight(crew.at))
    assert "outside_drains" not in plan(crew)
    outcome = crew.send(ev.Happened(crew.at, what="refuelled"))
    assert item(outcome, "happened") == ("happened", "refuelled", "outside_drains")
    assert item(outcome, "lapsed") == ()
    assert plan(crew)[0] == "outside_drains"


def test_what_this_flight_has_closed_already_lapses_for_the_next_one() -> None:
    crew, picks = day()
    go(crew, picks, closed="brief")
    assert "documents" in crew.run.state.valid
    outcome = crew.send(ev.CrewChange(crew.at, seat="copilot", name="T Moss"))
    assert item(outcome, "happened") == ("happened", "crew change")
    assert item(outcome, "lapsed") == ("lapsed", "documents")
    assert "documents" not in {*plan(crew), *crew.run.state.valid}


# the first flight ------------------------------------------------------------------------------


def test_a_flight_that_never_took_off_leaves_the_next_one_the_first() -> None:
    crew, picks = day()
    crew.send(ev.Discontinue(crew.at))
    go(crew, picks, closed="post_flight")
    crew.send(ev.NextFlight(crew.at))
    assert crew.run.state.flight == 2
    assert crew.run.state.values["first_flight"] is True
    assert "short_stop" not in plan(crew)
    assert "turnaround" not in plan(crew)
    go(crew, picks, step="before_start.generator")
    assert crew.latch("before_start.fire_warning").how is How.ANSWERED


def test_lists_of_the_first_and_of_later_flights_follow_the_take_off() -> None:
    crew = Crew()
    crew.send(ev.Discontinue(crew.at))
    crew.until("papers")
    crew.send(ev.NextFlight(crew.at))
    assert "prepare" in plan(crew)
    assert "turnround" not in plan(crew)
    flown = second_flight(Crew())
    assert "prepare" not in plan(flown)
    assert "turnround" in plan(flown)
    assert flown.run.state.values["first_flight"] is False


# the way down ----------------------------------------------------------------------------------


def restarted(way: str) -> Crew:
    """Shut down from the run-up by this way, then a drill there that ends in *start*."""
    crew, picks = day({"over_primed.flood_result": "NOSE CLEAR"})
    go(crew, picks, step="run_up.servos_off")
    if way == "discontinue":
        crew.send(ev.Discontinue(crew.at))
    elif way == "drill":
        crew.drill("electrical_smoke")
        go(crew, {**picks, "electrical_smoke.smoke": "SMOKE CLEARS"})
    else:
        go(crew, picks, step="shutdown.engine_stopped")
    go(crew, picks, step="shutdown.engine_stopped")
    crew.say("AT ZERO")
    crew.drill("over_primed")
    go(crew, picks)
    return crew


def test_whichever_way_led_to_shutting_down_a_restart_begins_with_what_it_undid() -> None:
    for way in ("discontinue", "drill", "normal"):
        crew = restarted(way)
        # The smoke left a defect open: that none is open was said in the papers, which lapsed.
        first = "documents.maintenance_release" if way == "drill" else "brief.weather_and_notices"
        assert crew.asked == first, way


# defects ---------------------------------------------------------------------------------------


def grounded() -> Crew:
    """A fire in start that burns on: unserviceable; then shut down."""
    crew = Crew().until("start.firing")
    crew.say("FIRE")
    crew.send(ev.MemoryDone(crew.at))
    crew.say("CUT OFF")
    crew.say("BURNING")
    crew.say("CLOSED")
    return crew.until("papers")


def test_an_unserviceable_aircraft_does_not_begin_the_next_flight() -> None:
    crew = grounded()
    outcome = crew.send(ev.NextFlight(crew.at))
    assert outcome == (("refused", "unserviceable", "Fire in start"),)
    crew.send(ev.Happened(crew.at, what="refuelled"))
    assert refused(crew.send(ev.NextFlight(crew.at))) == "unserviceable"
    assert refused(crew.send(ev.Happened(crew.at, what="maintenance"))) == "note"
    assert refused(crew.send(ev.NextFlight(crew.at))) == "unserviceable"
    crew.send(ev.Happened(crew.at, what="maintenance", note="Inspected, card 12"))
    assert [d.open for d in crew.run.state.defects] == [False]
    assert item(crew.send(ev.NextFlight(crew.at)), "flight") == ("flight", "2")


def test_a_defect_that_does_not_ground_lets_the_next_flight_begin_and_stays_open() -> None:
    crew = Crew(carried=(("defect:start", "Lamp dim"),)).until("papers")
    crew.send(ev.Happened(crew.at, what="maintenance", note="Oil topped up"))
    assert item(crew.send(ev.NextFlight(crew.at)), "flight")
    assert [(d.text, d.open) for d in crew.run.state.defects] == [("Lamp dim", True)]


def test_a_grounding_defect_of_the_run_before_still_grounds() -> None:
    crew = Crew(carried=(("grounded:fire", "Fire in start"),)).until("papers")
    assert refused(crew.send(ev.NextFlight(crew.at))) == "unserviceable"
