"""The desk: what is due happens at its own time, a bug costs nothing, a day ends in words."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.errors import KeyFileError
from audit.folder import LogFolder
from audit.people import file_name
from runner.engine.effects import Effect, Say, Show, Voice
from runner.engine.events import Wake
from runner.engine.outcomes import Outcome
from runner.engine.state import State
from runner.engine.table import Table
from runner.host import clock as clocks
from runner.host import crew as aboard
from runner.host import places
from runner.host import run as desk
from runner.host.clock import SystemClock
from runner.host.keyring import Keyring
from runner.host.places import PlaceFault
from runner.host.run import Run
from runner.host.stepping import step
from tests.runner.host.support import Ear, FakeClock, begin, lines_of, people, say, work_day

START = ("commander: page read", "copilot: page read", "tick hook", "tick tie-downs",
         "tick nose cowl latches", "closed", "roger", "released", "engaged")  # fmt: skip


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[LogFolder]:
    with LogFolder.open(tmp_path / "logs") as opened:
        yield opened


@pytest.fixture
def run(folder: LogFolder, clock: FakeClock) -> Iterator[Run]:
    begun = begin(folder, clock, people())
    yield begun
    begun.stop()


def test_what_is_due_happens_before_what_is_said_at_its_own_time(
    run: Run, clock: FakeClock, folder: LogFolder
) -> None:
    say(run, clock, *START)
    clock.go(24_000)
    say(run, clock, "firing")
    events = [
        (line.data["event"]["kind"], line.data["event"]["at"], line.data["outcome"][0][0])
        for line in lines_of(folder.path_of(run.recorder.writer.run))
        if line.type == "event"
    ][-4:]
    assert events == [
        ("answer", 9000, "met"), ("wake", 19_000, "timer call"), ("wake", 29_000, "timer call"),
        ("answer", 34_000, "met"),
    ]  # fmt: skip


def test_by_times_call_unasked(run: Run, clock: FakeClock) -> None:
    say(run, clock, *START)
    called: list[str] = []
    rang = threading.Semaphore(0)

    def heard(effects: tuple[Effect, ...]) -> None:
        for effect in effects:
            if isinstance(effect, Say) and effect.kind is Voice.TIMER:
                called.append(effect.text)
                rang.release()

    run.subscribe(heard)
    clock.go(10_000)
    run.start_bell()
    for _ in range(3):
        assert rang.acquire(timeout=30)
        clock.go(10_000)
        with run._bell:
            # What the machine's clock does by itself: the next moment has come.
            run._bell.notify_all()
    assert [text[:16] for text in called] == [
        "ONE ZERO SECONDS", "TWO ZERO SECONDS", "NO OIL PRESSURE,",
    ]  # fmt: skip


def test_a_bug_in_a_deadline_is_logged_once_and_the_list_still_works(
    run: Run, clock: FakeClock, folder: LogFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    say(run, clock, *START)

    def broken(table: Table, state: State, event: object) -> tuple[State, Outcome]:
        if isinstance(event, Wake):
            return state, (("fault", "ZeroDivisionError"),)
        return step(table, state, event)  # type: ignore[arg-type]

    monkeypatch.setattr(desk, "step", broken)
    clock.go(11_000)
    for _ in range(50):
        run.run_due(run.now())
    say(run, clock, "snag vibration", "drill fire in start")
    faults = [
        line for line in lines_of(folder.path_of(run.recorder.writer.run))
        if line.type == "event" and line.data["outcome"] == [["fault", "ZeroDivisionError"]]
    ]  # fmt: skip
    assert len(faults) == 1


def test_a_bug_in_the_engine_leaves_the_state_and_says_so(
    run: Run, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    from runner.host import stepping

    ear = Ear(run)
    say(run, clock, *START[:2])
    before = run.state

    def broken(*_: object) -> None:
        raise RuntimeError("ours")

    with monkeypatch.context() as patched:
        patched.setattr(stepping, "transition", broken)
        (outcome,) = say(run, clock, "tick hook")
    assert outcome == (("fault", "RuntimeError"),)
    assert run.state == before
    assert any("A FAULT OF THE PROGRAM (RuntimeError)" in text for text in ear.texts)
    (outcome,) = say(run, clock, "tick hook")
    assert outcome[0][0] == "met"
    work_day(run, clock)


def test_words_that_fail_do_not_take_the_list_away(
    run: Run, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    ear = Ear(run)
    say(run, clock, *START[:2])

    def broken(*_: object) -> tuple[Effect, ...]:
        raise IndexError("ours")

    with monkeypatch.context() as patched:
        patched.setattr(desk, "effects", broken)
        for line in ("tick hook", "drill fire in start"):
            (outcome,) = say(run, clock, line)
            assert outcome[0][0] in ("met", "entered")
    assert sum("A FAULT OF THE PROGRAM (IndexError)" in text for text in ear.texts) == 2
    say(run, clock, "memory items done")
    assert run.view().challenge == "Mixture"


def ended(run: Run) -> bool:
    return run.finished


def test_the_day_ends_only_where_no_list_is_open(run: Run, clock: FakeClock) -> None:
    ear = Ear(run)
    say(run, clock, *START[:2], "End of  day")
    assert not ended(run)
    assert "lists are still open" in ear.texts[-1]
    work_day(run, clock)
    assert not ended(run)
    say(run, clock, "end of day")
    assert ended(run)
    assert run.close([]).startswith("signature owed by")


def test_every_subscriber_hears_everything(run: Run, clock: FakeClock) -> None:
    first: list[Effect] = []
    second: list[Effect] = []
    run.subscribe(first.extend)
    run.subscribe(second.extend)
    say(run, clock, *START)
    assert first == second
    assert sum(isinstance(effect, Show) for effect in first) == len(START)


def test_answers_from_many_threads_are_taken_one_at_a_time(
    run: Run, clock: FakeClock, folder: LogFolder
) -> None:
    say(run, clock, *START[:2])
    ask = run.state.ask
    threads = [
        threading.Thread(target=run.submit_text, args=(f"snag number {n}", ask)) for n in range(16)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    lines = list(lines_of(folder.path_of(run.recorder.writer.run)))
    assert [line.seq for line in lines] == list(range(len(lines)))
    assert {s.text for s in run.state.snags} == {f"number {n}" for n in range(16)}


@settings(max_examples=60)
@given(name=st.text(min_size=1, max_size=150))
def test_any_name_may_be_tried_for_a_crew_change(
    name: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path_factory.mktemp("logs")) as folder:
        run = begin(folder, clock, people(), key_of=aboard.demo_key_of)
        say(run, clock, *START[:2], f"crew copilot: {name}", "tick hook")
        assert not run.recorder.lost
        run.stop()


@pytest.mark.parametrize("name", ["Ж" * 150, "a" * 255, "/", "..", "R Byrne/../x", "nul"])
def test_a_name_that_makes_no_file_is_refused_or_kept_in_its_folder(
    name: str, run: Run, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(run, "_key_of", aboard.demo_key_of)
    say(run, clock, *START[:2], f'crew copilot: "{name}"', "tick hook")
    assert not run.recorder.lost
    assert "/" not in file_name(name)
    keys = aboard.demo_folder() / "keys"
    if keys.exists():
        assert all(path.parent == keys for path in keys.rglob("*"))


def test_somebody_without_a_key_takes_over_nothing(run: Run, clock: FakeClock) -> None:
    with pytest.raises(KeyFileError, match="has no key here"):
        aboard.key_of("R Byrne")


@pytest.mark.parametrize(
    ("text", "crew"),
    [
        ("", {}), ("commander=A Holt", {"commander": "A Holt"}),
        (" commander = A Holt , copilot=B Ray,", {"commander": "A Holt", "copilot": "B Ray"}),
    ],
)  # fmt: skip
def test_a_crew_is_read(text: str, crew: dict[str, str]) -> None:
    assert aboard.parse_crew(text) == crew


@pytest.mark.parametrize(
    "text", ["A Holt", "commander=", "purser=X", "commander=A,commander=B", "=A", "commander A"]
)
def test_what_is_no_crew_is_refused(text: str) -> None:
    with pytest.raises(PlaceFault) as fault:
        aboard.parse_crew(text)
    assert fault.value.code == 2


@pytest.mark.parametrize(
    ("crew", "solo", "single", "text"),
    [
        ({}, False, False, "missing commander, copilot"),
        ({"commander": "A"}, False, False, "missing copilot"),
        ({"copilot": "A"}, True, False, "missing commander"),
        ({"commander": "A", "copilot": "A"}, False, False, "two roles need two people"),
        ({"commander": "A"}, True, True, "one of the two"),
        ({"commander": "A"}, True, False, "A has no key here"),
    ],
)
def test_a_crew_that_cannot_be(crew: dict[str, str], solo: bool, single: bool, text: str) -> None:
    with pytest.raises(PlaceFault, match=text):
        aboard.aboard(crew, solo=solo, single=single, keyring=Keyring())


def test_the_machines_clock_goes_on_and_names_its_start(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    first, second = SystemClock().stamp(), SystemClock().stamp()
    assert second.mono_ms >= first.mono_ms
    clocks_names: list[Callable[[], str]] = [clocks._boot_name]
    if clocks._BOOT_FILE.exists():
        assert first.boot == second.boot == clocks_names[0]()
    # Where the system names no start, every process is one.
    monkeypatch.setattr(clocks, "_BOOT_FILE", tmp_path / "nothing")
    assert SystemClock().stamp().boot != SystemClock().stamp().boot
    assert SystemClock().stamp().boot.startswith("process-")
    strange = tmp_path / "strange"
    strange.write_bytes(b"\xff\xfe")
    monkeypatch.setattr(clocks, "_BOOT_FILE", strange)
    assert SystemClock().stamp().boot.startswith("process-")


def test_folders_follow_the_environment() -> None:
    assert places.keys().parent == places.config()
    assert places.trust_file().parent == places.config()
    assert places.config() != places.state()
