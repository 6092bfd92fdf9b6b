"""A receipt: what one run had come to, in a line short enough for a phone or a sheet of paper.

Rules: a receipt is made only of lines that hold; whoever keeps it outside the machine is a witness
that the run was there, with these lines. It has two forms, a whole one on a sheet and a short one
for a camera, each written in one way only and read back strictly; the letters are those of a QR
code's alphanumeric mode, so that the code is small.
"""

import os
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from audit.chain import Finding, distinct, info_of, short
from audit.checker import Checker
from audit.errors import Fault, FolderError, ReceiptError
from audit.folder import line_with
from audit.line import Line
from audit.reader import opened, pieces
from audit.shapes import RUN_ID
from audit.stamps import parse_wall, wall_text
from audit.trust import Witnessed
from audit.writer import LogWriter

MARK = "LATCHWORD/1/"
SHORT = "LW/2/"
_STATES = {"CLOSED": True, "OPEN": False}
_NUMBER = re.compile(r"[1-9][0-9]{0,15}")
_HEX = re.compile(r"[0-9A-F]{64}")
_FIELDS = "device/run/run_seq/line/CLOSED or OPEN/time/head"
_SHORT_STATES = {"C": True, "O": False}
# eleven digits end in the year 2527: every one of them is a time
_SHORT_TIME = re.compile(r"[1-9A-F][0-9A-F]{0,10}")
_SHORT_FIELDS = "run/line/C or O/time/head"


class Receipt(NamedTuple):
    """What a run had come to: `line` is the number of its last line then, `head` that line's
    SHA-256, `wall_ms` its time (UTC), `closed` whether nothing can follow it. Read from the short
    form, `device` is empty and `run_seq` 0: the head vouches for both."""

    device: str
    run: str
    run_seq: int
    line: int
    closed: bool
    wall_ms: int
    head: str

    @property
    def code(self) -> str:
        """The one line that ends a sheet and `parse` reads."""
        state = "CLOSED" if self.closed else "OPEN"
        fields = (
            self.device.upper(), self.run.upper(), str(self.run_seq), str(self.line), state,
            wall_text(self.wall_ms), self.head.upper(),
        )  # fmt: skip
        return MARK + "/".join(fields)

    @property
    def short(self) -> str:
        """The one line that a QR code carries and `parse` reads: no field that the head vouches
        for and the run's name does not need, so that a small screen has room for it."""
        state = "C" if self.closed else "O"
        fields = (self.run.upper(), str(self.line), state, f"{self.wall_ms:X}", self.head.upper())
        return SHORT + "/".join(fields)

    @property
    def witnessed(self) -> Witnessed:
        """What its keeper is a witness of."""
        return Witnessed(self.head, self.wall_ms)

    @property
    def text(self) -> str:
        """The sheet for people, ended by the code."""
        groups = [self.head[at : at + 4] for at in range(0, 64, 4)]
        state = "closed" if self.closed else "still open"
        return "\n".join((
            f"run     {self.run}, number {self.run_seq} of its device",
            f"device  {self.device}",
            f"state   {state}, last line {self.line}, {wall_text(self.wall_ms)}",
            f"head    {' '.join(groups[:8])}",
            f"        {' '.join(groups[8:])}",
            self.code,
            "",
        ))  # fmt: skip


def receipt_of(log: Path) -> Receipt:
    """The receipt of a log up to its last whole line; raises `ReceiptError` if a line does not
    hold, `FolderError` if it cannot be read."""
    checker = Checker(signatures=True)
    last: Line | None = None
    try:
        with opened(log) as stream:
            for piece in pieces(stream):
                if not piece.raw.endswith(b"\n"):
                    break
                line = checker.feed(piece.raw, piece.offset)
                if line is None:
                    why = checker.fault.why if checker.fault else "it is no line"
                    raise ReceiptError(
                        f"{log}: no receipt: line {checker.lines}, byte {piece.offset}: {why}"
                    )
                last = line
    except OSError as error:
        raise FolderError(f"{log}: cannot be read: {error.strerror or error}") from None
    if last is None:
        raise ReceiptError(f"{log}: no receipt: there is no whole line")
    return _receipt(checker.course.opening, last, closed=checker.course.phase == "closed")


def receipt_written(writer: LogWriter) -> Receipt:
    """The receipt of the log that is being written, up to its last durable line; nothing is read.

    It vouches for what the writer signed and synced: a file that was changed since does not fit it.
    """
    last, closed = writer.written
    return _receipt(writer.opening, last, closed=closed)


def _receipt(opening: Mapping[str, Any], last: Line, *, closed: bool) -> Receipt:
    return Receipt(
        device=opening["device"],
        run=opening["run"],
        run_seq=opening["run_seq"],
        line=last.seq,
        closed=closed,
        wall_ms=last.stamp.wall_ms,
        head=last.head,
    )


