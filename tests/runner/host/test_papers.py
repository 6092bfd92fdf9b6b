"""The documents of a run, their codes, and for whom of the crew each is new."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from audit.folder import LogFolder
from runner.flow.loader import Loaded, load_documents
from runner.host import papers
from runner.host.approvals import Approval
from runner.host.opening import resume
from runner.host.run import Run
from runner.terminal.shell import Document
from tests.audit.helpers import Person
from tests.runner.host.support import FakeClock, begin, people, say, tiny

READ = ("commander: page read", "copilot: page read")
BOTH = ("Maren Holt", "Åsa Lind")


def with_change(*names: str) -> Loaded:
    """The tiny aircraft with a remark more at the end of these documents."""
    loaded = {one.name: one.data for one in tiny().documents}
    return load_documents(
        {name: data + b"# another line\n" * (name in names) for name, data in loaded.items()}
    )


def worked(folder: LogFolder, clock: FakeClock, *lines: str, **more: object) -> Run:
    """A run that is opened, worked with these lines and left."""
    run = begin(folder, clock, **more)  # type: ignore[arg-type]
    say(run, clock, *lines)
    run.stop()
    clock.go(60_000)
    return run


def changed(run: Run) -> dict[str, tuple[str, ...]]:
    return {one.title: one.changed_for for one in run.documents()}


@pytest.fixture
def folder(tmp_path: Path) -> object:
    with LogFolder.open(tmp_path / "logs") as opened:
        yield opened


def test_the_aircrafts_document_comes_first_then_the_day_then_the_drills(
    folder: LogFolder,
) -> None:
    run = worked(folder, FakeClock(), crew=people())
    table = tiny().table
    order = [*table.order, *table.drills]
    assert [one.title for one in run.documents()] == [
        table.title, *(table.flows[flow].title for flow in order),
    ]  # fmt: skip
    assert {one.revision for one in run.documents()} == {"1"}
    data = next(one.data for one in tiny().documents if one.name == "lists/start.yaml")
    start = run.documents()[1 + table.order.index("start")]
    assert start.code == hashlib.sha256(data).hexdigest()[:8]
    assert run.documents()[0] == Document(
        table.title, "1", hashlib.sha256(tiny().documents[0].data).hexdigest()[:8], BOTH
    )


def test_a_list_outside_the_day_and_a_document_of_every_kind_stand_once(
    folder: LogFolder,
) -> None:
    run = worked(folder, FakeClock(), crew=people())
    assert len(run.documents()) == len(tiny().documents)
    assert len({one.title for one in run.documents()}) == len(tiny().documents)


def test_everything_is_new_to_somebody_without_a_run_here(folder: LogFolder) -> None:
    clock, crew = FakeClock(), people()
    worked(folder, clock, *READ, crew=crew)
    relief = Person("Tor Brand")
    run = worked(folder, clock, crew=(crew[0], ("copilot", relief)))
    assert set(changed(run).values()) == {("Tor Brand",)}


def test_what_did_not_change_is_new_to_nobody(folder: LogFolder) -> None:
    clock, crew = FakeClock(), people()
    worked(folder, clock, *READ, crew=crew)
    assert set(changed(worked(folder, clock, crew=crew)).values()) == {()}


def test_a_changed_document_is_new_to_all_who_have_not_read_it_so(folder: LogFolder) -> None:
    clock, crew = FakeClock(), people()
    relief = (crew[0], ("copilot", Person("Tor Brand")))
    worked(folder, clock, *READ, crew=crew)
    worked(folder, clock, *READ, crew=relief, loaded=with_change("lists/start.yaml"))
    run = worked(folder, clock, crew=crew, loaded=with_change("lists/start.yaml"))
    assert {title: who for title, who in changed(run).items() if who} == {"Start": ("Åsa Lind",)}
    back = worked(folder, clock, *READ, crew=crew)
    assert {title: who for title, who in changed(back).items() if who} == {"Start": BOTH[:1]}


def test_a_run_whose_first_page_was_not_read_counts_for_nobody(folder: LogFolder) -> None:
    clock, crew = FakeClock(), people()
    worked(folder, clock, *READ, crew=crew)
    new = with_change("aircraft.yaml")
    worked(folder, clock, READ[0], crew=crew, loaded=new)
    run = worked(folder, clock, crew=crew, loaded=new)
    assert {who for who in changed(run).values() if who} == {("Åsa Lind",)}


def test_another_key_is_another_person(folder: LogFolder) -> None:
    clock, crew = FakeClock(), people()
    worked(folder, clock, *READ, crew=crew)
    run = worked(folder, clock, crew=(crew[0], ("copilot", Person("Åsa Lind"))))
    assert set(changed(run).values()) == {("Åsa Lind",)}


def test_ground_reads_no_first_page_and_is_known_by_the_roster(folder: LogFolder) -> None:
    clock, crew = FakeClock(), (*people(), ("ground", Person("Per Lund")))
    first = worked(folder, clock, *READ, crew=crew)
    assert set(changed(first).values()) == {(*BOTH, "Per Lund")}
    assert set(changed(worked(folder, clock, crew=crew)).values()) == {()}


def test_a_run_that_cannot_be_read_is_said_and_the_one_before_it_counts(
    folder: LogFolder,
) -> None:
    clock, crew = FakeClock(), people()
    worked(folder, clock, *READ, crew=crew)
    spoilt = worked(folder, clock, *READ, crew=crew, loaded=with_change("lists/start.yaml"))
    path = folder.path_of(spoilt.recorder.writer.run)
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join([lines[0], b"{}\n", *lines[2:]]))
    told: list[str] = []
    run = worked(folder, clock, crew=crew, told=told.append)
    assert set(changed(run).values()) == {()}
    assert any("who read its first page is not known" in text for text in told)


def test_a_run_taken_up_again_has_its_own_documents_and_what_was_read_before_it(
    folder: LogFolder,
) -> None:
    clock, crew = FakeClock(), people()
    worked(folder, clock, *READ, crew=crew)
    new = with_change("lists/start.yaml")
    run = worked(folder, clock, *READ, crew=crew, loaded=new)
    again = resume(folder, run.recorder.writer.run, clock, "TV-T1", patient=True)
    assert again.documents() == run.documents()
    assert {title: who for title, who in changed(again).items() if who} == {"Start": BOTH}
    again.stop()


def test_no_further_back_than_the_last_of_the_crew_is_looked(
    folder: LogFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock, crew = FakeClock(), people()
    for _ in range(3):
        worked(folder, clock, *READ, crew=crew)
    read: list[Path] = []
    real = papers._read

    def counted(path: Path) -> tuple[dict[str, str], set[tuple[str, str]]]:
        read.append(path)
        return real(path)

    monkeypatch.setattr(papers, "_read", counted)
    worked(folder, clock, crew=crew)
    assert len(read) == 1


def test_who_was_last_aboard_too_long_ago_reads_everything_anew(
    folder: LogFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock, crew = FakeClock(), people()
    worked(folder, clock, *READ, crew=crew)
    others = (("commander", Person("Tor Brand")), ("copilot", Person("Ida Moe")))
    for _ in range(2):
        worked(folder, clock, *READ, crew=others)
    monkeypatch.setattr(papers, "MOST_RUNS", 2)
    assert set(changed(worked(folder, clock, crew=crew)).values()) == {BOTH}


def test_the_first_page_knows_by_whom_and_when_each_document_was_approved(
    folder: LogFolder,
) -> None:
    approvals = {
        one.name: Approval("Nora Vale", Person("Nora Vale").key, b"blob", 1_790_000_000_000)
        for one in tiny().documents[1:]
    }
    clock = FakeClock()
    opened = begin(folder, clock, crew=people())
    assert {one.approved_by for one in opened.documents()} == {""}
    opened.stop()
    aboard = [papers.Person(role, one.name, "") for role, one in people()]
    hashes = {one.name: one.sha256 for one in tiny().documents}
    known = {name: (one.by, "2026-09-21") for name, one in approvals.items()}
    found = papers.papers(tiny().table, hashes, aboard, [], pytest.fail, known)
    assert [one.approved_by for one in found] == ["", *["Nora Vale"] * (len(found) - 1)]
    opening = {
        "documents": [
            {"name": name, "approval": approvals[name].as_opening() if name in approvals else None}
            for name in hashes
        ]
    }
    assert papers.approved_in(opening) == dict.fromkeys(approvals, ("Nora Vale", ""))
