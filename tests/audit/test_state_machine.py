"""A device's runs under anything that may happen: appended, cut off, resumed, closed, tampered
with, rolled back, left. Hypothesis chooses; a model that knows nothing of lines or keys says what
must be.
"""

from __future__ import annotations

import shutil
import tempfile
import unicodedata
from contextlib import ExitStack
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from audit.errors import AuditError, Fault, NotNow, RecoveryError, SignatureOwed
from audit.folder import LogFolder
from audit.line import head_of
from audit.recovery import recover
from audit.verify import verify
from audit.writer import Entry, LogWriter
from tests.audit.helpers import Clock, Person, event, opening, trust_in

NAMES = ("Maren Holt", "Åsa Lind", "Tor O'Brien", "J. R. Ek")
CREW = {name: Person(name) for name in NAMES}
TRUST = trust_in(list(CREW.values()))

# what may stand behind the last whole line after a power cut, without a line feed of its own
RESIDUES = [b"", b"{", b'{"body":{"boot":"0b5c', b"\x00" * 700, bytes(range(11, 256))]


# kinds of state that were seen: has it a `close`, is it closed, is it torn, how often resumed
REACHED: set[tuple[bool, bool, bool, int]] = set()


class Boots(Clock):
    """The clock of a machine that may start any number of times."""

    def reboot(self, away_ms: int = 60_000) -> None:
        super().reboot(away_ms)
        self.starts += 1
        self.boot = f"boot-{self.starts}-0"

    starts = 0


