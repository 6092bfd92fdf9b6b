"""What the Corvane's papers may say beside open defects and snags, and of what turns."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.state import How
from tests.runner.engine.crew import Crew, item, refused

CARRIED = {
    "no defect": (),
    "permitted": (("defect:cockpit.lamp", "Lamp cracked"),),
    "grounding": (("grounded:fire", "Fire in start"),),
}


def papers(kind: str) -> Crew:
    """At the first list's question for open defects, with what the run before left."""
    return Crew("corvane_c4", carried=CARRIED[kind]).until("documents.open_defects")


@pytest.mark.parametrize(
    ("kind", "none", "permitted"),
    [("no defect", "", ""), ("permitted", "defect stands", ""),
     ("grounding", "defect stands", "defect stands")],
)  # fmt: skip
def test_no_defects_is_not_said_beside_one_and_none_that_grounds_is_permitted(
    kind: str, none: str, permitted: str
) -> None:
    assert refused(papers(kind).say("NONE OPEN")) == none
    assert refused(papers(kind).say("OPEN AND PERMITTED")) == permitted


def test_a_carried_defect_that_grounds_holds_the_first_list_until_the_entry_of_maintenance() -> (
    None
):
    crew = papers("grounding")
    for words in ("NONE OPEN", "OPEN AND PERMITTED"):
        assert item(crew.say(words), "refused")[3].lower().endswith(" 1")
    assert refused(crew.accept(crew.table.reasons[0])) == "maintenance only"
    assert refused(crew.accept("no other way", emergency=True)) == "maintenance only"
    assert crew.asked == "documents.open_defects"
    crew.send(ev.Happened(crew.at, what="maintenance", note="Inspected, card 12"))
    assert item(crew.say("NONE OPEN"), "met") == ("met", "documents.open_defects", "NONE OPEN")


def test_a_defect_opened_later_takes_the_answer_back_and_the_closed_list_its_validity() -> None:
    crew = papers("no defect")
    crew.say("NONE OPEN")
    crew.until("documents.duty_and_rest")
    crew.send(ev.Snag(crew.at, text="seat worn"))
    assert crew.how("documents.open_defects") is How.ANSWERED
    crew.until("brief")
    assert "documents" in crew.run.state.valid
    crew.until("outside_nose")
    station = next(v for v in crew.run.state.visits if v.flow == "outside_nose")
    first = crew.table.flows[station.flow].steps[0]
    outcome = crew.not_so(first.id, "")
    assert item(outcome, "noted")[1] == "defect"
    assert item(outcome, "lapsed") == ("lapsed", "documents")
    assert "documents" not in crew.run.state.valid


def after_flight(grounding: bool) -> Crew:
    """At the last list's question for snags and defects, one of them open."""
    kind = "grounding" if grounding else "no defect"
    crew = Crew("corvane_c4", only="post_flight", carried=CARRIED[kind])
    return crew.until("post_flight.snags")


def test_the_last_list_does_not_say_none_beside_a_snag_until_it_is_entered() -> None:
    crew = after_flight(grounding=False)
    crew.send(ev.Snag(crew.at, text="vibration, left pedal"))
    assert refused(crew.say("NONE")) == "not possible"
    crew.say("ENTERED")
    assert refused(crew.correct("post_flight.snags", "NONE")) == "not possible"
    crew.until("post_flight.post_flight")
    crew.say("CLOSED")
    assert crew.run.state.values["open_snags"] == 0


def test_a_snag_noted_after_none_was_said_asks_again() -> None:
    crew = after_flight(grounding=False)
    crew.say("NONE")
    assert crew.how("post_flight.snags") is How.ANSWERED
    outcome = crew.send(ev.Snag(crew.at, text="vibration, left pedal"))
    assert item(outcome, "reopened") == ("reopened", "post_flight.snags")
    assert crew.asked == "post_flight.snags"


def test_an_aircraft_with_a_defect_that_grounds_is_not_serviceable() -> None:
    crew = after_flight(grounding=True)
    assert refused(crew.say("NONE")) == "defect stands"
    crew.say("ENTERED")
    crew.until("post_flight.release")
    assert refused(crew.say("SERVICEABLE")) == "defect stands"
    assert item(crew.say("HELD FOR MAINTENANCE"), "met")[2] == "HELD FOR MAINTENANCE"


def turning() -> Crew:
    """At the first question of the shutdown list, engine and rotor turning as the log knows."""
    crew = Crew("corvane_c4").until("run_up")
    assert (crew.run.state.engine, crew.run.state.rotor) == (True, True)
    crew.send(ev.Discontinue(crew.at))
    assert crew.asked == "shutdown.rotor_found"
    return crew


def test_a_rotor_that_the_log_knows_turning_stands_only_by_affirm() -> None:
    crew = turning()
    assert item(crew.say("AT REST"), "read back") == (
        "read back", "shutdown.rotor_found", "AT REST"
    )  # fmt: skip
    assert crew.stands(Prompt.READ_BACK)
    assert crew.run.state.rotor
    outcome = crew.affirm()
    assert ("met", "shutdown.rotor_found", "AT REST") in outcome
    assert (crew.run.state.engine, crew.run.state.rotor) == (True, False)
    assert item(crew.say("STOPPED"), "read back")[1] == "shutdown.engine_found"


def test_what_the_log_knows_itself_is_taken_at_once_and_a_correction_against_it_is_asked() -> None:
    crew = turning()
    assert item(crew.say("TURNING"), "met")[2] == "TURNING"
    assert item(crew.say("RUNNING"), "met")[2] == "RUNNING"
    crew.correct("shutdown.rotor_found", "AT REST")
    assert crew.run.state.rotor
    assert crew.asked == "shutdown.rotor_found"


def test_a_drill_that_may_stop_what_turns_makes_what_the_shutdown_found_void() -> None:
    table = turning().table
    for drill in map(table.flows.__getitem__, table.drills):
        stops = {what for step in drill.steps for what, now in step.turns if not now}
        void = {name for end in drill.ends if end.kind != "restart" for name in end.voids}
        if any(end.kind != "restart" and end.defect for end in drill.ends):
            only_again = drill.id == "clutch_fault"
            wanted = stops - {"rotor"} if only_again else stops
            assert {f"{what}_found" for what in wanted} <= void, drill.id
