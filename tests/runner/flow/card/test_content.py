"""What stands on a card is what its documents say: read here from the YAML, by nothing of ours."""

from __future__ import annotations

import re
from itertools import chain
from pathlib import Path
from typing import Any

import pytest
import yaml

from runner.engine.table import Kind
from runner.flow.card.content import make_card
from runner.flow.card.shapes import Line, Part
from runner.flow.loader import load_aircraft
from tests.runner.flow.card.reading import FLOWS, KINDS, card_of

KEYS = ("challenge", "reading", "choose", "wait", "by-time", "compute", "caution", "remark", "tick",
        "close")  # fmt: skip


def documents(kind: str, part: Part) -> Any:
    file = FLOWS / kind / ("drills" if part.drill else "lists") / f"{part.id}.yaml"
    return yaml.load(file.read_text("utf-8"), yaml.CBaseLoader)


def numbers_of(limit: dict[str, str]) -> list[str]:
    return [re.match(r"-?[0-9.]+", text).group() for text in limit.values()]  # type: ignore[union-attr]


def replies(line: Line) -> list[str]:
    return [one.text for one in line.replies]


@pytest.mark.parametrize("kind", KINDS)
def test_every_step_of_every_document_is_there_in_order(kind: str) -> None:
    card = card_of(kind)
    aircraft = yaml.load((FLOWS / kind / "aircraft.yaml").read_text("utf-8"), yaml.CBaseLoader)
    files = {one.stem for one in chain(*(FLOWS.glob(f"{kind}/{f}/*.yaml") for f in
                                         ("lists", "drills")))}  # fmt: skip
    assert {part.id for part in card.parts} == files
    day, drills = aircraft["day"], aircraft["drills"]
    assert [part.id for part in card.parts if part.id in day] == day
    assert [part.id for part in card.parts if part.drill] == drills
    lines = [line for part in card.parts for line in part.lines]
    assert [line.number for line in lines] == list(range(1, len(lines) + 1))
    for part in card.parts:
        document = documents(kind, part)
        assert part.title == document["title"]
        headings = [step["section"] for step in document["steps"] if "section" in step]
        assert [one.heading for one in part.sections if one.heading] == headings
        for line, step in zip(part.lines, document["steps"], strict=True):
            same(line, step, aircraft)
        assert [end.label for end in part.ends] == [one["end"] for one in document.get("ends", [])]


def same(line: Line, step: dict[str, Any], aircraft: Any) -> None:
    """One line against its step as the author wrote it."""
    key = next(iter(step))
    assert key in KEYS
    said = step.get("challenge") or step[key]
    if key == "reading" and "challenge" not in step:
        said = aircraft["readings"][step[key]]["label"]
    if key == "close":
        assert line.words.startswith(said)
        assert replies(line) == ["CLOSED"]
        return
    assert line.words == said
    assert line.memory is ("memory" in step)
    assert bool(line.when) is ("when" in step)
    assert line.accept == step.get("accept", "")
    if key not in ("compute", "remark"):
        assert line.who == step.get("who", "handling")
    answers = replies(line)
    if key in ("challenge", "by-time", "tick"):
        assert answers[0] == step.get("answer", "SECURE")
    if key == "choose":
        assert answers == [one if isinstance(one, str) else one["answer"] for one in
                           step["choices"]]  # fmt: skip
        assert all(one.box for one in line.replies)
    if "limit" in step:
        assert re.findall(r"-?[0-9.]+", answers[0]) == numbers_of(step["limit"])
    if key in ("reading", "compute"):
        assert any(one.blank for one in line.replies)
    if key == "wait":
        number, unit = answers[0].split()
        seconds = float(number) * {"s": 1, "min": 60, "h": 3600}[unit]
        wanted, unit = step["for"].split()
        assert seconds == float(wanted) * {"s": 1, "min": 60, "h": 3600}[unit]
    told = " ".join(line.notes)
    if key == "by-time":
        timer = aircraft["timers"][step["timer"]]
        assert timer["label"] in told
        assert timer.get("say", "") in told
    if "drill" in step:
        (drill,) = card_of(aircraft["aircraft"], step["drill"]).parts
        assert f"drill {drill.title}, {next(drill.lines).number}" in told


