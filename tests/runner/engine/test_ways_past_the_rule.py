"""Ways by which a step or a list once passed without its rule; each is shut here, on the demo.

Every test walks the demonstration aircraft to the place and tries the way.
"""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.defects import way_on
from runner.engine.draft import Draft
from runner.engine.effects import Prompt
from runner.engine.outcomes import sentence
from runner.engine.state import How, Latch
from runner.engine.table import AcceptClass
from runner.engine.views import current
from tests.runner.engine.crew import Crew, refused
from tests.runner.engine.willing import Willing

PICK = {
    "shutdown.rotor_found": "TURNING", "shutdown.engine_found": "RUNNING",
    "start.prime": "TWO STROKES", "brief.cabin_load": "ONLY CREW",
    "brief.hook_use": "STAYS EMPTY", "start.firing": "CATCHES",
}  # fmt: skip


def crew(only: str = "", mode: str = "crew") -> Crew:
    return Crew("corvane_c4", only=only, mode=mode)


def until(run: Crew, step: str, most: int = 2500) -> Crew:
    """Goes on willingly until the step is asked."""
    willing = Willing(run.run)
    for _ in range(most):
        back = run.stands(Prompt.READ_BACK)
        if run.asked == step and not back:
            return run
        found = current(run.table, run.run.state)
        if found is not None and found[2].id in PICK and not back:
            run.say(PICK[found[2].id])
        else:
            run.run.send(willing.event())
    raise AssertionError(f"{step} was never asked; the run stands at {run.asked}")


def latch(run: Crew, step: str) -> Latch:
    """The latch of a step in its newest visit."""
    state = run.run.state
    drill = (state.drill,) if state.drill is not None else ()
    for visit in (*drill, *state.visits, *reversed(state.archive)):
        if visit.flow == step.split(".", 1)[0]:
            found: Latch = visit.latches[run.table.flows[visit.flow].index(step)]
            return found
    raise KeyError(step)


def closed(run: Crew) -> list[str]:
    return [v.flow for v in run.run.state.archive if v.closed_at >= 0 and not v.left]


def section_again(run: Crew) -> None:
    run.send(ev.Standby(run.at))
    run.pause(150)
    run.send(ev.Continue(run.at))
    run.say("SECTION FROM ITS TOP")


def test_an_option_that_says_it_is_wrong_never_passes_its_step() -> None:
    run = until(crew("shutdown", "solo"), "shutdown.droop_stops")
    run.say("ONE OUT")
    assert latch(run, "shutdown.droop_stops")[:2] == (How.UNMET, "ONE OUT")
    # Another drill takes the place of the one that belongs to it and ends here: asked again.
    run.drill("generator_failure")
    willing = Willing(run.run)
    for _ in range(80):
        if run.run.state.drill is None:
            break
        run.run.send(willing.event())
    assert latch(run, "shutdown.droop_stops").how is not How.ANSWERED
    assert "shutdown" not in closed(run)


def test_a_failed_start_takes_along_what_was_answered_behind_it() -> None:
    run = until(crew("start", "solo"), "start.guard_after")
    run.correct("start.fuel_pressure", "10", "commander")
    section_again(run)
    until(run, "start.firing")
    run.say("NO START")
    assert latch(run, "start.first_oil").how is not How.ANSWERED
    until(run, "start.firing")
    run.say("CATCHES")
    assert run.asked != "start.guard_after"
    assert latch(run, "start.first_oil").how is not How.ANSWERED


def test_a_by_time_that_ran_out_does_not_begin_again_with_its_section() -> None:
    run = until(crew("engage", "solo"), "engage.joining_rotor")
    run.pause(70)
    assert run.run.state.timers["rotor_up"].over
    run.correct("engage.oil_pressure", "50", "commander")
    section_again(run)
    until(run, "engage.joining_rotor")
    run.taken("120")
    assert latch(run, "engage.joining_rotor").how is How.UNMET


def test_a_wait_with_conditions_counts_only_what_was_seen() -> None:
    run = until(crew("engage", "solo"), "engage.drain_rpm")
    run.pause(400)
    run.say("1800")
    run.say("1800")
    assert latch(run, "engage.drain").how is How.OPEN


