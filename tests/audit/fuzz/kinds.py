"""What the fuzzer gives to which reader, what may come of it, and what it begins with.

Rules: nothing but an `AuditError` may escape; a log that is not byte for byte the one signed may
not come out `closed`; a receipt, a word of a supervisor, a proof or a note that is taken says what
the true one says. The first byte of an input chooses the reader.
"""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from audit import allowed, canonical, countersign, line, receipt, sshsig
from audit.errors import AuditError
from audit.fleet import checkpoint, note, proofs, tree
from audit.fleet.checkpoint import Checkpoint
from audit.fleet.index import Leaf, hashes, parse_leaf
from audit.fleet.note import Verifier
from audit.receipt import Receipt
from audit.trust import Trust
from audit.verify import verify
from tests.audit.helpers import START_MS, Person, event, full_log, public, trust_in
from tests.audit.opinions import UNCHECKED, ask_python, difference, signers_text

MOST_LINES = 40


class Found(Exception):
    """What must never be: something false was taken."""


@dataclass
class Bench:
    """True things of every kind, made anew for each process: nobody has a key but this one."""

    log: bytes
    people: list[Person]
    trust: Trust
    signers: str
    keys: list[Ed25519PrivateKey]
    receipt: Receipt
    word: bytes
    fleet: Ed25519PrivateKey
    verifier: Verifier
    leaves: list[Leaf]
    checkpoints: list[Checkpoint]

    @classmethod
    def made(cls, folder: Path) -> Bench:
        """A log with every type of line, and what can be said about it."""
        path, people = full_log(folder / "logs")
        log = path.read_bytes()
        keys = [Ed25519PrivateKey.generate() for _ in range(MOST_LINES)]
        trust = trust_in(people)
        last = line.parse(log.splitlines(keepends=True)[-1])
        first = line.parse(log.splitlines(keepends=True)[0])
        true = Receipt(
            first.data["device"], first.data["run"], 1, last.seq, True, last.stamp.wall_ms,
            last.head,
        )  # fmt: skip
        fleet = Ed25519PrivateKey.generate()
        verifier = Verifier("tarn.example/fleet", fleet.public_key().public_bytes_raw())
        leaves = [Leaf("d" * 64, number, f"run-{number}", f"{number:064x}") for number in (1, 2, 3)]
        sizes = (2, 3)
        points = [
            Checkpoint(verifier.name, size, tree.root(hashes(leaves[:size]))) for size in sizes
        ]
        return cls(
            log, people, trust, signers_text(trust), keys, true, _word(true, Person("Ines Roth")),
            fleet, verifier, leaves, points,
        )  # fmt: skip

    def rewritten(self, bodies: bytes) -> bytes:
        """A log of these bodies, one a line, by somebody who has the machine and no person's key:
        numbers, chain, keys and the lines' own signatures are put right where a body is one."""
        rows: list[bytes] = []
        head = ""
        for number, text in enumerate(bodies.split(b"\n")[:MOST_LINES]):
            key = self.keys[number]
            try:
                body = json.loads(text)
            except (ValueError, RecursionError):
                body = None
            if isinstance(body, dict) and isinstance(body.get("data"), dict):
                if "key0" in body["data"]:
                    body["data"]["key0"] = public(key)
                if "prev" in body and head:
                    body["prev"] = head
                if body.get("next"):
                    body["next"] = public(self.keys[(number + 1) % MOST_LINES])
                spelled = _spelled(body) or text
            else:
                spelled = text
            sig = canonical.base64_text(key.sign(line.DOMAIN + spelled)).encode()
            rows.append(b'{"body":' + spelled + b',"sig":"' + sig + b'"}\n')
            head = line.head_of(rows[-1])
        return b"".join(rows)


def _spelled(body: dict[str, Any]) -> bytes:
    try:
        return canonical.spell(body)
    except AuditError:
        return b""


def _word(of: Receipt, person: Person) -> bytes:
    body = {
        "device": of.device, "format": 1, "head": of.head, "name": person.name, "note": "looked at",
        "run": of.run, "time": "2026-11-24T21:50:03.412Z", "verdict": "accepted",
    }  # fmt: skip
    blob = person.sign(sshsig.COUNTERSIGN, countersign.message_of(body))
    return canonical.spell({"body": body, "sig": canonical.base64_text(blob)}) + b"\n"


def a_log(bench: Bench, data: bytes) -> None:
    """The bytes of a log."""
    for level in ("boundary", "full"):
        verdict = verify(io.BytesIO(data), level=level, trust=bench.trust)
        if verdict.result == "closed" and data != bench.log:
            raise Found(f"closed at {level}")
    other = difference(data, verdict, ask_python(data, bench.signers))
    # what it does not look at it passes over, and may refuse a later line
    if other and verdict.code not in UNCHECKED:
        raise Found(f"the independent verifier says otherwise: {other}")


def bodies_of_a_log(bench: Bench, data: bytes) -> None:
    """Bodies, put into good lines by somebody who has no person's key."""
    a_log(bench, bench.rewritten(data))


def a_receipt(bench: Bench, data: bytes) -> None:
    """A receipt: read back, it is spelled as it was."""
    text = data.decode("utf-8", "surrogateescape")
    found = receipt.parse(text)
    if text.strip().splitlines()[-1] != (found.code if found.device else found.short):
        raise Found("two spellings of one receipt")


