"""`receipt`, `countersign` and `attach`: what others keep of a run, say of it, and add to it.

Rules: a receipt is given only of lines that hold; `accepted` is taken only for a log that verifies
as closed here; a file is attached to a run that is left open, by a `resume` of its own, which the
crew vouches for when it closes.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from audit import countersign, evidence
from audit.chain import info_of
from audit.errors import AuditError, CountersignError, ReceiptError
from audit.folder import LogFolder
from audit.receipt import Receipt, receipt_of
from audit.recovery import recover
from audit.stamps import Stamp
from audit.verify import verify
from audit.writer import LogWriter
from runner.commands.looking import log_of, trusted
from runner.commands.running import Options
from runner.commands.signing import Patient, keyring, say, somebody
from runner.host.clock import SIMULATED, Clock, SimulatedClock, SystemClock, since
from runner.host.places import PlaceFault


def receipt(run_id: str, options: Options, out: Path | None, *, qr: bool | None) -> int:
    """The receipt of a run, in words and as a QR code; to a file too if asked."""
    given = receipt_of(log_of(run_id, options))
    code = _show(given, options, qr=qr)
    if out is not None:
        try:
            with out.open("x", encoding="utf-8", newline="\n") as stream:
                stream.write(given.text)
        except FileExistsError:
            raise PlaceFault(
                f"{out}: there is such a file already; it is not written over"
            ) from None
        except OSError as error:
            raise PlaceFault(f"{out}: cannot be written: {error.strerror}") from None
        say(f"{out}: written; keep it away from this machine, it is a witness only there")
    return code


def after_closing(log: Path, options: Options) -> None:
    """The receipt of a run that has just been closed, for the phone of whoever stands there; in
    plain lines without the picture, which nobody can hear."""
    plain = options.plain or options.environment.get("TERM") == "dumb"
    try:
        _show(receipt_of(log), options, qr=False if plain else None)
    except AuditError as fault:
        # the run is closed and signed; a receipt can be had later
        say(str(fault))


def _show(given: Receipt, options: Options, *, qr: bool | None) -> int:
    print(given.text, end="")
    if qr if qr is not None else sys.stdout.isatty():
        try:
            _draw(given, options)
        except ReceiptError as fault:
            # the receipt itself has been given; only who asked for the picture must hear a no
            say(str(fault))
            return 1 if qr else 0
    return 0


def _draw(given: Receipt, options: Options) -> None:
    from runner.commands.qr import drawn, modules
    from runner.terminal.themes import Depth, depth_of

    rows = modules(given.short)
    here = shutil.get_terminal_size()
    if sys.stdout.isatty() and here.columns < len(rows[0]):
        raise ReceiptError(f"no QR code: it needs {len(rows[0])} columns, here are {here.columns}")
    colors = depth_of(options.environment, options.color) is not Depth.ONE_BIT
    # without colours the day theme is that of a terminal that writes dark on light
    lines = drawn(rows, colors=colors, filled_is_dark=options.theme == "day")
    for line in lines:
        print(line)
    if sys.stdout.isatty() and here.lines <= len(lines):
        say(
            f"the code is {len(lines)} lines high, here are {here.lines}: for a phone make the "
            f"window higher or its letters smaller, then: latchword receipt {given.run}"
        )


def sign_off(
    run_id: str, options: Options, verdict: str, note: str, key: Path | None, name: str | None
) -> int:
    """A supervisor's word on a run, written beside its log."""
    log = log_of(run_id, options)
    ring = keyring(options.environment)
    person = Patient(somebody(ring, key, name, "whose word is it?"))
    found = verify(log, level="full", trust=trusted(None))
    if found.result == "rejected" or not found.opening:
        raise CountersignError(f"not countersigned: {found.text(str(log))}")
    if verdict == "accepted" and found.result != "closed":
        raise CountersignError(
            f"not countersigned: only a closed log is accepted: {found.text(str(log))}"
        )
    stamp = SystemClock().stamp()
    word = countersign.give(log, found, verdict, note, person, stamp)
    print(f"{countersign.file_of(log)}: {word.run} {verdict} by {word.name}")
    return 0


def attach(run_id: str, files: tuple[Path, ...], options: Options) -> int:
    """Files kept as evidence with a run that is left open."""
    log = log_of(run_id, options)
    info = info_of(log)
    if info is not None and info.closed:
        raise PlaceFault(
            f"{info.run} is closed, and nothing more is attached to it; a word on it can be given: "
            f"latchword countersign {info.run} --verdict returned --note TEXT"
        )
    with LogFolder.open(log.parent) as folder:
        torn = recover(folder, log.stem)
        if torn.phase != "running":
            raise PlaceFault(
                f"{torn.run}: only signatures are missing, and nothing more is attached; "
                f"sign it first: latchword resume {torn.run}", 1,
            )  # fmt: skip
        kept = [evidence.keep(folder, torn.run, file) for file in files]
        clock = _clock_of(torn.last_stamp)
        stamp = clock.stamp()
        writer = LogWriter.resume(torn, stamp, since(torn.last_stamp, stamp))
        try:
            for one in kept:
                writer.attach(one.name, one.length, one.sha256, clock.stamp())
                print(f"{log.parent / one.name}: attached to {torn.run}, {one.length} bytes")
        finally:
            owed = ", ".join(writer.owed())
            writer.stop()
    say(f"{torn.run} stays open; for this entry {owed} will sign when it is closed")
    return 0


def _clock_of(last: Stamp) -> Clock:
    """The clock that a run goes by: a scripted one has no other time than its own."""
    if last.boot == SIMULATED:
        return SimulatedClock(last.wall_ms, last.mono_ms)
    return SystemClock()
