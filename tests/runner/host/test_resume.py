"""Taking a run up again: facts, time, and who signs."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit.errors import RecoveryError
from audit.folder import LogFolder
from audit.stamps import Stamp
from audit.verify import verify
from audit.writer import LogWriter
from runner.engine.effects import Prompt
from runner.host import opening, stepping
from runner.host.clock import since
from runner.host.opening import registration_of, resume
from runner.host.places import PlaceFault
from runner.host.replay import replayed
from runner.host.run import Run
from tests.audit.helpers import Person, trust_in
from tests.runner.host.support import (
    RUNNING,
    TO_START,
    Ear,
    FakeClock,
    begin,
    lines_of,
    people,
    say,
    tiny,
    work_day,
)

FACTS = ("engine stopped", "rotor stopped", "on the ground")


def again(folder: LogFolder, run: Run, clock: FakeClock) -> Run:
    return resume(folder, run.recorder.writer.run, clock, "TV-T1", patient=True)


def test_first_the_three_facts_then_the_last_three_answers_then_the_place(tmp_path: Path) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        say(run, clock, *RUNNING)
        run.stop()
        clock.go(20_000)
        run = again(folder, run, clock)
        ear = Ear(run)
        asked = []
        for answer in ("engine running", "rotor stopped", "on the ground"):
            assert run.state.question.prompt is Prompt.CHOOSING
            asked.append(run.view().options)
            assert not any(text.startswith("ANSWERED BEFORE") for text in ear.texts)
            say(run, clock, answer)
        assert asked == [("ENGINE STOPPED", "ENGINE RUNNING"), ("ROTOR STOPPED", "ROTOR TURNING"),
                         ("ON THE GROUND", "AIRBORNE")]  # fmt: skip
        assert [text for text in ear.texts if text.startswith("ANSWERED BEFORE")] == [
            "ANSWERED BEFORE: Starter, ENGAGED",
            "ANSWERED BEFORE: Engine, FIRING",
            "ANSWERED BEFORE: Oil pressure, SIX ZERO",
        ]
        assert run.view().options == ("RESUME HERE", "SECTION FROM ITS TOP")
        say(run, clock, "resume here")
        assert run.view().challenge == "Engine RPM"
        assert ear.texts[-1] == "ENGINE RPM?"
        run.stop()


def test_the_aircraft_is_the_one_that_the_log_was_opened_for(tmp_path: Path) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        run.stop()
        run = resume(folder, run.recorder.writer.run, clock, "TV-X9", patient=True)
        assert run.registration == "TV-T1"
        run.stop()
    assert registration_of({"carried": {}}) == ""


def test_a_reading_that_is_too_old_is_asked_again(tmp_path: Path) -> None:
    fresh = tiny().table.readings["head_temp"].fresh_for
    assert fresh is not None
    for away, asked in ((fresh - 60_000, "Mixture"), (fresh + 60_000, "Head temperature")):
        clock = FakeClock()
        with LogFolder.open(tmp_path / f"logs-{away}") as folder:
            run = begin(folder, clock, people())
            say(run, clock, *TO_START, "discontinue", "140")
            assert run.view().challenge == "Mixture"
            run.stop()
            clock.go(away)
            run = again(folder, run, clock)
            say(run, clock, *FACTS, "resume here")
            assert run.view().challenge == asked
            run.stop()


def test_what_is_turning_decides_where_discontinue_leads(tmp_path: Path) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        say(run, clock, *TO_START)
        run.stop()
        run = again(folder, run, clock)
        for fact in ("engine running", "rotor turning", "airborne"):
            say(run, clock, fact, "affirm")
        shown = run.view()
        assert (shown.engine_running, shown.rotor_turning, shown.airborne) == (True, True, True)
        run.stop()


def test_time_goes_on_while_nobody_runs(tmp_path: Path) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        say(run, clock, *RUNNING)
        before = run.now()
        run.stop()
        clock.go(300_000)
        run = again(folder, run, clock)
        assert run.now() == before + 300_000
        run.stop()


def test_a_resume_that_was_itself_cut_short_loses_no_time(tmp_path: Path) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        say(run, clock, *TO_START, "discontinue", "140")
        before = run.now()
        run.stop()
        from audit.recovery import recover

        clock.go(600_000)
        # Killed between its `resume` line and the event that tells of the stop.
        LogWriter.resume(recover(folder, run.recorder.writer.run), clock.stamp(), 600_000).stop()
        clock.go(5_000)
        run = again(folder, run, clock)
        assert run.now() == before + 605_000
        say(run, clock, *FACTS, "resume here")
        assert run.view().challenge == "Head temperature"
        run.stop()
        path = folder.path_of(run.recorder.writer.run)
    verdict = verify(path, level="replayed", trust=None, replay=replayed())
    assert (verdict.result, verdict.level) == ("unclosed", "replayed"), verdict


@pytest.mark.parametrize(
    ("then", "now", "passed"),
    [
        (Stamp(1000, 500, "a"), Stamp(9000, 700, "a"), 200),
        (Stamp(9000, 500, "a"), Stamp(1000, 700, "a"), 200),
        (Stamp(1000, 500, "a"), Stamp(9000, 10, "b"), 8000),
        (Stamp(1000, 500, "a"), Stamp(9000, 10, "a"), 8000),
        (Stamp(9000, 500, "a"), Stamp(1000, 10, "b"), None),
        (Stamp(9000, 500, "a"), Stamp(9000, 10, "b"), None),
    ],
)
def test_time_between_two_moments(then: Stamp, now: Stamp, passed: int | None) -> None:
    assert since(then, now) == passed


def test_a_wall_clock_that_jumps_moves_nothing(tmp_path: Path) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        say(run, clock, *RUNNING, "1200")
        ends = [r.ends for r in run.view().running]
        at = run.now()
        for jump in (-86_400_000, 7 * 86_400_000, -3_600_000):
            clock.wall_ms += jump
            assert run.now() == at
            run.run_due(run.now())
        assert [r.ends for r in run.view().running] == ends
        say(run, clock, "locked")
        run.stop()
        clock.wall_ms -= 86_400_000
        clock.go(1000)
        run = again(folder, run, clock)
        assert run.now() == at + 2000
        work_day(run, clock)
        run.stop()
        path = folder.path_of(run.recorder.writer.run)
    verdict = verify(path, level="replayed", trust=None, replay=replayed())
    assert (verdict.result, verdict.level) == ("unclosed", "replayed")
    assert any("clock moved" in note for note in verdict.notes)


def test_when_nobody_knows_how_long_it_was_everything_starts_anew(tmp_path: Path) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        say(run, clock, *RUNNING, "1200")
        run.stop()
        clock.reboot("two", -3_600_000)
        run = again(folder, run, clock)
        say(run, clock, "engine running", "rotor stopped", "on the ground", "resume here")
        began = run.now()
        say(run, clock, "1200")
        wait = next(r for r in run.view().running if not r.maximum)
        assert wait.ends - began > 115_000
        recovered = [
            line.data["event"] for line in lines_of(folder.path_of(run.recorder.writer.run))
            if line.type == "event" and line.data["event"]["kind"] == "recovered"
        ]  # fmt: skip
        assert [(e.get("gap", 0), e.get("certain", True)) for e in recovered] == [(0, False)]
        run.stop()


def test_a_run_stopped_before_its_first_event_is_opened_then(tmp_path: Path) -> None:
    clock, crew = FakeClock(), people()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, crew)
        path = folder.path_of(run.recorder.writer.run)
        run.stop()
        raw = path.read_bytes().splitlines(keepends=True)
        path.write_bytes(b"".join(raw[:3]))
        clock.go(5_000)
        run = again(folder, run, clock)
        assert run.state.question.prompt is Prompt.FIRST_PAGE
        say(run, clock, "commander: page read", "copilot: page read")
        work_day(run, clock)
        assert run.close([p for _, p in crew]) == ""
        run.stop()
    trust = trust_in([p for _, p in crew])
    verdict = verify(path, level="replayed", trust=trust, replay=replayed())
    assert (verdict.result, verdict.level) == ("closed", "replayed"), verdict


def test_an_opening_that_was_not_signed_is_no_run(tmp_path: Path) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        path = folder.path_of(run.recorder.writer.run)
        run.stop()
        path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:2]))
        with pytest.raises(RecoveryError, match="before its opening was signed"):
            again(folder, run, clock)


def test_a_log_that_the_lists_do_not_give_is_not_taken_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from runner.host.replay import Replayer

    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        say(run, clock, *TO_START)
        path = folder.path_of(run.recorder.writer.run)
        run.stop()
        before = path.read_bytes()
        monkeypatch.setattr(
            Replayer, "line", lambda self, line: (line.seq, "replay-outcome", "otherwise")
        )
        with pytest.raises(PlaceFault, match="line 1: otherwise") as fault:
            again(folder, run, clock)
        assert fault.value.code == 1
        monkeypatch.undo()
        monkeypatch.setattr(opening, "RULES", stepping.RULES + 1)
        with pytest.raises(PlaceFault, match="rules"):
            again(folder, run, clock)
        assert path.read_bytes() == before


# -- signatures ----------------------------------------------------------------------------


def test_signatures_owed_for_a_resume_are_given_at_the_end(tmp_path: Path) -> None:
    clock, crew = FakeClock(), people()
    commander, copilot = (person for _, person in crew)
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, crew)
        say(run, clock, *TO_START)
        for _ in range(2):
            run.stop()
            clock.go(1000)
            run = again(folder, run, clock)
            say(run, clock, *FACTS, "resume here")
        work_day(run, clock)
        writer = run.recorder.writer
        assert writer.owed() == (commander.name, copilot.name)
        assert "signature owed" in run.close([commander])
        assert writer.phase == "running"
        assert writer.owed() == (copilot.name,)
        assert run.close([copilot]) == f"signature owed by {commander.name}"
        assert writer.phase == "closing"
        run.stop()
        # At the desk, the next day: only the signature is missing.
        clock.reboot("two", 86_400_000)
        run = again(folder, run, clock)
        assert run.recorder.writer.phase == "closing"
        assert run.recorder.writer.owed() == (commander.name,)
        run.recorder.writer.sign_close(commander, clock.stamp())
        assert run.recorder.writer.phase == "closed"
        run.stop()
        path = folder.path_of(writer.run)
    trust = trust_in([commander, copilot])
    verdict = verify(path, level="replayed", trust=trust, replay=replayed())
    assert (verdict.result, verdict.level) == ("closed", "replayed"), verdict


def test_a_newcomer_is_on_the_roster_and_owes_and_who_left_still_owes(tmp_path: Path) -> None:
    clock, crew = FakeClock(), people()
    relief, third = Person("Tor Brand"), Person("Ida Moe")
    keys = {p.name: p.public_line for p in (relief, third)}
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, crew, key_of=keys.__getitem__)
        say(run, clock, *TO_START, "crew copilot: Tor Brand", "crew copilot: Ida Moe")
        assert dict(run.state.crew)["copilot"] == "Ida Moe"
        work_day(run, clock)
        everybody = [crew[0][1], crew[1][1], relief, third]
        assert run.close([crew[0][1], crew[1][1]]) == "signature owed by Tor Brand, Ida Moe"
        for person in everybody[2:]:
            run.recorder.writer.sign_close(person, clock.stamp())
        run.stop()
        path = folder.path_of(run.recorder.writer.run)
    verdict = verify(path, level="replayed", trust=trust_in(everybody), replay=replayed())
    assert (verdict.result, verdict.level) == ("closed", "replayed"), verdict
    changes = [line.data["crew_change"] for line in lines_of(path)
               if "crew_change" in line.data]  # fmt: skip
    assert changes == [
        {"role": "copilot", "name": p.name, "key": p.public_line} for p in (relief, third)
    ]
