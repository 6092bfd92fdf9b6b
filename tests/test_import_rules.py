"""Which room may know which: the contracts of `pyproject.toml`, held, and seen to bite."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

COMMAND = [
    sys.executable,
    "-c",
    "from importlinter.cli import lint_imports_command as main; main()",
    "--no-cache",
]


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    """import-linter over the tree in `folder`, told nothing of where this one is."""
    env = {name: text for name, text in os.environ.items() if name != "PYTHONPATH"}
    env["PYTHONPATH"] = str(folder)
    return subprocess.run(
        COMMAND, cwd=folder, env=env, capture_output=True, text=True, encoding="utf-8", check=False
    )


def verdicts(output: str) -> tuple[int, int]:
    """How many contracts were kept and how many broken."""
    found = re.search(r"Contracts: (\d+) kept, (\d+) broken", output)
    assert found, output
    return int(found[1]), int(found[2])


def contracts(project: Path) -> list[dict[str, object]]:
    """The contracts as they are written down."""
    with (project / "pyproject.toml").open("rb") as file:
        written: list[dict[str, object]] = tomllib.load(file)["tool"]["importlinter"]["contracts"]
    return written


def test_every_contract_is_kept(project: Path) -> None:
    done = lint(project)
    assert done.returncode == 0, done.stdout + done.stderr
    assert verdicts(done.stdout) == (len(contracts(project)), 0)


@pytest.fixture
def copy(project: Path, tmp_path: Path) -> Path:
    """A copy of the code, to break."""
    for package in ("runner", "audit"):
        shutil.copytree(
            project / package,
            tmp_path / package,
            ignore=shutil.ignore_patterns("__pycache__", ".*"),
        )
    shutil.copy(project / "pyproject.toml", tmp_path)
    return tmp_path


@pytest.mark.parametrize(
    ("module", "line"),
    [
        ("audit/planted.py", "import runner.engine.units"),
        ("audit/planted.py", "import yaml"),
        ("runner/engine/planted.py", "import time"),
        ("runner/engine/planted.py", "from datetime import datetime"),
        ("runner/engine/planted.py", "import threading"),
        ("runner/engine/planted.py", "import runner.flow.loader"),
        ("runner/engine/planted.py", "import audit"),
        ("runner/flow/planted.py", "import audit.verify"),
        ("runner/terminal/planted.py", "import runner.engine.state"),
        ("runner/terminal/planted.py", "import runner.flow.loader"),
        ("runner/words/planted.py", "import runner.host.clock"),
    ],
)
def test_a_planted_import_breaks_a_contract(copy: Path, module: str, line: str) -> None:
    (copy / module).write_text(line + "\n", encoding="utf-8")
    done = lint(copy)
    assert done.returncode != 0
    assert verdicts(done.stdout)[1] >= 1


def test_no_room_of_the_runner_is_without_a_contract(project: Path) -> None:
    """A new package or module under `runner` must have its layer."""
    found = {path.parent.name for path in (project / "runner").glob("*/__init__.py")}
    found |= {path.stem for path in (project / "runner").glob("*.py")} - {"__init__", "__main__"}
    layers: set[str] = set()
    for contract in contracts(project):
        names = contract.get("layers", [])
        assert isinstance(names, list)
        layers.update(re.findall(r"[\w.]+", " ".join(names)))
    assert {f"runner.{name}" for name in found} - layers == set()
