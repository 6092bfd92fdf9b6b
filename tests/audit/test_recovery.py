"""Going on with a run that was left open: nothing lost, nothing silent, nothing forged."""

import hashlib
from pathlib import Path

import pytest

from audit import canonical, durable
from audit.errors import FolderError, LogLost, RecoveryError, Tampered
from audit.folder import LogFolder
from audit.recovery import recover
from audit.writer import LogWriter
from tests.audit.helpers import Clock, Person, check, event, opening, simple_log


def left_open(
    folder: LogFolder, crew: list[Person], clock: Clock, events: int = 3
) -> tuple[str, Path]:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    for number in range(events):
        writer.event(event(number), clock())
    writer.stop()
    return writer.run, folder.path_of(writer.run)


def test_what_was_written_is_read_back(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    run, path = left_open(folder, crew, clock)
    before = path.read_bytes()
    recovered = recover(folder, run)
    entries = list(recovered.entries())
    assert [(seq, kind) for seq, kind, _ in entries] == [
        (0, "open"), (1, "open-sig"), (2, "open-sig"), (3, "event"), (4, "event"), (5, "event"),
    ]  # fmt: skip
    assert entries[5][2] == event(2)
    assert recovered.opening["run"] == run
    assert recovered.opening["roster"][1]["name"] == "Åsa Lind"
    assert recovered.last_seq == 5
    assert recovered.phase == "running"
    assert recovered.residue == b""
    assert recovered.last_stamp.mono_ms == clock.mono
    assert path.read_bytes() == before


TORN = {
    "half a line": b'{"body":{"boot":"x","data":{"ev',
    "NUL bytes": b"\x00" * 2926,
    "NUL bytes and a line feed": b"\x00" * 100 + b"\n",
    "stale bytes": bytes(range(256)) * 40,
    "one byte": b"{",
    "a line feed": b"\n",
    "a lot": b"x" * 3_000_000,
    "JSON that is no line": b'{"body":{}}\n{"body":1,"sig":"x"}\n',
}


@pytest.mark.parametrize("residue", TORN.values(), ids=TORN.keys())
def test_what_was_torn_is_moved_aside_and_named(
    folder: LogFolder, crew: list[Person], clock: Clock, residue: bytes
) -> None:
    run, path = left_open(folder, crew, clock)
    whole = path.read_bytes()
    path.write_bytes(whole + residue)
    recovered = recover(folder, run)
    assert recovered.residue == residue
    assert path.read_bytes() == whole + residue
    writer = LogWriter.resume(recovered, clock(), 1000)
    named = canonical.read(path.read_bytes().splitlines()[6])["body"]["data"]
    assert named["residue"] == [
        {
            "length": len(residue),
            "name": f"{run}.residue-6-1",
            "sha256": hashlib.sha256(residue).hexdigest(),
        }
    ]
    assert (named["line"], named["gap"]) == (5, 1000)
    assert named["head"] == hashlib.sha256(whole.splitlines(keepends=True)[-1]).hexdigest()
    assert (path.parent / f"{run}.residue-6-1").read_bytes() == residue
    assert path.read_bytes().startswith(whole)
    for person in crew:
        writer.sign_resume(person, clock())
    writer.close([], crew, clock())
    assert check(path, crew).counts()


def test_a_changed_sidecar_is_found(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    run, path = left_open(folder, crew, clock)
    path.write_bytes(path.read_bytes() + b"torn")
    LogWriter.resume(recover(folder, run), clock(), None).stop()
    beside = path.parent / f"{run}.residue-6-1"
    beside.write_bytes(b"turn")
    verdict = check(path, crew)
    assert (verdict.result, verdict.code, verdict.line) == ("rejected", "residue", 6)
    beside.unlink()
    verdict = check(path, crew)
    assert verdict.result == "unclosed"
    assert f"residue {beside.name} is not beside the log" in verdict.notes


def test_a_resume_that_was_itself_torn_names_both(
    folder: LogFolder, crew: list[Person], clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    run, path = left_open(folder, crew, clock)
    whole = path.read_bytes()
    path.write_bytes(whole + b"first")

    def power_cut(fd: int, data: bytes) -> None:
        raise OSError(5, "power cut")

    recovered = recover(folder, run)
    with monkeypatch.context() as patch:
        real = durable.write_all
        patch.setattr(
            durable,
            "write_all",
            lambda fd, data: real(fd, data) if data == b"first" else power_cut(fd, data),
        )
        with pytest.raises(LogLost):
            LogWriter.resume(recovered, clock(), None)
    assert path.read_bytes() == whole
    path.write_bytes(whole + b"second")
    LogWriter.resume(recover(folder, run), clock(), None).stop()
    named = canonical.read(path.read_bytes().splitlines()[6])["body"]["data"]["residue"]
    assert [entry["length"] for entry in named] == [5, 6]
    assert check(path, crew).result == "unclosed"


def test_a_whole_line_in_what_follows_is_tampering(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    run, path = left_open(folder, crew, clock)
    rows = path.read_bytes().splitlines(keepends=True)
    attempts = {
        "opening changed": [rows[0].replace(b"crew", b"craw"), *rows[1:]],
        "line dropped": [*rows[:4], rows[5]],
        "line doubled": [*rows, rows[5]],
        "lines swapped": [*rows[:4], rows[5], rows[4]],
        "line feed hidden": [*rows[:4], rows[4][:-1] + b" ", rows[5]],
        "junk before it": [*rows[:5], b"\x00" * 50, rows[5]],
        "byte changed": [*rows[:4], rows[4].replace(b'"1600"', b'"1700"'), rows[5]],
        "last line changed": [*rows[:5], rows[5].replace(b'"1600"', b'"1700"')],
    }
    for name, changed in attempts.items():
        path.write_bytes(b"".join(changed))
        with pytest.raises(Tampered, match="does not hold") as caught:
            recover(folder, run)
        assert caught.value.line in (0, 4, 5, 6), name
    path.write_bytes(b"".join(rows))
    recover(folder, run)


def test_runs_that_cannot_go_on_say_why(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    run, path = left_open(folder, crew, clock)
    rows = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(rows[:2]))
    with pytest.raises(RecoveryError, match="before its opening was signed"):
        recover(folder, run)
    path.write_bytes(b"".join(rows))
    closed = simple_log(folder, crew, clock)
    with pytest.raises(RecoveryError, match="left for good"):
        recover(folder, run)
    with pytest.raises(RecoveryError, match="is closed"):
        recover(folder, closed.stem)
    with pytest.raises(FolderError, match="no such run"):
        recover(folder, "no-such-run")
    with pytest.raises(FolderError, match="names no run"):
        recover(folder, "../etc/passwd")


def test_something_after_the_end_is_never_a_torn_write(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    path = simple_log(folder, crew, clock)
    path.write_bytes(path.read_bytes() + b"x")
    with pytest.raises(Tampered):
        recover(folder, path.stem)


def test_signing_at_the_desk_after_a_resume(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    writer.event(event(), clock())
    writer.close([], [], clock())
    writer.stop()
    for person in crew:
        clock.reboot()
        recovered = recover(folder, writer.run)
        assert recovered.phase == "closing"
        desk = LogWriter.resume(recovered, clock(), None)
        assert person.name in desk.owed()
        desk.sign_close(person, clock())
        desk.stop()
    verdict = check(folder.path_of(writer.run), crew)
    assert verdict.counts()
    assert "resumed 2 times" in verdict.notes[0]