def a_word(bench: Bench, data: bytes) -> None:
    """A supervisor's word: only the one that was signed, or one signed by nobody we know."""
    found = countersign._parse(data)
    if canonical.spell(json.loads(found.message)) + b"\n" != found.message:
        raise Found("a word that is not in its one spelling")
    if data != bench.word:
        raise Found("a word that nobody signed")


def a_note(bench: Bench, data: bytes) -> None:
    """A checkpoint's note, by the fleet's key."""
    found = checkpoint.verified(data.decode("utf-8"), [bench.verifier])
    if found not in bench.checkpoints:
        raise Found(f"a checkpoint that nobody signed: {found}")


def a_proof(bench: Bench, data: bytes) -> None:
    """Proofs of both kinds."""
    text = data.decode("utf-8")
    try:
        found = proofs.check_inclusion(text, [bench.verifier])
    except AuditError:
        old, new = bench.checkpoints
        proofs.check_consistency(text, old, new)
        return
    if found.leaf != bench.leaves[found.number]:
        raise Found(f"a leaf that is not in the tree: {found}")


def a_leaf(bench: Bench, data: bytes) -> None:
    """A line of a fleet's index, in its one spelling."""
    if parse_leaf(data).data != data:
        raise Found("a leaf in another spelling")


def allowed_signers(bench: Bench, data: bytes) -> None:
    """Rows of a list of trusted keys."""
    lines = [allowed.parse(row) for row in data.decode("utf-8").split("\n")]
    trust = Trust(one for one in lines if one is not None)
    person = bench.people[0]
    found = trust.find(person.name, person.key, sshsig.OPEN, START_MS)
    if found is not None and sshsig.public_line(person.key).encode() not in data:
        raise Found("a key trusted that is not named")


def a_signature(bench: Bench, data: bytes) -> None:
    """An OpenSSH signature, its armour, a public key's line, a key of notes."""
    for reader in (_blob, _armour, _public, _verifier):
        try:
            reader(data)
        except (AuditError, UnicodeDecodeError):
            continue


def _blob(data: bytes) -> None:
    if sshsig.encode(sshsig.parse(data)) != data:
        raise Found("a signature in another spelling")


def _armour(data: bytes) -> None:
    sshsig.dearmor(data.decode("utf-8"))


def _public(data: bytes) -> None:
    key, _ = sshsig.parse_public_line(data.decode("utf-8"))
    if len(key) != 32:
        raise Found("a key of another length")


def _verifier(data: bytes) -> None:
    text = data.decode("utf-8")
    if note.parse_verifier(text).text != text.strip():
        raise Found("a key of notes in another spelling")


Kind = Callable[[Bench, bytes], None]
KINDS: tuple[Kind, ...] = (
    a_log, bodies_of_a_log, a_receipt, a_word, a_note, a_proof, a_leaf, allowed_signers,
    a_signature,
)  # fmt: skip


def one_input(bench: Bench, data: bytes) -> None:
    """What the fuzzer calls; raises only for what must never be."""
    if not data:
        return
    kind = KINDS[data[0] % len(KINDS)]
    try:
        kind(bench, data[1:])
    except UnicodeDecodeError:
        if kind in (a_log, bodies_of_a_log, a_word, a_leaf):
            raise
    except AuditError:
        pass


def seeds(bench: Bench) -> list[bytes]:
    """True inputs of every kind, and logs that break off or are cut anywhere."""
    rows = bench.log.splitlines(keepends=True)
    bodies = b"\n".join(line.body_bytes(row) for row in rows)
    old, new = (
        checkpoint.sign(point, bench.verifier, bench.fleet.sign) for point in bench.checkpoints
    )
    first, second = bench.checkpoints
    person = bench.people[0]
    blob = person.sign(sshsig.OPEN, rows[0])
    found: list[tuple[Kind, bytes]] = [
        (a_log, bench.log),
        (a_log, bench.log[: len(bench.log) // 2]),
        (a_log, rows[0]),
        (a_log, b"".join(rows[:4])),
        (bodies_of_a_log, bodies),
        (bodies_of_a_log, b"\n".join(line.body_bytes(row) for row in rows[:3])),
        (bodies_of_a_log, canonical.spell({"data": event()})),
        (a_receipt, bench.receipt.code.encode()),
        (a_receipt, bench.receipt.text.encode()),
        (a_receipt, bench.receipt.short.encode()),
        (a_word, bench.word),
        (a_note, old.encode()),
        (a_note, new.encode()),
        (a_proof, proofs.inclusion(bench.leaves[1], bench.leaves, new).encode()),
        (a_proof, proofs.consistency(first, second, bench.leaves).encode()),
        (a_leaf, bench.leaves[0].data),
        (allowed_signers, bench.signers.encode()),
        (allowed_signers, b'# a list\n"a b",c !valid-after="20260101Z" ssh-ed25519 AAAA x\n'),
        (a_signature, blob),
        (a_signature, sshsig.armor(blob).encode()),
        (a_signature, f"{person.public_line} {person.name}".encode()),
        (a_signature, bench.verifier.text.encode()),
    ]
    return [bytes([KINDS.index(kind)]) + data for kind, data in found]
