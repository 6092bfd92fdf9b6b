"""`verify` and `show`: what a log proves, and what it says.

Rules: one line a log, the result word first; exit 0 only if every log counts; a timeline shows
what was answered, not that it was done.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

from audit import together
from audit.chain import distinct
from audit.errors import Fault, Stopped
from audit.fleet.named import Named
from audit.line import parse
from audit.pool import Job, verify_all
from audit.progress import Progress
from audit.reader import pieces
from audit.receipt import Receipt, given
from audit.trust import Trust, Witnessed
from runner.commands.running import Options, folders
from runner.commands.signing import say
from runner.commands.timeline import Timeline
from runner.engine.hours import PAIRS, spans, times
from runner.engine.state import Marked
from runner.host import places
from runner.host.places import PlaceFault
from runner.host.replay import replayed
from runner.words.timing import hours

INTERRUPTED = 130
CAUTION = "This shows what was answered, not that it was done."


def verify_logs(
    paths: tuple[Path, ...], level: str, trust: Path | None, also: str,
    receipts: tuple[str, ...] = (), checkpoints: tuple[Path, ...] = (), vkey: str = "",
    processes: int | None = None, *, as_json: bool,
) -> int:  # fmt: skip
    """Verifies logs, or all logs of folders, and what they come to together."""
    if bool(checkpoints) != bool(vkey):
        raise PlaceFault(together.PAIR, 2)
    kept = [given(text) for text in receipts]
    fleet = together.fleet(checkpoints, vkey)
    allowed = trusted(trust, [one.witnessed for one in kept], fleet)
    wanted = frozenset(part.strip() for part in also.split(",") if part.strip())
    known = {"demonstration", "draft", "rehearsal", "scripted", "solo"}
    if wanted - known:
        raise PlaceFault(
            f"--also {', '.join(sorted(wanted - known))}: allowed are {', '.join(sorted(known))}", 2
        )
    logs = distinct(paths)
    if not logs:
        raise PlaceFault(f"there is no log in {', '.join(map(str, paths))}")
    job = Job(level, allowed, replayed if level == "replayed" else None)
    good = True
    try:
        with (
            Progress(logs, level, wanted=not as_json) as progress,
            closing(verify_all(logs, job, processes=processes, told=progress)) as found,
        ):
            for log, verdict in found:
                progress.clear()
                good = verdict.counts(wanted) and good
                if as_json:
                    print(json.dumps({"path": str(log), **verdict.as_dict()}, ensure_ascii=False))
                else:
                    print(verdict.text(str(log), wanted))
    except Stopped as stopped:
        say(str(stopped))
        return INTERRUPTED
    return 0 if _together(paths, kept, fleet, as_json=as_json) and good else 1


def _together(
    paths: tuple[Path, ...], receipts: list[Receipt], fleet: Sequence[Named], *, as_json: bool
) -> bool:
    seen = together.look(paths, receipts, fleet)
    for finding in seen.findings:
        row = json.dumps(finding._asdict(), ensure_ascii=False) if as_json else finding.text()
        print(row)
    for text in seen.witnessed:
        print(json.dumps({"witnessed": text}, ensure_ascii=False) if as_json else text)
    for text in seen.limits:
        say(text)
    return not seen.findings


def trusted(
    path: Path | None, witnessed: Sequence[Witnessed] = (), fleet: Sequence[Named] = ()
) -> Trust:
    """The allowed signers of a file, or of this machine; nobody, and that is said, without one."""
    if path is not None:
        return Trust.read(path, witnessed, fleet)
    own = places.trust_file()
    if own.exists():
        return Trust.read(own, witnessed, fleet)
    print(
        f"nobody is trusted: there is no {own}; trust a key: latchword keys trust NAME",
        file=sys.stderr,
    )
    return Trust(fleet=fleet)


def show(run_id: str, options: Options) -> int:
    """A readable timeline of one run, from a file or by its name; 1 if it does not read to its
    end."""
    path = log_of(run_id, options)
    try:
        stream = path.open("rb")
    except OSError as error:
        raise PlaceFault(f"{path}: cannot be read: {error.strerror}") from None
    with stream:
        print(f"{path.stem}  {CAUTION}")
        timeline = Timeline(path.parent / "documents")
        for number, piece in enumerate(pieces(stream)):
            if not piece.raw.endswith(b"\n"):
                print(f"(torn: {len(piece.raw)} bytes behind the last whole line)")
                break
            try:
                line = parse(piece.raw)
                rows = timeline.rows(line)
            except (Fault, KeyError, IndexError, TypeError, ValueError, AttributeError) as fault:
                say(f"{path}: line {number} is none that a run writes ({fault}); what verify says "
                    "of this log counts")  # fmt: skip
                return 1
            for row in rows:
                print(row)
    print(_times(tuple(timeline.marks), timeline.last))
    return 0


def _times(marks: tuple[Marked, ...], now: int) -> str:
    found = times(marks, now)
    parts = []
    for name in PAIRS:
        minutes: int = getattr(found, name)
        begin, end = PAIRS[name]
        # Only a counter that nothing has stopped grows with the time asked for.
        runs = spans(marks, begin, end, now) != spans(marks, begin, end, now + 1)
        running = " still running, so far" if runs else ""
        parts.append(f"{name}{running} {minutes} min ({hours(minutes)} h)")
    return f"TIMES  {', '.join(parts)}, landings {found.landings}, starts {found.starts}"


def log_of(run_id: str, options: Options) -> Path:
    """The log of a run: its file, its name, or empty for the newest. Raises PlaceFault."""
    direct = Path(run_id)
    if direct.suffix == ".jsonl" and direct.exists():
        return direct
    newest: list[tuple[str, Path]] = []
    for folder, _ in folders(options):
        if run_id and (folder / f"{run_id}.jsonl").exists():
            return folder / f"{run_id}.jsonl"
        newest += [(p.stem, p) for p in folder.glob("*.jsonl")]
    if not run_id and newest:
        return max(newest)[1]
    from runner.engine.words import nearest

    close = nearest(run_id, [stem for stem, _ in newest])
    raise PlaceFault(f"there is no run {run_id!r}" + (f"; nearest: {close}" if close else ""))
