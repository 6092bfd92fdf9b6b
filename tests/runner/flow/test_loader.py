"""From a folder, or from stored bytes, to a table: what is read, and what never is."""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from runner.flow.faults import FlowErrors
from runner.flow.loader import (
    MOST_BYTES_TOGETHER,
    MOST_DOCUMENTS,
    MOST_STEPS_TOGETHER,
    MOST_VALUES_TOGETHER,
    load_aircraft,
    load_documents,
)

PLAIN = Path(__file__).parents[2] / "examples" / "valid" / "plain"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(PLAIN, tmp_path / "plain"))


def documents() -> dict[str, bytes]:
    return {path.relative_to(PLAIN).as_posix(): path.read_bytes() for path in PLAIN.rglob("*.yaml")}


def faults_of(load: Callable[[], object]) -> list[str]:
    with pytest.raises(FlowErrors) as caught:
        load()
    return [fault.text for fault in caught.value.faults]


def link(path: Path, target: Path) -> None:
    try:
        path.symlink_to(target)
    except OSError:
        pytest.skip("this system lets nobody make links")


def test_documents_are_hashed_as_they_were_read(folder: Path) -> None:
    loaded = load_aircraft(folder)
    assert [one.name for one in loaded.documents] == [
        "aircraft.yaml",
        "drills/help.yaml",
        "lists/work.yaml",
    ]
    for one in loaded.documents:
        assert one.data == (folder / one.name).read_bytes()
        assert one.sha256 == hashlib.sha256(one.data).hexdigest()


def test_stored_documents_give_the_table_of_their_folder(folder: Path) -> None:
    loaded = load_aircraft(folder)
    again = load_documents({one.name: one.data for one in loaded.documents})
    assert again.documents == loaded.documents
    assert list(again.table.steps) == list(loaded.table.steps)


def test_answers_notes_and_hidden_files_are_no_documents(folder: Path) -> None:
    (folder / "answers").mkdir()
    (folder / "answers" / "normal.txt").write_text("released\n")
    (folder / "lists" / "notes.txt").write_text("no document\n")
    (folder / "lists" / ".work.yaml.swp").write_bytes(b"\0")
    (folder / "lists" / ".hidden.yaml").write_bytes(b"\0")
    (folder / "lists" / "work.yaml~").write_bytes(b"\0")
    assert len(load_aircraft(folder).documents) == 3


@pytest.mark.parametrize(
    ("name", "nearest"),
    [
        ("Before start.yaml", "lists/before_start.yaml"),
        ("start.yml", "lists/start.yaml"),
        ("start.YAML", "lists/start.yaml"),
        ("1st.yaml", "lists/n_1st.yaml"),
    ],
)
def test_a_file_that_would_be_overlooked_is_told(folder: Path, name: str, nearest: str) -> None:
    (folder / "lists" / name).write_text("list: x\n")
    (fault,) = faults_of(lambda: load_aircraft(folder))
    assert fault.startswith(f"lists/{name}:1:1: a file name that no list can have")
    assert f"did you mean {nearest}?" in fault


def test_no_folder_names_the_nearest_one(folder: Path) -> None:
    (fault,) = faults_of(lambda: load_aircraft(folder.parent / "plian"))
    assert "no such folder of documents" in fault
    assert "did you mean plain?" in fault
    (fault,) = faults_of(lambda: load_aircraft(folder / "aircraft.yaml"))
    assert "no such folder of documents" in fault
    (fault,) = faults_of(lambda: load_aircraft(Path("a\0b")))
    assert "no such folder of documents" in fault


def test_a_folder_without_an_aircraft_is_told(folder: Path) -> None:
    (folder / "aircraft.yaml").unlink()
    (fault,) = faults_of(lambda: load_aircraft(folder))
    assert fault.startswith("aircraft.yaml:1:1: aircraft.yaml is missing")


def test_a_link_out_of_the_folder_is_not_followed(folder: Path) -> None:
    outside = folder.parent / "secret.yaml"
    outside.write_text("secret: words that must not be shown\n")
    link(folder / "lists" / "more.yaml", outside)
    (fault,) = faults_of(lambda: load_aircraft(folder))
    assert fault.startswith("lists/more.yaml:1:1: a file that leads outside the folder")
    assert "secret" not in fault


def test_a_folder_that_is_a_link_out_is_not_followed(folder: Path) -> None:
    outside = folder.parent / "others"
    outside.mkdir()
    shutil.rmtree(folder / "drills")
    link(folder / "drills", outside)
    (fault,) = faults_of(lambda: load_aircraft(folder))
    assert fault.startswith("drills:1:1: a folder that leads outside")


def test_a_link_within_the_folder_is_read(folder: Path) -> None:
    (folder / "lists" / "work.yaml").rename(folder / "work.txt")
    link(folder / "lists" / "work.yaml", folder / "work.txt")
    assert len(load_aircraft(folder).documents) == 3


