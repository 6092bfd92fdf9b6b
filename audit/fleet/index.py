"""The leaves of a fleet's tree, in a file of the log folder, and the checkpoints signed over them.

Rules: `fleet/leaves` has one canonical line a run, only ever longer, in the order of being added:
at each checkpoint the runs whose head has become final, by device, then `run_seq`; a head is final
when its run is closed, or when the device's next run is there. Before anything is signed the runs
must hold, their heads must be those that were added, and the new tree must begin with the last one.
"""

import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from audit import canonical, durable
from audit.chain import Finding, distinct, findings, info_of, short
from audit.errors import Fault, FleetError, FolderError
from audit.fleet import checkpoint as notes
from audit.fleet import tree
from audit.fleet.checkpoint import FOLDER, SUFFIX, Checkpoint, beside
from audit.fleet.note import Verifier
from audit.folder import RunInfo
from audit.reader import opened
from audit.shapes import RUN_ID
from audit.verify import verify

LEAVES = "leaves"
_FIELDS = frozenset({"device", "head", "run", "run_seq"})
# with one of these among the logs there is no saying which heads are the fleet's
_FATAL = ("doubled", "forked", "unchained")


class Leaf(NamedTuple):
    """One run with its final head."""

    device: str
    run_seq: int
    run: str
    head: str

    @property
    def data(self) -> bytes:
        """The bytes that the tree's leaf is over: canonical JSON and one LF."""
        return canonical.spell(self._asdict()) + b"\n"


class Signed(NamedTuple):
    """What came of asking for a checkpoint: where it stands, the note, how many runs were added,
    the runs that are still open, what is not there any more."""

    path: Path
    text: str
    checkpoint: Checkpoint
    added: int
    still_open: tuple[str, ...]
    gone: tuple[Finding, ...]


def parse_leaf(data: bytes) -> Leaf:
    """The leaf in its bytes; raises `FleetError`."""
    try:
        value = canonical.read(data.removesuffix(b"\n"))
    except Fault as fault:
        raise FleetError(f"a leaf: {fault.why}") from None
    if (
        not data.endswith(b"\n")
        or type(value) is not dict
        or value.keys() != _FIELDS
        or not canonical.is_hex64(value["device"])
        or not canonical.is_hex64(value["head"])
        or type(value["run"]) is not str
        or not RUN_ID.fullmatch(value["run"])
        or type(value["run_seq"]) is not int
        or not 1 <= value["run_seq"] <= canonical.LARGEST_INTEGER
    ):
        raise FleetError("a leaf is a line with exactly device, head, run and run_seq")
    return Leaf(value["device"], value["run_seq"], value["run"], value["head"])


def read_leaves(path: Path) -> list[Leaf]:
    """The leaves in a file, none if there is no file; raises `FleetError`, `FolderError`."""
    try:
        if not path.exists():
            return []
        with opened(path) as stream:
            rows = stream.read().split(b"\n")
    except OSError as error:
        raise FolderError(f"{path}: cannot be read: {error.strerror or error}") from None
    if rows.pop() != b"":
        raise FleetError(f"{path}: its last line is incomplete")
    found = []
    for number, row in enumerate(rows):
        try:
            found.append(parse_leaf(row + b"\n"))
        except FleetError as error:
            raise FleetError(f"{path}, line {number}: {error}") from None
    return found


def hashes(leaves: Sequence[Leaf]) -> list[bytes]:
    """The leaf hashes of leaves."""
    return [tree.leaf_hash(leaf.data) for leaf in leaves]


def against(leaves: Sequence[Leaf], infos: Sequence[RunInfo]) -> list[Finding]:
    """What the logs are not any more that they were when their heads became leaves."""
    found = []
    for leaf in leaves:
        which = f"run {leaf.run_seq} of {short(leaf.device)}"
        here = [info for info in infos if _place(info) == _place(leaf)]
        if not here:
            why = f"{which}, {leaf.run}, which a fleet's index has"
            found.append(Finding("missing", leaf.device, leaf.run_seq, why))
        for info in here:
            if (info.run, info.head) != (leaf.run, leaf.head):
                why = f"{info.path} does not end as {which} did when a fleet's index took it"
                found.append(Finding("forked", leaf.device, leaf.run_seq, why))
    return found


