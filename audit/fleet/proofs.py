"""Proofs in files: that a run is in a checkpoint's tree, that one checkpoint extends another.

Rules: inclusion is written as C2SP tlog-proof, its extra data being the leaf; consistency in a text
of our own, because no standard names one. Whoever checks needs the proof, the key of notes, and
nothing else; a proof is checked before it is handed out.
"""

import re
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from audit import canonical
from audit.errors import Fault, FleetError
from audit.fleet import checkpoint as notes
from audit.fleet import tree
from audit.fleet.checkpoint import Checkpoint
from audit.fleet.index import Leaf, hashes, parse_leaf
from audit.fleet.note import Verifier

INCLUSION = "c2sp.org/tlog-proof@v1"
CONSISTENCY = "latchword/fleet/consistency@v1"
_NUMBER = re.compile(r"0|[1-9][0-9]{0,15}")


class Proven(NamedTuple):
    """What an inclusion proof shows: which run, with which final head, under which checkpoint."""

    leaf: Leaf
    number: int
    checkpoint: Checkpoint


def inclusion(leaf: Leaf, leaves: Sequence[Leaf], note: str) -> str:
    """The proof that a run is in the tree of a checkpoint, whose note is carried in it."""
    checkpoint = notes.peek(note)
    own = beginning(leaves, checkpoint)
    if leaf not in own:
        raise FleetError(
            f"{leaf.run} with its head {leaf.head[:16]}… is not among the {checkpoint.size} runs "
            "of this checkpoint; a later one may have it"
        )
    index = own.index(leaf)
    path = tree.inclusion_proof(index, hashes(own))
    tree.check_inclusion(index, checkpoint.size, tree.leaf_hash(leaf.data), path, checkpoint.root)
    rows = [INCLUSION, f"extra {canonical.base64_text(leaf.data)}", f"index {index}"]
    return "\n".join([*rows, *map(canonical.base64_text, path), "", note])


def check_inclusion(text: str, known: Iterable[Verifier]) -> Proven:
    """What an inclusion proof shows, by known keys; raises `FleetError` if it does not hold."""
    head, gap, note = text.partition("\n\n")
    rows = head.split("\n")
    if not gap or rows[0] != INCLUSION or len(rows) < 3:
        raise FleetError(f"this is no inclusion proof: its first line must be {INCLUSION}")
    try:
        leaf = parse_leaf(canonical.base64_bytes(_after("extra ", rows[1])))
    except Fault as fault:
        raise FleetError(f"the extra data of the proof: {fault.why}") from None
    index = _number("index ", rows[2])
    checkpoint = notes.verified(note, known)
    path = _hashes(rows[3:])
    tree.check_inclusion(index, checkpoint.size, tree.leaf_hash(leaf.data), path, checkpoint.root)
    return Proven(leaf, index, checkpoint)


def consistency(old: Checkpoint, new: Checkpoint, leaves: Sequence[Leaf]) -> str:
    """The proof that one checkpoint's tree begins with another's."""
    own = beginning(leaves, new)
    if old.size > new.size:
        raise FleetError(f"the older checkpoint has {old.size} runs, the newer {new.size}")
    path = tree.consistency_proof(old.size, hashes(own))
    tree.check_consistency(old.size, new.size, old.root, new.root, path)
    rows = [CONSISTENCY, f"old {old.size}", f"new {new.size}"]
    return "\n".join([*rows, *map(canonical.base64_text, path), ""])


def check_consistency(text: str, old: Checkpoint, new: Checkpoint) -> None:
    """Raise `FleetError` unless the proof shows that `new` extends `old`, of one origin."""
    if old.origin != new.origin:
        raise FleetError(f"two checkpoints of two origins, {old.origin} and {new.origin}")
    rows = text.split("\n")
    if rows[0] != CONSISTENCY or len(rows) < 4 or rows[-1] != "":
        raise FleetError(f"this is no consistency proof: its first line must be {CONSISTENCY}")
    sizes = (_number("old ", rows[1]), _number("new ", rows[2]))
    if sizes != (old.size, new.size):
        raise FleetError(f"the proof is for {sizes[0]} and {sizes[1]} runs, not for these two")
    tree.check_consistency(old.size, new.size, old.root, new.root, _hashes(rows[3:-1]))


def beginning(leaves: Sequence[Leaf], checkpoint: Checkpoint) -> list[Leaf]:
    """The leaves that a checkpoint is over; raises `FleetError` where they are others."""
    own = list(leaves[: checkpoint.size])
    if len(own) < checkpoint.size or tree.root(hashes(own)) != checkpoint.root:
        raise FleetError("the leaves here are not those of the checkpoint; name its own folder")
    return own


def _after(word: str, row: str) -> str:
    if not row.startswith(word):
        raise FleetError(f"a line of the proof must begin with {word.strip()}")
    return row.removeprefix(word)


def _number(word: str, row: str) -> int:
    text = _after(word, row)
    if not _NUMBER.fullmatch(text):
        raise FleetError(f"{word.strip()} of the proof is no number")
    return int(text)


def _hashes(rows: Sequence[str]) -> list[bytes]:
    try:
        return [canonical.base64_bytes(row, tree.HASH_BYTES) for row in rows]
    except Fault as fault:
        raise FleetError(f"a hash of the proof: {fault.why}") from None
