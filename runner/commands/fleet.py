"""`fleet`: a signed head over many runs, and proofs that need neither the logs nor this machine.

Rules: what is handed out was checked first; a checkpoint is believed by the key of notes that
whoever checks names, never by one that lies beside it; data on standard output.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from pathlib import Path

from audit.chain import info_of
from audit.errors import FleetError
from audit.fleet import checkpoint as notes
from audit.fleet import index, note, proofs
from audit.fleet.checkpoint import Checkpoint
from audit.fleet.index import LEAVES, Leaf
from audit.fleet.note import Verifier
from audit.folder import RunInfo
from runner.commands.looking import log_of
from runner.commands.running import Options
from runner.commands.signing import keyring, patiently, say
from runner.host.places import PlaceFault

ASKED_AS = "the fleet key"


def checkpoint(folder: Path, key: Path, origin: str, environment: Mapping[str, str]) -> int:
    """Adds the runs of a folder that have ended, and signs the tree over all of them; through the
    agent where it holds the key."""
    if not folder.is_dir():
        raise PlaceFault(f"{folder}: there is no such folder of logs")
    note.check_name(origin)
    keeper = keyring(environment).named(key, ASKED_AS)
    verifier = Verifier(origin, keeper.key)
    made = index.make(
        folder, verifier, lambda message: patiently(partial(keeper.sign_bare, message))
    )
    print(made.text, end="")
    for finding in made.gone:
        say(finding.text())
    if made.still_open:
        say(f"left out until they have ended: {', '.join(made.still_open)}")
    runs = "1 run" if made.added == 1 else f"{made.added} runs"
    say(f"{made.path}: {runs} added, {made.checkpoint.size} in all")
    say(f"whoever checks it needs this key of notes: {verifier.text}")
    return 0


def prove(run_id: str, options: Options, at: Path, out: Path | None) -> int:
    """The proof that a run with its final head is in a checkpoint's tree."""
    info = _info(log_of(run_id, options))
    leaf = Leaf(info.device, info.run_seq, info.run, info.head)
    text = proofs.inclusion(leaf, _leaves_beside(at), notes.read_text(at))
    _hand_out(text, out)
    return 0


def check(proof: Path, key: str, log: Path | None) -> int:
    """Checks an inclusion proof by the key of notes; against a log, if one is named."""
    proven = proofs.check_inclusion(notes.read_text(proof), [notes.key_given(key)])
    leaf = proven.leaf
    if log is not None:
        info = _info(log)
        if (info.device, info.run_seq, info.run, info.head) != tuple(leaf):
            raise FleetError(f"{log}: does not end as the proof says of {leaf.run}")
    print(
        f"proven {leaf.run}: run {leaf.run_seq} of device {leaf.device}, head {leaf.head}, is leaf "
        f"{proven.number} of {proven.checkpoint.size} signed by {proven.checkpoint.origin}"
    )
    return 0


def consistent(old: Path, new: Path, key: str, proof: Path | None, out: Path | None) -> int:
    """Whether one checkpoint extends another: by a proof that is given, or by one made here."""
    known = [notes.key_given(key)]
    before, after = (_verified(path, known) for path in (old, new))
    if proof is not None:
        text = notes.read_text(proof)
    else:
        text = proofs.consistency(before, after, _leaves_beside(new))
    proofs.check_consistency(text, before, after)
    if out is not None:
        _hand_out(text, out)
    print(
        f"consistent: the {after.size} runs of {new} begin with the {before.size} of {old}, "
        f"signed by {after.origin}"
    )
    return 0


def _verified(path: Path, known: list[Verifier]) -> Checkpoint:
    try:
        return notes.verified(notes.read_text(path), known)
    except FleetError as error:
        raise FleetError(f"{path}: {error}") from None


def _leaves_beside(path: Path) -> list[Leaf]:
    leaves = path.parent / LEAVES
    if not leaves.exists():
        raise PlaceFault(
            f"{leaves}: there is no such file; name the checkpoint in the folder where it was made"
        )
    return index.read_leaves(leaves)


def _info(log: Path) -> RunInfo:
    info = info_of(log)
    if info is None:
        raise FleetError(f"{log}: does not begin as a log")
    return info


def _hand_out(text: str, out: Path | None) -> None:
    if out is None:
        print(text, end="")
        return
    try:
        out.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise PlaceFault(f"{out}: cannot be written: {error.strerror}") from None
    say(f"{out}: written")