def test_conditions_stand_in_words_with_what_they_decide() -> None:
    (fire,) = card_of("corvane_c4", "fire_in_start").parts
    conditions = {line.words: line.when for line in fire.lines}
    assert conditions["Fire shut-off"] == "Fire answered STILL BURNING"
    assert conditions["Magneto selector"] == ""
    (start,) = card_of("corvane_c4", "start").parts
    assert "Only if first flight of the day or Rotor turning at brief is 0" in start.head
    (magnetos,) = card_of("corvane_c4", "magnetos").parts
    assert [n for line in magnetos.lines for n in line.notes if n.startswith("=")] == [
        "= Base, on both minus RPM on left",
        "= Base, on both minus RPM on right",
        "= RPM on right minus RPM on left",
    ]


@pytest.mark.parametrize(
    ("kind", "flow", "said"),
    [
        ("corvane_c4", "start", {
            "Start attempts 1 or more, or Times the starter was used 1 or more and no Attempts "
            "under way", "Prime strokes more than 10",
        }),
        ("corvane_c4", "clutch_fault", {
            "Outcome answered LANDING NOW, or Outcome answered ENGAGE ONCE MORE and airborne",
            "Outcome answered ENGAGE ONCE MORE and on the ground",
        }),
        ("corvane_c4", "hydraulic_lock", {
            "Engine, four turns by hand answered STILL HARD or WAS FORCED",
        }),
        ("corvane_c4", "generator_failure", {"Cabin heater fitted and Outcome answered ON THE "
                                             "BATTERY"}),
        ("tern_t2", "start", {"Prime strokes more than 6"}),
        ("tern_t2", "magneto_fault", {
            "What is wrong answered NO DROP",
            "Outcome answered LEAVE IT and What is wrong answered other than NO DROP",
        }),
        ("tern_t2", "low_rotor", {"airborne and Outcome answered RPM STAYS LOW"}),
    ],
)  # fmt: skip
def test_conditions_read_as_they_would_be_written(kind: str, flow: str, said: set[str]) -> None:
    (part,) = card_of(kind, flow).parts
    assert said <= {line.when for line in part.lines} | {end.when for end in part.ends}


def test_a_card_of_some_lists_has_the_numbers_of_the_whole() -> None:
    whole = {part.id: part for part in card_of("corvane_c4").parts}
    some = card_of("corvane_c4", "magneto_fault", "start")
    assert [part.id for part in some.parts] == ["start", "magneto_fault"]
    assert all(part == whole[part.id] for part in some.parts)
    assert not some.ways
    assert dict(card_of("corvane_c4").ways)["nothing turning"].startswith("list Switches")


def test_a_caution_and_a_remark_stay_with_the_step_that_follows() -> None:
    chunks = [
        [line.kind for line in chunk.lines]
        for kind in KINDS
        for part in card_of(kind).parts
        for section in part.sections
        for box in section.boxes
        for chunk in box.chunks
    ]
    held = [kinds for kinds in chunks if len(kinds) > 1]
    assert sum(kinds.count(Kind.CAUTION) for kinds in held) == 28
    assert all(kinds[-1] not in (Kind.CAUTION, Kind.REMARK) for kinds in chunks)
    assert all(set(kinds[:-1]) <= {Kind.CAUTION, Kind.REMARK} for kinds in held)


def test_what_is_put_off_stopped_and_accepted_is_said(tmp_path: Path) -> None:
    lines = [line for part in card_of("corvane_c4").parts for line in part.lines]
    notes = [note for line in lines for note in line.notes]
    assert "May be put off, until before 8" in notes
    assert "May be put off, until the end of this list" in notes
    assert "Not met: the list stops" in notes
    assert {line.accept for line in lines} == {"", "commander", "emergency only",
                                               "maintenance only"}  # fmt: skip


def test_codes_are_those_of_the_documents() -> None:
    loaded = load_aircraft(FLOWS / "tern_t2")
    codes = {one.name: one.sha256[:8] for one in loaded.documents}
    card = make_card(loaded.table, codes, "X", ("start",))
    assert card.parts[0].code == codes["lists/start.yaml"]
    assert card.running == ("Tern T-2, revision 2", "Registration", "Documents X")
