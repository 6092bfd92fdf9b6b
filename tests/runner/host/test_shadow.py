"""A live session and a shadow rebuilt from its log are equal, whatever was said."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.folder import LogFolder
from audit.line import Line, head_of, parse
from audit.recovery import recover
from runner.engine.state import State
from runner.flow.loader import load_aircraft
from runner.host.opening import resume
from runner.host.places import shipped
from runner.host.replay import Cache, Replayer
from runner.host.run import Run
from runner.host.scripted import may_close, read_script
from runner.words.naming import Context, WordFault
from runner.words.spoken import read
from tests.runner.host.support import (
    CREW,
    AnyCrew,
    FakeClock,
    begin,
    lines_of,
    people,
    say,
    work_day,
)

# Many runs of what other tests go through too: traced they would take three times as long.
pytestmark = pytest.mark.no_cover


def rebuilt(folder: LogFolder, run: Run) -> tuple[State, str]:
    """State and head of the log of a run, from its bytes and its stored documents alone."""
    lines = list(lines_of(folder.path_of(run.recorder.writer.run)))
    player = Replayer(Cache().table(lines[0].data, folder.documents), lines[0])
    for line in lines[1:]:
        assert player.line(line) is None
    return player.state, lines[-1].head


def same_as_log(folder: LogFolder, run: Run) -> None:
    state, head = rebuilt(folder, run)
    assert state == run.state
    assert state.digest() == run.state.digest()
    assert head == run.recorder.head


def test_after_every_event_of_a_day(tmp_path: Path) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        same_as_log(folder, run)
        run.subscribe(lambda _: same_as_log(folder, run))
        work_day(run, clock)
        same_as_log(folder, run)
        run.stop()


class Shadow:
    """Follows a log line by line as it grows."""

    def __init__(self, folder: LogFolder, run: Run) -> None:
        self._path = folder.path_of(run.recorder.writer.run)
        self._offset = 0
        self._folder = folder
        self.player: Replayer | None = None
        self.head = ""

    def follow(self) -> None:
        with self._path.open("rb") as stream:
            stream.seek(self._offset)
            for raw in stream:
                self._offset += len(raw)
                self._take(parse(raw))
                self.head = head_of(raw)

    def _take(self, line: Line) -> None:
        if self.player is None:
            table = Cache().table(line.data, self._folder.documents)
            self.player = Replayer(table, line)
        else:
            assert self.player.line(line) is None

    def equals(self, run: Run) -> bool:
        self.follow()
        return (
            self.player is not None
            and self.player.state == run.state
            and self.player.state.digest() == run.state.digest()
            and self.head == run.recorder.head
        )


@pytest.mark.parametrize("seed", range(40))
def test_generated_runs_and_their_shadows(seed: int, tmp_path: Path) -> None:
    clock, crew = FakeClock(), AnyCrew(seed)
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        shadow = Shadow(folder, run)
        for turn in range(70):
            clock.go(crew.pause())
            run.say_line(crew.line(run))
            assert shadow.equals(run), turn
            if turn % 25 == 24:
                run.stop()
                clock.go(crew.pause())
                if seed % 3 == 0:
                    clock.reboot(f"boot-{turn}", crew.pause() - 1000)
                name = run.recorder.writer.run
                run = resume(folder, name, clock, "TV-T1", patient=True)
                assert shadow.equals(run)
        same_as_log(folder, run)
        run.stop()


@pytest.mark.parametrize("name", ["normal.txt", "drill_fire_in_start.txt"])
def test_the_demonstration_and_its_shadow(name: str, tmp_path: Path) -> None:
    """Every line of a whole day of the demonstration aircraft."""
    folder_of = shipped() / "corvane_c4"
    loaded, clock = load_aircraft(folder_of), FakeClock()
    crew = (*CREW, ("ground", "Per Lund"))
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people(crew), loaded=loaded, fit=tuple(loaded.table.fit))
        shadow = Shadow(folder, run)
        for given in read_script(folder_of / "answers" / name):
            clock.go(given.passes)
            if given.text:
                run.say_line(given.text)
            else:
                run.run_due(run.now())
            assert shadow.equals(run), given
        assert run.state.flight >= 1
        assert may_close(run)
        run.stop()


@settings(max_examples=30)
@given(lines=st.lists(st.text(max_size=40), max_size=12))
def test_no_text_parts_a_run_from_its_log(
    lines: list[str], tmp_path_factory: pytest.TempPathFactory
) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path_factory.mktemp("logs")) as folder:
        run = begin(folder, clock, people())
        say(run, clock, "commander: page read", "copilot: page read", *lines)
        same_as_log(folder, run)
        assert not run.recorder.lost
        run.stop()


def test_an_event_is_logged_once_and_a_line_that_is_none_not_at_all(tmp_path: Path) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        before = run.recorder.writer.seq
        say(run, clock, "commander: page read", "", "drill nonsense", "copilot: page read")
        assert run.recorder.writer.seq == before + 2
        with pytest.raises(WordFault):
            read("drill nonsense", Context(run.table, run.state, run.now()))
        run.stop()


def test_a_log_is_recovered_as_it_was_left(tmp_path: Path) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        say(run, clock, "commander: page read", "copilot: page read", "tick hook")
        run.stop()
        assert recover(folder, run.recorder.writer.run).head == run.recorder.head
