"""Proofs in files: what they show, and that no change of them is taken."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit import canonical
from audit.errors import FleetError
from audit.fleet import index, proofs, tree
from audit.fleet.index import read_leaves
from audit.fleet.note import Verifier
from audit.folder import LogFolder
from tests.audit.fleet.keeper import ORIGIN, VERIFIER, leaf, sign
from tests.audit.helpers import Clock, Person, simple_log


@pytest.fixture
def runs(folder: LogFolder, crew: list[Person], clock: Clock) -> list[Path]:
    return [simple_log(folder, crew, clock, events=1) for _ in range(3)]


def test_every_run_is_proven(folder: LogFolder, runs: list[Path]) -> None:
    made = sign(folder.path)
    leaves = read_leaves(folder.path / "fleet" / "leaves")
    for number, path in enumerate(runs):
        text = proofs.inclusion(leaf(path), leaves, made.text)
        assert text.startswith("c2sp.org/tlog-proof@v1\nextra ")
        assert text.endswith(made.text)
        proven = proofs.check_inclusion(text, [VERIFIER])
        assert proven == (leaf(path), number, made.checkpoint)


def test_a_run_that_is_not_there_is_not_proven(folder: LogFolder, runs: list[Path]) -> None:
    made = sign(folder.path)
    leaves = read_leaves(folder.path / "fleet" / "leaves")
    with pytest.raises(FleetError, match="not among the 3 runs"):
        proofs.inclusion(leaf(runs[0])._replace(head="0" * 64), leaves, made.text)
    with pytest.raises(FleetError, match="not those of the checkpoint"):
        proofs.inclusion(leaf(runs[0]), leaves[::-1], made.text)
    with pytest.raises(FleetError, match="not those of the checkpoint"):
        proofs.inclusion(leaf(runs[0]), leaves[:2], made.text)


def test_no_change_of_a_proof_is_taken(folder: LogFolder, runs: list[Path]) -> None:
    made = sign(folder.path)
    leaves = read_leaves(folder.path / "fleet" / "leaves")
    good = proofs.inclusion(leaf(runs[1]), leaves, made.text)
    for at in range(len(good)):
        with pytest.raises(FleetError):
            proofs.check_inclusion(good[:at] + good[at + 1 :], [VERIFIER])
        other = chr(ord(good[at]) ^ 1)
        with pytest.raises(FleetError):
            proofs.check_inclusion(good[:at] + other + good[at + 1 :], [VERIFIER])
    with pytest.raises(FleetError, match="no known key"):
        proofs.check_inclusion(good, [Verifier(ORIGIN, Person("X").key)])
    with pytest.raises(FleetError, match="no inclusion proof"):
        proofs.check_inclusion("", [VERIFIER])


def test_no_change_of_a_consistency_proof_is_taken(
    folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock
) -> None:
    old = sign(folder.path).checkpoint
    simple_log(folder, crew, clock)
    simple_log(folder, crew, clock)
    new = sign(folder.path).checkpoint
    leaves = read_leaves(folder.path / "fleet" / "leaves")
    good = proofs.consistency(old, new, leaves)
    for at in range(len(good)):
        with pytest.raises(FleetError):
            proofs.check_consistency(good[:at] + good[at + 1 :], old, new)
        other = chr(ord(good[at]) ^ 1)
        with pytest.raises(FleetError):
            proofs.check_consistency(good[:at] + other + good[at + 1 :], old, new)
    with pytest.raises(FleetError, match="two origins"):
        proofs.check_consistency(good, old._replace(origin="other"), new)
    with pytest.raises(FleetError, match="not for these two"):
        proofs.check_consistency(good, new, old)
    with pytest.raises(FleetError, match="the older checkpoint has 5"):
        proofs.consistency(new, old, leaves)
    same = proofs.consistency(old, old, leaves)
    proofs.check_consistency(same, old, old)


def test_a_rewritten_history_is_not_consistent(
    tmp_path: Path, folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock
) -> None:
    """Somebody with the machine and the fleet's key begins a new index over other runs."""
    old = sign(folder.path).checkpoint
    with LogFolder.open(tmp_path / "other") as elsewhere:
        for _ in range(5):
            simple_log(elsewhere, crew, clock)
        new = sign(elsewhere.path).checkpoint
    leaves = read_leaves(elsewhere.path / "fleet" / "leaves")
    with pytest.raises(FleetError):
        proofs.consistency(old, new, leaves)
    forged = "\n".join((
        proofs.CONSISTENCY, "old 3", "new 5",
        *(canonical.base64_text(step) for step in tree.consistency_proof(3, index.hashes(leaves))),
        "",
    ))  # fmt: skip
    with pytest.raises(FleetError, match="older checkpoint's root"):
        proofs.check_consistency(forged, old, new)


def test_a_proof_has_its_words_and_its_lines(
    folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock
) -> None:
    old = sign(folder.path)
    simple_log(folder, crew, clock)
    new = sign(folder.path)
    leaves = read_leaves(folder.path / "fleet" / "leaves")
    good = proofs.inclusion(leaf(runs[1]), leaves, new.text)
    first, extra, number = good.split("\n")[:3]
    for bad in (
        good.replace("index 1", "1"), good.replace("index 1", "index 01"),
        good.replace("extra ", ""),
        f"{first}\n\n{new.text}", f"{first}\n{extra}\n\n{new.text}", f"{first}\n{extra}\n{number}",
        good + "x", good + "\n",
    ):  # fmt: skip
        with pytest.raises(FleetError):
            proofs.check_inclusion(bad, [VERIFIER])
    good = proofs.consistency(old.checkpoint, new.checkpoint, leaves)
    for bad in (
        good.replace("old 3", "3"), good.replace("new 4", "4"), good + "x", good + "\n",
        good[:-1], f"{proofs.CONSISTENCY}\n", f"{proofs.CONSISTENCY}\nold 3\n", "",
    ):  # fmt: skip
        with pytest.raises(FleetError):
            proofs.check_consistency(bad, old.checkpoint, new.checkpoint)


def test_the_only_run_of_a_tree_is_proven_without_a_hash(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    log = simple_log(folder, crew, clock)
    made = sign(folder.path)
    text = proofs.inclusion(leaf(log), read_leaves(folder.path / "fleet" / "leaves"), made.text)
    assert text.split("\n\n")[0].endswith("\nindex 0")
    assert proofs.check_inclusion(text, [VERIFIER]) == (leaf(log), 0, made.checkpoint)
