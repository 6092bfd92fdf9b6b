"""`verify` by several processes: the words of one, for every level, and a stop that says so."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from audit.errors import Stopped
from audit.pool import verify_all
from runner.commands import looking
from tests.runner.commands.conftest import Command, logs

Script = Callable[..., Path]
ALSO = ("--also", "scripted,demonstration")


@pytest.fixture
def folders(command: Command, short: str, script: Script, tmp_path: Path) -> list[Path]:
    """A folder with a closed run, and one with it cut short, both with their documents."""
    path = script("commander: page read", "copilot: page read", "roger", "released",
                  "snag smell of oil", "30", "affirm", "correction 64", "released", "released",
                  "released", "closed")  # fmt: skip
    assert command("run", short, "--answers", path).code == 0
    (log,) = logs(short).glob("*.jsonl")
    cut = tmp_path / "cut"
    shutil.copytree(log.parent, cut)
    raw = log.read_bytes()
    (cut / log.name).write_bytes(raw[: raw.rindex(b"\n", 0, -1) - 40])
    return [log.parent, cut]


@pytest.mark.parametrize("level", ["boundary", "full", "replayed"])
def test_any_number_of_processes_says_the_same(
    process: Command, folders: list[Path], level: str
) -> None:
    words = ("verify", *folders, "--level", level, *ALSO)
    one = process(*words, "--processes", "1")
    two = process(*words, "--processes", "2")
    assert (one.code, one.out, one.err) == (two.code, two.out, two.err)
    assert one.out.startswith("closed ")
    assert "\ntorn " in one.out
    assert one.code == 1
    assert "verifying:" not in one.err + two.err
    rows = [json.loads(row) for row in process(*words, "--processes", "2", "--json").lines]
    assert [row["result"] for row in rows[:2]] == ["closed", "torn"]
    assert rows[0]["level"] == level


def test_one_that_was_interrupted_says_what_was_judged(
    command: Command, folders: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*asked: object, **more: object) -> object:
        yield next(verify_all(*asked, **more))  # type: ignore[arg-type]
        raise Stopped(1, 2)

    monkeypatch.setattr(looking, "verify_all", stopped)
    said = command("verify", *folders, *ALSO)
    assert said.code == 130
    assert [row.split()[0] for row in said.lines] == ["closed"]
    assert "interrupted: 1 of 2 logs were judged; nothing is said of the rest" in said.err


@pytest.mark.parametrize("count", ["0", "257", "two"])
def test_a_number_of_processes_that_is_none(command: Command, count: str) -> None:
    said = command("verify", "LOG", "--processes", count)
    assert said.code == 2
    assert "--processes" in said.err