def _place(one: RunInfo | Leaf) -> tuple[str, int]:
    return one.device, one.run_seq


def indexed(paths: Sequence[Path]) -> list[Finding]:
    """What `against` finds, for the folders among paths that have an index."""
    with_index = [path for path in paths if (path / FOLDER / LEAVES).exists()]
    if not with_index:
        return []
    infos = [info for info in map(info_of, distinct(paths)) if info is not None]
    return [
        found
        for path in with_index
        for found in against(read_leaves(path / FOLDER / LEAVES), infos)
    ]


def make(folder: Path, verifier: Verifier, signature: Callable[[bytes], bytes]) -> Signed:
    """Add the runs of a folder whose heads are final, and sign the tree; the last checkpoint again
    if nothing was added.

    `signature` gives the bare Ed25519 signature of bytes. Raises `FleetError`, and signs nothing,
    if a run does not hold, the logs contradict each other or the index, or the index does not begin
    with the tree that was signed last.
    """
    home = folder / FOLDER
    infos = [info for info in map(info_of, distinct([folder])) if info is not None]
    for found in findings([folder]):
        if found.code in _FATAL:
            raise FleetError(f"nothing is signed: {found.text()}")
    leaves = read_leaves(home / LEAVES)
    last = _last(folder, verifier, leaves)
    gone = tuple(against(leaves, infos))
    for found in gone:
        if found.code == "forked":
            raise FleetError(f"nothing is signed: {found.text()}")
    added, still_open = _final(infos, leaves)
    for info in added:
        verdict = verify(info.path, level="full", trust=None)
        if verdict.result == "rejected" or verdict.head != info.head:
            raise FleetError(f"nothing is signed: {verdict.text(str(info.path))}")
    new = [Leaf(info.device, info.run_seq, info.run, info.head) for info in added]
    if not leaves and not new:
        raise FleetError(f"{folder}: there is no run with a final head; nothing is signed")
    everything = hashes([*leaves, *new])
    now = Checkpoint(verifier.name, len(everything), tree.root(everything))
    if last is not None:
        path, before, text = last
        if before.size == now.size:
            return Signed(path, text, before, 0, still_open, gone)
        proof = tree.consistency_proof(before.size, everything)
        tree.check_consistency(before.size, now.size, before.root, now.root, proof)
    text = notes.sign(now, verifier, signature)
    path = home / f"{re.sub(r'[^A-Za-z0-9.-]+', '-', now.origin)}-{now.size}{SUFFIX}"
    try:
        home.mkdir(exist_ok=True)
        # the leaves first: what was signed can always be proven, a leaf too many harms nothing
        durable.extend(home / LEAVES, b"".join(leaf.data for leaf in new))
        if read_leaves(home / LEAVES) != [*leaves, *new]:
            raise FleetError(f"{home / LEAVES}: somebody else wrote there; nothing is handed out")
        durable.write_new(path, text.encode("utf-8"), 0o644)
    except OSError as error:
        raise FolderError(f"{home}: cannot be written: {error.strerror or error}") from None
    return Signed(path, text, now, len(new), still_open, gone)


def _last(
    folder: Path, verifier: Verifier, leaves: Sequence[Leaf]
) -> tuple[Path, Checkpoint, str] | None:
    ours = [one for one in beside(folder) if one[1].origin == verifier.name]
    if not ours:
        return None
    path, last, text = max(ours, key=lambda one: one[1].size)
    try:
        notes.verified(text, [verifier])
    except FleetError as error:
        raise FleetError(f"nothing is signed: {path}: {error}") from None
    known = hashes(leaves[: last.size])
    if len(known) < last.size or tree.root(known) != last.root:
        raise FleetError(
            f"nothing is signed: {folder / FOLDER / LEAVES} does not begin with what {path.name} "
            "was signed over; bring that file back"
        )
    return path, last, text


def _final(
    infos: Sequence[RunInfo], leaves: Sequence[Leaf]
) -> tuple[list[RunInfo], tuple[str, ...]]:
    known = set(map(_place, leaves))
    there = set(map(_place, infos))
    added, still_open = [], []
    for info in sorted(infos, key=_place):
        if _place(info) in known:
            continue
        if info.closed or (info.device, info.run_seq + 1) in there:
            added.append(info)
        else:
            still_open.append(info.run)
    return added, tuple(still_open)
