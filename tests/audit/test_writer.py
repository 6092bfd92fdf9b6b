"""Writing: what is acknowledged is durable, what would be refused is never written."""

from pathlib import Path

import pytest

from audit.errors import Fault, FolderError, LogLost, NotNow, SignatureOwed
from audit.folder import LogFolder
from audit.recovery import recover
from audit.stamps import Stamp
from audit.writer import LogWriter
from tests.audit.helpers import Clock, Person, check, event, opening, simple_log

ROOT = Path(__file__).parents[2]


def test_a_run_of_two_closes_and_verifies(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    log = simple_log(folder, crew, clock, events=5)
    verdict = check(log, crew)
    assert verdict.result == "closed", verdict
    assert verdict.counts()
    assert verdict.lines == 1 + 2 + 5 + 1 + 2
    assert verdict.labels == ()
    assert verdict.notes == ()
    assert verdict.head == folder.last_head()


def test_every_entry_tells_its_line(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    entries = [writer.event(event(number), clock()) for number in range(3)]
    rows = folder.path_of(writer.run).read_bytes().splitlines(keepends=True)
    assert [entry.seq for entry in entries] == [3, 4, 5]
    assert [entry.line_bytes for entry in entries] == rows[3:]
    assert entries[-1].head == writer.head
    assert writer.phase == "running"
    assert folder.open_run() == writer.run


def test_an_event_that_may_not_be_written_harms_nothing(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    bad = [
        {},
        event(surplus=1),
        event(state="x"),
        event(state="A" * 64),
        event(outcome="met"),
        event(event=[]),
        event(heard="x" * 201),
        event(heard=7),
        event(event={"v": 1.5}),
        event(event={"v": "\x00"}),
        event(event={"v": "x" * (1 << 20)}),
        event(crew_change={"name": "New", "role": "copilot"}),
        event(crew_change={"name": "New", "role": "copilot", "key": crew[0].public_line}),
        event(crew_change={"name": crew[0].name, "role": "ground", "key": Person("x").public_line}),
    ]
    for data in bad:
        with pytest.raises(Fault):
            writer.event(data, clock())
    for stamp in (
        Stamp(-1, 1, "b"),
        Stamp(1, -1, "b"),
        Stamp(1, 2**53, "b"),
        Stamp(253_402_300_800_000, 1, "b"),
        Stamp(1, 1, ""),
        Stamp(1, 1, "ü"),
        Stamp(True, 1, "b"),
        Stamp(clock.wall, clock.mono - 10_000, clock.boot),
    ):
        with pytest.raises(Fault):
            writer.event(event(), stamp)
    assert writer.lost is None
    writer.event(event(), clock())
    writer.close([], crew, clock())
    assert check(folder.path_of(writer.run), crew).result == "closed"


@pytest.mark.parametrize(
    "more",
    [
        {"modes": []},
        {"modes": ["crew", "solo"]},
        {"modes": ["scripted", "crew"]},
        {"modes": ["crew", "crew"]},
        {"modes": ["crew", "fun"]},
        {"modes": "crew"},
        {"modes": ["solo"]},
        {"rules": 0},
        {"rules": "1"},
        {"lexicon": None},
        {"documents": [{"name": "x", "sha256": "1" * 64}]},
        {"documents": [{"name": "x", "sha256": "1" * 64, "approval": None}] * 2},
        {"carried": []},
        {"checkpoint": {"origin": "x", "root": "x", "size": 1}},
        {"key0": "x"},
    ],
    ids=str,
)
def test_an_opening_that_may_not_be_leaves_no_run(
    folder: LogFolder, crew: list[Person], clock: Clock, more: dict[str, object]
) -> None:
    with pytest.raises((Fault, NotNow)):
        LogWriter.create(folder, opening(crew, **more), crew, clock())
    assert folder.runs() == []
    simple_log(folder, crew, clock)


def test_rosters_that_may_not_be(folder: LogFolder, clock: Clock) -> None:
    one, two = Person("One"), Person("Two")
    twin = Person("Twin")
    twin.private, twin.key = one.private, one.key
    roles = [{"name": "One", "role": "commander"}, {"name": "Two", "role": "commander"}]
    no_commander = [{"name": "One", "role": "pilot"}, {"name": "Two", "role": "copilot"}]
    attempts = [
        (opening([one, twin]), [one, twin]),
        (opening([one, two], roster=roles), [one, two]),
        (opening([one, two], roster=no_commander), [one, two]),
        (opening([one], modes=["crew"]), [one]),
        (opening([one, two], modes=["solo"]), [one, two]),
        (opening([one, two]), [one]),
        (opening([one, two]), [two, one]),
        (opening([one, one]), [one, one]),
        (opening([]), []),
    ]
    for data, signers in attempts:
        with pytest.raises((Fault, NotNow)):
            LogWriter.create(folder, data, signers, clock())
    assert folder.runs() == []


def test_who_cannot_sign_leaves_no_run(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    class Wrong(Person):
        def sign(self, namespace: str, message: bytes) -> bytes:
            return super().sign(namespace, message + b"?")

    with pytest.raises(Fault, match="does not fit"):
        LogWriter.create(folder, opening([crew[0], bad := Wrong("Bad")]), [crew[0], bad], clock())
    assert folder.runs() == []


def test_a_solo_and_a_single_pilot_run(folder: LogFolder, clock: Clock) -> None:
    alone = Person("Alone")
    solo = simple_log(
        folder,
        [alone],
        clock,
        modes=["scripted", "solo"],
        roster=[{"name": "Alone", "role": "trainee"}],
    )
    verdict = check(solo, [alone])
    assert verdict.result == "closed"
    assert verdict.labels == ("scripted", "solo")
    assert "not crew-verified" in verdict.notes[0]
    assert not verdict.counts({"scripted"})
    assert verdict.counts({"scripted", "solo"})
    assert check(simple_log(folder, [alone], clock), [alone]).counts()


def test_runs_of_a_device_are_chained(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    assert folder.last_head() == folder.device
    for _ in range(3):
        simple_log(folder, crew, clock)
    runs = folder.runs()
    assert [info.run_seq for info in runs] == [1, 2, 3]
    assert [info.prev_run for info in runs] == [None, runs[0].run, runs[1].run]
    assert [info.prev for info in runs] == [folder.device, runs[0].head, runs[1].head]
    assert all(info.closed for info in runs)
    assert folder.open_run() is None


def test_a_run_left_for_good_is_followed_from_its_last_whole_line(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    writer.event(event(), clock())
    writer.stop()
    left = folder.path_of(writer.run)
    with left.open("ab") as stream:
        stream.write(b"\x00" * 70_000 + b'\n{"body":\n')
    assert folder.open_run() == writer.run
    log = simple_log(folder, crew, clock)
    assert folder.runs()[1].prev == writer.head
    assert folder.open_run() is None
    assert check(log, crew).result == "closed"


def test_a_run_is_never_started_twice(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    LogWriter.create(folder, opening(crew), crew, clock(), run="one-run").stop()
    before = folder.path_of("one-run").read_bytes()
    with pytest.raises(FolderError, match="already"):
        LogWriter.create(folder, opening(crew), crew, clock(), run="one-run")
    with pytest.raises(FolderError, match="names no run"):
        LogWriter.create(folder, opening(crew), crew, clock(), run="../x")
    assert folder.path_of("one-run").read_bytes() == before


def test_acceptances_are_the_numbers_of_events(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    first = writer.event(event(), clock())
    second = writer.event(event(), clock())
    for numbers in ([0], [1], [second.seq + 1], [second.seq, first.seq], [first.seq, first.seq]):
        with pytest.raises(Fault):
            writer.close(numbers, crew, clock())
    writer.close([first.seq, second.seq], crew, clock())
    assert check(folder.path_of(writer.run), crew).result == "closed"


def test_signatures_owed_are_named_and_given_later(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    relief = Person("Tor Berg")
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    change = {"key": relief.public_line, "name": relief.name, "role": "copilot"}
    writer.event(event(crew_change=change), clock())
    assert writer.owed() == ()
    writer.close([], [crew[0]], clock())
    assert writer.owed() == ("Åsa Lind", "Tor Berg")
    verdict = check(folder.path_of(writer.run), crew)
    assert (verdict.result, verdict.code) == ("unclosed", "owed")
    assert verdict.why == "signature owed by Åsa Lind, Tor Berg"
    assert verdict.owed == ("Åsa Lind", "Tor Berg")
    with pytest.raises(NotNow):
        writer.sign_close(crew[0], clock())
    with pytest.raises(Fault):
        writer.event(event(), clock())
    writer.sign_close(relief, clock())
    writer.sign_close(crew[1], clock())
    assert writer.phase == "closed"
    assert check(folder.path_of(writer.run), [*crew, relief]).counts()
    assert check(folder.path_of(writer.run), crew).result == "untrusted"


def test_closing_is_refused_while_a_resume_is_not_vouched_for(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    run = writer.run
    for _ in range(2):
        writer.stop()
        clock.reboot()
        writer = LogWriter.resume(recover(folder, run), clock(), None)
        writer.event(event(), clock())
    assert writer.owed() == ("Maren Holt", "Åsa Lind")
    assert len(writer.sign_resume(crew[1], clock())) == 2
    with pytest.raises(SignatureOwed) as caught:
        writer.close([], crew, clock())
    assert caught.value.names == ("Maren Holt",)
    writer.event(event(), clock())
    writer.sign_resume(crew[0], clock())
    with pytest.raises(NotNow):
        writer.sign_resume(crew[0], clock())
    writer.close([], crew, clock())
    verdict = check(folder.path_of(run), crew)
    assert verdict.counts()
    assert verdict.notes == ("resumed 2 times: lines before each are proven only by a witness",)


def test_after_the_last_signature_nothing_is_written(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    writer.close([], crew, clock())
    with pytest.raises(LogLost):
        writer.event(event(), clock())
    with pytest.raises(LogLost):
        writer.attach("x", 1, "1" * 64, clock())


def test_reading_does_not_let_anybody_write(
    tmp_path: Path, crew: list[Person], clock: Clock
) -> None:
    with LogFolder.open(tmp_path):
        pass
    before = sorted(path.name for path in tmp_path.rglob("*"))
    reading = LogFolder.open(tmp_path, write=False)
    with pytest.raises(FolderError, match="reading only"):
        LogWriter.create(reading, opening(crew), crew, clock())
    with pytest.raises(FolderError, match="reading only"):
        reading.store_document(b"x")
    with pytest.raises(FolderError, match="reading only"):
        recover(reading, "some-run")
    assert sorted(path.name for path in tmp_path.rglob("*")) == before
