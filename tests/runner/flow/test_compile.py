"""The table made from the smallest aircraft that uses every kind of step."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from runner.engine.limits import Limit
from runner.engine.table import (
    AcceptClass,
    EndKind,
    Kind,
    Plateau,
    Settings,
    Table,
    Unmet,
    WaitRule,
    Who,
)
from runner.flow.loader import load_aircraft, load_documents

DATA = Path(__file__).parents[2] / "data"
PLAIN = Path(__file__).parents[2] / "examples" / "valid" / "plain"


@pytest.fixture(scope="module")
def table() -> Table:
    return load_aircraft(DATA / "tiny").table


def test_every_kind_of_step_is_there(table: Table) -> None:
    assert {step.kind for step in table.steps.values()} == set(Kind)


def test_card_numbers_run_over_the_day_and_then_over_the_drills(table: Table) -> None:
    order = [*table.order, *table.drills]
    numbers = [step.number for name in order for step in table.flows[name].steps]
    assert numbers == list(range(1, len(table.steps) + 1))
    assert order == ["outside", "start", "shutdown", "start_fire", "oil_low"]


def test_identifiers_are_whole_and_made_from_the_text(table: Table) -> None:
    assert [step.id for step in table.flows["outside"].steps] == [
        "outside.nose_cowl_latches",
        "outside.tie_downs",
        "outside.hook",
        "outside.outside",
    ]
    assert table.steps["start.oil_pressure"].challenge == "Oil pressure"


def test_a_reading_has_exact_numbers_and_milliseconds(table: Table) -> None:
    head = table.readings["head_temp"]
    assert (head.low, head.high, head.near) == (Decimal(-40), Decimal(320), Decimal(2))
    assert head.plateau == Plateau(Decimal(5), 180_000)
    assert (head.ask_every, head.notice_after) == (60_000, 240_000)
    full = load_aircraft(PLAIN.parent / "full").table.readings["head"]
    assert full.fresh_for == 1_800_000
    # -40 °F is -40 °C; 600 °F is 315.5 recurring (NIST SP 811, B.8), kept to 34 digits.
    assert full.low == -40
    assert str(full.high) == "315." + "5" * 30 + "6"
    assert table.steps["shutdown.head_temperature"].limit == Limit.below(Decimal(150), "°C")


def test_a_limited_reading_keeps_all_that_its_author_wrote(table: Table) -> None:
    step = table.steps["start.oil_pressure"]
    assert (step.kind, step.reading, step.gives) == (Kind.READING, "oil_press", "oil_press")
    assert step.limit == Limit.at_least(Decimal(25), "psi")
    assert (step.unmet, step.branch, step.within) == (Unmet.BRANCH, "oil_low", "oil_rise")
    assert step.accept is AcceptClass.EMERGENCY
    assert step.turns == (("engine", True),)
    assert step.notes == ("running",)
    assert step.place == "lists/start.yaml:22:5"


def test_a_choice_goes_back_to_a_whole_identifier(table: Table) -> None:
    step = table.steps["start.engine"]
    assert [(c.text, c.back_to, c.drill) for c in step.choices] == [
        ("FIRING", "", ""),
        ("NOT FIRING", "start.starter", ""),
        ("FIRE", "", "start_fire"),
    ]
    assert table.names["firing"].allowed == ("FIRING", "NOT FIRING", "FIRE")


def test_waits_timers_and_drops(table: Table) -> None:
    assert table.steps["start.warm_up"].wait == WaitRule(
        120_000,
        "running",
        (("engine_rpm", Limit.between(Decimal(1100), Decimal(1300), "rpm")),),
        None,
    )
    assert table.steps["start.starter"].timer == "oil_rise"
    timer = table.timers["oil_rise"]
    assert (timer.length, timer.calls, timer.drill) == (30_000, (10_000, 20_000), "oil_low")
    assert table.steps["start.left_magneto"].drop_from == "both_rpm"


def test_a_formula_computes_and_is_found_by_the_names_it_reads(table: Table) -> None:
    step = table.steps["start.magneto_drop"]
    assert step.formula is not None
    assert step.formula.value({"both_rpm": Decimal(1250), "left_rpm": Decimal(1180)}) == 70
    assert step.limit == Limit.at_most(Decimal(125), "rpm")
    assert table.dependents["both_rpm"] == {"start.magneto_drop", "start.left_magneto"}


def test_cautions_remarks_ticks_and_closings(table: Table) -> None:
    caution, *_ = table.flows["start"].steps
    assert (caution.kind, caution.key_words) == (Kind.CAUTION, ("CLEAR",))
    tick = table.steps["outside.tie_downs"]
    assert (tick.response, table.steps["outside.nose_cowl_latches"].response) == (
        "REMOVED",
        "SECURE",
    )
    close = table.flows["start"].steps[-1]
    assert (close.challenge, close.response, close.clears) == (
        "Start list",
        "CLOSED",
        ("start_attempts",),
    )
    assert table.flows["oil_low"].steps[-1].challenge == "Oil pressure low drill"
    remark = next(s for s in table.flows["start"].steps if s.kind is Kind.REMARK)
    assert not remark.asked


def test_drills_have_their_ends(table: Table) -> None:
    drill = table.flows["start_fire"]
    assert (drill.drill, drill.mutes, drill.likely) == (True, ("oil_rise",), ("start",))
    out, not_out = drill.ends
    assert (out.kind, out.flow, out.voids) == (EndKind.RESTART, "start", ("oil_press",))
    assert out.when is not None
    assert out.when.decide({"fire": "OUT"}) is True
    assert out.when.decide({}) is None
    assert (not_out.kind, not_out.when) == (EndKind.UNSERVICEABLE, None)
    assert not_out.defect == "Fire in start"
    assert drill.steps[0].memory


def test_who_answers_and_what_may_be_put_off(table: Table) -> None:
    assert table.steps["shutdown.mixture"].who is Who.BOTH
    harness = table.steps["start.harness"]
    assert (harness.may_put_off, harness.back_before, harness.meanwhile) == (True, "", True)


def test_the_rest_of_the_aircraft(table: Table) -> None:
    assert table.settings == Settings(120_000, 120_000)
    assert table.flows["outside"].valid_until == {"maintenance"}
    assert table.flows["outside"].any_order
    assert table.flows["shutdown"].next_flight
    assert len(table.reasons) == 5
    assert table.needs[0].limit == Limit.below(Decimal(150), "°C")
    assert table.needs[0].within == 120_000
    assert table.needs[1].step == "start.oil_pressure"
    assert {"flight", "airborne", "hook", "start_attempts", "firing"} <= table.names.keys()


def plain(**changed: str) -> Table:
    documents = {
        path.relative_to(PLAIN).as_posix(): path.read_bytes() for path in PLAIN.rglob("*.yaml")
    }
    for name, text in changed.items():
        documents[name.replace("__", "/") + ".yaml"] = text.encode()
    return load_documents(documents).table


WORK = """list: work
title: Work
phase: work
{head}
steps:
  - reading: temp
    limit: {{below: {limit}}}
  - challenge: Brake
    answer: RELEASED
    when: temp < 20.0
  - close: Work
