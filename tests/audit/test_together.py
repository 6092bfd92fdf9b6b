"""`python -m audit verify` over folders and receipts: one line a finding, and the exit code."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from audit import allowed, receipt
from audit.__main__ import main
from audit.folder import LogFolder
from audit.together import NEWEST
from audit.trust import revoke_key, trust_key
from tests.audit.helpers import START_MS, Clock, Person, simple_log


class Desk:
    """A folder of three closed runs, and who is trusted."""

    def __init__(self, folder: LogFolder, crew: list[Person], clock: Clock, trust: Path) -> None:
        self.path = folder.path
        self.runs = [simple_log(folder, crew, clock) for _ in range(3)]
        self.trust = trust
        for person in crew:
            trust_key(trust, person.name, person.public_line)


@pytest.fixture
def desk(folder: LogFolder, crew: list[Person], clock: Clock, tmp_path: Path) -> Desk:
    return Desk(folder, crew, clock, tmp_path / "allowed_signers")


def said(
    capsys: pytest.CaptureFixture[str], desk: Desk, *words: object
) -> tuple[int, list[str], str]:
    code = main(["verify", *map(str, words), "--trust", str(desk.trust)])
    out, err = capsys.readouterr()
    return code, out.splitlines(), err


def test_a_whole_folder(desk: Desk, capsys: pytest.CaptureFixture[str]) -> None:
    code, rows, err = said(capsys, desk, desk.path)
    assert code == 0
    assert [row.split(" ")[0] for row in rows] == ["closed"] * 3
    assert err == NEWEST + "\n"
    code, _, err = said(capsys, desk, *desk.runs)
    assert (code, err) == (0, "")


def test_findings_are_lines_with_a_code(desk: Desk, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copy(desk.runs[0], desk.path / "copy.jsonl")
    desk.runs[1].unlink()
    code, rows, _ = said(capsys, desk, desk.path)
    assert code == 1
    assert [row.split(":")[0] for row in rows[3:]] == ["doubled", "missing"]
    code, rows, _ = said(capsys, desk, desk.path, "--json")
    assert code == 1
    found = [json.loads(row) for row in rows[3:]]
    assert [(one["code"], one["run_seq"]) for one in found] == [("doubled", 1), ("missing", 2)]


def test_a_receipt_is_asked(desk: Desk, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    kept = receipt.receipt_of(desk.runs[2])
    sheet = tmp_path / "sheet"
    sheet.write_text(kept.text, "utf-8")
    code, rows, err = said(capsys, desk, desk.path, "--receipt", sheet)
    assert (code, err) == (0, "")
    assert rows[3].startswith(f"witnessed {desk.runs[2]}")
    code, rows, _ = said(capsys, desk, desk.path, "--json", "--receipt", kept.code)
    assert (code, json.loads(rows[3])["witnessed"].startswith("witnessed ")) == (0, True)
    desk.runs[2].unlink()
    older = receipt.receipt_of(desk.runs[0])
    both = ("--receipt", older.code, "--receipt", sheet)
    code, rows, _ = said(capsys, desk, desk.path, *both)
    assert code == 1
    assert [row.split(" ")[0] for row in rows[2:]] == ["missing:", "witnessed"]
    code, rows, err = said(capsys, desk, desk.path, "--receipt", kept.code[:-1])
    assert (code, rows) == (1, [])
    assert "head cannot be read" in err
    assert said(capsys, desk, desk.path, "--receipt", tmp_path / "nowhere")[0] == 4


def test_a_receipt_is_a_witness_for_a_key_revoked_since(
    desk: Desk, capsys: pytest.CaptureFixture[str], crew: list[Person]
) -> None:
    revoke_key(desk.trust, crew[1].name, allowed.time_text(START_MS - START_MS % 1000 + 60_000))
    code, rows, _ = said(capsys, desk, desk.runs[0])
    assert (code, rows[0].split(" ")[0]) == (1, "untrusted")
    kept = receipt.receipt_of(desk.runs[0])
    code, rows, _ = said(capsys, desk, desk.runs[0], "--receipt", kept.code)
    assert (code, rows[0].split(" ")[0]) == (0, "closed")
    late = kept._replace(wall_ms=START_MS + 120_000)
    code, rows, _ = said(capsys, desk, desk.runs[0], "--receipt", late.code)
    assert (code, rows[0].split(" ")[0]) == (1, "untrusted")
