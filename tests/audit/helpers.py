"""What the tests of the log share: a crew, a clock, a log with every line type, a forger."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from audit import canonical, line, sshsig
from audit.folder import LogFolder
from audit.recovery import recover
from audit.stamps import Stamp, wall_text
from audit.trust import Allowed, Trust
from audit.verdict import Verdict
from audit.verify import SavedState, states, verify
from audit.writer import LogWriter

START_MS = 1_795_557_003_412  # 2026-11-24T21:50:03.412Z
LEXICON = "1" * 64
STATE = "a" * 64


class Person:
    """A signer that holds its key in memory: many signatures without files."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.private = Ed25519PrivateKey.generate()
        self.key = self.private.public_key().public_bytes_raw()

    @property
    def public_line(self) -> str:
        return sshsig.public_line(self.key)

    def sign(self, namespace: str, message: bytes) -> bytes:
        value = self.private.sign(sshsig.to_be_signed(namespace, message))
        return sshsig.encode(sshsig.Signature(self.key, namespace, value))


class Clock:
    """Both clocks going on together, a step at each reading."""

    def __init__(self) -> None:
        self.wall = START_MS
        self.mono = 1_000
        self.boot = "0b5c6d7e-boot-1"

    def __call__(self, step_ms: int = 250) -> Stamp:
        self.wall += step_ms
        self.mono += step_ms
        return Stamp(self.wall, self.mono, self.boot)

    def reboot(self, away_ms: int = 60_000) -> None:
        self.wall += away_ms
        self.mono = 5_000
        self.boot = self.boot[:-1] + str(int(self.boot[-1]) + 1)


def event(number: int = 0, **more: Any) -> dict[str, Any]:
    return {
        "event": {"at": number * 1000, "kind": "answer", "role": "commander", "text": "1600"},
        "outcome": ["met"],
        "state": STATE,
        **more,
    }


def opening(people: Sequence[Person], **more: Any) -> dict[str, Any]:
    roles = ("commander", "copilot", "ground")
    return {
        "modes": ["crew"] if len(people) > 1 else ["single-pilot"],
        "roster": [
            {"name": person.name, "role": role} for person, role in zip(people, roles, strict=False)
        ],
        "documents": [],
        "lexicon": LEXICON,
        "rules": 1,
        **more,
    }


def trust_in(people: Sequence[Person], **more: Any) -> Trust:
    return Trust(
        Allowed(person.name, person.key, None, more.get("after"), more.get("before"))
        for person in people
    )


def simple_log(
    folder: LogFolder, people: Sequence[Person], clock: Clock, events: int = 3, **more: Any
) -> Path:
    """A run with some events, closed and signed by everybody."""
    writer = LogWriter.create(folder, opening(people, **more), people, clock())
    for number in range(events):
        writer.event(event(number), clock())
    writer.close([], people, clock())
    return folder.path_of(writer.run)


def full_log(path: Path) -> tuple[Path, list[Person]]:
    """A closed log with every type of line, two resumes and a crew change; its people."""
    people = [Person("Maren Holt"), Person("Åsa Lind")]
    relief = Person("Tor O'Brien")
    clock = Clock()
    with LogFolder.open(path) as folder:
        name = folder.store_document(b"title: Before start\n")
        documents = [{"approval": None, "name": "before start", "sha256": name}]
        carried = {"start_attempts": 2, "cooling": {"until_ms": 90_000, "certain": True}}
        writer = LogWriter.create(
            folder, opening(people, documents=documents, carried=carried), people, clock()
        )
        writer.event(event(1), clock())
        writer.event(event(2, heard='one six zero zero, naïve “quotes” \\ "'), clock())
        change = {"key": relief.public_line, "name": relief.name, "role": "copilot"}
        writer.event(event(3, crew_change=change), clock())
        (path / "clip.wav").write_bytes(b"RIFF")
        digest = line.head_of(b"RIFF")
        writer.attach("clip.wav", 4, digest, clock())
        writer.stop()
        log = folder.path_of(writer.run)
        with log.open("ab") as stream:
            stream.write(b'{"body":{"boot":"0b5')
        clock.reboot()
        writer = LogWriter.resume(recover(folder, writer.run), clock(), None)
        writer.event(event(4), clock())
        for person in (*people, relief):
            writer.sign_resume(person, clock())
        writer.event(event(5, outcome=["accepted"]), clock())
        writer.close([4, writer.seq], people[:1], clock())
        writer.stop()
        clock.reboot()
        writer = LogWriter.resume(recover(folder, writer.run), clock(), 60_000)
        writer.sign_close(people[1], clock())
        writer.sign_close(relief, clock())
    return log, [*people, relief]


