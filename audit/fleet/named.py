"""A checkpoint, or a proof of inclusion that carries one, named by whoever verifies, with its key.

Rules: it counts only when a key that was named signed it; what merely lies beside a log is never
taken up. A proof has one leaf; a checkpoint has the leaves beside it, which must come to its root,
or none where there are none.
"""

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from audit.chain import Finding
from audit.errors import FleetError
from audit.fleet import checkpoint as notes
from audit.fleet.checkpoint import Checkpoint
from audit.fleet.index import LEAVES, Leaf, against, read_leaves
from audit.fleet.note import Verifier
from audit.fleet.proofs import INCLUSION, beginning, check_inclusion
from audit.folder import RunInfo


class Named(NamedTuple):
    """A checkpoint whose signature holds, and leaves that are proven to be under it."""

    path: Path
    checkpoint: Checkpoint
    leaves: tuple[Leaf, ...]
    is_proof: bool

    def told(self, opening: Mapping[str, Any], head: str) -> str:
        """What it says of the log with this opening and last head; empty for a proof of others."""
        who = (
            f"the checkpoint of {self.checkpoint.origin} with {self.checkpoint.size} runs "
            f"({self.path.name}) is signed by its key"
        )
        place = (opening["device"], opening["run_seq"])
        for leaf in self.leaves:
            if (leaf.device, leaf.run_seq) == place:
                same = (leaf.run, leaf.head) == (opening["run"], head)
                return f"{who}, and has this run with {'this' if same else 'another'} end"
        if self.is_proof:
            return ""
        return f"{who}, {'but has not this run' if self.leaves else 'without a proof of this run'}"


def named(path: Path, known: Iterable[Verifier]) -> Named:
    """What a file comes to, by known keys; raises `FleetError`, `FolderError`."""
    text = notes.read_text(path)
    try:
        if text.startswith(f"{INCLUSION}\n"):
            proven = check_inclusion(text, known)
            return Named(path, proven.checkpoint, (proven.leaf,), is_proof=True)
        checkpoint = notes.verified(text, known)
    except FleetError as error:
        raise FleetError(f"{path}: {error}") from None
    leaves = path.parent / LEAVES
    own = beginning(read_leaves(leaves), checkpoint) if leaves.exists() else []
    return Named(path, checkpoint, tuple(own), is_proof=False)


def contradicted(one: Named, infos: Sequence[RunInfo], *, whole: bool) -> list[Finding]:
    """Where logs are not what a checkpoint was signed over; with `whole` also which are missing,
    of the devices that any log is of."""
    devices = {info.device for info in infos}
    leaves = [leaf for leaf in one.leaves if leaf.device in devices or not devices]
    return [found for found in against(leaves, infos) if whole or found.code != "missing"]