"""


def test_the_condition_of_a_list_stands_in_each_of_its_steps() -> None:
    table = plain(lists__work=WORK.format(head="only when: hook", limit="50 °C"))
    flow = table.flows["work"]
    assert flow.when is not None
    conditions = [step.when for step in flow.steps]
    assert [c.source for c in conditions if c is not None] == [
        "hook",
        "(hook) && (temp < 20.0)",
        "hook",
    ]
    brake = conditions[1]
    assert brake is not None
    assert brake.decide({"hook": False}) is False
    assert brake.decide({"hook": True}) is None
    assert brake.decide({"hook": True, "temp": Decimal(10)}) is True
    assert table.dependents["hook"] == {step.id for step in flow.steps}


# 122 °F is 50 °C exactly, by the definition of the degree Fahrenheit (NIST SP 811, B.8).
@pytest.mark.parametrize("written", ["50 °C", "122 °F", "323.15 K"])
def test_a_limit_is_converted_exactly_into_the_unit_of_its_reading(written: str) -> None:
    table = plain(lists__work=WORK.format(head="", limit=written))
    assert table.steps["work.temperature"].limit == Limit.below(Decimal(50), "°C")


def test_a_put_off_step_comes_back_before_a_whole_identifier() -> None:
    text = WORK.format(head="", limit="50 °C").replace(
        "    answer: RELEASED\n", "    answer: RELEASED\n    put off: {back before: work}\n"
    )
    step = plain(lists__work=text).steps["work.brake"]
    assert (step.may_put_off, step.back_before) == (True, "work.work")


def test_the_same_bytes_give_the_same_table() -> None:
    one, two = load_aircraft(DATA / "tiny"), load_aircraft(DATA / "tiny")
    assert one.documents == two.documents
    assert list(one.table.steps) == list(two.table.steps)
    assert [s.number for s in one.table.steps.values()] == [
        s.number for s in two.table.steps.values()
    ]
    assert one.table.dependents == two.table.dependents
