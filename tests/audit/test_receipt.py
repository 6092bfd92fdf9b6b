"""A receipt kept elsewhere: what it says, how it is read back, and what it finds."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from audit import receipt, together
from audit.errors import FolderError, ReceiptError
from audit.folder import LogFolder
from audit.receipt import MARK, SHORT, Receipt
from audit.recovery import recover
from audit.writer import LogWriter
from tests.audit.helpers import Clock, Person, event, opening, simple_log

EXAMPLE = Receipt("ab" * 32, "20261124-215003-ab12cd", 3, 57, True, 1_795_557_003_412, "cd" * 32)
CODE = (
    f"LATCHWORD/1/{'AB' * 32}/20261124-215003-AB12CD/3/57/CLOSED/2026-11-24T21:50:03.412Z/"
    f"{'CD' * 32}"
)


def found(one: Receipt, *paths: Path) -> list[tuple[str, int]]:
    wrong, _ = receipt.against(one, paths)
    return [(finding.code, finding.run_seq) for finding in wrong]


@pytest.fixture
def runs(folder: LogFolder, crew: list[Person], clock: Clock) -> list[Path]:
    return [simple_log(folder, crew, clock) for _ in range(3)]


def test_a_receipt_as_it_is_written() -> None:
    assert EXAMPLE.code == CODE
    rows = EXAMPLE.text.splitlines()
    assert rows[0] == "run     20261124-215003-ab12cd, number 3 of its device"
    assert rows[2] == "state   closed, last line 57, 2026-11-24T21:50:03.412Z"
    assert rows[3] == "head    " + " ".join(["cdcd"] * 8)
    assert rows[4] == "        " + " ".join(["cdcd"] * 8)
    assert rows[5] == CODE
    assert "still open" in EXAMPLE._replace(closed=False).text


@pytest.mark.parametrize("text", [CODE, f"{CODE}\n", EXAMPLE.text, f"\n{EXAMPLE.text}\n"])
def test_a_receipt_is_read_back(text: str) -> None:
    assert receipt.parse(text) == EXAMPLE


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("LATCHWORD/1/", "LATCHWORD/2/", "no receipt"),
        (CODE, "", "no receipt"),
        ("/3/", "/03/", "run_seq cannot be read"),
        ("/3/", "/0/", "run_seq cannot be read"),
        ("/57/", "/-1/", "line cannot be read"),
        ("CLOSED", "SHUT", "state cannot be read"),
        ("CLOSED", "closed", "state cannot be read"),
        ("AB12CD", "ab12cd", "run cannot be read"),
        ("AB12CD", "AB12CD-", "run cannot be read"),
        ("ABAB", "ab", "device cannot be read"),
        ("CDCD", "XXXX", "head cannot be read"),
        ("T21:50", "T25:50", "does not exist"),
        (".412Z", "Z", "is not spelled"),
        ("/3/57", "/3", "6 fields"),
    ],
)
def test_what_is_no_receipt(old: str, new: str, why: str) -> None:
    with pytest.raises(ReceiptError, match=why):
        receipt.parse(CODE.replace(old, new, 1))


SHORT_CODE = f"{SHORT}20261124-215003-AB12CD/57/C/1A20F899094/{'CD' * 32}"


def test_the_short_code_is_read_back() -> None:
    assert EXAMPLE.short == SHORT_CODE
    # what ISO/IEC 18004 gives version 4 at level L in alphanumeric mode (from memory)
    assert len(EXAMPLE._replace(line=54321).short) <= 114
    assert receipt.parse(SHORT_CODE) == EXAMPLE._replace(device="", run_seq=0)
    assert receipt.given(f"{SHORT_CODE}\n") == EXAMPLE._replace(device="", run_seq=0)
    assert receipt.parse(SHORT_CODE).short == SHORT_CODE


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("LW/2/", "LW/3/", "no receipt"),
        ("/57/", "/057/", "line cannot be read"),
        ("/C/", "/CLOSED/", "state cannot be read"),
        ("AB12CD", "ab12cd", "run cannot be read"),
        ("1A20F899094", "01A20F89909", "time cannot be read"),
        ("1A20F899094", "1a20f899094", "time cannot be read"),
        ("1A20F899094", "1A20F8990940", "time cannot be read"),
        ("CDCD", "cdcd", "head cannot be read"),
        ("/57", "", "4 fields"),
    ],
)
def test_what_is_no_short_receipt(old: str, new: str, why: str) -> None:
    with pytest.raises(ReceiptError, match=why):
        receipt.parse(SHORT_CODE.replace(old, new, 1))


def test_a_short_receipt_finds_what_a_whole_one_does(folder: LogFolder, runs: list[Path]) -> None:
    one = receipt.parse(receipt.receipt_of(runs[2]).short)
    wrong, (text,) = receipt.against(one, [folder.path])
    assert (wrong, text.startswith(f"witnessed {runs[2]}: lines 0 to")) == ([], True)
    assert found(one._replace(line=one.line - 1), folder.path) == [("receipt", 0)]
    assert found(one._replace(head="0" * 64), folder.path) == [("receipt", 0)]
    runs[2].unlink()
    assert found(one, folder.path) == [("missing", 0)]


def test_a_sheet_says_what_its_code_says() -> None:
    for old, new in (("number 3", "number 4"), ("closed", "still open"), ("cdcd", "cdce")):
        with pytest.raises(ReceiptError, match="not what its code says"):
            receipt.parse(EXAMPLE.text.replace(old, new, 1))


def test_a_receipt_of_the_first_line_alone() -> None:
    first = EXAMPLE._replace(line=0, closed=False)
    assert receipt.parse(first.code) == receipt.parse(first.text) == first


def test_no_word_of_anybodys_stands_before_the_code() -> None:
    with pytest.raises(ReceiptError, match="not what its code says"):
        receipt.parse(f"all is well\n{CODE}")


def test_a_receipt_is_given_as_its_code_or_as_a_file(tmp_path: Path) -> None:
    path = tmp_path / "sheet.txt"
    path.write_text(EXAMPLE.text, "utf-8")
    assert receipt.given(CODE) == receipt.given(str(path)) == EXAMPLE
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(ReceiptError, match="not UTF-8"):
        receipt.given(str(path))
    with pytest.raises(FolderError, match="a receipt is a file, or its code"):
        receipt.given(str(tmp_path / "nowhere"))


def test_the_receipt_of_a_closed_run(runs: list[Path]) -> None:
    one = receipt.receipt_of(runs[1])
    assert (one.run, one.run_seq, one.closed) == (runs[1].stem, 2, True)
    assert one.line == len(runs[1].read_bytes().splitlines()) - 1
    assert receipt.parse(one.text) == one
    wrong, borne_out = receipt.against(one, [runs[1].parent])
    assert wrong == []
    (text,) = borne_out
    assert text.startswith(f"witnessed {runs[1]}: lines 0 to {one.line} stood so at 2026-")


def test_a_receipt_is_given_of_lines_that_hold_only(runs: list[Path]) -> None:
    changed = runs[0].read_bytes().replace(b'"1600"', b'"1700"', 1)
    runs[0].write_bytes(changed)
    with pytest.raises(ReceiptError, match="no receipt: line 3"):
        receipt.receipt_of(runs[0])
    runs[0].write_bytes(b'{"body":')
    with pytest.raises(ReceiptError, match="no whole line"):
        receipt.receipt_of(runs[0])
    with pytest.raises(FolderError):
        receipt.receipt_of(runs[0].with_name("nowhere.jsonl"))


def test_a_run_that_has_grown_since(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    writer.event(event(1), clock())
    writer.stop()
    log = folder.path_of(writer.run)
    with log.open("ab") as stream:
        stream.write(b'{"body":{"bo')
    one = receipt.receipt_of(log)
    assert (one.line, one.closed) == (3, False)
    writer = LogWriter.resume(recover(folder, writer.run), clock(), None)
    for person in crew:
        writer.sign_resume(person, clock())
    writer.close([], crew, clock())
    wrong, (text,) = receipt.against(one, [log])
    assert wrong == []
    assert text.endswith("it has grown since")


def test_the_newest_run_is_deleted(folder: LogFolder, runs: list[Path]) -> None:
    one = receipt.receipt_of(runs[2])
    runs[2].unlink()
    assert found(one, folder.path) == [("missing", 3)]
    seen = together.look([folder.path], [one])
    assert [finding.code for finding in seen.findings] == ["missing"]
    assert seen.limits == ()
    # without a receipt nothing is found, and that is said
    blind = together.look([folder.path], [])
    assert blind.findings == ()
    assert blind.limits == (together.NEWEST,)
    assert together.look(runs[:1], []).limits == ()


def test_the_machine_is_rolled_back_behind_a_receipt(
    folder: LogFolder, runs: list[Path], crew: list[Person], clock: Clock
) -> None:
    one = receipt.receipt_of(runs[2])
    runs[2].unlink()
    simple_log(folder, crew, clock)
    assert found(one, folder.path) == [("receipt", 3)]


def test_the_tail_is_cut_behind_a_receipt(folder: LogFolder, runs: list[Path]) -> None:
    one = receipt.receipt_of(runs[2])
    rows = runs[2].read_bytes().splitlines(keepends=True)
    runs[2].write_bytes(b"".join(rows[:-1]))
    assert found(one, folder.path) == [("receipt", 3)]


def test_a_receipt_that_was_changed(folder: LogFolder, runs: list[Path]) -> None:
    one = receipt.receipt_of(runs[2])
    assert found(one._replace(line=one.line - 1), folder.path) == [("receipt", 3)]
    assert found(one._replace(run="another-run"), folder.path) == [("receipt", 3)]
    assert found(one._replace(head="0" * 64), folder.path) == [("receipt", 3)]
    assert found(one._replace(run_seq=9), folder.path) == [("missing", 9)]
    earlier = receipt.receipt_of(runs[2])._replace(closed=True)
    rows = runs[2].read_bytes().splitlines(keepends=True)
    cut = runs[2].with_name("cut.jsonl")
    cut.write_bytes(b"".join(rows[:-1]))
    half = receipt.receipt_of(cut)
    cut.unlink()
    assert found(half, folder.path) == []
    assert found(half._replace(closed=True), folder.path) == [("receipt", 3)]
    assert found(earlier, folder.path) == []


def test_what_is_no_log_is_not_asked(folder: LogFolder, runs: list[Path]) -> None:
    one = receipt.receipt_of(runs[2])
    (folder.path / "notes.jsonl").write_text("{}\n", "utf-8")
    assert found(one, folder.path) == []


def test_two_copies_are_each_asked(folder: LogFolder, runs: list[Path], tmp_path: Path) -> None:
    one = receipt.receipt_of(runs[2])
    other = tmp_path / "other.jsonl"
    shutil.copy(runs[2], other)
    rows = other.read_bytes().splitlines(keepends=True)
    other.write_bytes(b"".join(rows[:-1]))
    wrong, borne_out = receipt.against(one, [folder.path, other])
    assert [finding.code for finding in wrong] == ["receipt"]
    assert str(other) in wrong[0].why
    assert len(borne_out) == 1


def test_the_code_is_made_for_the_small_alphabet() -> None:
    """ISO/IEC 18004, alphanumeric mode: 0-9 A-Z space $%*+-./:"""
    assert set(EXAMPLE.code) <= set("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")
    assert EXAMPLE.code.startswith(MARK)
