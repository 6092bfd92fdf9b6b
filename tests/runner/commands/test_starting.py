"""`new`: a starting set that can be checked and run as it stands."""

from __future__ import annotations

import json
import shlex
from pathlib import Path

import pytest

from runner.host import places
from tests.runner.commands.conftest import Command, logs


@pytest.fixture
def made(command: Command, tmp_path: Path) -> Path:
    folder = tmp_path / "my aircraft"
    said = command("new", folder, "--title", 'Wren: "T-9"', "--registration", "tv-t9")
    assert said.code == 0
    steps = [shlex.split(line) for line in said.lines[1:]]
    assert [words[:2] for words in steps] == [
        ["latchword", name] for name in ("check", "prove", "enrol", "run", "approve")
    ]
    assert "TV-T9" in steps[2]
    assert steps[3][2:] == [
        "TV-T9", "--draft", "--answers", str(folder / "answers" / "normal.txt"),
    ]  # fmt: skip
    assert all(str(folder) in steps[number] for number in (0, 1, 2, 4))
    return folder


def test_the_set_passes_the_checks_as_it_stands(command: Command, made: Path) -> None:
    said = command("check", "--strict", made)
    assert (said.code, said.out) == (0, "")
    assert "6 documents, 0 errors, 0 warnings" in said.err


def test_a_scripted_day_as_a_draft_closes_and_says_draft(command: Command, made: Path) -> None:
    enrolled = command("enrol", made, "--registration", "TV-T9")
    assert 'Wren: "T-9", revision 1' in enrolled.out
    assert "TV-T9 not approved" in enrolled.out
    answers = made / "answers" / "normal.txt"
    assert command("run", "TV-T9", "--answers", answers).code == 1
    said = command("run", "TV-T9", "--draft", "--answers", answers)
    assert said.code == 0
    assert "REFUSED" not in said.out
    assert "HEAD TEMPERATURE" in said.out
    also = ("--level", "replayed", "--also")
    assert command("verify", logs("TV-T9"), *also, "demonstration,scripted").code == 1
    assert command("verify", logs("TV-T9"), *also, "demonstration,scripted,draft").code == 0
    shown = command("show").out
    assert "crew, draft, scripted" in shown
    assert "0 of 6 documents approved" in shown


def test_the_modelines_lead_to_the_schema_beside_the_documents(made: Path) -> None:
    documents = [*made.glob("*.yaml"), *made.glob("*/*.yaml")]
    assert len(documents) == 6
    for path in documents:
        first = path.read_text("utf-8").splitlines()[0]
        name = first.removeprefix("# yaml-language-server: $schema=")
        assert name != first
        schema = path.parent / name
        shipped = places.shipped() / "schema" / schema.name
        assert schema.read_bytes() == shipped.read_bytes()
        kind = path.parent.name.removesuffix("s") if path.parent != made else "aircraft"
        assert schema.name == f"{kind}.schema.json"
        assert json.loads(schema.read_text("utf-8"))["type"] == "object"


def test_a_folder_that_is_not_empty_stays_as_it_is(command: Command, tmp_path: Path) -> None:
    note = tmp_path / "note.txt"
    note.write_text("mine", "utf-8")
    said = command("new", tmp_path)
    assert said.code == 2
    assert "is not empty (note.txt is there)" in said.err
    assert [path.name for path in tmp_path.iterdir()] == ["note.txt"]
    assert command("new", note).code == 4


def test_an_empty_folder_will_do_and_the_name_becomes_an_identifier(
    command: Command, tmp_path: Path
) -> None:
    folder = tmp_path / "300-C"
    folder.mkdir()
    assert command("new", folder).code == 0
    assert "aircraft: aircraft_300_c\n" in (folder / "aircraft.yaml").read_text("utf-8")
    assert command("check", "--strict", folder).code == 0


@pytest.mark.parametrize("title", ["x" * 200, "a\nb"])
def test_a_title_that_cannot_stand_writes_nothing(
    command: Command, tmp_path: Path, title: str
) -> None:
    said = command("new", tmp_path / "a", "--title", title)
    assert said.code == 2
    assert "--title" in said.err
    assert not (tmp_path / "a").exists()


def test_the_set_is_proven_as_it_stands(command: Command, made: Path) -> None:
    said = command("prove", made, "--processes", "1")
    assert said.code == 0
    assert said.out.splitlines()[-1] == "proven"
