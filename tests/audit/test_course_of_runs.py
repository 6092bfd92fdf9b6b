"""Runs of any course: written, torn, resumed, signed, tampered with. The log is never better than
what was done, and never loses what was acknowledged."""

import random
import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
)

from audit import durable
from audit.errors import Fault, NotNow, SignatureOwed, Tampered
from audit.folder import LogFolder
from audit.line import head_of
from audit.recovery import recover
from audit.writer import LogWriter
from tests.audit.helpers import Clock, Person, check, event, opening

PEOPLE = [Person(name) for name in ("Maren Holt", "Åsa Lind", "Tor Berg", "Ida Ek")]


class Runs(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        # nothing here cuts the power: what was written is there without waiting for the disk
        self.real_sync = durable.sync
        durable.sync = lambda fd: None
        self.path = Path(tempfile.mkdtemp())
        self.folder = LogFolder.open(self.path)
        self.clock = Clock()
        self.writer: LogWriter | None = None
        self.run = ""
        self.aboard: list[Person] = []
        self.owing_resume: dict[str, int] = {}
        self.owing_close: list[str] = []
        self.acknowledged: list[str] = []
        self.phase = "none"

    def teardown(self) -> None:
        durable.sync = self.real_sync
        self.folder.close()
        shutil.rmtree(self.path)

    @initialize(size=st.integers(1, 2))
    def start(self, size: int) -> None:
        self.aboard = PEOPLE[:size]
        self.writer = LogWriter.create(self.folder, opening(self.aboard), self.aboard, self.clock())
        self.run = self.writer.run
        self.owing_resume, self.acknowledged, self.phase = {}, [], "running"

    @precondition(lambda self: self.phase == "closed")
    @rule(size=st.integers(1, 2))
    def next_run(self, size: int) -> None:
        self.start(size)

    @precondition(lambda self: self.writer and self.phase == "running")
    @rule(count=st.integers(1, 4))
    def answer(self, count: int) -> None:
        assert self.writer is not None
        for number in range(count):
            self.acknowledged.append(self.writer.event(event(number), self.clock()).head)

    @precondition(lambda self: self.writer and self.phase == "running")
    @rule(who=st.sampled_from(PEOPLE))
    def change_crew(self, who: Person) -> None:
        assert self.writer is not None
        change = {"key": who.public_line, "name": who.name, "role": "copilot"}
        entry = self.writer.event(event(crew_change=change), self.clock())
        self.acknowledged.append(entry.head)
        if who not in self.aboard:
            self.aboard = [*self.aboard, who]

    @precondition(lambda self: self.writer and self.phase != "closed")
    @rule(torn=st.binary(max_size=300) | st.integers(1, 400))
    def crash_and_resume(self, torn: bytes | int) -> None:
        assert self.writer is not None
        self.writer.stop()
        log = self.folder.path_of(self.run)
        if isinstance(torn, int):
            torn = log.read_bytes().splitlines(keepends=True)[-1][:torn]
            if torn.endswith(b"\n"):
                torn = torn[:-1]
        with log.open("ab") as stream:
            stream.write(torn)
        expected = "torn" if torn and b"\n" not in torn else "rejected" if torn else "unclosed"
        assert check(log, PEOPLE).result == expected
        self.clock.reboot()
        recovered = recover(self.folder, self.run)
        assert recovered.residue == torn
        self.writer = LogWriter.resume(recovered, self.clock(), None)
        if self.phase == "running":
            for person in self.aboard:
                self.owing_resume[person.name] = self.owing_resume.get(person.name, 0) + 1

    @precondition(lambda self: self.writer and self.phase == "running")
    @rule(who=st.sampled_from(PEOPLE))
    def vouch(self, who: Person) -> None:
        assert self.writer is not None
        owed = self.owing_resume.pop(who.name, 0)
        try:
            given = len(self.writer.sign_resume(who, self.clock()))
        except NotNow:
            given = 0
        assert given == owed

    @precondition(lambda self: self.writer and self.phase == "running")
    @rule(signers=st.sets(st.sampled_from(PEOPLE)))
    def close(self, signers: set[Person]) -> None:
        assert self.writer is not None
        able = [person for person in self.aboard if person in signers]
        if self.owing_resume:
            with pytest.raises(SignatureOwed) as refused:
                self.writer.close([], able, self.clock())
            assert set(refused.value.names) == set(self.owing_resume)
            return
        self.writer.close([], able, self.clock())
        self.owing_close = [one.name for one in self.aboard if one not in signers]
        self.phase = "closing" if self.owing_close else "closed"

    @precondition(lambda self: self.writer and self.phase == "closing")
    @rule(who=st.sampled_from(PEOPLE))
    def sign_at_the_desk(self, who: Person) -> None:
        assert self.writer is not None
        try:
            self.writer.sign_close(who, self.clock())
        except NotNow:
            assert who.name not in self.owing_close
            return
        self.owing_close.remove(who.name)
        if not self.owing_close:
            self.phase = "closed"

    @precondition(lambda self: self.writer and self.phase != "closed")
    @rule()
    def write_what_may_not_be(self) -> None:
        assert self.writer is not None
        for data in ({}, event(state="?")):
            with pytest.raises(Fault):
                self.writer.event(data, self.clock())

    @precondition(lambda self: self.writer and self.phase != "none")
    @rule(seed=st.integers(0, 2**32))
    def tamper_and_mend(self, seed: int) -> None:
        rng = random.Random(seed)
        log = self.folder.path_of(self.run)
        good = log.read_bytes()
        at = rng.randrange(len(good) - 1)
        changed = good[:at] + bytes([good[at] ^ (1 << rng.randrange(8))]) + good[at + 1 :]
        log.write_bytes(changed)
        verdict = check(log, PEOPLE)
        assert verdict.result in ("rejected", "torn"), verdict
        if self.phase != "closed" and b"\n" in good[at + 1 : -1]:
            with pytest.raises(Tampered):
                recover(self.folder, self.run)
        log.write_bytes(good)

    @invariant()
    def the_log_says_what_was_done(self) -> None:
        if not self.run:
            return
        log = self.folder.path_of(self.run)
        verdict = check(log, PEOPLE)
        if self.phase == "closed":
            assert verdict.counts()
            assert self.folder.open_run() is None
        else:
            assert verdict.result == "unclosed"
            assert self.folder.open_run() == self.run
            owed = self.owing_close if self.phase == "closing" else list(self.owing_resume)
            assert sorted(verdict.owed) == sorted(owed)
        text = log.read_bytes()
        rows = text.splitlines(keepends=True)
        heads = [head_of(row) for row in rows]
        assert [head for head in heads if head in set(self.acknowledged)] == self.acknowledged


Runs.TestCase.settings = settings(
    max_examples=25,
    stateful_step_count=20,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
TestRuns = Runs.TestCase
