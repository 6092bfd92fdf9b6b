"""The page for authors: each listing is written, each command run, in the order of the page.

A command ends with 0, or with what the page says behind it: `# exit 1: …`.
"""

from __future__ import annotations

import re
import shlex
import shutil
import sys
from pathlib import Path

import pytest

from runner import cli

PAGE = (Path(__file__).resolve().parents[1] / "docs" / "authors.md").read_text("utf-8")
BLOCK = re.compile(
    r"(?:^`(?P<file>[\w/.]+)`:\n\n)?^```(?P<kind>\w+)\n(?P<text>.*?)^```$", re.M | re.S
)
BLOCKS = [match.groupdict() for match in BLOCK.finditer(PAGE)]
FILES = 7
COMMANDS = 13
EXIT = re.compile(r"# exit (\d+): ")
JOURNEY = [
    "check", "explain", "draw", "prove", "compare", "card", "check", "enrol", "run", "keys", "keys",
    "approve", "run",
]  # fmt: skip


def test_the_page_builds_an_aircraft_step_by_step(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("getpass.getpass", lambda prompt: "a passphrase for the page")
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    written = commands = 0
    for block in BLOCKS:
        if block["kind"] in ("yaml", "text"):
            assert block["file"], block["text"]
            path = Path(block["file"])
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(block["text"], "utf-8")
            written += 1
            continue
        assert block["kind"] == "sh"
        for line in block["text"].splitlines():
            words = shlex.split(line, comments=True)
            if words[0] == "cp":
                option, source, target = words[1:]
                assert option == "-r"
                shutil.copytree(source, target)
                continue
            assert words[0] == "latchword"
            monkeypatch.setattr(sys, "argv", words)
            code = cli._main()
            out, err = capsys.readouterr()
            expected = EXIT.search(line)
            assert code == (int(expected[1]) if expected else 0), f"{line}\n{out}\n{err}"
            assert out or err, line
            assert "REFUSED" not in out
            commands += 1
    assert PAGE.count("```") == 2 * len(BLOCKS)
    assert (written, commands) == (FILES, COMMANDS)


def test_every_command_that_the_page_names_is_there() -> None:
    named = set(re.findall(r"latchword ([a-z]+)", PAGE))
    assert named <= set(cli.cli.commands)
    assert {"check", "explain", "approve", "new", "prove"} <= named


def test_the_listings_lead_from_the_first_check_to_the_approved_run() -> None:
    lines = [
        line for block in BLOCKS if block["kind"] == "sh" for line in block["text"].split("\n")
    ]
    found = [shlex.split(line, comments=True) for line in lines if line.startswith("latchword ")]
    assert [words[1] for words in found] == JOURNEY
    runs = [words for words in found if words[1] == "run"]
    assert ["--draft" in words for words in runs] == [True, False]
    for name in ("draw", "card"):
        assert any(words[1] == name and "--text" in words for words in found)
