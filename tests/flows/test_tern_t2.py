"""The Tern T-2: its size, what belts and a light rotor ask for, and its ways out of a hot or
stopped engine."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.state import How
from runner.engine.table import AcceptClass, EndKind, Who
from tests.flows.support import documents, table_of
from tests.runner.engine.crew import Crew, item, kinds, refused

NAME = "tern_t2"
REASON = "Instrument fault, confirmed by another sign"


def crew(only: str = "", *carried: tuple[str, str]) -> Crew:
    """The crew at the documents, or at one list alone."""
    return Crew(NAME, only=only, carried=carried)


def test_it_is_smaller_than_the_other_type_and_whole() -> None:
    table, other = table_of(NAME), table_of("corvane_c4")
    assert len(table.order) >= 20
    assert len(table.drills) >= 10
    steps = sum(len(table.flows[name].steps) for name in table.order)
    assert steps >= 130
    assert steps < sum(len(other.flows[name].steps) for name in other.order)
    assert len(documents(NAME).documents) == 1 + len(table.order) + len(table.drills)
    assert not set(table.fit)


def test_it_has_what_it_is_and_nothing_that_it_is_not() -> None:
    table = table_of(NAME)
    assert not {"servo_pressure", "gearbox_temp", "fuel_pressure"} & set(table.readings)
    assert not {"hook", "turn_through", "taxi", "passengers"} & set(table.order)
    said = " ".join(f"{step.challenge} {step.response}" for step in table.steps.values()).lower()
    for word in ("belt", "skid", "governor", "sprag", "horn"):
        assert word in said
    for word in ("servo", "hook", "tail wheel", "clutch switch", "droop", "parking brake", "gills"):
        assert word not in said


def test_what_it_shares_with_the_other_type_bears_the_same_name() -> None:
    """A comparison groups by id: most steps here are known to who flies the other."""
    own, other = table_of(NAME).steps, table_of("corvane_c4").steps
    shared = set(own) & set(other)
    assert len(shared) > len(own) / 2
    # Releasing the starter begins the time of the oil pressure here; there the mixture does.
    assert {key for key in shared if own[key].kind is not other[key].kind} <= {"start.starter_out"}
    assert {"shutdown.cut_off_head", "magnetos.left_drop", "take_off.rotor_rpm"} <= shared


def test_every_drill_says_what_comes_of_it() -> None:
    table = table_of(NAME)
    for name in table.drills:
        drill = table.flows[name]
        assert len(drill.ends) >= 2, name
        assert all(end.when is not None for end in drill.ends)
        assert all(end.defect for end in drill.ends if end.kind is EndKind.UNSERVICEABLE)
    with_memory = [n for n in table.drills if any(s.memory for s in table.flows[n].steps)]
    assert set(table.drills) - set(with_memory) == {"alternator_failure"}


def test_what_two_must_see_is_looked_at_by_both() -> None:
    steps = table_of(NAME).steps
    for key in ("last_look.ties_aboard", "engage.belts_and_disc", "warm_up.horn_at_idle",
                "before_take_off.frictions", "before_take_off.ground_round_the_skids"):  # fmt: skip
        assert steps[key].who is Who.BOTH, key


@pytest.mark.parametrize(
    ("key", "wanted"),
    [
        ("documents.hours_to_next_inspection", AcceptClass.MAINTENANCE),
        ("engage.wind_highest_gust", AcceptClass.EMERGENCY),
        ("run_up.horn", AcceptClass.MAINTENANCE),
        ("run_up.rise_with_heat", AcceptClass.MAINTENANCE),
        ("before_take_off.oil_temperature", AcceptClass.EMERGENCY),
        ("take_off.hover_power", AcceptClass.COMMANDER), ("start.first_oil", None),
        ("engage.oil_pressure", None), ("shutdown.cut_off_head", None),
        ("shutdown.brake_rpm", None), ("take_off.rotor_rpm", None), ("brief.take_off_mass", None),
    ],
)  # fmt: skip
def test_who_may_let_a_limit_go_by(key: str, wanted: AcceptClass | None) -> None:
    assert table_of(NAME).steps[key].accept is wanted


def at_the_belts() -> Crew:
    """The belt switch is on and the blades have not moved yet."""
    at = crew()
    at.until("engage.belts")
    at.say("BELTS ON")
    assert at.run.state.rotor
    return at


def test_blades_that_do_not_move_are_called_and_their_drill_shown() -> None:
    at = at_the_belts()
    at.pause(6.5)
    at.pause(6)
    (said,) = [o for o in at.run.outcomes if "timer over" in kinds(o)]
    assert item(said, "timer over")[:2] == ("timer over", "blades_move")
    assert table_of(NAME).timers["blades_move"].drill == "belts_fault"


def test_belts_that_are_late_are_not_taken_for_tight() -> None:
    at = at_the_belts()
    at.until("engage.joining_rotor")
    at.pause(80)
    assert "met" not in kinds(at.taken("241"))
    assert at.how("engage.joining_rotor") is not How.ANSWERED


def test_a_slipping_belt_is_no_joined_rotor() -> None:
    at = at_the_belts()
    at.until("engage.joining_rotor")
    assert "unmet" in kinds(at.taken("214"))
    assert refused(at.accept(REASON)) == "nobody may accept"


def test_the_second_try_of_the_belts_begins_at_the_top_with_the_rotor_standing() -> None:
    at = at_the_belts()
    at.drill("belts_fault")
    at.until("belts_fault.belts_result")
    at.say("TIGHTEN ONCE MORE")
    at.until("engage.wind_highest_gust")
    assert not at.run.state.rotor
    assert at.run.state.engine


def test_a_magneto_is_not_tried_on_cold_oil_nor_with_the_governor_on() -> None:
    at = crew()
    at.until("magnetos.governor")
    at.say("GOVERNOR OFF")
    assert at.asked == "magnetos.oil_temperature"
    assert "unmet" in kinds(at.taken("20"))
    assert refused(at.accept(REASON)) == "nobody may accept"


def shutting_down(step: str) -> Crew:
    """A crew that discontinued in the warm-up, rotor turning and engine running, at a step."""
    at = crew()
    at.until("warm_up")
    at.send(ev.Discontinue(at.at))
    for asked, found in (("rotor_found", "TURNING"), ("engine_found", "RUNNING")):
        at.until(f"shutdown.{asked}")
        at.taken(found)
    return at.until(step)


def test_the_last_head_before_the_mixture_is_the_one_that_was_judged() -> None:
    """Nothing else reads the heads in shutdown: an older reading without a limit, asked again when
    it was no longer fresh, would be newer than the one that met the limit."""
    flow = table_of(NAME).flows["shutdown"]
    assert [s.id for s in flow.steps if s.reading == "head_temp"] == ["shutdown.cut_off_head"]
    at = shutting_down("shutdown.cut_off_head")
    at.taken("150")
    at.pause(11 * 60)
    assert at.asked == "shutdown.cut_off_head"
    at.taken("171")
    assert at.asked == "shutdown.cut_off_head"
    at.taken("149")
    at.say("MIXTURE CUT-OFF")
    assert at.asked == "shutdown.engine_stopped"
    assert at.run.monitor is not None
    assert at.run.monitor.faults == []


@pytest.mark.parametrize("drill", ["head_hot", "belts_fault", "oil_pressure_low"])
def test_an_engine_stopped_in_a_drill_is_asked_for_again_in_shutdown(drill: str) -> None:
    """Else the list would wait for the heads of an engine that no longer runs."""
    ends = table_of(NAME).flows[drill].ends
    stopped = [end for end in ends if "engine_found" in end.voids]
    assert len(stopped) == 1
    assert stopped[0].kind is EndKind.DISCONTINUE


def test_a_hot_cut_off_leads_back_to_the_coasting_rotor() -> None:
    at = shutting_down("shutdown.cut_off_head")
    at.taken("172")
    assert at.asked == "shutdown.cut_off_head"
    at.drill("head_hot")
    at.until("head_hot.head_result")
    at.say("CUT OFF HOT")
    at.until("head_hot.mixture_cut")
    at.say("MIXTURE CUT-OFF")
    assert at.asked == "head_hot.engine"
    at.say("STOPPED")
    at.say("CLOSED")
    assert at.asked == "shutdown.engine_found"
    at.taken("STOPPED")
    at.until("shutdown.rotor_brake")
    assert at.how("shutdown.cut_off_head") is How.NOT_REQUIRED
    assert not at.run.state.engine
    assert at.run.state.rotor


def test_the_brake_is_refused_to_a_fast_rotor() -> None:
    at = shutting_down("shutdown.brake_rpm")
    assert not at.run.state.engine
    assert "unmet" in kinds(at.taken("150"))
    assert refused(at.accept(REASON)) == "nobody may accept"
    at.taken("149")
    assert at.asked == "shutdown.rotor_brake"


def test_electrics_off_in_the_air_leave_a_hand_on_the_throttle() -> None:
    at = crew()
    at.until("landing")
    at.drill("electrical_smoke")
    at.send(ev.MemoryDone(at.at))
    assert at.asked == "electrical_smoke.throttle_grip"
    standing = crew("documents")
    standing.drill("electrical_smoke")
    standing.send(ev.MemoryDone(standing.at))
    assert standing.asked == "electrical_smoke.battery"
