"""What a view says of snags, defects and flags, and of the answer given last."""

from __future__ import annotations

from runner.engine import events as ev
from runner.engine.effects import KeptLine
from runner.engine.views import view
from tests.runner.engine.crew import Crew


def test_a_snag_has_its_time_its_list_and_the_readings_that_stood_in_it() -> None:
    crew = Crew().until("magnetos.base")
    crew.say("1800")
    at = crew.at
    crew.send(ev.Snag(at, text="vibration"))
    (one,) = view(crew.table, crew.run.state).kept
    title = crew.table.flows["magnetos"].title
    base = crew.table.steps["magnetos.base"].challenge
    assert one == KeptLine("snag", "vibration", at, title, (f"{base} 1800 rpm",))


def test_a_reading_after_the_snag_is_none_of_its_readings() -> None:
    crew = Crew().until("magnetos.base")
    crew.send(ev.Snag(crew.at, text="vibration"))
    crew.say("1800")
    (one,) = view(crew.table, crew.run.state).kept
    assert one.readings == ()


def test_a_defect_of_an_earlier_run_has_no_time_and_says_whether_it_grounds() -> None:
    crew = Crew(carried=(("grounded:fire", "Fire in start"), ("defect:lamp", "Landing lamp out")))
    crew.until("papers")
    found = view(crew.table, crew.run.state).kept
    assert [(one.kind, one.text, one.at, one.grounding) for one in found] == [
        ("defect", "Fire in start", -1, True), ("defect", "Landing lamp out", -1, False),
    ]  # fmt: skip


def test_the_latest_answer_may_be_one_of_a_list_that_is_over() -> None:
    crew = Crew().until("magnetos.base")
    before = view(crew.table, crew.run.state)
    assert before.before == ()
    assert before.latest is not None
    assert not before.latest.key.startswith("magnetos.")
    crew.say("1800")
    latest = view(crew.table, crew.run.state).latest
    assert latest is not None
    assert (latest.key, latest.answer) == ("magnetos.base", "1800 rpm")


def test_nothing_is_latest_before_the_first_answer() -> None:
    crew = Crew(read=False)
    assert view(crew.table, crew.run.state).latest is None


def test_the_latest_answer_is_the_newest_of_all_lists_that_stand() -> None:
    crew = Crew("corvane_c4")
    flows = crew.table.flows
    crew.until(next(name for name in crew.table.order if flows[name].group))
    first, second = (flows[v.flow] for v in crew.run.state.visits[:2])
    for flow in (first, second, first):
        if view(crew.table, crew.run.state).flow != flow.id:
            crew.send(ev.TurnTo(crew.at, flow=flow.id))
        asked = view(crew.table, crew.run.state)
        item = next(line for line in asked.items if line.status == "open")
        crew.say(item.expected, item=item.challenge)
        latest = view(crew.table, crew.run.state).latest
        assert latest is not None
        assert latest.key == item.key