def test_a_section_begins_at_its_heading() -> None:
    run = until(crew("start", "solo"), "start.guard_after")
    steps = run.table.flows["start"].steps
    here = run.table.flows["start"].index(run.asked)
    heads = [i for i, step in enumerate(steps) if step.section and i <= here]
    section_again(run)
    assert run.table.flows["start"].index(run.asked) == heads[-1]


def test_a_discontinue_before_the_facts_goes_where_what_turns_is_shut_down() -> None:
    run = until(crew(), "before_start.battery")
    run.send(ev.Recovered(run.run.at + 5000, gap=5000))
    run.send(ev.Discontinue(run.at))
    for fact in ("ENGINE RUNNING", "ROTOR TURNING", "ON THE GROUND"):
        run.taken(fact)
    assert [v.flow for v in run.run.state.visits] == ["shutdown"]


def test_what_stands_after_a_stop_is_not_taken_to_turn() -> None:
    run = until(crew(), "magnetos.right")
    run.send(ev.Recovered(run.run.at + 5000, gap=5000))
    for fact in ("ENGINE STOPPED", "ROTOR STOPPED", "ON THE GROUND"):
        run.taken(fact)
    assert not run.stands(Prompt.CHOOSING)
    flows = run.table.order
    assert flows.index(run.run.state.visits[0].flow) <= flows.index("start")
    assert (
        not {"start", "engage", "magnetos"}
        - set(run.run.state.plan)
        - {run.run.state.visits[0].flow}
    )


def test_what_turns_after_a_stop_is_not_taken_to_stand() -> None:
    run = until(crew(), "switches.battery")
    run.send(ev.Recovered(run.run.at + 5000, gap=5000))
    for fact in ("ENGINE RUNNING", "ROTOR STOPPED", "ON THE GROUND"):
        run.taken(fact)
    assert [v.flow for v in run.run.state.visits] == ["shutdown"]


def test_an_aged_temperature_is_read_again_before_a_critical_step_in_flight_too() -> None:
    run = until(crew(), "shutdown.mixture")
    run.send(ev.Mark(run.at, what="take-off", when=run.run.at))
    run.pause(3600)
    run.say("MIXTURE CUT-OFF")
    assert latch(run, "shutdown.mixture").how is How.OPEN
    assert latch(run, "shutdown.cut_off_head").how is How.OPEN


def test_a_role_that_nobody_holds_answers_nothing() -> None:
    run = Crew("corvane_c4", mode="solo")
    assert run.run.state.crew == (("commander", "A Holt"),)
    two = crew()
    two.send(ev.CrewChange(two.at, seat="copilot", name="a  HOLT"))
    assert dict(two.run.state.crew)["copilot"] != "a  HOLT"


def test_a_stop_after_shutdown_leads_nowhere_else() -> None:
    first = Crew("corvane_c4").table.flows["post_flight"].steps[0].id
    run = until(crew(), first)
    run.send(ev.Recovered(run.run.at + 5000, gap=5000))
    for fact in ("ENGINE STOPPED", "ROTOR STOPPED", "ON THE GROUND"):
        run.taken(fact)
    assert [v.flow for v in run.run.state.visits] == ["post_flight"]


def test_what_only_maintenance_clears_grounds_the_aircraft() -> None:
    run = until(crew(), "documents.maintenance_release")
    step = run.table.steps["documents.maintenance_release"]
    run.send(ev.NotSo(run.at, run.run.state.ask, "commander"))
    grounded = [d for d in run.run.state.defects if d.grounding]
    assert bool(grounded) is (step.accept is AcceptClass.MAINTENANCE)
    assert latch(run, step.id).how is How.UNMET


def test_a_fault_that_only_maintenance_clears_is_not_cleared_by_the_answer() -> None:
    """The crew had reported it, and one key took it back while the defect stayed open."""
    step = "before_start.fire_warning"
    run = until(crew(), step)
    run.not_so()
    assert latch(run, step).how is How.UNMET
    outcome = run.say("RANG IN TEST")
    assert refused(outcome) == "fault stands"
    assert latch(run, step).how is How.UNMET
    entry = ev.Happened(run.at, "commander", what="maintenance", note="bell replaced")
    run.send(entry)
    assert latch(run, step).how is How.OPEN
    run.say("RANG IN TEST")
    assert latch(run, step).how is How.ANSWERED


