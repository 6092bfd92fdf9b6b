"""A fleet's checkpoints: what becomes a leaf, what keeps one from being signed, what is proven."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from audit import canonical, durable, together
from audit.errors import FleetError, FolderError
from audit.fleet import checkpoint as notes
from audit.fleet import index, proofs, tree
from audit.fleet.checkpoint import Checkpoint, newest
from audit.fleet.index import Leaf, make, read_leaves
from audit.fleet.note import Verifier
from audit.folder import LogFolder
from audit.recovery import recover
from audit.verify import verify
from audit.writer import LogWriter
from tests.audit.fleet.keeper import KEEPER, ORIGIN, VERIFIER, leaf, sign
from tests.audit.helpers import Clock, Person, event, opening, simple_log, trust_in


@pytest.fixture
def runs(folder: LogFolder, crew: list[Person], clock: Clock) -> list[Path]:
    return [simple_log(folder, crew, clock, events=1) for _ in range(3)]


def test_the_first_checkpoint(folder: LogFolder, runs: list[Path]) -> None:
    made = sign(folder.path)
    leaves = read_leaves(folder.path / "fleet" / "leaves")
    assert leaves == [leaf(path) for path in runs]
    assert made.checkpoint == Checkpoint(ORIGIN, 3, tree.root(index.hashes(leaves)))
    assert (made.added, made.still_open, made.gone) == (3, (), ())
    assert made.path.name == "tarn-valley.example-fleet-3.checkpoint"
    assert made.path.read_text("utf-8") == made.text
    assert notes.verified(made.text, [VERIFIER]) == made.checkpoint
    assert made.text.startswith(f"{ORIGIN}\n3\n")
    assert newest(folder.path) == made.checkpoint
    # nothing new: the same checkpoint again
    again = sign(folder.path)
    assert (again.text, again.added) == (made.text, 0)
    assert len(list(made.path.parent.glob("*.checkpoint"))) == 1


def test_a_leaf_is_the_bytes_that_the_format_says(runs: list[Path]) -> None:
    one = leaf(runs[0])
    assert one.data == (
        f'{{"device":"{one.device}","head":"{one.head}","run":"{one.run}","run_seq":1}}\n'
    ).encode("ascii")
    assert index.parse_leaf(one.data) == one


def test_a_later_checkpoint_extends_the_one_before(
    folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock
) -> None:
    first = sign(folder.path)
    more = [simple_log(folder, crew, clock) for _ in range(4)]
    second = sign(folder.path)
    assert (second.added, second.checkpoint.size) == (4, 7)
    leaves = read_leaves(folder.path / "fleet" / "leaves")
    assert leaves == [leaf(path) for path in (*runs, *more)]
    proof = proofs.consistency(first.checkpoint, second.checkpoint, leaves)
    proofs.check_consistency(proof, first.checkpoint, second.checkpoint)
    assert proof.startswith("latchword/fleet/consistency@v1\nold 3\nnew 7\n")
    assert first.path.exists()
    assert newest(folder.path) == second.checkpoint


def test_the_order_is_by_device_then_by_run(
    tmp_path: Path, folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock
) -> None:
    desk = tmp_path / "desk"
    desk.mkdir()
    with LogFolder.open(tmp_path / "other") as elsewhere:
        others = [simple_log(elsewhere, crew, clock) for _ in range(2)]
        for path in (*runs, *others):
            shutil.copy(path, desk)
        sign(desk)
        third = simple_log(elsewhere, crew, clock)
    fourth = simple_log(folder, crew, clock)
    shutil.copy(third, desk)
    shutil.copy(fourth, desk)
    sign(desk)
    leaves = read_leaves(desk / "fleet" / "leaves")
    first, later = leaves[:5], leaves[5:]
    assert first == sorted(map(leaf, (*runs, *others)))
    assert later == sorted(map(leaf, (third, fourth)))


def test_a_run_that_is_open_has_no_final_head(
    folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    writer.event(event(), clock())
    writer.stop()
    made = sign(folder.path)
    assert (made.added, made.still_open) == (3, (writer.run,))
    # once the next run is there, nobody can go on with it
    simple_log(folder, crew, clock)
    made = sign(folder.path)
    assert (made.added, made.still_open) == (2, ())


def test_a_folder_without_a_final_head_gets_no_checkpoint(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    with pytest.raises(FleetError, match="no run with a final head"):
        sign(folder.path)
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    writer.stop()
    with pytest.raises(FleetError, match="no run with a final head"):
        sign(folder.path)
    assert not (folder.path / "fleet").exists()


def test_a_log_that_does_not_hold_is_not_signed_for(folder: LogFolder, runs: list[Path]) -> None:
    runs[1].write_bytes(runs[1].read_bytes().replace(b'"1600"', b'"1700"', 1))
    with pytest.raises(FleetError, match=r"nothing is signed: rejected .*line 3"):
        sign(folder.path)
    assert not (folder.path / "fleet").exists()


@pytest.mark.parametrize("what", ["doubled", "forked", "unchained"])
def test_logs_that_contradict_each_other_are_not_signed_for(
    folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock, tmp_path: Path, what: str
) -> None:
    if what == "doubled":
        shutil.copy(runs[1], folder.path / "copy.jsonl")
    elif what == "forked":
        kept = shutil.move(runs[2], tmp_path / "kept.jsonl")
        simple_log(folder, crew, clock)
        shutil.copy(kept, folder.path / "kept.jsonl")
    else:
        rows = runs[1].read_bytes().splitlines(keepends=True)
        runs[1].write_bytes(b"".join(rows[:-1]))
    with pytest.raises(FleetError, match=f"nothing is signed: {what}"):
        sign(folder.path)


def test_a_run_that_the_index_has_must_end_as_it_did(
    folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock
) -> None:
    sign(folder.path)
    runs[2].unlink()
    simple_log(folder, crew, clock, events=2)
    assert [found.code for found in together.look([folder.path], []).findings] == ["forked"]
    with pytest.raises(FleetError, match=r"nothing is signed: forked: .* does not end as run 3"):
        sign(folder.path)


def test_a_run_that_the_index_has_and_the_folder_has_not(
    folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock
) -> None:
    """The newest run deleted: the index is a witness, and the checkpoint that was published."""
    sign(folder.path)
    runs[2].unlink()
    (found,) = together.look([folder.path], []).findings
    assert (found.code, found.run_seq) == ("missing", 3)
    assert "which a fleet's index has" in found.why
    assert [one.code for one in sign(folder.path).gone] == ["missing"]


@pytest.mark.parametrize("how", ["changed", "shortened", "gone", "swapped"])
def test_an_index_that_does_not_begin_as_it_was_signed(
    folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock, how: str
) -> None:
    sign(folder.path)
    path = folder.path / "fleet" / "leaves"
    rows = path.read_bytes().splitlines(keepends=True)
    if how == "gone":
        path.unlink()
    elif how == "shortened":
        path.write_bytes(b"".join(rows[:2]))
    elif how == "swapped":
        path.write_bytes(b"".join([rows[1], rows[0], rows[2]]))
    else:
        other = leaf(runs[0])._replace(head="0" * 64, device="1" * 64)
        path.write_bytes(b"".join([other.data, *rows[1:]]))
    simple_log(folder, crew, clock)
    with pytest.raises(FleetError, match="does not begin with what"):
        sign(folder.path)


def test_the_last_checkpoint_must_be_signed_by_the_same_key(
    folder: LogFolder, runs: list[Path]
) -> None:
    made = sign(folder.path)
    other = Person("Another")
    with pytest.raises(FleetError, match=r"nothing is signed: .*no known key"):
        make(folder.path, Verifier(ORIGIN, other.key), other.private.sign)
    made.path.write_text(made.text.replace("\n3\n", "\n2\n"), "utf-8")
    with pytest.raises(FleetError, match="does not fit the note"):
        sign(folder.path)


def test_a_power_cut_between_the_leaves_and_the_note(
    folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    sign(folder.path)
    simple_log(folder, crew, clock)
    with monkeypatch.context() as broken:
        broken.setattr("audit.durable.write_new", _full)
        with pytest.raises(FolderError, match="cannot be written"):
            sign(folder.path)
    assert len(read_leaves(folder.path / "fleet" / "leaves")) == 4
    made = sign(folder.path)
    assert (made.checkpoint.size, made.added) == (4, 0)


def test_two_who_sign_at_once(
    folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    sign(folder.path)
    simple_log(folder, crew, clock)
    extend = durable.extend

    def twice(path: Path, rows: bytes) -> None:
        extend(path, rows)
        extend(path, rows)

    with monkeypatch.context() as raced:
        raced.setattr(durable, "extend", twice)
        with pytest.raises(FleetError, match="somebody else wrote there"):
            sign(folder.path)
    assert len(list((folder.path / "fleet").glob("*.checkpoint"))) == 1
    # a leaf that stands there twice is in the tree twice, and that is all
    made = sign(folder.path)
    assert (made.checkpoint.size, made.gone) == (5, ())


def _full(*_: object) -> None:
    raise OSError(28, "No space left on device")


@pytest.mark.parametrize(
    "row",
    [
        b"{}\n", b"x\n", b"\n", b'{"device":"1","head":"2","run":"aa","run_seq":1}\n',
        Leaf("1" * 64, 0, "aa", "2" * 64).data, Leaf("1" * 64, 1, "A", "2" * 64).data,
        Leaf("1" * 64, 1, "aa", "2" * 64).data[:-1],
        b" " + Leaf("1" * 64, 1, "aa", "2" * 64).data,
    ],
    ids=range(8),
)  # fmt: skip
def test_what_is_no_leaf(tmp_path: Path, row: bytes) -> None:
    (tmp_path / "leaves").write_bytes(row)
    with pytest.raises(FleetError):
        read_leaves(tmp_path / "leaves")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (f"{ORIGIN}\n0\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\n", "size 0"),
        (f"{ORIGIN}\n01\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\n", "three lines"),
        (f"{ORIGIN}\n1\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU\n", "does not decode"),
        (f"{ORIGIN}\n1\nAAAA\n", "holds 3 bytes"),
        (f"{ORIGIN}\n1\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\nmore\n", "three lines"),
        ("\n1\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\n", "three lines"),
        (f"{ORIGIN}\n1\n", "three lines"),
    ],
)
def test_what_is_no_checkpoint(text: str, why: str) -> None:
    with pytest.raises(FleetError, match=why):
        notes.parse_text(text)


def test_the_published_checkpoint_is_read() -> None:
    """The example of C2SP tlog-checkpoint, `tlog-checkpoint.md`."""
    text = (
        "example.com/behind-the-sofa\n20852163\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n\n"
        "— example.com/behind-the-sofa Az3grlgtzPICa5OS8npVmf1Myq/5IZniMp+ZJurmRDeOoRDe4URYN7u5/Zh"
        "cyv2q1gGzGku9nTo+zyWE+xeMcTOAYQ8=\n"
    )
    root = canonical.base64_bytes("CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=", 32)
    assert notes.peek(text) == Checkpoint("example.com/behind-the-sofa", 20852163, root)


def test_a_checkpoint_is_signed_by_its_own_origin(folder: LogFolder, runs: list[Path]) -> None:
    checkpoint = sign(folder.path).checkpoint
    other = Verifier("other.example", KEEPER.key)
    text = notes.sign(checkpoint, other, KEEPER.private.sign)
    with pytest.raises(FleetError, match="must be signed by its own key, not only by other"):
        notes.verified(text, [other, VERIFIER])


def test_the_opening_names_a_checkpoint(
    folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock
) -> None:
    made = sign(folder.path)
    log = simple_log(folder, crew, clock, checkpoint=made.checkpoint.as_opening())
    found = verify(log, level="full", trust=trust_in(crew))
    assert found.result == "closed"
    assert found.notes == (
        f"the checkpoint of {ORIGIN} with 3 runs lies beside the log; whose it is was not asked "
        "(--checkpoint)",
    )
    kept = made.path.read_text("utf-8")
    made.path.unlink()
    found = verify(log, level="full", trust=trust_in(crew))
    assert found.notes == (f"the checkpoint of {ORIGIN} with 3 runs is not beside the log",)
    # another tree of the same size and origin: two histories
    forged = Checkpoint(ORIGIN, 3, tree.leaf_hash(b"other"))
    made.path.write_text(notes.sign(forged, VERIFIER, KEEPER.private.sign), "utf-8")
    found = verify(log, level="full", trust=trust_in(crew))
    assert (found.result, found.code, found.line) == ("rejected", "checkpoint", 0)
    made.path.write_text(kept[:-9], "utf-8")
    assert verify(log, level="full", trust=trust_in(crew)).code == "checkpoint"


def test_a_run_taken_up_again_after_its_checkpoint_is_seen(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    """A run was left, its successor deleted after the checkpoint, and it was gone on with."""
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    writer.stop()
    successor = simple_log(folder, crew, clock)
    sign(folder.path)
    successor.unlink()
    LogWriter.resume(recover(folder, writer.run), clock(), None).stop()
    codes = sorted(found.code for found in together.look([folder.path], []).findings)
    assert codes == ["forked", "missing"]
