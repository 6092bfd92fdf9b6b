"""What a run leaves to the next: attempts, ages, defects, and the documents of its start."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from audit.folder import LogFolder
from runner.flow.loader import Loaded, load_documents
from runner.host import opening
from runner.host.leaving import left_before
from runner.host.opening import Setup, resume, start
from runner.host.replay import Cache
from tests.runner.host.support import (
    RUNNING,
    TO_START,
    FakeClock,
    begin,
    lines_of,
    people,
    say,
    tiny,
    work_day,
)

BURNT = (*RUNNING, "drill fire in start", "memory items done", "cut off", "burning", "closed")
"""A start that ended in a fire, which leaves a defect that grounds."""


def _left(folder: LogFolder, clock: FakeClock) -> dict[str, str]:
    pairs, trouble = left_before(folder, clock.stamp())
    assert trouble == ()
    return dict(pairs)


def test_attempts_ages_and_defects_reach_the_next_run(tmp_path: Path) -> None:
    clock, crew = FakeClock(), people()
    with LogFolder.open(tmp_path / "logs") as folder:
        assert _left(folder, clock) == {}
        run = begin(folder, clock, crew)
        say(run, clock, *TO_START, "released", "engaged", "not firing", "engaged", "fire")
        say(run, clock, "memory items done", "cut off", "burning", "closed")
        assert [d.text for d in run.state.defects] == ["Fire in start"]
        at = run.now()
        stopped = run.state.moments.get("engine stopped")
        run.stop()
        clock.go(600_000)
        left = _left(folder, clock)
        assert left["counter:start_attempts"] == "2"
        assert left["grounded:start_fire"] == "Fire in start"
        if stopped is not None:
            assert left["moment:engine stopped"] == str(at - stopped + 600_000)
        second = begin(folder, clock, crew)
        assert second.view().defects == ("Fire in start",)
        assert str(second.state.values["start_attempts"]) == "2"
        second.stop()
        opening = next(lines_of(folder.path_of(second.recorder.writer.run)))
        assert dict(map(tuple, opening.data["carried"]["items"])) == left


def test_what_was_left_survives_a_run_in_which_nothing_happened(tmp_path: Path) -> None:
    clock, crew = FakeClock(), people()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, crew)
        say(run, clock, *BURNT)
        run.stop()
        left = _left(folder, clock)
        assert "grounded:start_fire" in left
        for lines in (3, 2, 1):
            # Killed before its first event, before a signature, before any signature.
            run = begin(folder, clock, crew)
            path = folder.path_of(run.recorder.writer.run)
            run.stop()
            path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:lines]))
            clock.go(60_000)
        later = _left(folder, clock)
        assert later.keys() == left.keys()
        for key, text in left.items():
            aged = 180_000 if key.startswith("moment:") else 0
            assert later[key] == (str(int(text) + aged) if aged else text)


def test_time_that_passed_before_a_late_signature_counts(tmp_path: Path) -> None:
    clock, crew = FakeClock(), people()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, crew)
        say(run, clock, *RUNNING, "1200", "discontinue")
        work_day(run, clock)
        stopped = run.state.moments.get("engine stopped")
        assert stopped is not None
        age = run.now() - stopped
        run.close([crew[0][1]])
        run.stop()
        clock.go(86_400_000)
        run = resume(folder, run.recorder.writer.run, clock, "TV-T1", patient=True)
        run.recorder.writer.sign_close(crew[1][1], clock.stamp())
        run.stop()
        clock.go(1000)
        assert int(_left(folder, clock)["moment:engine stopped"]) == age + 86_401_000


def test_a_wall_clock_gone_back_makes_ages_unknown_not_small(tmp_path: Path) -> None:
    clock, crew = FakeClock(), people()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, crew)
        say(run, clock, *RUNNING, "discontinue")
        work_day(run, clock)
        run.stop()
        clock.reboot("two", -3_600_000)
        left = _left(folder, clock)
        assert not any(key.startswith("moment:") for key in left)
        assert "counter:start_attempts" in left
        second = begin(folder, clock, crew)
        # With no stop on record: as for an aircraft that stood long.
        assert str(second.state.values["stopped_minutes"]) == "99999"
        second.stop()


def test_a_run_that_cannot_be_replayed_is_said_and_older_defects_still_count(
    tmp_path: Path,
) -> None:
    clock, crew = FakeClock(), people()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, crew)
        say(run, clock, *BURNT)
        run.stop()
        second = begin(folder, clock, crew)
        say(second, clock, *TO_START)
        second.stop()
        path = folder.path_of(second.recorder.writer.run)
        raw = path.read_bytes()
        told: list[str] = []
        # A line may still be read; what it says is checked by its lists.
        path.write_bytes(raw.replace(b'"met","outside.hook"', b'"met","outside.h00k"', 1))
        third = begin(folder, clock, crew, told=told.append)
        assert len(told) == 1
        assert second.recorder.writer.run in told[0]
        assert third.view().defects == ("Fire in start",)
        assert not third.state.moments
        third.stop()


def test_a_missing_document_is_said(tmp_path: Path) -> None:
    clock, crew = FakeClock(), people()
    with LogFolder.open(tmp_path / "logs") as folder:
        begin(folder, clock, crew).stop()
        (folder.documents / tiny().documents[0].sha256).unlink()
        pairs, trouble = left_before(folder, clock.stamp())
        assert pairs == ()
        assert len(trouble) == 1
        assert "is missing" in trouble[0]


def test_documents_of_this_start_are_compiled_once_and_others_for_themselves(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock, crew = FakeClock(), people()
    compiled: list[dict[str, bytes]] = []

    def load(documents: Mapping[str, bytes]) -> Loaded:
        compiled.append(dict(documents))
        return load_documents(documents)

    monkeypatch.setattr(opening, "load_documents", load)
    with LogFolder.open(tmp_path / "logs") as folder:
        begin(folder, clock, crew).stop()
        begin(folder, clock, crew).stop()
        assert compiled == []
        data = {one.name: one.data for one in tiny().documents}
        later = load_documents({**data, "aircraft.yaml": data["aircraft.yaml"] + b"# a note\n"})
        start(Setup(later, folder, "TV-T1", ("crew",), tuple(crew)), clock, patient=True).stop()
        assert compiled == [data]


def test_a_document_of_the_run_before_that_was_changed_is_not_taken_for_that_of_this_start(
    tmp_path: Path,
) -> None:
    clock, crew = FakeClock(), people()
    with LogFolder.open(tmp_path / "logs") as folder:
        begin(folder, clock, crew).stop()
        one = tiny().documents[0]
        (folder.documents / one.sha256).write_bytes(one.data + b"# a note\n")
        cache = Cache(opening._load_or(tiny()))
        pairs, trouble = left_before(folder, clock.stamp(), cache)
        assert pairs == ()
        assert len(trouble) == 1
        assert "was changed" in trouble[0]