def test_a_fault_entered_by_a_wrong_key_is_corrected() -> None:
    step = "before_start.fire_warning"
    run = until(crew(), step)
    run.not_so()
    outcome = run.correct(step, "RANG IN TEST", role="copilot")
    assert refused(outcome) == ""
    assert latch(run, step).how is How.OPEN
    run.say("RANG IN TEST")
    assert latch(run, step).how is How.ANSWERED
    text = "Fire warning: not RANG IN TEST"
    assert ("withdrawn", step, text) in outcome
    assert ("corrected", step, "not so", "RANG IN TEST") in outcome
    assert [(d.text, d.open) for d in run.run.state.defects] == [(text, False)]
    assert run.run.state.values["grounding_defects"] == 0


def test_a_wrong_key_takes_back_its_own_defect_and_none_that_stood_before() -> None:
    step = "before_start.fire_warning"
    text = "Fire warning: not RANG IN TEST"
    run = Crew("corvane_c4", carried=((f"grounded:{step}", text),), only="before_start")
    run.until(step)
    run.not_so()
    outcome = run.correct(step, "RANG IN TEST", role="copilot")
    assert latch(run, step).how is How.OPEN
    assert not any(one[0] == "withdrawn" for one in outcome)
    assert [(d.text, d.open) for d in run.run.state.defects] == [(text, True)]


def test_a_tick_that_a_wrong_key_found_not_so_takes_back_its_defect() -> None:
    run = Crew("tiny", fit=("hook",))
    run.not_so("Nose cowl latches")
    step = run.run.state.defects[0].where
    outcome = run.correct(step, run.table.steps[step].response)
    assert "withdrawn" in [one[0] for one in outcome]
    assert latch(run, step).how is How.OPEN
    assert run.run.state.values["open_defects"] == 0


def test_the_way_on_names_the_correction_only_while_the_wrong_key_can_be_corrected() -> None:
    run = until(crew(), "before_start.fire_warning")
    run.not_so()
    text = "Fire warning: not RANG IN TEST"
    entry = 'MAINTENANCE "what was done" clears what grounds'
    draft = Draft(run.table, run.run.state, ev.Wake(run.at))
    assert way_on(draft, [text]) == f"{entry}. CORRECT the item if it was a wrong key"
    draft.leave_all("discontinued")
    assert way_on(draft, [text]) == entry


@pytest.mark.parametrize("word", ["NONE OPEN", "OPEN AND PERMITTED"])
def test_a_defect_that_grounds_is_named_where_it_denies_the_answer(word: str) -> None:
    carried = (("grounded:run_up.left", "No magneto drop: a grounding fault"),)
    run = Crew("corvane_c4", only="documents", carried=carried).until("documents.open_defects")
    (_, code, *details) = run.say(word)[0]
    said = sentence(code, tuple(details))
    assert code == "defect stands"
    assert "Open: No magneto drop: a grounding fault." in said
    assert 'MAINTENANCE "what was done" clears what grounds.' in said
    assert "CORRECT" not in said


def test_a_defect_that_permits_leaves_another_answer() -> None:
    carried = (("defect:run_up.left", "Seat worn"),)
    run = Crew("corvane_c4", only="documents", carried=carried).until("documents.open_defects")
    (_, code, *details) = run.say("NONE OPEN")[0]
    assert sentence(code, tuple(details)).endswith("Open: Seat worn. Another answer may fit.")


@pytest.mark.parametrize("drill", [False, True])
def test_what_was_not_so_and_is_answered_is_marked_in_a_list_and_in_a_drill(drill: bool) -> None:
    run = Crew("corvane_c4")
    if drill:
        run.drill("fire_in_start")
        run.send(ev.MemoryDone(run.at))
    else:
        run.until("before_start.parking_brake")
    step = run.table.steps[run.asked]
    run.not_so()
    outcome = run.say(step.response)
    assert ("met", step.id, step.response) in outcome
    assert ("so now", step.id, step.response) in outcome
