"""The wheel holds every file of the three packages, byte for byte, and nothing else.

A file that an ignore rule matches is left out of a wheel without a word, and a day with a list
missing looks whole. So the tree on disk is the yardstick, not what version control knows.
"""

from __future__ import annotations

import email
import shutil
import zipfile
from pathlib import Path, PurePosixPath

import pytest
from hatchling.builders.wheel import WheelBuilder

PACKAGES = ("runner", "flows", "audit")
LEFT_BY_TOOLS = {
    "__pycache__", ".hypothesis", ".mypy_cache", ".pytest_cache", ".ruff_cache",
}  # fmt: skip


def tree(project: Path) -> dict[str, bytes]:
    """Every file of the packages on disk, by its path with slashes."""
    found: dict[str, bytes] = {}
    for package in PACKAGES:
        for path in sorted((project / package).rglob("*")):
            inside = path.relative_to(project)
            if path.is_file() and not LEFT_BY_TOOLS.intersection(inside.parts):
                found[inside.as_posix()] = path.read_bytes()
    return found


def build(project: Path, where: Path) -> Path:
    """A wheel built from `project` into `where`."""
    built = list(WheelBuilder(str(project)).build(directory=str(where)))
    assert len(built) == 1
    return Path(built[0])


def packed(wheel: Path) -> tuple[dict[str, bytes], dict[str, bytes]]:
    """What the wheel carries: the packages' files, and its own notes by their bare names."""
    files: dict[str, bytes] = {}
    notes: dict[str, bytes] = {}
    with zipfile.ZipFile(wheel) as archive:
        for name in archive.namelist():
            data = archive.read(name)
            if PurePosixPath(name).parts[0].endswith(".dist-info"):
                notes[PurePosixPath(name).name] = data
            else:
                files[name] = data
    return files, notes


@pytest.fixture(scope="module")
def wheel(project: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of this tree."""
    return build(project, tmp_path_factory.mktemp("wheel"))


def test_the_wheel_holds_every_file_of_the_tree_and_no_other(project: Path, wheel: Path) -> None:
    files, _ = packed(wheel)
    on_disk = tree(project)
    assert sorted(files) == sorted(on_disk)
    assert [name for name in files if files[name] != on_disk[name]] == []


@pytest.mark.parametrize(("aircraft", "lists"), [("corvane_c4", 24), ("tern_t2", 20)])
def test_the_documents_of_both_types_are_aboard(aircraft: str, lists: int, wheel: Path) -> None:
    files, _ = packed(wheel)
    documents = [name for name in files if name.startswith(f"flows/{aircraft}/")]
    assert f"flows/{aircraft}/aircraft.yaml" in documents
    assert sum(name.startswith(f"flows/{aircraft}/lists/") for name in documents) >= lists
    assert f"flows/{aircraft}/answers/normal.txt" in documents


def test_the_command_the_licence_and_the_python_are_declared(wheel: Path) -> None:
    _, notes = packed(wheel)
    assert "latchword = runner.cli:main" in notes["entry_points.txt"].decode()
    assert b"Apache License" in notes["LICENSE"]
    about = email.message_from_bytes(notes["METADATA"])
    assert about["Name"] == "latchword"
    assert about["Requires-Python"] == ">=3.11"
    needed = about.get_all("Requires-Dist") or []
    assert {"voice", "speak", "pdf", "test"} == set(about.get_all("Provides-Extra") or [])
    # A missing microphone, or a missing PortAudio, must not keep anyone from the keyboard.
    for ears in ("vosk", "sounddevice"):
        assert [line for line in needed if line.startswith(ears) and "extra ==" in line]
        assert not [line for line in needed if line.startswith(ears) and "extra ==" not in line]


def test_a_file_that_an_ignore_rule_drops_is_seen(project: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    for package in PACKAGES:
        (copy / package).mkdir(parents=True)
        (copy / package / "here.yaml").write_text("here: 1\n", encoding="utf-8")
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(project / name, copy / name)
    (copy / ".gitignore").write_text("*.yaml\n", encoding="utf-8")
    files, _ = packed(build(copy, tmp_path / "out"))
    assert sorted(tree(copy)) == ["audit/here.yaml", "flows/here.yaml", "runner/here.yaml"]
    assert sorted(files) != sorted(tree(copy))


def test_nothing_but_the_agreed_names_stands_at_the_top(project: Path) -> None:
    agreed = {
        ".ci", ".gitignore", "DEVELOPERS.md", "LICENSE", "README.md", "audit", "docs", "flows",
        "pyproject.toml", "runner", "tests",
    }  # fmt: skip
    local = {
        ".git", ".venv", ".coverage", ".import_linter_cache", "build", "dist", "htmlcov",
    } | LEFT_BY_TOOLS  # fmt: skip
    here = {path.name for path in project.iterdir() if not path.name.startswith(".coverage.")}
    assert here - agreed - local == set()
    assert agreed - {"docs"} - here == set()
