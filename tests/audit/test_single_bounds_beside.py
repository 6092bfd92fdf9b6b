"""Bounds that stand alone, of what stands beside logs and over many of them: the last that is taken
and the first that is not.

Found, as in `test_single_refusals.py`, by moving each of them in turn.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from audit import countersign, evidence, receipt, stamps, together, verdict
from audit.errors import CountersignError, Fault, FleetError, FolderError, ReceiptError
from audit.fleet import checkpoint, index, note, proofs, tree
from audit.fleet.note import Verifier
from audit.folder import LogFolder
from audit.receipt import Receipt
from audit.stamps import Stamp
from tests.audit.fleet.keeper import ORIGIN, sign
from tests.audit.helpers import Clock, Forge, Person, check, event, simple_log

needs_modes = pytest.mark.skipif(os.name == "nt", reason="a file there has no such mode")
RECEIPT = Receipt("d" * 64, "run-1", 1, 7, True, 1_795_557_001_500, "1" * 64)


# times


def test_the_last_time_there_is() -> None:
    last = 253_402_300_799_999
    stamps.check_stamp(Stamp(last, 0, "b"))
    assert stamps.parse_wall(stamps.wall_text(last)) == last
    with pytest.raises(Fault, match="1970 to 9999"):
        stamps.check_stamp(Stamp(last + 1, 0, "b"))


# files kept as evidence


def test_the_largest_file_that_is_kept(folder: LogFolder, tmp_path: Path) -> None:
    largest = 64 * 1024 * 1024
    file = tmp_path / "clip.wav"
    for size in (largest, largest + 1):
        with file.open("wb") as stream:
            stream.truncate(size)
        if size > largest:
            with pytest.raises(FolderError, match="1 to 67108864 bytes, this is larger"):
                evidence.keep(folder, "run-1", file)
        else:
            assert evidence.keep(folder, "run-1", file).length == size


@pytest.mark.parametrize(
    ("name", "plain"),
    [
        ("0123456789" * 6 + ".abcdefg", "01234567890123456789012345678901.abcdefg"),
        ("x" * 60 + ".abcdefgh", "x" * 40),
        ("x" * 60 + ".a", "x" * 32 + "xxxxxx.a"),
        ("x" * 36 + ".wav", "x" * 36 + ".wav"),
        ("x" * 37 + ".wav", "x" * 32 + "xxxx.wav"),
    ],
)
def test_the_ending_of_a_long_name_is_kept_if_it_is_short(name: str, plain: str) -> None:
    assert evidence.plain_name(name) == plain


@needs_modes
def test_others_may_read_what_is_kept(
    folder: LogFolder, crew: list[Person], clock: Clock, tmp_path: Path
) -> None:
    file = tmp_path / "clip.wav"
    file.write_bytes(b"RIFF")
    simple_log(folder, crew, clock)
    before = os.umask(0)
    try:
        kept = folder.path / evidence.keep(folder, "run-1", file).name
        made = sign(folder.path).path
    finally:
        os.umask(before)
    assert [path.stat().st_mode & 0o777 for path in (kept, made)] == [0o644, 0o644]


# receipts


@pytest.mark.parametrize(
    ("field", "value"),
    [
        (0, "D" * 65), (0, "D" * 63), (1, "RUN_1"), (2, "1A"), (2, "0"), (2, "1" * 17),
        (3, "7A"), (3, "1" * 17), (4, "CLOSED "), (6, "1" * 65), (6, "1" * 63),
    ],
)  # fmt: skip
def test_a_field_of_a_receipt_that_goes_on(field: int, value: str) -> None:
    fields = RECEIPT.code.removeprefix(receipt.MARK).split("/")
    fields[field] = value
    with pytest.raises(ReceiptError, match="cannot be read"):
        receipt.parse(receipt.MARK + "/".join(fields))


@pytest.mark.parametrize(
    ("field", "value"),
    [(1, "7A"), (2, "CC"), (3, "0"), (3, "1" * 12), (4, "1" * 65), (4, "1" * 63)],
)
def test_a_field_of_a_short_receipt_that_goes_on(field: int, value: str) -> None:
    fields = RECEIPT.short.removeprefix(receipt.SHORT).split("/")
    fields[field] = value
    with pytest.raises(ReceiptError, match="cannot be read"):
        receipt.parse(receipt.SHORT + "/".join(fields))


def test_the_largest_numbers_and_the_first_time_of_a_receipt() -> None:
    large = RECEIPT._replace(run_seq=9_999_999_999_999_999, line=9_999_999_999_999_999)
    assert receipt.parse(large.code) == large
    first = receipt.parse(RECEIPT._replace(wall_ms=1).short)
    assert (first.wall_ms, first.line) == (1, 7)


def test_a_receipt_that_is_not_given_says_why(tmp_path: Path, crew: list[Person]) -> None:
    log = tmp_path / "run.jsonl"
    forge = Forge(crew).open().add("event", event(), key=Forge(crew).key)
    log.write_bytes(forge.log)
    with pytest.raises(ReceiptError, match=r"line 3, byte \d+: the line's signature does not fit"):
        receipt.receipt_of(log)


def test_a_run_that_is_gone_is_called_as_its_receipt_calls_it(tmp_path: Path) -> None:
    short = receipt.parse(RECEIPT.short)
    for one, called in ((RECEIPT, "run 1 of device dddddddddddd, run-1"), (short, "by its name")):
        (finding,), borne_out = receipt.against(one, [tmp_path])
        assert finding.why.startswith(called)
        assert borne_out == []


# logs together


def test_a_folder_among_logs_may_lack_its_newest_run(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    log = simple_log(folder, crew, clock)
    assert together.look([log, folder.path], []).limits == (together.NEWEST,)
    assert together.look([log], []).limits == ()


# what is said of a log


def test_the_results_and_how_one_is_told(crew: list[Person]) -> None:
    assert verdict.RESULTS == ("closed", "unclosed", "torn", "rejected", "untrusted")
    found = check(Forge(crew).open().close().log, crew)
    assert found.text("x") == "closed x: 6 lines, signed by Maren Holt, Åsa Lind"


# small files


@pytest.mark.parametrize("surplus", [0, 1])
def test_the_largest_files_that_are_read(tmp_path: Path, surplus: int) -> None:
    text = b"x" * ((1 << 20) + surplus)
    log = tmp_path / "run-1.jsonl"
    countersign.file_of(log).write_bytes(text)
    with pytest.raises(CountersignError) as caught:
        countersign.read(log)
    assert ("is larger than 1048576 bytes" in str(caught.value)) == bool(surplus)
    path = tmp_path / "x.checkpoint"
    path.write_bytes(text)
    if surplus:
        with pytest.raises(FolderError, match="is larger than 1048576 bytes"):
            checkpoint.read_text(path)
    else:
        assert checkpoint.read_text(path) == text.decode()


def test_the_longest_note_of_a_supervisor(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    log = simple_log(folder, crew, clock)
    found = check(log, crew)
    given = countersign.give(log, found, "returned", "x" * 500, Person("Ida Rask"), clock())
    assert len(given.note) == 500
    with pytest.raises(CountersignError, match="1 to 500"):
        countersign.give(log, found, "returned", "x" * 501, Person("Ida Rask"), clock())


# the fleet


def test_a_key_of_notes_whose_base64_has_a_plus() -> None:
    # of this seed's key; a key without one is split alike by any count
    seed = hashlib.sha256(b"fleet 4").digest()
    key = Ed25519PrivateKey.from_private_bytes(seed).public_key().public_bytes_raw()
    text = Verifier(ORIGIN, key).text
    assert text.count("+") > 2
    assert note.parse_verifier(text).key == key


def test_the_largest_size_and_number_that_are_read() -> None:
    for digits in (16, 17):
        text = f"{ORIGIN}\n{'9' * digits}\n{'A' * 43}=\n"
        proof = f"{proofs.CONSISTENCY}\nold {'9' * digits}\nnew 1\n"
        one = checkpoint.Checkpoint(ORIGIN, 1, bytes(32))
        if digits == 16:
            assert checkpoint.parse_text(text).size == 9_999_999_999_999_999
            with pytest.raises(FleetError, match="the proof is for"):
                proofs.check_consistency(proof, one, one)
        else:
            with pytest.raises(FleetError, match="three lines: origin, size, root"):
                checkpoint.parse_text(text)
            with pytest.raises(FleetError, match="old of the proof is no number"):
                proofs.check_consistency(proof, one, one)


def test_the_first_and_the_last_leaf_there_can_be() -> None:
    row = '{"device":"%s","head":"%s","run":"%s","run_seq":%d}\n'
    for number in (1, 2**53 - 1):
        data = (row % ("d" * 64, "1" * 64, "run-1", number)).encode()
        assert index.parse_leaf(data).data == data
    for run, number in (("run-1/x", 1), ("run-1", 0), ("run-1", 2**53)):
        with pytest.raises(FleetError):
            index.parse_leaf((row % ("d" * 64, "1" * 64, run, number)).encode())


def test_a_key_of_notes_of_small_order_is_none() -> None:
    # order 8 (`test_curve.py` computes it): its other 31 bytes are of no such point
    weak = 0x7A03AC9277FDC74EC6CC392CFA53202A0F67100D760B3CBA4FD84D3D706A17C7.to_bytes(32, "little")
    with pytest.raises(FleetError, match="small order"):
        note.parse_verifier(Verifier(ORIGIN, weak).text)


def test_as_many_signatures_as_a_note_may_have_and_as_short_as_one_may_be() -> None:
    row = "— somebody AAAAAAA=\n"  # the ID and one byte
    for count in (64, 65):
        text = "a\n\n" + row * count
        if count == 64:
            assert len(note.split(text)[1]) == count
        else:
            with pytest.raises(FleetError, match="more than 64 signatures"):
                note.split(text)
    with pytest.raises(FleetError, match="too short"):
        note.split("a\n\n— somebody AAAAAA==\n")


def test_every_leaf_of_every_small_tree_is_proven_and_none_outside() -> None:
    leaves = [hashlib.sha256(bytes([number])).digest() for number in range(20)]
    for size in range(1, len(leaves)):
        head = tree.root(leaves[:size])
        for number in range(size):
            proof = tree.inclusion_proof(number, leaves[:size])
            tree.check_inclusion(number, size, leaves[number], proof, head)
        for number in (-1, size):
            with pytest.raises(FleetError, match="there is no leaf"):
                tree.inclusion_proof(number, leaves[:size])
            with pytest.raises(FleetError, match="there is no leaf"):
                tree.check_inclusion(number, size, leaves[0], [], head)
        for old in range(1, size + 1):
            proof = tree.consistency_proof(old, leaves[:size])
            tree.check_consistency(old, size, tree.root(leaves[:old]), head, proof)
        for old in (-1, 0, size + 1):
            with pytest.raises(FleetError, match="is no beginning of one of"):
                tree.consistency_proof(old, leaves[:size])
