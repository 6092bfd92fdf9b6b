"""Limits and answers that stand alone, of what stands beside logs and over many of them."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from audit import canonical, chain, together, verify
from audit.errors import AuditError, FleetError, FolderError
from audit.fleet import checkpoint as notes
from audit.fleet import index, note, proofs, tree
from audit.fleet.checkpoint import Checkpoint
from audit.fleet.named import Named, named
from audit.fleet.note import Verifier
from audit.folder import DEVICE_FILE, LogFolder
from audit.trust import Trust
from tests.audit.fleet.keeper import KEEPER, ORIGIN, VERIFIER, sign
from tests.audit.helpers import Clock, Person, saved_states, simple_log, trust_in


def test_the_identity_of_a_folder_that_cannot_be_read(tmp_path: Path) -> None:
    (tmp_path / DEVICE_FILE).mkdir()
    with pytest.raises(FolderError, match=rf"{DEVICE_FILE}: cannot be read: "):
        chain.findings([tmp_path])


def test_a_file_that_is_no_log_is_nothing_to_a_checkpoint(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    simple_log(folder, crew, clock)
    made = sign(folder.path)
    (folder.path / "a-note.jsonl").write_bytes(b"no log\n")
    found = together.look([folder.path], [], [named(made.path, [VERIFIER])])
    assert [one.code for one in found.findings] == ["foreign"]


def test_of_several_checkpoints_the_one_that_is_named_is_compared(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    simple_log(folder, crew, clock)
    made = sign(folder.path)
    log = simple_log(folder, crew, clock, checkpoint=made.checkpoint.as_opening())
    later = sign(folder.path)
    assert later.checkpoint.size == 2
    fleet: list[Named] = [named(one.path, [VERIFIER]) for one in (made, later)]
    for known in ([], fleet, fleet[1:]):
        found = verify.verify(log, level="full", trust=Trust(trust_in(crew).lines, fleet=known))
        assert (found.result, found.code) == ("closed", "")
    (later.path.parent / f"x{notes.SUFFIX}").mkdir()
    found = verify.verify(log, level="full", trust=trust_in(crew))
    assert (found.result, found.code) == ("rejected", "checkpoint")
    assert "cannot be read" in found.why


def test_another_origin_beside_is_none_of_ours(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    simple_log(folder, crew, clock)
    other = Verifier("other.example/fleet", KEEPER.key)
    index.make(folder.path, other, KEEPER.private.sign)
    made = sign(folder.path)
    assert (made.checkpoint.origin, made.checkpoint.size, made.added) == (ORIGIN, 1, 0)


def test_a_checkpoint_of_more_leaves_than_its_root_is_over(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    simple_log(folder, crew, clock)
    made = sign(folder.path)
    leaves = index.read_leaves(made.path.parent / index.LEAVES)
    # rightly signed, and not true: the root is that of one leaf
    lie = Checkpoint(ORIGIN, 2, made.checkpoint.root)
    with pytest.raises(FleetError, match="are not those of the checkpoint"):
        proofs.beginning(leaves, lie)
    path = made.path.with_name(f"lie{notes.SUFFIX}")
    path.write_text(notes.sign(lie, VERIFIER, KEEPER.private.sign), "utf-8")
    with pytest.raises(FleetError, match="does not begin with what lie"):
        sign(folder.path)


def test_signatures_without_a_text_are_no_note() -> None:
    raw = canonical.base64_text(VERIFIER.id + bytes(64))
    with pytest.raises(FleetError, match="this is no signed note"):
        note.split(f"— {VERIFIER.name} {raw}\n")


def test_an_inclusion_proof_without_a_note_is_none() -> None:
    row = canonical.base64_text(b"x")
    with pytest.raises(FleetError, match="this is no inclusion proof"):
        proofs.check_inclusion(f"{proofs.INCLUSION}\nextra {row}\nindex 0", [VERIFIER])


def test_a_key_of_notes_is_given_as_text_or_as_a_file(tmp_path: Path) -> None:
    path = tmp_path / "key"
    assert notes.key_given(VERIFIER.text) == VERIFIER
    path.write_text(VERIFIER.text + "\n", "utf-8")
    assert notes.key_given(str(path)) == VERIFIER
    with pytest.raises(FolderError, match=r"a key of notes is NAME.ID.KEY, or a file of that"):
        notes.key_given(str(tmp_path / "gone"))


def test_a_tree_has_its_root_whatever_its_size() -> None:
    assert tree.root([]) == tree.EMPTY_ROOT
    with pytest.raises(AuditError):
        tree.check_inclusion(0, 1, bytes(32), [bytes(32)], bytes(32))


class _Broken(io.BytesIO):
    def readline(self, size: int | None = -1, /) -> bytes:
        raise OSError(5, "")


def test_a_log_that_breaks_off_in_reading_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "x.jsonl"
    with pytest.raises(FolderError, match=r"x\.jsonl: cannot be read: "):
        saved_states(path, [])
    path.write_bytes(b"x\n")
    monkeypatch.setattr(verify, "_opened", lambda _: _Broken(b"x\n"))
    with pytest.raises(FolderError, match=r"x\.jsonl: cannot be read: "):
        verify.verify(path, level="full", trust=None)
