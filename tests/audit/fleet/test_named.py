"""A checkpoint or a proof that whoever verifies names: only then, and only by its key, does it
count."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from audit import together
from audit.__main__ import main
from audit.errors import FleetError
from audit.fleet import checkpoint as notes
from audit.fleet import proofs, tree
from audit.fleet.checkpoint import Checkpoint
from audit.fleet.index import read_leaves
from audit.fleet.named import named
from audit.fleet.note import Verifier
from audit.folder import LogFolder
from audit.trust import Trust, trust_key
from audit.verify import verify
from tests.audit.fleet.keeper import KEEPER, ORIGIN, VERIFIER, leaf, sign
from tests.audit.helpers import Clock, Person, simple_log, trust_in

WHICH = f"the checkpoint of {ORIGIN} with 2 runs"


@pytest.fixture
def runs(folder: LogFolder, crew: list[Person], clock: Clock) -> list[Path]:
    return [simple_log(folder, crew, clock, events=1) for _ in range(2)]


def notes_on(log: Path, crew: list[Person], *files: Path) -> tuple[str, ...]:
    trust = Trust(trust_in(crew).lines, fleet=[named(file, [VERIFIER]) for file in files])
    found = verify(log, level="full", trust=trust)
    assert found.result == "closed"
    return found.notes


def test_a_checkpoint_that_is_named_tells_of_each_run(
    folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock, tmp_path: Path
) -> None:
    made = sign(folder.path)
    signed = f"{WHICH} ({made.path.name}) is signed by its key"
    assert notes_on(runs[1], crew) == ()
    assert notes_on(runs[1], crew, made.path) == (f"{signed}, and has this run with this end",)
    later = simple_log(folder, crew, clock, checkpoint=made.checkpoint.as_opening())
    assert notes_on(later, crew, made.path) == (
        f"{signed}, but has not this run",
        f"the opening names {WHICH}, and its key signed that",
    )
    # away from its leaves it proves nothing of a run
    away = Path(shutil.copy(made.path, tmp_path / "away.checkpoint"))
    assert notes_on(runs[1], crew, away)[0].endswith("without a proof of this run")
    # a proof is of one run, and says nothing of the others
    proof = tmp_path / "proof"
    leaves = read_leaves(made.path.parent / "leaves")
    proof.write_text(proofs.inclusion(leaf(runs[1]), leaves, made.text), "utf-8")
    assert notes_on(runs[0], crew, proof) == ()
    assert notes_on(runs[1], crew, proof) == (
        f"{WHICH} ({proof.name}) is signed by its key, and has this run with this end",
    )


def test_one_that_merely_lies_there_is_not_trusted_and_that_is_said(
    folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock
) -> None:
    """Anybody with the files can write the note; its root alone is compared."""
    other = Verifier(ORIGIN, Person("A Thief").key)
    made = sign(folder.path)
    log = simple_log(folder, crew, clock, checkpoint=made.checkpoint.as_opening())
    said = (f"{WHICH} lies beside the log; whose it is was not asked (--checkpoint)",)
    assert notes_on(log, crew) == said
    text = made.path.read_text("utf-8").replace(VERIFIER.id.hex(), other.id.hex())
    rows = text.rpartition(" ")[0]
    made.path.write_text(f"{rows} {'A' * 92}\n", "utf-8")
    assert notes_on(log, crew) == said
    with pytest.raises(FleetError, match="signed by no known key"):
        named(made.path, [VERIFIER])


def test_a_root_other_than_the_openings_is_rejected_also_where_the_checkpoint_lies_elsewhere(
    folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock, tmp_path: Path
) -> None:
    made = sign(folder.path)
    log = simple_log(folder, crew, clock, checkpoint=made.checkpoint.as_opening())
    forged = Checkpoint(ORIGIN, 2, tree.leaf_hash(b"another history"))
    elsewhere = tmp_path / "kept.checkpoint"
    elsewhere.write_text(notes.sign(forged, VERIFIER, KEEPER.private.sign), "utf-8")
    trust = Trust(trust_in(crew).lines, fleet=[named(elsewhere, [VERIFIER])])
    found = verify(log, level="full", trust=trust)
    assert (found.result, found.code, found.line, found.offset) == ("rejected", "checkpoint", 0, 0)
    assert "has another root than the opening names" in found.why


def test_what_is_no_witness_is_refused(folder: LogFolder, runs: list[Path], tmp_path: Path) -> None:
    made = sign(folder.path)
    stranger = Verifier(ORIGIN, Person("A Thief").key)
    proof = tmp_path / "proof"
    leaves = made.path.parent / "leaves"
    text = proofs.inclusion(leaf(runs[0]), read_leaves(leaves), made.text)
    proof.write_text(text, "utf-8")
    for path in (made.path, proof):
        with pytest.raises(FleetError, match=f"{path.name}: the note is signed by no known key"):
            named(path, [stranger])
    proof.write_text(text.replace("index 0", "index 1"), "utf-8")
    with pytest.raises(FleetError, match="does not lead to the checkpoint's root"):
        named(proof, [VERIFIER])
    leaves.write_bytes(b"".join(leaves.read_bytes().splitlines(keepends=True)[::-1]))
    with pytest.raises(FleetError, match="not those of the checkpoint"):
        named(made.path, [VERIFIER])


def test_it_is_a_witness_of_what_is_gone_and_of_another_end(
    folder: LogFolder, runs: list[Path], crew: list[Person], tmp_path: Path
) -> None:
    kept = tmp_path / "kept"
    made = sign(folder.path)
    shutil.copytree(made.path.parent, kept)
    shutil.rmtree(made.path.parent)
    one = named(kept / made.path.name, [VERIFIER])
    assert together.look([folder.path], [], [one]).findings == ()
    whole = runs[1].read_bytes()
    runs[1].write_bytes(b"".join(whole.splitlines(keepends=True)[:-1]))
    (found,) = together.look(runs, [], [one]).findings
    assert (found.code, found.run_seq) == ("forked", 2)
    # that a run is missing is said of a folder, not of some logs of it
    runs[1].unlink()
    assert together.look(runs[:1], [], [one]).findings == ()
    assert [f.code for f in together.look([folder.path], [], [one]).findings] == ["missing"]
    # runs of other devices are none of this folder's business
    with LogFolder.open(tmp_path / "other") as other:
        simple_log(other, crew, Clock())
    assert together.look([other.path], [], [one]).findings == ()


def test_an_index_beside_and_a_checkpoint_named_tell_a_thing_once(
    folder: LogFolder, runs: list[Path]
) -> None:
    made = sign(folder.path)
    runs[1].unlink()
    one = named(made.path, [VERIFIER])
    assert [f.code for f in together.look([folder.path], [], [one]).findings] == ["missing"]


def test_as_a_command(
    folder: LogFolder, runs: list[Path], crew: list[Person], tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    trust = tmp_path / "allowed_signers"
    for person in crew:
        trust_key(trust, person.name, person.public_line)
    made = sign(folder.path)
    key_file = tmp_path / "fleet.vkey"
    key_file.write_text(VERIFIER.text + "\n", "utf-8")
    words = ["verify", str(folder.path), "--trust", str(trust), "--checkpoint", str(made.path)]
    for key in (VERIFIER.text, str(key_file)):
        assert main([*words, "--vkey", key, "--json"]) == 0
        rows = [json.loads(row) for row in capsys.readouterr().out.splitlines()]
        assert len(rows) == 2
        for row in rows:
            assert row["notes"][-1].endswith("is signed by its key, and has this run with this end")
    assert main([*words, "--vkey", Verifier(ORIGIN, Person("x").key).text]) == 1
    assert "signed by no known key" in capsys.readouterr().err
    for wrong in (words, [*words[:-2], "--vkey", VERIFIER.text]):
        with pytest.raises(SystemExit) as left:
            main(wrong)
        assert left.value.code == 2
        assert together.PAIR in capsys.readouterr().err
