"""The receipt of a run for the screen: what the log has come to, with the cells of its QR code.

Rules: it is made of the last line that the writer has on the disk, by the same hand as `latchword
receipt`, and reads no line again, however long the log is; what cannot be given is said and nothing
is raised, for a run must not stop for it.
"""

from __future__ import annotations

from audit.errors import AuditError, ReceiptError
from audit.receipt import Receipt as Given
from audit.receipt import receipt_written
from audit.stamps import wall_text
from audit.writer import LogWriter
from runner.commands.qr import drawn, modules
from runner.terminal.shell import Receipt


def slip(writer: LogWriter) -> Receipt:
    """The receipt of a log up to its last durable line."""
    try:
        return shown(receipt_written(writer))
    except AuditError as fault:
        return Receipt(why=str(fault))


def _utc(wall_ms: int) -> str:
    day, _, time = wall_text(wall_ms).partition("T")
    return f"{day} {time[:8]} UTC"


def shown(given: Given) -> Receipt:
    """A receipt as the screen shows it."""
    groups = tuple(given.head[at : at + 4].upper() for at in range(0, len(given.head), 4))
    stands = "closed" if given.closed else "still open"
    state = f"Run {given.run}, {stands}, last line {given.line}, {_utc(given.wall_ms)}"
    try:
        rows = modules(given.short)
    except ReceiptError as fault:
        return Receipt(groups, state, given.short, why=str(fault))
    dark, light = (
        tuple(drawn(rows, colors=False, filled_is_dark=filled)) for filled in (True, False)
    )
    return Receipt(groups, state, given.short, dark, light)