def parse(text: str) -> Receipt:
    """The receipt in its code, in its short code, or in a sheet that ends with the code; raises
    `ReceiptError`.

    What a sheet says before its code must be what the code says.
    """
    rows = text.strip().splitlines()
    if len(rows) == 1 and rows[0].startswith(SHORT):
        return _parse_short(rows[0])
    if not rows or not rows[-1].startswith(MARK):
        raise ReceiptError(
            f"this is no receipt: its last line must begin with {MARK}, or its only one with "
            f"{SHORT}"
        )
    fields = rows[-1].removeprefix(MARK).split("/")
    if len(fields) != 7:
        raise ReceiptError(f"a receipt reads {MARK}{_FIELDS}; this one has {len(fields)} fields")
    device, run, run_seq, line, state, time, head = fields
    _readable(
        MARK + _FIELDS, device=_HEX.fullmatch(device), run=_is_run(run),
        run_seq=_NUMBER.fullmatch(run_seq), line=_is_line(line), state=state in _STATES,
        head=_HEX.fullmatch(head),
    )  # fmt: skip
    try:
        wall_ms = parse_wall(time)
    except Fault as fault:
        raise ReceiptError(f"the receipt's {fault.why}") from None
    receipt = Receipt(
        device.lower(), run.lower(), int(run_seq), int(line), _STATES[state], wall_ms, head.lower()
    )
    if len(rows) > 1 and rows != receipt.text.splitlines():
        raise ReceiptError("what the receipt says in words is not what its code says")
    return receipt


def _parse_short(row: str) -> Receipt:
    """The receipt in its short code; raises `ReceiptError`."""
    fields = row.removeprefix(SHORT).split("/")
    if len(fields) != 5:
        raise ReceiptError(
            f"a short receipt reads {SHORT}{_SHORT_FIELDS}; this one has {len(fields)} fields"
        )
    run, line, state, time, head = fields
    _readable(
        SHORT + _SHORT_FIELDS, run=_is_run(run), line=_is_line(line), state=state in _SHORT_STATES,
        time=_SHORT_TIME.fullmatch(time), head=_HEX.fullmatch(head),
    )  # fmt: skip
    return Receipt("", run.lower(), 0, int(line), _SHORT_STATES[state], int(time, 16), head.lower())


def _readable(form: str, **good: object) -> None:
    wrong = [name for name, one in good.items() if not one]
    if wrong:
        raise ReceiptError(f"the receipt's {', '.join(wrong)} cannot be read; {form}")


def _is_run(text: str) -> bool:
    return text.upper() == text and RUN_ID.fullmatch(text.lower()) is not None


def _is_line(text: str) -> bool:
    return text == "0" or _NUMBER.fullmatch(text) is not None


def given(text: str) -> Receipt:
    """The receipt that somebody names: its code, or a file that holds it.

    Raises `ReceiptError` for what is none, `FolderError` for a file that cannot be read.
    """
    if text.strip().startswith((MARK, SHORT)):
        return parse(text)
    path = Path(text)
    try:
        return parse(path.read_text("utf-8"))
    except OSError as error:
        raise FolderError(
            f"{path}: cannot be read: {os.strerror(error.errno or 0)}; "
            f"a receipt is a file, or its code: {MARK}…"
        ) from None
    except UnicodeDecodeError:
        raise ReceiptError(f"{path}: is not UTF-8 text, so it is no receipt") from None


def against(receipt: Receipt, paths: Sequence[Path]) -> tuple[list[Finding], list[str]]:
    """What is wrong with the logs that paths name, by a receipt kept elsewhere, and what it bears
    out: a run missing, one with other lines, or that the lines up to the receipt's stand."""
    whole = bool(receipt.device)
    which = f"run {receipt.run_seq} of {short(receipt.device)}" if whole else "by its name"
    when = wall_text(receipt.wall_ms)
    here = [
        info
        for info in map(info_of, distinct(paths))
        if info is not None
        and (
            (info.device, info.run_seq) == (receipt.device, receipt.run_seq)
            if whole
            else info.run == receipt.run
        )
    ]
    if not here:
        why = f"{which}, {receipt.run}, of which there is a receipt of {when}"
        return [Finding("missing", receipt.device, receipt.run_seq, why)], []
    found, borne_out = [], []
    for info in here:
        number = line_with(info.path, receipt.head)
        if info.run != receipt.run or number != receipt.line:
            why = f"{info.path} does not have line {receipt.line} of the receipt of {when}, {which}"
        elif receipt.closed and info.head != receipt.head:
            why = f"{info.path} goes on behind the end that the receipt of {when} has, {which}"
        else:
            grown = "" if info.head == receipt.head else "; it has grown since"
            borne_out.append(
                f"witnessed {info.path}: lines 0 to {number} stood so at {when}{grown}"
            )
            continue
        found.append(Finding("receipt", receipt.device, receipt.run_seq, why))
    return found, borne_out
