"""The report of the long tier fits the tree, and one that does not is noticed, file by file."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.long import report
from tests.long.report import Entry
from tests.long.run import read_results

PART = "tests/audit/test_long.py"
TREE = {
    "audit/__init__.py": "",
    "audit/writer.py": "from audit import disk\n",
    "audit/disk.py": "",
    "audit/other.py": "",
    "audit/alone.py": "import audit.writer\n",
    "runner/engine/state.py": "",
    "runner/engine/far.py": "",
    "runner/terminal/shell.py": "def late():\n    from runner.engine import state\n",
    "tests/conftest.py": "",
    "tests/audit/conftest.py": "",
    "tests/audit/child.py": "import runner.terminal.shell\n",
    "tests/audit/test_short.py": "import audit.other\n# as pytest.mark.long does not\n",
    PART: (
        "import pytest\nCHILD = 'child.py'\nWORDS = ['-m', 'audit.alone']\n"
        "@pytest.mark.long\ndef test_x(): ...\n"
    ),
}
REACHED = [
    "audit/__init__.py", "audit/alone.py", "audit/disk.py", "audit/writer.py",
    "runner/engine/state.py", "tests/audit/child.py", "tests/audit/conftest.py", PART,
    "tests/conftest.py",
]  # fmt: skip


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    """A small tree whose report fits it."""
    for name, text in TREE.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
    (tmp_path / report.REPORT).parent.mkdir()
    put_in(tmp_path, PART)
    return tmp_path


def put_in(root: Path, part: str) -> None:
    entry = Entry("2026-11-25", "a machine", 9, 2, {"kills": 7}, report.sources(part, root))
    report.write({**report.read(root), part: entry}, root)


def test_the_report_is_not_older_than_what_it_covered() -> None:
    complaint = report.complaint(missing=False)
    assert not complaint, complaint


def test_a_part_reaches_by_imports_and_by_the_programs_that_it_starts(tree: Path) -> None:
    assert report.parts(tree) == [PART]
    assert sorted(report.sources(PART, tree)) == REACHED
    assert report.complaint(tree) == ""


@pytest.mark.parametrize("name", REACHED)
def test_a_report_older_than_a_file_is_noticed(name: str, tree: Path) -> None:
    with (tree / name).open("a") as stream:
        stream.write("# changed\n")
    assert report.stale(tree) == {PART: [name]}
    assert f"is older than {name}." in report.complaint(tree)
    assert report.COMMAND in report.complaint(tree)
    put_in(tree, PART)
    assert report.complaint(tree) == ""


@pytest.mark.parametrize("name", sorted(TREE.keys() - set(REACHED)))
def test_a_file_that_no_part_reaches_makes_nothing_stale(name: str, tree: Path) -> None:
    with (tree / name).open("a") as stream:
        stream.write("# changed\n")
    assert report.complaint(tree) == ""


def test_a_file_that_is_gone_is_noticed(tree: Path) -> None:
    (tree / "audit/disk.py").unlink()
    assert report.stale(tree) == {PART: ["audit/disk.py"]}


def test_a_part_never_run_is_noticed_and_no_other_is_run_again(tree: Path) -> None:
    new = "tests/audit/test_new.py"
    (tree / new).write_text("import pytest\npytestmark = [pytest.mark.long]\n")
    assert report.stale(tree) == {new: [new]}
    assert new in report.complaint(tree)
    assert report.complaint(tree, missing=False) == ""
    put_in(tree, new)
    assert report.complaint(tree) == ""
    assert '"kills": 14' in (tree / report.REPORT).read_text()
    # a part that is no more goes with the next writing
    (tree / new).unlink()
    put_in(tree, PART)
    assert list(report.read(tree)) == [PART]


def test_no_report_at_all(tree: Path) -> None:
    (tree / report.REPORT).unlink()
    assert report.stale(tree) == {PART: [PART]}


TESTS = """
import pytest

@pytest.mark.parametrize("n", [3, 4])
def test_one(n, record_property):
    record_property("kills", n)

def test_skipped():
    pytest.skip("strace is not installed")
"""


def test_what_tests_did_is_added_up_and_a_skipped_one_is_told(tmp_path: Path) -> None:
    (tmp_path / "test_it.py").write_text(TESTS)
    path = tmp_path / "results.xml"

    def results(name: str) -> tuple[int, dict[str, int], str]:
        words = ["-q", "-p", "no:cacheprovider", "-o", "junit_family=xunit1", f"--junitxml={path}"]
        subprocess.run(
            [sys.executable, "-m", "pytest", f"--rootdir={tmp_path}", *words, name],
            cwd=tmp_path,
            env={name: value for name, value in os.environ.items() if name != "PYTEST_ADDOPTS"},
            stdout=subprocess.DEVNULL,
            check=False,
        )
        return read_results(path)

    assert results("test_it.py::test_one") == (2, {"kills": 7}, "")
    tests, counts, why = results("test_it.py")
    assert (tests, counts) == (3, {})
    assert why == "test_skipped was skipped: strace is not installed"
    path.write_text("<testsuites><testsuite/></testsuites>")
    assert read_results(path) == (0, {}, "there was no test in it")
