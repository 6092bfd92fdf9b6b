"""Refusals that stand alone: each is met by an input that breaks nothing else.

They were found by taking each check away in turn (`mutants/`): without these tests it could go.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import orjson
import pytest

from audit import allowed, canonical, countersign, line, shapes, sshsig, stamps
from audit.errors import CountersignError, Fault, FleetError, FolderError, TrustError
from audit.fleet import checkpoint, index, note, proofs, tree
from audit.fleet.note import Verifier
from audit.stamps import Stamp
from audit.trust import Allowed, Trust, Witnessed, revoke_key, trust_key
from tests.audit.fleet.keeper import KEEPER, VERIFIER
from tests.audit.helpers import START_MS, Forge, Person, check, event, saved_states

ONE, TWO = Person("Maren Holt"), Person("Ines Roth")


def fault(code: str, call: Any, *arguments: Any, **more: Any) -> str:
    with pytest.raises(Fault) as caught:
        call(*arguments, **more)
    assert caught.value.code == code
    return caught.value.why


# OpenSSH structures


def test_a_structure_that_ends_too_early_is_no_shorter_one() -> None:
    assert "too early" in fault("sshsig", sshsig.Reader(b"ab").take, 3)
    assert "too early" in fault("sshsig", sshsig.Reader(b"\x00\x00\x00\x05ab").string)


@pytest.mark.parametrize("length", [31, 33])
def test_a_key_of_another_length(length: int) -> None:
    assert "32 bytes" in fault("sshsig", sshsig.parse_key_blob, sshsig.key_blob(b"\x07" * length))


def test_bytes_after_a_key_or_a_signature() -> None:
    assert "after its end" in fault(
        "sshsig", sshsig.parse_key_blob, sshsig.key_blob(ONE.key) + b"\x00"
    )
    blob = ONE.sign(sshsig.OPEN, b"m")
    assert "after its end" in fault("sshsig", sshsig.parse, blob + b"\x00")
    inner = sshsig.string(b"ssh-ed25519") + sshsig.string(bytes(64))
    longer = blob[: -len(sshsig.string(inner))] + sshsig.string(inner + b"\x00")
    assert "after its end" in fault("sshsig", sshsig.parse, longer)


def test_a_private_file_of_another_magic() -> None:
    fault("sshsig", sshsig.public_key_of_private_file, b"openssh-key-v2\x00" + bytes(64))


def test_armour_has_both_its_ends_and_is_ascii() -> None:
    rows = sshsig.armor(ONE.sign(sshsig.OPEN, b"m")).splitlines()
    sshsig.dearmor("\n".join(rows))
    for bad in (["x", *rows[1:]], [*rows[:-1], "x"], [rows[0], "é", rows[-1]]):
        fault("sshsig", sshsig.dearmor, "\n".join(bad))


def test_a_public_line_of_another_kind() -> None:
    other = ONE.public_line.replace("ssh-ed25519", "ssh-rsa")
    assert fault("sshsig", sshsig.parse_public_line, other).endswith(f"not {other[:24]!r}")
    assert fault("sshsig", sshsig.parse_public_line, "").endswith("not ''")


def test_a_name_in_another_normal_form() -> None:
    fault("profile", sshsig.check_name, "\u212bsa")  # the sign for angstrom, which is a letter


# lists of trusted keys


def test_of_many_faults_the_first_are_said(tmp_path: Path) -> None:
    path = tmp_path / "allowed_signers"
    path.write_text("x\n" * 23, "utf-8")
    with pytest.raises(TrustError) as caught:
        Trust.read(path)
    rows = str(caught.value).splitlines()
    assert len(rows) == 21
    assert rows[-1] == f"{path}: and 3 more lines"


def test_a_revocation_is_of_its_key_alone_and_counts_by_the_clock_too() -> None:
    lines = [
        Allowed(ONE.name, ONE.key, None, None, None),
        Allowed(TWO.name, TWO.key, None, None, None, START_MS),
    ]
    trust = Trust(lines, [Witnessed("a" * 64, START_MS - 5)])
    assert trust.revoked_ms(ONE.key) is None
    assert trust.revoked_ms(TWO.key) == START_MS
    find = trust.find
    assert find(TWO.name, TWO.key, sshsig.OPEN, START_MS, witnessed_ms=START_MS - 1)
    # known to a witness before, but dated after: one of the two is not true
    assert find(TWO.name, TWO.key, sshsig.OPEN, START_MS + 1, witnessed_ms=START_MS - 1) is None
    assert find(TWO.name, TWO.key, sshsig.OPEN, START_MS, witnessed_ms=START_MS) is None


def test_what_a_pattern_excludes_is_excluded() -> None:
    for principals in ("*,!Maren Holt", "!Maren Holt,*"):
        trust = Trust([Allowed(principals, ONE.key, None, None, None)])
        assert trust.find(ONE.name, ONE.key, sshsig.OPEN, START_MS) is None
        assert trust.find("Ines Roth", ONE.key, sshsig.OPEN, START_MS) is not None


def test_dates_leave_time_between_them(tmp_path: Path) -> None:
    path = tmp_path / "allowed_signers"
    for after, before in (("20270101Z", "20260101Z"), ("20260101Z", "20260101Z")):
        with pytest.raises(TrustError, match="is not before"):
            trust_key(path, ONE.name, ONE.public_line, valid_after=after, valid_before=before)
    assert not path.exists()
    assert trust_key(path, ONE.name, ONE.public_line, valid_after="20260101Z")
    assert trust_key(path, ONE.name, ONE.public_line, valid_before="20270101Z")


def test_nobody_is_revoked_by_a_name_that_is_not_there(tmp_path: Path) -> None:
    path = tmp_path / "allowed_signers"
    trust_key(path, ONE.name, ONE.public_line)
    before = path.read_bytes()
    with pytest.raises(TrustError, match="no key of 'Nobody' is there"):
        revoke_key(path, "Nobody", "20300101Z")
    assert path.read_bytes() == before


def test_dates_of_the_file_and_of_people() -> None:
    assert allowed.date_text("20261124Z") == "20261124Z"
    for bad in ("soon Z", "20261124", "2026-11-24 Z"):
        fault("trust", allowed.date_text, bad)
    for bad in ("99991232Z", "20261124240000Z"):
        assert "does not exist" in fault("trust", allowed.time_ms, bad)


# times


@pytest.mark.parametrize(
    "stamp",
    [
        Stamp(-1, 0, "b"), Stamp(stamps.LAST_WALL_MS + 1, 0, "b"), Stamp(1.0, 0, "b"),  # type: ignore[arg-type]
        Stamp(0, -1, "b"), Stamp(0, 2**53, "b"), Stamp(0, 1.0, "b"),  # type: ignore[arg-type]
        Stamp(0, 0, ""), Stamp(0, 0, "x" * 65), Stamp(0, 0, "a b"), Stamp(0, 0, 1),  # type: ignore[arg-type]
    ],
    ids=str,
)  # fmt: skip
def test_a_time_outside_its_range(stamp: Stamp) -> None:
    fault("stamp", stamps.check_stamp, stamp)
    stamps.check_stamp(Stamp(stamps.LAST_WALL_MS, 2**53 - 1, "x" * 64))
    stamps.check_stamp(Stamp(0, 0, "b"))


# canonical values


def test_what_no_json_can_hold_is_our_fault_and_not_the_librarys() -> None:
    nested: list[Any] = []
    for _ in range(5_000):
        nested = [nested]
    for value in (object(), nested, {1: 2}, b"x"):
        fault("profile", canonical.spell, value)
    assert "base64" in fault("base64", canonical.base64_bytes, "é===")
    assert canonical.is_hex64(["a" * 64]) is False
    assert canonical.is_hex64(None) is False


def test_a_line_that_is_too_long_is_not_made() -> None:
    private = ONE.private
    data = event(event={"pad": "x" * line.LONGEST})
    fault(
        "length", line.build, private, seq=0, type="event", data=data, stamp=Stamp(0, 0, "b"),
        prev="0" * 64, next="",
    )  # fmt: skip


# the fields of one line, each wrong alone; the value before it and behind it are right


@pytest.mark.parametrize("value", [None, 1, [], {}, True], ids=str)
def test_what_must_be_text_is_text(value: Any) -> None:
    person = {"key": ONE.public_line, "name": ONE.name, "role": "commander"}
    for field in person:
        with pytest.raises(Fault) as caught:
            shapes._person({**person, field: value}, "somebody")
        assert caught.value.code in ("shape", "name")
    entry = {"length": 1, "name": "a", "sha256": "1" * 64}
    fault("shape", shapes.file_entry, {**entry, "name": value}, "a file")
    fault("shape", shapes._text, value, "a text", 9)
    fault("shape", shapes.run_id, value, "a run")
    fault("shape", shapes._modes, value)
    fault("shape", shapes._roster, value)


# a whole log


def test_the_last_lines_own_signature_at_the_boundary_level() -> None:
    people = [ONE, TWO]
    log = Forge(people).open().add("event", event()).close().log
    other = Forge(people).open().add("event", event()).close().log
    assert check(log, people, "boundary").result == "closed"
    # a whole and well spelled signature, of another line
    changed = log[:-91] + other[-91:]
    for level in ("boundary", "full"):
        verdict = check(changed, people, level)
        assert (verdict.result, verdict.code, verdict.line) == ("rejected", "signature", 6)


@pytest.mark.parametrize("size", [31, 33])
def test_a_last_lines_next_key_of_a_wrong_size(size: int) -> None:
    # no line comes behind it whose signature would show it
    following = canonical.base64_text(bytes(size))
    rows = Forge([ONE, TWO]).open().add("event", event(), next=following).rows
    fault("base64", line.parse, rows[-1])


# beside the log


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    (tmp_path / f"x{countersign.SUFFIX}").mkdir()
    with pytest.raises(CountersignError, match="cannot be read"):
        countersign.read(tmp_path / "x.jsonl")
    for reader in (checkpoint.read_text, index.read_leaves):
        with pytest.raises(FolderError, match="cannot be read"):
            reader(tmp_path)
    large = tmp_path / "large"
    large.write_bytes(b"x" * (checkpoint.LARGEST_FILE + 1))
    with pytest.raises(FolderError, match="is larger than"):
        checkpoint.read_text(large)
    large.write_bytes(b"x" * checkpoint.LARGEST_FILE)
    assert len(checkpoint.read_text(large)) == checkpoint.LARGEST_FILE
    large.write_bytes(b"\xff")
    with pytest.raises(FolderError, match="is not UTF-8"):
        checkpoint.read_text(large)


WORD = {
    "device": "d" * 64, "format": 1, "head": "e" * 64, "name": "Ines Roth", "note": "x",
    "run": "run-1", "time": "2026-11-24T21:50:03.412Z", "verdict": "accepted",
}  # fmt: skip


def word(body: Any, **more: Any) -> bytes:
    blob = TWO.sign(sshsig.COUNTERSIGN, orjson.dumps(body, option=canonical.OPTIONS) + b"\n")
    whole = {"body": body, "sig": canonical.base64_text(blob), **more}
    return orjson.dumps(whole, option=canonical.OPTIONS) + b"\n"


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"device": "D" * 64}, "countersign"),
        ({"head": "e" * 63}, "countersign"),
        ({"run": "A"}, "countersign"),
        ({"run": "run-1 "}, "countersign"),
        ({"time": "2026"}, "stamp"),
        ({"time": 1}, "stamp"),
        ({"note": "a\x0bb"}, "profile"),
    ],
    ids=str,
)
def test_a_word_well_signed_and_wrong(changes: dict[str, Any], code: str) -> None:
    assert countersign._parse(word(WORD)).key == TWO.key
    fault(code, countersign._parse, word({**WORD, **changes}))


def test_a_word_that_is_no_object() -> None:
    for row in (b"[]\n", b"1\n", b'"x"\n', b"null\n", word([]), word(None), word(WORD, more=1)):
        fault("countersign", countersign._parse, row)


def test_a_signature_of_another_key_makes_no_note() -> None:
    text = "origin\n1\nx\n"
    with pytest.raises(FleetError, match="does not fit the key"):
        note.sign(text, VERIFIER, ONE.private.sign)
    assert note.open_note(note.sign(text, VERIFIER, KEEPER.private.sign), [VERIFIER])[0] == text


def test_rows_under_a_note_that_are_no_signatures() -> None:
    good = note.sign("a\n", VERIFIER, KEEPER.private.sign)
    raw = canonical.base64_text(VERIFIER.id + bytes(64))
    for row, why in (
        (f"- {VERIFIER.name} {raw}", "dash, name, base64"),
        ("— name", "dash, name, base64"),
        ("— na+me AAAA", "names no key"),
        (f"—  {raw}", "names no key"),
        ("— name AAAAAA==", "too short"),
        ("— name AAAA", "too short"),
    ):
        with pytest.raises(FleetError, match=why):
            note.split(f"{good}{row}\n")
    with pytest.raises(FleetError, match="no other control character"):
        note.split(good.replace("a\n", "a\t\n", 1))
    longer = canonical.base64_text(VERIFIER.id + bytes(65))
    with pytest.raises(FleetError, match="does not fit"):
        note.open_note(f"{good}— {VERIFIER.name} {longer}\n", [VERIFIER])
    with pytest.raises(FleetError, match="names no key"):
        note.parse_verifier(Verifier("a b", KEEPER.key).text)


LEAF = {"device": "d" * 64, "head": "e" * 64, "run": "run-1", "run_seq": 1}


@pytest.mark.parametrize(
    "value",
    [
        [], 1, None, {**LEAF, "device": "D" * 64}, {**LEAF, "head": ""}, {**LEAF, "run": 1},
        {**LEAF, "run": "A"}, {**LEAF, "run_seq": "1"}, {**LEAF, "run_seq": 0},
        {**LEAF, "run_seq": True}, {**LEAF, "more": 1},
    ],
    ids=str,
)  # fmt: skip
def test_a_leaf_wrong_in_one_field(value: Any) -> None:
    row = orjson.dumps(value, option=canonical.OPTIONS)
    with pytest.raises(FleetError, match="a leaf"):
        index.parse_leaf(row + b"\n")
    good = orjson.dumps(LEAF, option=canonical.OPTIONS)
    assert index.parse_leaf(good + b"\n").run == "run-1"
    with pytest.raises(FleetError, match="a leaf"):
        index.parse_leaf(good)


def test_a_line_of_the_index_is_named(tmp_path: Path) -> None:
    good = orjson.dumps(LEAF, option=canonical.OPTIONS)
    path = tmp_path / "leaves"
    path.write_bytes(good + b"\n{}\n")
    with pytest.raises(FleetError, match="leaves, line 1: a leaf"):
        index.read_leaves(path)


def test_proofs_longer_than_the_tree_is_high() -> None:
    leaves = [tree.leaf_hash(bytes([number])) for number in range(4)]
    path = tree.inclusion_proof(0, leaves)
    tree.check_inclusion(0, 4, leaves[0], path, tree.root(leaves))
    with pytest.raises(FleetError, match="longer than the tree"):
        tree.check_inclusion(0, 4, leaves[0], [*path, path[0]], tree.root(leaves))
    head = tree.root(leaves)
    with pytest.raises(FleetError, match="of one size"):
        tree.check_consistency(4, 4, head, head, [path[0]])
    with pytest.raises(FleetError, match="of one size"):
        tree.check_consistency(4, 4, head, path[0], [])


def test_a_proof_of_too_few_lines() -> None:
    point = checkpoint.Checkpoint("o", 1, bytes(32))
    for text in (f"{proofs.CONSISTENCY}\nold 1\n", f"{proofs.CONSISTENCY}\n", proofs.INCLUSION):
        with pytest.raises(FleetError, match="this is no consistency proof"):
            proofs.check_consistency(text, point, point)
    with pytest.raises(FleetError, match="this is no inclusion proof"):
        proofs.check_inclusion(f"{proofs.INCLUSION}\nextra x\n\n", [])
    with pytest.raises(FleetError, match="three lines"):
        checkpoint.parse_text(f"o\n1\n{canonical.base64_text(bytes(32))}\nx")


def test_a_saved_state_stands_before_every_line_that_holds(
    whole: tuple[Path, list[Person]],
) -> None:
    path, people = whole
    rows = path.read_bytes().splitlines(keepends=True)
    offsets = [sum(map(len, rows[:count])) for count in range(len(rows) + 1)]
    assert [state.offset for state in saved_states(path, people)] == offsets
    with pytest.raises(ValueError, match="not one of"):
        saved_states(path, people, "halfway")