class Device(RuleBasedStateMachine):
    """One log folder. `rows` are the lines acknowledged of the run that is going on."""

    def __init__(self) -> None:
        super().__init__()
        self.held = ExitStack()
        self.place = Path(self.held.enter_context(tempfile.TemporaryDirectory()))
        self.folder = self.held.enter_context(LogFolder.open(self.place / "logs"))
        self.clock = Boots()
        self.writer: LogWriter | None = None
        self.before: list[Path] = []
        self.last_head = self.folder.device

    def teardown(self) -> None:
        if self.writer is not None:
            self.writer.stop()
        self.held.close()

    @initialize()
    def begin(self) -> None:
        people = [CREW[name] for name in NAMES[:2]]
        self.writer = LogWriter.create(self.folder, opening(people), people, self.clock())
        self.path = self.folder.path_of(self.writer.run)
        self.run = self.writer.run
        self.rows = self.path.read_bytes().splitlines(keepends=True)
        assert len(self.rows) == 3
        self.aboard = list(NAMES[:2])
        self.unvouched: list[list[str]] = []
        self.owing: list[str] | None = None  # closing signatures, once there is a `close`
        self.residue = b""
        self.resumes = 0

    # what the model says

    @property
    def closed(self) -> bool:
        return self.owing == []

    def owed(self) -> tuple[str, ...]:
        if self.owing is not None:
            return tuple(self.owing)
        late = {name for names in self.unvouched for name in names}
        return tuple(name for name in self.aboard if name in late)

    def told(self, entry: Entry) -> None:
        assert entry.seq == len(self.rows)
        assert entry.head == head_of(entry.line_bytes)
        self.rows.append(entry.line_bytes)

    def going(self) -> LogWriter:
        assert self.writer is not None
        return self.writer

    # what may be done

    @precondition(lambda self: self.writer is not None and self.owing is None)
    @rule(heard=st.text(st.characters(categories=["L", "Nd"]), max_size=3))
    def append(self, heard: str) -> None:
        said = event(len(self.rows), heard=heard)
        if unicodedata.is_normalized("NFC", heard):
            self.told(self.going().event(said, self.clock()))
        else:
            # a text that is not in its normal form is refused, and harms nothing
            with pytest.raises(Fault, match=r"NFC|normal"):
                self.going().event(said, self.clock())

    @precondition(
        lambda self: self.writer is not None and self.owing is None and len(self.aboard) < 4
    )
    @rule()
    def change_crew(self) -> None:
        person = CREW[NAMES[len(self.aboard)]]
        change = {"key": person.public_line, "name": person.name, "role": "copilot"}
        self.told(self.going().event(event(crew_change=change), self.clock()))
        self.aboard.append(person.name)

    @precondition(lambda self: self.writer is not None and self.owing is None)
    @rule()
    def attach(self) -> None:
        content = str(len(self.rows)).encode()
        name = f"{self.run}-{len(self.rows)}.bin"
        (self.folder.path / name).write_bytes(content)
        self.told(self.going().attach(name, len(content), head_of(content), self.clock()))

    @precondition(lambda self: self.writer is not None)
    @rule(residue=st.sampled_from(RESIDUES))
    def cut_off(self, residue: bytes) -> None:
        """The process is gone, and with luck the disk has only what was acknowledged."""
        self.going().stop()
        self.writer = None
        if not self.closed:
            self.residue = residue
            with self.path.open("ab") as stream:
                stream.write(residue)
        self.clock.reboot()

    @precondition(lambda self: self.writer is None)
    @rule(gap=st.none() | st.integers(0, 10**6))
    def resume(self, gap: int | None) -> None:
        if self.closed:
            with pytest.raises(RecoveryError, match="is closed"):
                recover(self.folder, self.run)
            return
        recovered = recover(self.folder, self.run)
        assert (recovered.last_seq, recovered.residue) == (len(self.rows) - 1, self.residue)
        self.writer = LogWriter.resume(recovered, self.clock(), gap)
        rows = self.path.read_bytes().splitlines(keepends=True)
        assert rows[:-1] == self.rows
        self.rows = rows
        self.residue = b""
        self.resumes += 1
        if self.owing is None:
            self.unvouched.append(list(self.aboard))

    @precondition(lambda self: self.writer is not None and not self.closed)
    @rule(name=st.sampled_from(NAMES))
    def sign(self, name: str) -> None:
        writer, person = self.going(), CREW[name]
        if self.owing is None:
            lines = sum(name in names for names in self.unvouched)
            if not lines:
                with pytest.raises(NotNow):
                    writer.sign_resume(person, self.clock())
                return
            entries = writer.sign_resume(person, self.clock())
            assert len(entries) == lines
            for entry in entries:
                self.told(entry)
            self.unvouched = [[n for n in names if n != name] for names in self.unvouched]
        elif name in self.owing:
            self.told(writer.sign_close(person, self.clock()))
            self.owing.remove(name)
        else:
            with pytest.raises(NotNow):
                writer.sign_close(person, self.clock())

    @precondition(lambda self: self.writer is not None and self.owing is None)
    @rule()
    def close(self) -> None:
        if self.owed():
            with pytest.raises(SignatureOwed) as caught:
                self.going().close([], [], self.clock())
            assert caught.value.names == self.owed()
            return
        self.told(self.going().close([], [], self.clock()))
        self.owing = list(self.aboard)

    @precondition(lambda self: self.writer is not None and not self.closed)
    @rule()
    def finish(self) -> None:
        """Everybody signs what they owe; closed, and everybody signs again."""
        for name in self.owed():
            self.sign(name)
        if self.owing is None:
            self.close()
            for name in self.owed():
                self.sign(name)
        assert self.closed

    @precondition(lambda self: self.closed or self.writer is None)
    @rule()
    def leave_for_the_next(self) -> None:
        """Another run is begun; the one before can never be taken up again."""
        if self.writer is not None:
            self.writer.stop()
        self.before.append(self.path)
        self.last_head = head_of(self.rows[-1])
        self.begin()
        with pytest.raises(RecoveryError, match="left for good"):
            recover(self.folder, self.before[-1].stem)

    # what somebody else may try, on a copy

    @rule(data=st.data())
    def tamper(self, data: st.DataObject) -> None:
        whole = b"".join(self.rows)
        at = data.draw(st.integers(0, len(self.rows) - 1), label="line")
        start = len(b"".join(self.rows[:at]))
        byte = start + data.draw(st.integers(0, len(self.rows[at]) - 1), label="byte")
        kind = data.draw(st.sampled_from(["change", "drop", "double", "swap", "cut", "lose"]))
        rows = list(self.rows)
        if kind == "change":
            other = (whole[byte] + data.draw(st.integers(1, 255))) % 256
            changed = whole[:byte] + bytes([other]) + whole[byte + 1 :]
        elif kind == "lose":
            changed = whole[:byte] + whole[byte + 1 :]
        elif kind == "cut":
            changed = whole[:byte]
        else:
            row = rows.pop(at)
            if kind == "double":
                rows[at:at] = [row, row]
            elif kind == "swap":
                rows.insert(max(at - 1, 0) if at else min(1, len(rows)), row)
            changed = b"".join(rows)
        if changed == whole:
            return
        copy = self.copied()
        log = copy / self.path.name
        log.write_bytes(changed)
        found = verify(log, level="full", trust=TRUST)
        assert found.result != "closed", (kind, found)
        assert not found.counts()
        with LogFolder.open(copy) as folder:
            try:
                recovered = recover(folder, self.run)
            except AuditError:
                return
            # a change with whole lines behind it is never taken for a torn write
            assert kind == "cut" or at == len(self.rows) - 1, (kind, at)
            # what can be gone on with is a beginning of what was written, and nothing else
            kept = changed[: recovered.length]
            assert whole.startswith(kept)
            assert kept.endswith(b"\n")

    @precondition(lambda self: len(self.rows) > 3)
    @rule(data=st.data())
    def roll_back(self, data: st.DataObject) -> None:
        """Cut at a whole line and gone on with by everybody: the verdict says so, and a head that
        somebody else kept is no longer in it."""
        length = data.draw(st.integers(3, len(self.rows) - 1))
        copy = self.copied()
        log = copy / self.path.name
        log.write_bytes(b"".join(self.rows[:length]))
        assert verify(log, level="full", trust=TRUST).result == "unclosed"
        clock = Clock()
        clock.wall, clock.mono, clock.boot = self.clock.wall, self.clock.mono, "another-boot"
        with LogFolder.open(copy) as folder:
            writer = LogWriter.resume(recover(folder, self.run), clock(), None)
            for person in CREW.values():
                if writer.phase == "running" and person.name in writer.owed():
                    writer.sign_resume(person, clock())
            if writer.phase == "running":
                writer.close([], [], clock())
            for person in CREW.values():
                if person.name in writer.owed():
                    writer.sign_close(person, clock())
        found = verify(log, level="full", trust=TRUST)
        assert found.result == "closed", found
        assert found.notes[0].startswith("resumed ")
        assert "proven only by a witness" in found.notes[0]
        heads = {head_of(row) for row in log.read_bytes().splitlines(keepends=True)}
        assert head_of(self.rows[-1]) not in heads

    def copied(self) -> Path:
        copy = self.place / "copy"
        shutil.rmtree(copy, ignore_errors=True)
        shutil.copytree(
            self.folder.path, copy, ignore=lambda _, names: [n for n in names if "lock" in n]
        )
        return copy

    # what must always be so

    @invariant()
    def the_file_has_what_was_acknowledged(self) -> None:
        assert self.path.read_bytes() == b"".join(self.rows) + self.residue

    @invariant()
    def the_verdict_is_the_models(self) -> None:
        found = verify(self.path, level="full", trust=TRUST)
        assert found.lines == len(self.rows)
        assert found.head == head_of(self.rows[-1])
        REACHED.add((self.owing is not None, self.closed, bool(self.residue), min(self.resumes, 2)))
        wanted = "closed" if self.closed else "torn" if self.residue else "unclosed"
        assert found.result == wanted, found
        assert found.counts() == self.closed
        if not self.residue:
            assert found.owed == self.owed()
        if self.writer is not None:
            assert self.writer.owed() == self.owed()
        assert bool(self.resumes) == any(note.startswith("resumed ") for note in found.notes)
        assert verify(self.path, level="boundary", trust=TRUST).result == wanted

    @invariant()
    def the_runs_are_a_chain(self) -> None:
        runs = self.folder.runs()
        assert [info.run for info in runs] == [*(p.stem for p in self.before), self.run]
        assert [info.run_seq for info in runs] == list(range(1, len(runs) + 1))
        assert runs[-1].prev == self.last_head


class Returned(Device):
    """A device that was switched off and on again twice before anything else happens to it."""

    @initialize()
    def begin(self) -> None:
        super().begin()
        for _ in range(2):
            self.cut_off(b"")
            self.resume(5)


def test_a_device_under_anything_that_may_happen() -> None:
    run_state_machine_as_test(Device, settings=settings(max_examples=20, stateful_step_count=20))


@pytest.mark.long
def test_many_devices_under_anything_that_may_happen() -> None:
    REACHED.clear()
    run_state_machine_as_test(Device, settings=settings(max_examples=150, stateful_step_count=50))
    run_state_machine_as_test(Returned, settings=settings(max_examples=50, stateful_step_count=50))
    # every kind of end, and closed after none, one and several resumes
    assert {seen[:3] for seen in REACHED} == {
        (False, False, False), (False, False, True), (True, False, False), (True, False, True),
        (True, True, False),
    }  # fmt: skip
    assert {resumes for _, closed, _, resumes in REACHED if closed} == {0, 1, 2}
