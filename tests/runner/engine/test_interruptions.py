"""Standby, the stop of the program, and where the list is taken up again."""

from __future__ import annotations

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.state import How
from tests.runner.engine.crew import Crew, item, kinds, refused

FACTS = ("ENGINE RUNNING", "ROTOR TURNING", "ON THE GROUND")


def stopped(crew: Crew, *, certain: bool = True, gap: int = 1000) -> None:
    """The program stopped and goes on."""
    crew.send(ev.Recovered(crew.run.at + gap, gap=gap, certain=certain))


def test_a_short_standby_goes_on_where_it_was() -> None:
    crew = Crew().until("prepare.lamp")
    assert kinds(crew.send(ev.Standby(crew.at))) == ["standby"]
    assert crew.stands(Prompt.STANDBY)
    assert refused(crew.say("LIT")) == "standing by"
    assert refused(crew.send(ev.Standby(crew.at))) == "standing by"
    assert kinds(crew.send(ev.Continue(crew.at))) == ["resumed"]
    assert crew.asked == "prepare.lamp"
    assert refused(crew.send(ev.Continue(crew.at))) == "not standing by"


def test_an_answer_spoken_before_the_standby_answers_nothing_after_it() -> None:
    crew = Crew().until("prepare.lamp")
    ask = crew.run.state.ask
    crew.send(ev.Standby(crew.at))
    crew.send(ev.Continue(crew.at))
    assert refused(crew.send(ev.Answer(crew.at, ask, "copilot", value="LIT"))) == "stale"


def test_after_two_minutes_the_section_is_offered_from_its_top() -> None:
    for pause, offered in ((119, False), (120, True)):
        crew = Crew().until("prepare.lamp")
        at = crew.at
        crew.send(ev.Standby(at))
        crew.send(ev.Continue(at + pause * 1000))
        assert (crew.stands(Prompt.CHOOSING)) is offered


def test_a_changed_engine_or_rotor_offers_the_section_too() -> None:
    crew = Crew().until("couple.coupling")
    crew.send(ev.Standby(crew.at))
    crew.drill("fire")
    crew.send(ev.MemoryDone(crew.at))
    crew.say("CUT OFF")
    assert not crew.run.state.engine
    assert crew.run.state.standby is None


def test_from_its_top_every_answer_of_the_section_is_asked_again() -> None:
    crew = Crew().until("prepare.lamp")
    crew.send(ev.Standby(crew.at))
    crew.pause(200)
    crew.send(ev.Continue(crew.at))
    crew.say("SECTION FROM ITS TOP")
    assert crew.asked == "prepare.doors"
    assert crew.how("prepare.bus_voltage") is How.OPEN
    assert "bus" not in crew.run.state.values


def test_what_was_done_on_paper_is_asked_again_from_the_top() -> None:
    crew = Crew().until("prepare.doors")
    number = crew.table.steps["prepare.doors"].number
    crew.send(ev.OnPaper(crew.at, first=number, last=number, revision="3"))
    crew.say("WARM")
    crew.send(ev.Standby(crew.at))
    crew.pause(200)
    crew.send(ev.Continue(crew.at))
    crew.say("SECTION FROM ITS TOP")
    assert crew.asked == "prepare.doors"


def test_a_by_time_runs_on_while_its_section_is_worked_again() -> None:
    crew = Crew().until("start.firing")
    began = crew.run.state.timers["starter"].began
    crew.send(ev.Standby(crew.at))
    crew.pause(121)
    crew.send(ev.Continue(crew.at))
    crew.say("SECTION FROM ITS TOP")
    assert crew.run.state.timers["starter"].began == began
    crew.say("ENGAGED")
    # It ran out meanwhile: working the section again is no way to begin it anew.
    assert crew.run.state.timers["starter"].over
    assert crew.run.state.timers["starter"].began == began


def test_after_a_stop_three_facts_are_asked_first() -> None:
    crew = Crew().until("couple.coupling")
    stopped(crew)
    for fact in FACTS:
        assert crew.stands(Prompt.CHOOSING)
        assert refused(crew.say("130")) == "choose"
        crew.taken(fact)
    assert (crew.run.state.engine, crew.run.state.rotor) == (True, True)
    crew.say("RESUME HERE")
    assert crew.asked == "couple.coupling"


def test_a_fact_other_than_the_log_knows_is_read_back_and_wants_affirm() -> None:
    crew = Crew().until("run_up.oil_temperature")
    assert (crew.run.state.engine, crew.run.state.rotor) == (True, True)
    stopped(crew)
    assert crew.say("ENGINE STOPPED") == (("read back", "engine", "ENGINE STOPPED"),)
    assert crew.stands(Prompt.READ_BACK)
    assert crew.run.state.engine
    assert refused(crew.send(ev.Correct(crew.at, value="ENGINE RUNNING"))) == "affirm or negative"
    assert kinds(crew.send(ev.Disregard(crew.at, crew.run.state.ask))) == ["dropped"]
    assert crew.stands(Prompt.CHOOSING)
    # What the log knows itself is taken at once, also in place of what was read back.
    crew.say("ENGINE STOPPED")
    assert item(crew.say("ENGINE RUNNING"), "chosen") == ("chosen", "ENGINE RUNNING")
    crew.say("ROTOR STOPPED")
    assert item(crew.affirm(), "chosen") == ("chosen", "ROTOR STOPPED")
    assert (crew.run.state.engine, crew.run.state.rotor) == (True, False)
    crew.say("AIRBORNE")
    assert not crew.run.state.airborne
    crew.affirm()
    assert crew.run.state.airborne


