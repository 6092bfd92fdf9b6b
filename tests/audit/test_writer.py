"""Writing: what is acknowledged is durable, what would be refused is never written."""

import ast
import errno
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from audit import canonical, durable
from audit.errors import Fault, FolderError, LogLost, NotNow, SignatureOwed
from audit.folder import BALLAST_BYTES, LogFolder
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


def test_a_disk_that_refuses_the_first_line_leaves_no_run(
    folder: LogFolder, crew: list[Person], clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    failing = Failing(monkeypatch, "sync", OSError(errno.EIO, "Input/output error"))
    failing.armed = True
    with pytest.raises(LogLost, match="could not be started: Input/output error"):
        LogWriter.create(folder, opening(crew), crew, clock())
    failing.armed = False
    assert folder.runs() == []
    assert list(folder.path.glob("*.jsonl*")) == []
    assert check(simple_log(folder, crew, clock), crew).counts()


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


class Failing:
    """Fails the nth call of a durable function, in the given way."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, name: str, error: OSError | int) -> None:
        self.calls = 0
        self.armed = False
        real = getattr(durable, name)

        def replaced(fd: int, *data: bytes) -> None:
            self.calls += 1
            if not self.armed:
                real(fd, *data)
            elif isinstance(error, OSError):
                raise error
            else:
                os.write(fd, data[0][:error])
                raise OSError(errno.ENOSPC, "short")

        monkeypatch.setattr(durable, name, replaced)


@pytest.mark.parametrize(
    ("name", "error", "kept"),
    [
        ("sync", OSError(errno.EIO, "no"), 1),
        ("write_all", OSError(errno.ENOSPC, "no"), 0),
        ("write_all", 100, 0),
    ],
    ids=["sync fails", "disk full", "short write"],
)
def test_after_a_failure_nothing_more_is_appended(
    folder: LogFolder,
    crew: list[Person],
    clock: Clock,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    error: OSError | int,
    kept: int,
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    failing = Failing(monkeypatch, name, error)
    durable_entry = writer.event(event(1), clock())
    failing.armed = True
    with pytest.raises(LogLost, match="recording lost at line 4"):
        writer.event(event(2), clock())
    calls = failing.calls
    failing.armed = False
    size = folder.path_of(writer.run).stat().st_size
    with pytest.raises(LogLost):
        writer.event(event(3), clock())
    with pytest.raises(LogLost):
        writer.close([], crew, clock())
    with pytest.raises(LogLost):
        writer.attach("x", 1, "1" * 64, clock())
    assert failing.calls == calls, "a sync or write was tried again"
    assert folder.path_of(writer.run).stat().st_size == size
    verdict = check(folder.path_of(writer.run), crew)
    assert verdict.result == "unclosed"
    assert verdict.lines - 1 == durable_entry.seq + kept
    # the disk is well again: the run goes on from its last whole line
    resumed = LogWriter.resume(recover(folder, writer.run), clock(), None)
    for person in crew:
        resumed.sign_resume(person, clock())
    resumed.close([], crew, clock())
    assert check(folder.path_of(writer.run), crew).counts()


@pytest.mark.skipif(sys.platform == "win32", reason="no file size limit on this system")
def test_a_real_short_write_is_counted(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    import resource

    writer = LogWriter.create(folder, opening(crew), crew, clock())
    kept = writer.event(event(1), clock())
    size = folder.path_of(writer.run).stat().st_size
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    before = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        # the system then takes a part of the line, and says so by the count only
        resource.setrlimit(resource.RLIMIT_FSIZE, (size + 100, hard))
        with pytest.raises(LogLost, match="only 100 of"):
            writer.event(event(2), clock())
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, before)
    verdict = check(folder.path_of(writer.run), crew)
    assert (verdict.result, verdict.lines) == ("unclosed", kept.seq + 1)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of one megabyte."""
    mount, umount = shutil.which("mount"), shutil.which("umount")
    path = tmp_path / "small"
    path.mkdir()
    if mount is None or umount is None:
        pytest.skip("there is no mount command")
    made = subprocess.run(
        [mount, "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(path)],
        capture_output=True,
        check=False,
    )
    if made.returncode:
        pytest.skip("a small file system cannot be mounted here")
    yield path
    subprocess.run([umount, str(path)], check=True)


def test_a_full_disk_leaves_the_log_whole(
    small_disk: Path, crew: list[Person], clock: Clock
) -> None:
    with LogFolder.open(small_disk / "logs") as folder:
        writer = LogWriter.create(folder, opening(crew), crew, clock())
        last = writer.seq
        try:
            while writer.lost is None:
                last = writer.event(event(last), clock()).seq
        except LogLost as lost:
            why = str(lost)
        assert re.search(r"No space left|only \d+ of", why)
        verdict = check(folder.path_of(writer.run), crew)
        assert (verdict.result, verdict.lines) == ("unclosed", last + 1)


def test_a_disk_filled_by_others_still_leaves_room_to_close(
    small_disk: Path, crew: list[Person], clock: Clock
) -> None:
    with LogFolder.open(small_disk / "logs") as folder:
        writer = LogWriter.create(folder, opening(crew), crew, clock())
        writer.event(event(), clock())
        with (small_disk / "other").open("wb", buffering=0) as stream:
            for size in (4096, 1):
                try:
                    while stream.write(b"x" * size) == size:
                        pass
                except OSError as error:
                    full = error.errno == errno.ENOSPC
        assert full
        writer.close([], crew, clock())
        assert check(folder.path_of(writer.run), crew).result == "closed"


def test_the_ballast_is_made_released_and_made_again(
    tmp_path: Path, crew: list[Person], clock: Clock
) -> None:
    with LogFolder.open(tmp_path) as folder:
        assert (tmp_path / "ballast").stat().st_size == BALLAST_BYTES
        simple_log(folder, crew, clock)
        assert not (tmp_path / "ballast").exists()
    with LogFolder.open(tmp_path):
        assert (tmp_path / "ballast").stat().st_size == BALLAST_BYTES


def test_a_log_changed_under_the_writer_is_lost_not_mixed(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    with folder.path_of(writer.run).open("ab") as stream:
        stream.write(b"x")
    with pytest.raises(LogLost, match="changed or removed"):
        writer.event(event(), clock())


@pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be removed there")
def test_a_log_removed_under_the_writer_is_lost(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    folder.path_of(writer.run).unlink()
    with pytest.raises(LogLost, match="changed or removed"):
        writer.event(event(), clock())


def test_a_writer_that_gave_up_says_why(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    writer.give_up("a write took more than one second")
    with pytest.raises(LogLost, match="more than one second"):
        writer.event(event(), clock())
    assert writer.lost == "a write took more than one second"


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


def test_one_time_keys_are_dropped_and_there_is_no_way_to_export_them() -> None:
    calls = set()
    for name in ("writer.py", "line.py"):
        tree = ast.parse((ROOT / "audit" / name).read_text("utf-8"))
        calls |= {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    assert "public_bytes_raw" in calls
    assert not {name for name in calls if name.startswith("private_bytes")}


def test_each_line_has_a_key_of_its_own(whole: tuple[Path, list[Person]]) -> None:
    rows = whole[0].read_bytes().splitlines()
    keys = [canonical.read(row)["body"]["next"] for row in rows]
    assert len(set(keys)) == len(keys)
    assert [number for number, key in enumerate(keys) if key == ""] == [len(rows) - 1]


WRITING = """
import sys
from pathlib import Path
from tests.audit.helpers import *
people = [Person("One")]
clock = Clock()
with LogFolder.open(Path(sys.argv[1])) as folder:
    writer = LogWriter.create(folder, opening(people), people, clock())
    print(people[0].public_line, flush=True)
    while True:
        entry = writer.event(event(writer.seq), clock())
        print(entry.seq, entry.head, flush=True)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL on this system")
@pytest.mark.parametrize("after", [1, 3, 10, 40, 41, 97])
def test_no_acknowledged_entry_is_lost_by_a_kill(tmp_path: Path, after: int) -> None:
    writing = subprocess.Popen(
        [sys.executable, "-c", WRITING, str(tmp_path)],
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert writing.stdout is not None
    acknowledged = [writing.stdout.readline() for _ in range(after + 1)][1:]
    writing.kill()
    acknowledged += [row for row in writing.stdout.readlines() if row.endswith("\n")]
    writing.stdout.close()
    writing.wait()
    with LogFolder.open(tmp_path) as folder:
        run = folder.open_run()
        assert run is not None
        recovered = recover(folder, run)
        heads = {line.seq: line.head for line in recovered.lines()}
    for row in acknowledged:
        seq, head = row.split()
        assert heads[int(seq)] == head


@pytest.mark.skipif(sys.platform == "win32", reason="no core dumps on this system")
def test_core_dumps_are_off_while_logging(tmp_path: Path) -> None:
    script = (
        "import resource, sys\nfrom pathlib import Path\nfrom tests.audit.helpers import *\n"
        "people = [Person('One')]\n"
        "with LogFolder.open(Path(sys.argv[1])) as folder:\n"
        "    LogWriter.create(folder, opening(people), people, Clock()())\n"
        "print(resource.getrlimit(resource.RLIMIT_CORE))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path)],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert done.stdout.strip() == "(0, 0)"
