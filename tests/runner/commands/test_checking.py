"""`latchword check` and `latchword explain` as people and workflows call them."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from runner.flow.checks.collection import every_rule
from tests.runner.commands.conftest import ROOT, Command

EXAMPLES = ROOT / "tests" / "examples"
CLEAN = EXAMPLES / "valid" / "clean"
WARNED = """\
list: work
title: Work
phase: work
steps:
  - {challenge: Heater, answer: COLD, put off: {back before: beacon}}
  - {challenge: Beacon, answer: FLASHING}
  - close: Work
"""
WRONG = WARNED.replace("FLASHING", "BEACON SET")


@pytest.fixture
def aircraft(tmp_path: Path) -> Callable[..., Path]:
    """A copy of a clean aircraft, with some documents changed."""

    def make(name: str = "mine", **lists: str) -> Path:
        folder = tmp_path / name
        shutil.copytree(CLEAN, folder)
        for one, content in lists.items():
            (folder / "lists" / f"{one}.yaml").write_text(content, encoding="utf-8")
        return folder

    return make


def test_a_clean_aircraft_is_said_to_be_so(command: Command) -> None:
    said = command("check", CLEAN)
    assert (said.code, said.out) == (0, "")
    assert said.err == "4 documents, 0 errors, 0 warnings\n"


def test_a_warning_is_told_and_counts_only_when_asked(
    command: Command, aircraft: Callable[..., Path]
) -> None:
    folder = aircraft(work=WARNED)
    said = command("check", folder)
    assert said.code == 0
    assert said.lines[:3] == [
        f"{folder / 'lists' / 'work.yaml'}:5:62: warning [put-off-return] put off, it comes back "
        "at once: no step stands before work.beacon",
        "      - {challenge: Heater, answer: COLD, put off: {back before: beacon}}",
        " " * 65 + "^",
    ]
    assert said.lines[3].startswith("  why: ")
    assert said.lines[4].startswith("  try: name a later step")
    assert "4 documents, 0 errors, 1 warning" in said.err
    assert command("check", folder, "--strict").code == 1


def test_an_error_is_a_negative_result(command: Command, aircraft: Callable[..., Path]) -> None:
    said = command("check", aircraft(work=WRONG))
    assert said.code == 1
    assert "[empty-response]" in said.out


def test_a_fault_of_the_loader_comes_through_the_same_report(
    command: Command, aircraft: Callable[..., Path]
) -> None:
    folder = aircraft(work=WARNED.replace("back before: beacon", "back before: beacn"))
    said = command("check", folder)
    assert said.code == 1
    assert said.lines[0].startswith(f"{folder / 'lists' / 'work.yaml'}:5:62: error [unknown-name] ")
    assert said.lines[2] == " " * 65 + "^"
    assert said.lines[4] == "  try: did you mean beacon?"


def test_json_is_one_object(command: Command, aircraft: Callable[..., Path]) -> None:
    folder = aircraft(work=WRONG)
    said = command("check", folder, "--format", "json")
    assert said.err == ""
    read = json.loads(said.out)
    assert (read["documents"], read["errors"], read["warnings"]) == (4, 1, 1)
    assert {one["file"] for one in read["findings"]} == {str(folder / "lists" / "work.yaml")}
    assert all(one["line"] and one["column"] and one["reason"] for one in read["findings"])


def test_a_workflow_gets_annotations(command: Command, aircraft: Callable[..., Path]) -> None:
    said = command("check", aircraft(work=WRONG), "--format", "github")
    assert said.code == 1
    assert [line.split(" ")[0] for line in said.lines] == ["::warning", "::error"]


def test_a_list_is_judged_within_its_aircraft_and_told_alone(
    command: Command, aircraft: Callable[..., Path]
) -> None:
    folder = aircraft(work=WARNED)
    said = command("check", folder / "lists" / "work.yaml")
    assert "[put-off-return]" in said.out
    assert "1 document, 0 errors, 1 warning" in said.err
    said = command("check", folder / "lists" / "gauges.yaml")
    assert (said.code, said.out) == (0, "")


def test_a_list_is_found_in_its_aircraft_from_within(
    command: Command, aircraft: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = aircraft(work=WARNED)
    monkeypatch.chdir(folder / "lists")
    assert "[put-off-return]" in command("check", "work.yaml").out
    assert "[put-off-return]" in command("check", ".").out
    monkeypatch.chdir(folder)
    assert command("check", "lists/work.yaml").out.startswith(
        f"{Path('lists', 'work.yaml')}:5:62: "
    )
    assert "aircraft.yaml" not in command("check", "aircraft.yaml").out


def test_what_keeps_a_list_from_being_judged_is_told_though_it_stands_elsewhere(
    command: Command, aircraft: Callable[..., Path]
) -> None:
    folder = aircraft(gauges='list: "work\n')
    said = command("check", folder / "lists" / "work.yaml")
    assert said.code == 1
    assert "gauges.yaml:1:7: error [yaml] a quote is not closed" in said.out
    assert '    list: "work' in said.lines


def test_a_folder_of_aircraft_and_a_folder_of_lists(
    command: Command, aircraft: Callable[..., Path]
) -> None:
    folder = aircraft("one", work=WARNED)
    aircraft("two", work=WRONG)
    said = command("check", folder.parent)
    assert said.code == 1
    assert "8 documents, 1 error, 2 warnings" in said.err
    said = command("check", folder / "lists", folder / "drills")
    assert "3 documents, 0 errors, 1 warning" in said.err
    said = command("check", folder / "lists" / "gauges.yaml", folder)
    assert "4 documents, 0 errors, 1 warning" in said.err


def test_a_document_without_an_aircraft_is_judged_alone_and_that_is_said(
    command: Command, tmp_path: Path
) -> None:
    alone = tmp_path / "work.yaml"
    alone.write_text(WARNED, encoding="utf-8")
    said = command("check", alone)
    assert (said.code, said.out) == (0, "")
    assert "looked at alone" in said.err
    alone.write_text(WARNED.replace("answer: COLD", "anser: COLD"), encoding="utf-8")
    said = command("check", tmp_path)
    assert said.code == 1
    assert f"{alone}:5:25: error [shape]" in said.out


def test_no_more_of_a_document_alone_is_read_than_any_may_have(
    command: Command, tmp_path: Path
) -> None:
    long = tmp_path / "long.yaml"
    long.write_bytes(b"list: a\n" + b"#" * (1024 * 1024))
    said = command("check", long)
    assert said.code == 1
    assert f"{long}:1:1: error [yaml] the document is too long" in said.out


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="a system without named pipes")
def test_what_is_no_file_is_not_waited_for(command: Command, tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.yaml"
    os.mkfifo(pipe)
    said = command("check", pipe)
    assert said.code == 4
    assert "cannot be read" in said.out


@pytest.mark.parametrize(
    ("given", "text"),
    [
        ("mien", "did you mean mine?"),
        ("mine/lists/wrk.yaml", "did you mean work.yaml?"),
        ("nothing.yaml", "no such document or folder"),
    ],
)
def test_what_cannot_be_read_is_another_code(
    given: str,
    text: str,
    command: Command,
    aircraft: Callable[..., Path],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(aircraft().parent)
    said = command("check", given)
    assert said.code == 4
    assert f"{given}:1:1: error [unreadable]" in said.out
    assert text in said.out


def test_an_empty_folder_has_no_aircraft(command: Command, tmp_path: Path) -> None:
    said = command("check", tmp_path)
    assert said.code == 1
    assert "aircraft.yaml is missing" in said.out


def test_a_rule_is_explained(command: Command) -> None:
    said = command("explain", "put-off-return")
    assert said.code == 0
    assert said.lines[0] == "put-off-return (warning)"
    assert said.lines[1] == f"why: {every_rule()['put-off-return'].reason}"
    assert "Wrong:" in said.lines
    assert "Right:" in said.lines
    assert command("explain", "PUT_OFF_RETURN").out == said.out
    assert command("explain", "yaml").lines[0] == "yaml (error)"


def test_every_rule_is_listed_with_its_first_line(command: Command) -> None:
    lines = command("explain").lines
    assert any(line.startswith("limit-reach ") and "never be met" in line for line in lines)
    assert len(lines) == len({line.split()[0] for line in lines}) > 25


def test_an_unknown_rule_gets_the_nearest(command: Command) -> None:
    said = command("explain", "limt-reach")
    assert (said.code, said.out) == (2, "")
    assert "Did you mean limit-reach?" in said.err


@pytest.mark.parametrize("words", [("check",), ("check", "x", "--format", "xml")])
def test_a_call_that_is_not_understood(words: tuple[str, ...], command: Command) -> None:
    assert command(*words).code == 2
