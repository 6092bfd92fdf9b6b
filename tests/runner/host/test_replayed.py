"""`replayed`: a closed day is closed; a log whose every signature is right, but whose lists would
not have allowed it, is rejected at the line where they part."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from audit.errors import NotReplayed
from audit.folder import LogFolder
from audit.verdict import Verdict
from audit.verify import verify
from audit.writer import LogWriter
from runner.engine.wire import read_event
from runner.flow.loader import load_aircraft, load_documents
from runner.host.opening import resume
from runner.host.places import shipped
from runner.host.replay import Cache, replayed
from runner.host.run import Run
from runner.host.stepping import as_data, step
from tests.audit.helpers import Person, trust_in
from tests.runner.host import forgeries
from tests.runner.host.forgeries import Forger
from tests.runner.host.support import FakeClock, begin, people, say, tiny, work_day

Crew = tuple[tuple[str, Person], ...]


def verdict_of(path: Path, crew: Crew, level: str = "replayed") -> Verdict:
    trust = trust_in([p for _, p in crew])
    return verify(path, level=level, trust=trust, replay=replayed(Cache()))


def day(folder: LogFolder, crew: Crew, clock: FakeClock, *first: str) -> Path:
    """A closed day of the tiny aircraft."""
    run = begin(folder, clock, crew)
    say(run, clock, *first)
    work_day(run, clock)
    assert run.close([p for _, p in crew]) == ""
    run.stop()
    return folder.path_of(run.recorder.writer.run)


OPENED = ("commander: page read", "copilot: page read", "tick hook", "tick tie-downs",
          "tick nose cowl latches", "closed")  # fmt: skip
EVENTFUL = (
    *OPENED, "roger", "not so", "released", "engaged", "firing", "below 40", "60", "1200",
    "snag vibration", "correct rotor brake off and stowed", "mark take-off", "mark landing",
    "stand by", "continue", "crew copilot: Tor Brand", "timer oil_rise", "hand over",
)  # fmt: skip


def test_a_closed_day_is_closed(tmp_path: Path) -> None:
    crew = people()
    with LogFolder.open(tmp_path / "logs") as folder:
        path = day(folder, crew, FakeClock(), *OPENED)
    verdict = verdict_of(path, crew)
    assert (verdict.result, verdict.level, verdict.code) == ("closed", "replayed", "")
    assert verdict.counts(frozenset())


def test_a_day_with_acceptance_correction_resumes_and_next_flight(tmp_path: Path) -> None:
    crew, clock = people(), FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, crew)
        say(run, clock, *OPENED, "roger", "released", "discontinue", "160", "affirm", "accept 3")
        assert run.recorder.acceptances
        run.stop()
        clock.go(90_000)
        run = resume(folder, run.recorder.writer.run, clock, "TV-T1", patient=True)
        say(run, clock, "engine stopped", "rotor stopped", "on the ground", "resume here")
        work_day(run, clock)
        say(run, clock, "next flight")
        assert run.state.flight == 2
        work_day(run, clock)
        assert run.close([p for _, p in crew]) == ""
        run.stop()
        path = folder.path_of(run.recorder.writer.run)
    verdict = verdict_of(path, crew)
    assert (verdict.result, verdict.level) == ("closed", "replayed"), verdict.text(str(path))
    assert "resumed once" in verdict.text(str(path))


# -- forgeries -----------------------------------------------------------------------------


@pytest.fixture
def forger(tmp_path: Path) -> Forger:
    crew = people()
    with LogFolder.open(tmp_path / "real") as real:
        path = day(real, crew, FakeClock(), *OPENED, "roger", "released", "engaged", "firing", "60")
    folder = LogFolder.open(tmp_path / "forged")
    for document in tiny().documents:
        folder.store_document(document.data)
    return Forger(folder, crew, path)


def test_the_forger_writes_what_verifies(forger: Forger) -> None:
    verdict = verdict_of(forger.write(), forger.crew)
    assert (verdict.result, verdict.level) == ("closed", "replayed")
    forger.follow()
    again = verdict_of(forger.write(), forger.crew)
    assert (again.result, again.level) == ("closed", "replayed")


@pytest.mark.parametrize(
    ("code", "forge"), forgeries.FORGERIES, ids=[f.__name__ for _, f in forgeries.FORGERIES]
)
def test_rejected_though_every_signature_is_right(
    code: str, forge: Callable[[Forger], int], forger: Forger
) -> None:
    place = forge(forger)
    path = forger.write()
    assert verdict_of(path, forger.crew, "full").result == "closed"
    verdict = verdict_of(path, forger.crew)
    assert (verdict.result, verdict.code) == ("rejected", code), verdict.text(str(path))
    if place >= 0:
        # Behind the opening and the two signatures.
        assert verdict.line == 3 + place
    assert not verdict.counts(frozenset())


@pytest.mark.parametrize(
    "forge", [forgeries.digest, forgeries.long_outcome, forgeries.outcome], ids=lambda f: f.__name__
)
def test_what_parts_never_reads_equal(forge: Callable[[Forger], int], forger: Forger) -> None:
    """Where the outcomes are equal, or only look so, what differs is named."""
    if forge is forgeries.long_outcome:
        # Both are long and part only behind what a line of a verdict has room for.
        forger.events[7][0]["outcome"][0][-1] = "y" * 200
    forge(forger)
    text = verdict_of(forger.write(), forger.crew).text("log")
    ours, _, logged = text.partition("the lists give ")[2].partition(", the log says ")
    assert ours
    assert logged
    assert ours.removeprefix("the digest ") not in logged
    assert ("the state behind it is not" in text) == (forge is forgeries.digest)


@pytest.mark.parametrize(("longer", "certain"), [(0, True), (600_000, True), (-1, True),
                                                 (0, False)])  # fmt: skip
def test_a_stop_that_was_longer_or_shorter_than_the_clock_says(
    longer: int, certain: bool, tmp_path: Path
) -> None:
    from audit.recovery import recover

    crew, clock = people(), FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, crew)
        say(run, clock, *OPENED)
        run.stop()
        clock.go(60_000)
        name = run.recorder.writer.run
        writer = LogWriter.resume(recover(folder, name), clock.stamp(), 60_000)
        event = read_event({"kind": "recovered", "at": run.state.at + 60_000,
                            "gap": 60_000 + longer, "certain": certain})  # fmt: skip
        after, outcome = step(run.table, run.state, event)
        writer.event(as_data(event, outcome, after), clock.stamp())
        writer.stop()
        verdict = verdict_of(folder.path_of(name), crew)
    wanted = "unclosed" if (longer, certain) == (0, True) else "rejected"
    assert verdict.result == wanted, verdict
    assert (verdict.code == "replay-clock") == (wanted == "rejected")


def test_acceptances_left_out_of_the_close(tmp_path: Path) -> None:
    crew, clock = people(), FakeClock()
    with LogFolder.open(tmp_path / "real") as real:
        path = day(real, crew, clock, *OPENED, "roger", "released", "discontinue", "160",
                   "affirm", "accept 3")  # fmt: skip
    for left_out, added in ((True, False), (False, True), (False, False)):
        folder = LogFolder.open(tmp_path / f"forged-{left_out}-{added}")
        for document in tiny().documents:
            folder.store_document(document.data)
        forged = Forger(folder, crew, path)
        assert forged.acceptances
        if left_out:
            forged.acceptances = []
        if added:
            forged.acceptances = sorted([*forged.acceptances, 4])
        verdict = verdict_of(forged.write(), crew)
        wanted = "replay-acceptances" if left_out or added else ""
        assert verdict.code == wanted
        folder.close()


def test_other_documents(forger: Forger) -> None:
    loaded = load_aircraft(shipped() / "corvane_c4")
    for document in loaded.documents:
        forger.folder.store_document(document.data)
    forger.opening["documents"] = [
        {"name": d.name, "sha256": d.sha256, "approval": None} for d in loaded.documents
    ]
    verdict = verdict_of(forger.write(), forger.crew)
    assert (verdict.result, verdict.code) == ("rejected", "replay-outcome")


@pytest.mark.parametrize("how", ["missing", "changed", "rules", "no list"])
def test_what_cannot_be_replayed_is_full_and_says_so(how: str, forger: Forger) -> None:
    if how == "rules":
        forger.opening["rules"] = 99
    if how == "no list":
        sha = forger.folder.store_document(b"aircraft: nothing\n")
        forger.opening["documents"] = [{"name": "aircraft.yaml", "sha256": sha, "approval": None}]
    path = forger.write()
    document = forger.folder.documents / forger.opening["documents"][-1]["sha256"]
    if how == "missing":
        document.unlink()
    if how == "changed":
        document.write_bytes(document.read_bytes() + b"\n")
    verdict = verdict_of(path, forger.crew)
    if how == "changed":
        assert verdict.level == "full" or verdict.result == "rejected"
    else:
        assert (verdict.result, verdict.level) == ("closed", "full")
        assert "full, not replayed" in verdict.text(str(path))
    assert not verdict.counts(frozenset())


def test_a_finding_is_no_shelter_for_a_broken_chain(forger: Forger) -> None:
    forgeries.out_of_limits_as_met(forger)
    path = forger.write()
    raw = path.read_bytes()
    other = b"y" if raw[-40:-39] == b"x" else b"x"
    path.write_bytes(raw[:-40] + other + raw[-39:])
    verdict = verdict_of(path, forger.crew)
    assert verdict.result == "rejected"
    assert not verdict.code.startswith("replay")


def test_documents_are_compiled_once_for_many_logs(forger: Forger) -> None:
    loads = 0

    def counted(documents: Any) -> Any:
        nonlocal loads
        loads += 1
        return load_documents(documents)

    paths = [forger.write() for _ in range(3)]
    hook = replayed(Cache(counted))
    for path in paths:
        assert verify(path, level="replayed", trust=None, replay=hook).result == "untrusted"
    assert loads == 1


def test_a_table_of_unknown_documents_is_not_guessed(forger: Forger) -> None:
    with pytest.raises(NotReplayed, match="missing"):
        Cache().table({"documents": [{"name": "x", "sha256": "0" * 64}]}, forger.folder.documents)


def test_a_live_log_replays_line_by_line(tmp_path: Path) -> None:
    crew, clock = people(), FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run: Run = begin(folder, clock, crew)
        say(run, clock, *EVENTFUL)
        path = folder.path_of(run.recorder.writer.run)
        assert verdict_of(path, crew).result == "unclosed"
        assert verdict_of(path, crew).level == "replayed"
        run.stop()
