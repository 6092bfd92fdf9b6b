"""What differs between aircraft as wholes, how it is told, and the command."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

from runner.commands.comparing import compare
from runner.flow.comparing import report
from runner.flow.comparing.learning import GROUPS, lessons
from runner.flow.comparing.shapes import Difference
from runner.flow.comparing.whole import compare_aircraft
from runner.flow.documents import Documents
from runner.flow.faults import Faults
from runner.flow.loader import documents_in, load_aircraft, load_documents
from runner.flow.names import Scope

# Many runs of what other tests go through too: traced they would take three times as long.
pytestmark = pytest.mark.no_cover

FLOWS = Path(__file__).resolve().parents[4] / "flows"
C4, T2 = FLOWS / "corvane_c4", FLOWS / "tern_t2"


def edited(name: str, old: str, new: str, count: int = 1) -> list[Difference]:
    """What differs once a text of a document is another."""
    documents = documents_in(C4)
    text = documents[name].decode()
    assert text.count(old) >= 1
    changed = {**documents, name: text.replace(old, new, count).encode()}
    after = load_documents(changed).parts
    return list(compare_aircraft(load_documents(documents).parts, after).differences)


@pytest.mark.parametrize(
    ("old", "new", "subject", "what", "shift"),
    [
        ("to: 3000 rpm", "to: 3100 rpm", "reading", "changed",
         ("plausible", "from 0 rpm, to 3000 rpm", "from 0 rpm, to 3100 rpm")),
        ("fresh for: 10 min", "fresh for: 600 s", "", "", ()),
        ("near: 5 rpm", "near: 7 rpm", "reading", "changed", ("near", "5 rpm", "7 rpm")),
        ("label: Starter\n    within: 30 s", "label: Starter\n    within: 25 s", "timer",
         "changed", ("within", "30 s", "25 s")),
        ("call at: [10 s, 20 s]", "call at: [12 s, 20 s]", "timer", "changed",
         ("call at", "10 s, 20 s", "12 s, 20 s")),
        ("hook: Cargo hook", "hook: Hook", "equipment", "changed", ("label", "Cargo hook", "Hook")),
        ("  - turnaround\n  - short_stop\n", "  - short_stop\n  - turnaround\n", "list", "moved",
         ()),
        ("limit: {below: 70 rpm}}", "limit: {below: 65 rpm}}", "need", "changed",
         ("limit", "below 70 rpm", "below 65 rpm")),
        ('revision: "6"', 'revision: "7"', "aircraft", "changed", ("revision", "6", "7")),
        ("long standby: 2 min", "long standby: 3 min", "aircraft", "changed",
         ("long standby", "2 min", "3 min")),
        ("  - Spoken with maintenance, entry to follow\n", "  - By word of maintenance\n",
         "reason", "changed",
         ("text", "Spoken with maintenance, entry to follow", "By word of maintenance")),
        ("  - {figure: landings}\n", "", "copy entry", "gone", ()),
    ],
)  # fmt: skip
def test_an_edit_of_the_aircraft_is_one_difference(
    old: str, new: str, subject: str, what: str, shift: tuple[str, ...]
) -> None:
    found = edited("aircraft.yaml", old, new)
    if not subject:
        assert found == []
        return
    (one,) = found
    assert (one.subject, one.what) == (subject, (what,))
    assert [s[:3] for s in one.shifts] == ([shift] if shift else [])


def test_a_list_and_a_drill_more() -> None:
    documents = documents_in(T2)
    more = {**documents_in(T2)}
    more["lists/another.yaml"] = (
        b"list: another\ntitle: Another\nsteps:\n  - {challenge: Map, answer: ABOARD}\n"
        b"  - close: Another\n"
    )
    more["aircraft.yaml"] = more["aircraft.yaml"].replace(b"day:\n", b"day:\n  - another\n")
    old, new = load_documents(documents).parts, load_documents(more).parts
    (one,) = compare_aircraft(old, new).differences
    assert (one.subject, one.what, one.new_id) == ("list", ("added",), "another")
    (one,) = compare_aircraft(new, old).differences
    assert (one.subject, one.what, one.old_id) == ("list", ("gone",), "another")


def test_the_pilot_who_changes_types_finds_every_step_once() -> None:
    new = load_aircraft(T2)
    found = lessons(compare_aircraft(load_aircraft(C4).parts, new.parts))
    assert list(found) == list(GROUPS)
    steps = [
        one.id
        for group in GROUPS[:3]
        for one in found[group]
        if one.subject == "step"
    ]  # fmt: skip
    whole = {one.id for one in found["new to you"] if one.subject in ("list", "drill")}
    alone = {
        step.id
        for step in new.table.steps.values()
        if step.id.partition(".")[0] in whole and step.id not in steps
    }
    assert len(steps) == len(set(steps))
    assert set(steps) | alone == set(new.table.steps)


def test_it_is_told_in_80_columns_and_on_a_page_that_needs_nothing() -> None:
    for pair in ((C4, T2), (T2, C4)):
        compared = compare_aircraft(*(load_aircraft(folder).parts for folder in pair))
        assert max(map(len, report.as_text(compared).splitlines())) <= 80
        page = report.as_html(compared)
        assert not re.search(r"(?:src|href)=|https?:|<script", page)
        given = json.loads(report.as_json(compared))
        assert given["equal"] is False
        assert set(given["groups"]) == set(GROUPS)


def names_in(documents: Documents) -> set[str]:
    """Every name of lists, drills, steps, by-times, readings and values that no person calls."""
    aircraft = documents.aircraft
    every = {*documents.lists, *documents.drills, *aircraft.timers, *aircraft.readings}
    every |= {item.id for item in documents.items()} | set(
        Scope(documents, Faults("meaning")).types
    )
    return {name for name in every if "_" in name}


def test_people_read_what_names_stand_for_and_programs_the_names(
    capsys: pytest.CaptureFixture[str],
) -> None:
    known = names_in(load_aircraft(C4).parts) | names_in(load_aircraft(T2).parts)
    assert {"clutch_fault", "rotor_up", "fuel_forward", "cargo_floor"} <= known
    for pair in ((C4, T2), (T2, C4)):
        for form in ("text", "html"):
            assert compare(*pair, form) == 1
            assert known & set(re.findall(r"\w+", capsys.readouterr().out)) == set()
    compare(C4, T2, "text")
    flat = " ".join(capsys.readouterr().out.split())
    for said in (
        "drill: Clutch or needles wrong → Belts slip or do not move",
        "timer: Rotor up to joining speed → Blades on the move",
        "within: Rotor up to joining speed → Belts tight",
        "put off: back before Cargo floor and nets → back before Loose things",
        "formula: (Forward tank plus Aft tank) minus Fuel planned → Fuel in the tank minus Fuel",
        "when: Prime strokes more than 10 → Prime strokes more than 6",
        "list Warm-up (now after Belt engagement)",
    ):  # fmt: skip
        assert said in flat, said
    compare(C4, T2, "json")
    given = json.loads(capsys.readouterr().out)
    shifts = [(s["key"], s["old"], s["new"]) for d in given["differences"] for s in d["shifts"]]
    assert ("drill", "clutch_fault", "belts_fault") in shifts
    assert ("timer", "rotor_up", "blades_move") in shifts
    assert ("formula", "fuel_forward + fuel_aft - fuel_plan", "fuel_total - fuel_plan") in shifts


def test_needs_and_the_ends_of_drills_are_told_in_words() -> None:
    documents = documents_in(C4)
    changed = dict(documents)
    aircraft = changed["aircraft.yaml"].decode()
    need = next(line for line in aircraft.splitlines() if "before: shutdown.mixture" in line)
    changed["aircraft.yaml"] = aircraft.replace(need + "\n", "").encode()
    old, new = load_documents(documents).parts, load_documents(changed).parts
    (one,) = compare_aircraft(old, new, in_words=True).differences
    title, mixture = old.lists["shutdown"].doc.title, "Mixture"
    assert one.name.startswith(f"before {title}, {mixture}: ")
    assert "_" not in one.name + one.answer
    (one,) = compare_aircraft(old, new).differences
    assert one.name.startswith("before shutdown.mixture: ")
    text = documents["drills/fire_in_start.yaml"].decode()
    end = re.search(r"leads to: (?:\w+|\{restart: \w+\})", text)
    assert end
    changed = {**documents, "drills/fire_in_start.yaml":
               text.replace(end[0], "leads to: {restart: before_start}", 1).encode()}  # fmt: skip
    found = compare_aircraft(old, load_documents(changed).parts, in_words=True).differences
    title = old.lists["before_start"].doc.title
    assert f"restart {title}" in [s.new for d in found for s in d.shifts if s.key == "leads to"]


def test_two_things_that_are_called_alike_are_told_by_their_names() -> None:
    # Two answers of the preflight brief become one question asked twice: only the names differ.
    documents = documents_in(T2)
    first = b"list: taxi\ntitle: Taxi\nsteps:\n"
    rows = b"".join(
        b"  - {choose: Wind, id: %b, as: %b, choices: [CALM, STRONG]}\n" % (name, name)
        for name in (b"w1", b"w2")
    )
    last = b"  - {challenge: Vest, answer: ON, when: '%b == \"CALM\"'}\n  - close: Taxi\n"
    name = "lists/taxi.yaml"
    assert name not in documents
    aircraft = documents["aircraft.yaml"].replace(b"day:\n", b"day:\n  - taxi\n", 1)
    old, new = (
        load_documents(
            {**documents, "aircraft.yaml": aircraft, name: first + rows + last % value}
        ).parts
        for value in (b"w1", b"w2")
    )
    (one,) = compare_aircraft(old, new, in_words=True).differences
    assert [s[:3] for s in one.shifts] == [("when", 'w1 == "CALM"', 'w2 == "CALM"')]


def test_a_list_without_its_aircraft_keeps_the_names_it_cannot_know(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (C4 / "lists" / "engage.yaml").read_text("utf-8")
    for name, timer in (("one", "rotor_up"), ("two", "another_time")):
        (tmp_path / f"{name}.yaml").write_text(text.replace("timer: rotor_up", f"timer: {timer}"))
    assert compare(tmp_path / "one.yaml", tmp_path / "two.yaml", "text") == 1
    assert "timer: rotor_up → another_time" in capsys.readouterr().out


def test_what_stands_in_a_document_is_escaped() -> None:
    evil = "title: <script>alert(1)</script> & co"
    documents = documents_in(T2)
    name = "lists/taxi.yaml" if "lists/taxi.yaml" in documents else "lists/fuel.yaml"
    text = re.sub(r"(?m)^title: .*$", f'"title": "{evil[7:]}"', documents[name].decode())
    after = load_documents({**documents, name: text.encode()}).parts
    page = report.as_html(compare_aircraft(load_documents(documents).parts, after))
    assert "<script" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; co" in page


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert compare(C4, C4, "text") == 0
    assert "no difference" in capsys.readouterr().out
    shutil.copytree(T2, tmp_path / "t2")
    path = tmp_path / "t2" / "lists" / "shutdown.yaml"
    before = T2 / "lists" / "shutdown.yaml"
    text = before.read_text("utf-8")
    mixture = re.search(r"limit: \{below: (\d+) °C\}", text)
    assert mixture
    path.write_text(text.replace(mixture[0], "limit: {below: 260 °F}"), "utf-8")
    assert compare(before, path, "text") == 1
    out = capsys.readouterr().out
    assert f"limit: below {mixture[1]} °C → below 260 °F" in out
    alone = tmp_path / "alone.yaml"
    alone.write_text(text, "utf-8")
    assert compare(before, alone, "json") == 0
    assert "read alone" in capsys.readouterr().err


def renamed(*edits: tuple[str, str, str]) -> list[Difference]:
    """What differs once texts of several documents are others, wherever they stand in them."""
    documents = documents_in(C4)
    changed = dict(documents)
    for name, old, new in edits:
        assert old in changed[name].decode()
        changed[name] = changed[name].decode().replace(old, new).encode()
    new_parts = load_documents(changed).parts
    return list(compare_aircraft(load_documents(documents).parts, new_parts).differences)


def test_what_merely_follows_a_new_name_is_no_difference() -> None:
    # A step that the aircraft's needs speak of.
    (one,) = renamed(
        ("lists/shutdown.yaml", "id: mixture\n", "id: cut_off\n"),
        ("aircraft.yaml", "before: shutdown.mixture", "before: shutdown.cut_off"),
    )
    assert (one.subject, one.what) == ("step", ("renamed",))
    assert (one.old_id, one.new_id) == ("mixture", "cut_off")
    # A value that conditions of other steps read.
    every = [name for name, data in documents_in(C4).items() if b"engine_found" in data]
    assert len(every) > 3
    (one,) = renamed(*((name, "engine_found", "engine_seen") for name in every))
    assert (one.subject, one.flow, one.what) == ("step", "shutdown", ("renamed", "changed"))
    assert [s[:3] for s in one.shifts] == [
        ("id", "engine_found", "engine_seen"), ("as", "engine_found", "engine_seen"),
    ]  # fmt: skip
    # An answer that conditions read: the step alone is told, and its key in no other one.
    (one,) = renamed(("drills/fire_in_start.yaml", "STILL BURNING", "BURNING ON"))
    assert one.subject == "step"
    assert [s[:3] for s in one.shifts] == [("choice", "STILL BURNING", "BURNING ON")]


def test_a_list_that_goes_by_another_name_is_the_same_list() -> None:
    documents = documents_in(T2)
    changed = {
        name.replace("lists/take_off", "lists/lift_off"): data for name, data in documents.items()
    }
    text = changed["lists/lift_off.yaml"].decode()
    changed["lists/lift_off.yaml"] = text.replace("list: take_off", "list: lift_off").encode()
    aircraft = changed["aircraft.yaml"].decode().replace("  - take_off\n", "  - lift_off\n")
    changed["aircraft.yaml"] = aircraft.encode()
    new = load_documents(changed).parts
    (one,) = compare_aircraft(load_documents(documents).parts, new).differences
    assert (one.subject, one.what) == ("list", ("renamed",))
    assert (one.old_id, one.new_id) == ("take_off", "lift_off")


def test_a_condition_that_reads_something_else_is_told() -> None:
    (one,) = renamed(
        ("lists/shutdown.yaml", 'CLUTCH OFF\n    when: rotor_found == "TURNING"',
         'CLUTCH OFF\n    when: engine_found == "RUNNING"'),
    )  # fmt: skip
    assert (one.subject, one.old_id) == ("step", "clutch_switch")
    assert [s[:3] for s in one.shifts] == [
        ("when", 'rotor_found == "TURNING"', 'engine_found == "RUNNING"')
    ]