def test_links_in_a_circle_and_nowhere_are_told(folder: Path) -> None:
    link(folder / "lists" / "round.yaml", folder / "lists" / "round.yaml")
    link(folder / "lists" / "gone.yaml", folder / "lists" / "never.yaml")
    faults = faults_of(lambda: load_aircraft(folder))
    assert [fault.split(": ")[1] for fault in faults] == [
        "this document cannot be read, found No such file or directory",
        faults[1].split(": ")[1],
    ]
    assert faults[1].startswith("lists/round.yaml:1:1: this document cannot be read")


def test_what_is_no_file_is_not_opened(folder: Path) -> None:
    (folder / "lists" / "dir.yaml").mkdir()
    (fault,) = faults_of(lambda: load_aircraft(folder))
    assert fault == "lists/dir.yaml:1:1: not a file"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_not_waited_for(folder: Path) -> None:
    os.mkfifo(folder / "lists" / "pipe.yaml")
    (fault,) = faults_of(lambda: load_aircraft(folder))
    assert fault == "lists/pipe.yaml:1:1: not a file"


@pytest.mark.parametrize(
    "name",
    [
        "../aircraft.yaml",
        "lists/../../x.yaml",
        "/etc/passwd",
        "lists/a b.yaml",
        "x",
        "lists\\a.yaml",
    ],
)
def test_a_stored_name_that_is_no_document_is_refused(name: str) -> None:
    (fault,) = faults_of(lambda: load_documents({**documents(), name: b"list: x\n"}))
    assert "a document with no place here" in fault


def test_too_many_documents_are_not_parsed() -> None:
    many = {f"lists/l{n}.yaml": b"{{{" for n in range(MOST_DOCUMENTS + 1)}
    (fault,) = faults_of(lambda: load_documents({**documents(), **many}))
    assert f"too many documents, found {MOST_DOCUMENTS + 4}" in fault


def test_documents_that_are_too_long_together_are_not_parsed() -> None:
    long = {f"lists/l{n}.yaml": b"{" + b"#" * 900_000 for n in range(5)}
    (fault,) = faults_of(lambda: load_documents({**documents(), **long}))
    assert "the documents are too long together" in fault
    assert str(MOST_BYTES_TOGETHER) in fault


def test_values_are_counted_over_all_documents() -> None:
    dull = b"a: [" + b"1," * 18_000 + b"1]\n"
    many = {f"lists/l{n}.yaml": dull for n in range(9)}
    (fault,) = faults_of(lambda: load_documents({**documents(), **many}))
    assert (
        f"too many values in all documents together; allowed: at most {MOST_VALUES_TOGETHER}"
        in (fault)
    )


def test_steps_are_counted_over_all_documents() -> None:
    steps = b"".join(b"  - {challenge: C%d, answer: A}\n" % n for n in range(199))
    many = {
        f"lists/l{n}.yaml": b"list: l%d\ntitle: L%d\nsteps:\n" % (n, n) + steps + b"  - close: L\n"
        for n in range(21)
    }
    (fault,) = faults_of(lambda: load_documents({**documents(), **many}))
    assert f"too many steps, found 4204; allowed: at most {MOST_STEPS_TOGETHER}" in fault


def test_syntax_is_told_before_shape_and_shape_before_meaning() -> None:
    texts = documents()
    texts["lists/work.yaml"] = texts["lists/work.yaml"].replace(b"RELEASED", b"ROGER")
    faults = faults_of(lambda: load_documents(texts))
    assert len(faults) == 1
    assert "a control word" in faults[0]
    texts["drills/help.yaml"] += b"more: 1\n"
    faults = faults_of(lambda: load_documents(texts))
    assert len(faults) == 1
    assert "unknown key 'more'" in faults[0]
    texts["aircraft.yaml"] += b"title: 1\n"
    faults = faults_of(lambda: load_documents(texts))
    assert len(faults) == 1
    assert "the key 'title' stands twice" in faults[0]


def test_a_drill_with_the_name_of_a_list_is_told() -> None:
    texts = documents()
    texts["drills/work.yaml"] = texts["drills/help.yaml"].replace(b"drill: help", b"drill: work")
    texts["aircraft.yaml"] = texts["aircraft.yaml"].replace(
        b"drills: [help]", b"drills: [help, work]"
    )
    faults = faults_of(lambda: load_documents(texts))
    assert any("the name 'work' is a list's already" in fault for fault in faults)


def test_a_folder_that_cannot_be_read_is_told(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_: Path) -> object:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refuse)
    faults = faults_of(lambda: load_aircraft(folder))
    assert faults == [
        "drills:1:1: this folder cannot be read",
        "lists:1:1: this folder cannot be read",
    ]
