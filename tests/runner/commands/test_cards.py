"""`card`: its three forms, what it takes, and what is missing."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

from runner.flow.loader import load_aircraft
from runner.host.papers import papers
from runner.terminal.document_groups import code_of_all

FLOWS = Path(__file__).resolve().parents[3] / "flows"
C4, T2 = FLOWS / "corvane_c4", FLOWS / "tern_t2"
START = C4 / "lists" / "start.yaml"
FIRE = C4 / "drills" / "fire_in_start.yaml"


def test_text_of_several_documents_in_the_order_of_their_numbers(command: Any) -> None:
    said = command("card", FIRE, START)
    assert said.code == 0
    assert said.out.index("List Start, 193 to 216") < said.out.index("Drill Fire in start, 400")
    assert command("card", "--text", START, FIRE).out == said.out
    assert "List Warm-up" not in said.out
    assert "List Warm-up" in command("card", C4, START).out


def test_the_code_is_the_one_of_the_first_page_of_a_run(command: Any) -> None:
    loaded = load_aircraft(C4)
    hashes = {one.name: one.sha256 for one in loaded.documents}
    shown = code_of_all(papers(loaded.table, hashes, (), (), lambda _: None))
    assert f"\nDocuments {shown}\n" in command("card", START).out
    assert f"document {hashes['lists/start.yaml'][:8]}" in command("card", START).out


def test_files_are_written_once_and_never_over(command: Any, tmp_path: Path) -> None:
    for option, begin in (("--pdf", b"%PDF-"), ("--html", b"<!DOCTYPE html>")):
        file = tmp_path / f"card{option}"
        said = command("card", FIRE, option, file, "--size", "knee")
        assert (said.code, said.out) == (0, "")
        data = file.read_bytes()
        assert data.startswith(begin)
        again = command("card", FIRE, option, file)
        assert again.code == 4
        assert "is there already" in again.err
        assert file.read_bytes() == data


def test_without_weasyprint_it_says_what_to_install(
    command: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    said = command("card", START, "--pdf", tmp_path / "a.pdf")
    assert said.code == 4
    assert "pip install 'latchword[pdf]'" in said.err
    assert "libpango" in said.err
    assert not (tmp_path / "a.pdf").exists()
    assert command("card", START, "--html", tmp_path / "a.html").code == 0


def test_another_face_is_told(
    command: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("runner.commands.cards.FACE", "Face That Is Missing")
    said = command("card", FIRE, "--pdf", tmp_path / "a.pdf")
    assert said.code == 0
    assert "set in Liberation Sans: Face That Is Missing is not installed" in said.err


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        ([], 2, "Missing argument"),
        ([START, "--text", "--html", "x"], 2, "one form at a time"),
        ([START, T2], 2, "a card is of one aircraft"),
        ([C4 / "lists" / "strat.yaml"], 4, "did you mean start"),
        ([FLOWS / "schema" / "list.schema.json"], 2, "no list of an aircraft"),
        ([FLOWS], 3, "aircraft.yaml is missing"),
    ],
)
def test_what_is_no_card(command: Any, arguments: list[Any], code: int, said: str) -> None:
    made = command("card", *arguments)
    assert made.code == code
    assert said in made.err
    assert made.out == ""