def check(log: bytes | Path, people: Sequence[Person] = (), level: str = "full") -> Verdict:
    source = io.BytesIO(log) if isinstance(log, bytes) else log
    return verify(source, level=level, trust=trust_in(people))


def code_of(log: bytes, people: list[Person] | None = None) -> str:
    """Why a log is rejected; it is, and its sentence says at which line and byte."""
    verdict = check(log, people or [])
    assert verdict.result == "rejected", verdict
    assert f"line {verdict.line}, byte {verdict.offset}" in verdict.why
    return verdict.code


def saved_states(log: Path, people: Sequence[Person], level: str = "full") -> list[SavedState]:
    return list(states(log, level=level, trust=trust_in(people)))


@dataclass
class Forge:
    """Writes any lines at all, well signed: what somebody with every key could write."""

    people: Sequence[Person]
    modes: Sequence[str] = ("crew",)
    rows: list[bytes] = field(default_factory=list)
    head: str = "d" * 64
    clock: Clock = field(default_factory=Clock)
    key: Ed25519PrivateKey = field(default_factory=Ed25519PrivateKey.generate)
    following: Ed25519PrivateKey = field(default_factory=Ed25519PrivateKey.generate)

    def opening(self, **changes: Any) -> dict[str, Any]:
        roles = ("commander", "copilot", "ground")
        data: dict[str, Any] = {
            "carried": {},
            "checkpoint": None,
            "device": "d" * 64,
            "documents": [],
            "format": 1,
            "key0": public(self.key),
            "lexicon": LEXICON,
            "modes": list(self.modes),
            "prev_run": None,
            "roster": [
                {"key": person.public_line, "name": person.name, "role": role}
                for person, role in zip(self.people, roles, strict=False)
            ],
            "rules": 1,
            "run": "forged-run",
            "run_seq": 1,
        }
        data.update(changes)
        return data

    def add(self, type: str, data: Mapping[str, Any], /, **body: Any) -> Forge:
        """Append a line; `body` replaces fields of the envelope, `key` the signing key."""
        stamp = body.pop("stamp", None) or self.clock()
        key = body.pop("key", self.key)
        fields = {
            "boot": stamp.boot,
            "data": dict(data),
            "mono": stamp.mono_ms,
            "next": public(self.following),
            "prev": self.head,
            "seq": len(self.rows),
            "type": type,
            "wall": stamp_text(stamp),
            **body,
        }
        self.put(canonical.spell(fields), key)
        self.key, self.following = self.following, Ed25519PrivateKey.generate()
        return self

    def put(self, body: bytes, key: Ed25519PrivateKey) -> None:
        """Append a line with these exact bytes as its body."""
        sig = canonical.base64_text(key.sign(line.DOMAIN + body)).encode()
        self.rows.append(b'{"body":' + body + b',"sig":"' + sig + b'"}\n')
        self.head = line.head_of(self.rows[-1])

    def sign(
        self, type: str, person: Person, number: int, *, namespace: str = "", **body: Any
    ) -> Forge:
        namespace = namespace or f"{type.removesuffix('-sig')}@latchword-v1"
        message = body.pop("message") if "message" in body else self.rows[number]
        if type == "resume-sig":
            message += self.head.encode() + b"\n"
        blob = body.pop("blob", None) or person.sign(namespace, message)
        name = body.pop("name", person.name)
        data = {"line": number, "name": name, "sig": canonical.base64_text(blob)}
        return self.add(type, data, **body)

    def open(self, **changes: Any) -> Forge:
        """`open` and every `open-sig`."""
        self.add("open", self.opening(**changes))
        for person in self.people:
            self.sign("open-sig", person, 0)
        return self

    def resume(self, **changes: Any) -> Forge:
        self.key = Ed25519PrivateKey.generate()
        data = {
            "gap": None,
            "head": self.head,
            "key0": public(self.key),
            "line": len(self.rows) - 1,
            "residue": [],
            **changes,
        }
        return self.add("resume", data)

    def close(self, **changes: Any) -> Forge:
        """`close` and every `close-sig`."""
        number = len(self.rows)
        self.add("close", {"acceptances": [], "count": number, **changes})
        for person in self.people:
            last = person is self.people[-1]
            self.sign("close-sig", person, number, **({"next": ""} if last else {}))
        return self

    @property
    def log(self) -> bytes:
        return b"".join(self.rows)


def public(key: Ed25519PrivateKey) -> str:
    return canonical.base64_text(key.public_key().public_bytes_raw())


def stamp_text(stamp: Stamp) -> str:
    return wall_text(stamp.wall_ms)