def test_a_drill_only_delays_the_facts() -> None:
    crew = Crew().until("couple.coupling")
    stopped(crew)
    crew.say("ENGINE RUNNING")
    crew.drill("hot")
    assert crew.asked == "hot.gills"
    crew.say("GILLS OPEN")
    crew.say("CLOSED")
    assert crew.run.state.choosing is not None
    assert crew.run.state.choosing.options == ("ROTOR STOPPED", "ROTOR TURNING")


def test_a_fact_answers_the_mark_that_it_means() -> None:
    crew = Crew().until("lift.take_off")
    stopped(crew)
    crew.taken("ENGINE RUNNING")
    crew.taken("ROTOR TURNING")
    assert "met" in kinds(crew.taken("AIRBORNE"))
    assert crew.how("lift.take_off") is How.ANSWERED


def test_a_stop_drops_what_was_read_back() -> None:
    crew = Crew().until("run_up.oil_temperature")
    crew.say("95")
    stopped(crew)
    for fact in FACTS:
        crew.say(fact)
    assert crew.stands(Prompt.ASKING)
    assert crew.how("run_up.oil_temperature") is How.OPEN


def test_after_a_stop_of_known_length_clocks_have_gone_on() -> None:
    crew = Crew().until("start.firing")
    crew.say("NOT FIRING")
    stopped(crew, gap=120_000)
    crew.pause(1)
    assert crew.how("start.cooling") is How.ANSWERED


def test_after_a_stop_of_unknown_length_what_must_cool_starts_anew() -> None:
    crew = Crew().until("start.firing")
    crew.say("NOT FIRING")
    crew.pause(100)
    stopped(crew, certain=False, gap=0)
    began = crew.run.at
    for fact in ("ENGINE STOPPED", "ROTOR STOPPED", "ON THE GROUND"):
        crew.say(fact)
    crew.say("RESUME HERE")
    crew.wait_until(began + 119_999)
    assert crew.how("start.cooling") is How.OPEN
    crew.wait_until(began + 121_000)
    assert crew.how("start.cooling") is How.ANSWERED


def test_after_a_stop_of_unknown_length_nothing_is_in_time_and_nothing_is_fresh() -> None:
    crew = Crew().until("start.rich")
    crew.say("RICH")
    stopped(crew, certain=False, gap=0)
    assert crew.latch("start.oil_pressure").why == "late"

    crew = Crew().until("run_up.head_temperature")
    stopped(crew, certain=False, gap=0)
    assert crew.how("run_up.oil_temperature") is How.OPEN


def test_after_a_stop_readings_too_old_are_asked_again() -> None:
    for gap, how in ((290_000, How.ANSWERED), (300_000, How.OPEN)):
        crew = Crew().until("run_up.oil_temperature")
        crew.say("80")
        stopped(crew, gap=gap)
        assert crew.how("run_up.oil_temperature") is how


def test_a_wait_broken_before_a_stop_does_not_count_from_its_old_moment() -> None:
    crew = Crew().until("couple.drain")
    crew.say("1700")
    crew.say("50")
    crew.say("LOCKED")
    crew.send(ev.ConditionLost(crew.at))
    stopped(crew, certain=False, gap=0)
    for fact in FACTS:
        crew.say(fact)
    crew.say("RESUME HERE")
    crew.pause(300)
    crew.say("1700")
    assert "wait done" not in kinds(crew.say("50"))


def test_counters_moments_and_defects_are_carried_from_the_run_before() -> None:
    carried = (
        ("counter:attempts", "2"), ("moment:released", "30000"), ("defect:start.engaged", "Worn"),
        ("counter:attempts", "many"), ("moment:released", "-5"), ("nonsense", ""),
    )  # fmt: skip
    crew = Crew(carried=carried, only="start")
    assert crew.run.state.values["attempts"] == 2
    assert crew.run.state.defects[0].text == "Worn"
    # The starter was released 30 s before this run: 90 s of its two minutes are left.
    crew.wait_until(89_999)
    assert crew.how("start.cooling") is How.OPEN
    crew.wait_until(90_000)
    assert crew.how("start.cooling") is How.ANSWERED


def test_what_the_commander_hears_after_a_stop_is_told() -> None:
    crew = Crew().until("prepare.lamp")
    told = crew.send(ev.Recovered(crew.at, gap=5000, certain=False))
    assert item(told, "recovered") == ("recovered", "5000", "uncertain")
