"""`python -m audit verify PATH…`: verification without the rest of Latchword.

Rules: needs this package, `cryptography` and `orjson` only; one line a log on stdout, the result
word first; messages on stderr; exit 0 only if every log counts, 1 if one does not, 2 for usage,
4 for a file that cannot be read, 130 if it was interrupted.
"""

import argparse
import os
import sys
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import orjson

from audit import receipt, together
from audit.chain import distinct
from audit.errors import AuditError, Negative, Stopped
from audit.fleet.named import Named
from audit.pool import MOST_PROCESSES, Job, verify_all
from audit.progress import Progress
from audit.trust import Trust, Witnessed
from audit.verify import LEVELS


def default_trust() -> Path:
    """`allowed_signers` in this user's own configuration folder, as each system has it."""
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA", str(Path.home() / "AppData" / "Local")))
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Application Support"
    else:
        base = Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config")
    return base / "latchword" / "allowed_signers"


def _arguments() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m audit",
        description="Verify signed logs. Exit 0 only if every log is closed, signed by trusted "
        "keys, at the level asked, in a mode that counts.",
    )
    commands = parser.add_subparsers(dest="command", required=True)
    command = commands.add_parser("verify", help="verify logs, or all logs of a folder")
    command.add_argument("paths", nargs="+", type=Path, metavar="PATH")
    command.add_argument("--level", choices=LEVELS, default="full", help="default: full")
    command.add_argument(
        "--trust", type=Path, metavar="ALLOWED_SIGNERS", help=f"default: {default_trust()}"
    )
    command.add_argument(
        "--also",
        default="",
        metavar="MODES",
        help="modes that count besides crew and single-pilot, as demonstration,scripted",
    )
    command.add_argument(
        "--receipt",
        action="append",
        default=[],
        metavar="FILE_OR_CODE",
        help="a receipt kept elsewhere, to check the logs against; may be given again",
    )
    command.add_argument(
        "--checkpoint",
        action="append",
        default=[],
        type=Path,
        metavar="FILE",
        help="a fleet's checkpoint or an inclusion proof, to check the logs against, with --vkey",
    )
    command.add_argument(
        "--vkey", default="", metavar="KEY_OR_FILE", help="the fleet's key of notes, NAME+ID+KEY"
    )
    command.add_argument(
        "--processes",
        type=_count,
        metavar="N",
        help="how many judge at once; default: as many as the work and the cores are worth",
    )
    command.add_argument("--json", action="store_true", help="one JSON object a log")
    return parser


def _count(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= MOST_PROCESSES:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number from 1 to {MOST_PROCESSES}")
    return int(text)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; the exit code."""
    parser = _arguments()
    asked = parser.parse_args(arguments)
    if bool(asked.checkpoint) != bool(asked.vkey):
        parser.error(together.PAIR)
    also = frozenset(filter(None, asked.also.split(",")))
    try:
        receipts = [receipt.given(text) for text in asked.receipt]
        fleet = together.fleet(asked.checkpoint, asked.vkey)
        trust = _trust(asked.trust, [one.witnessed for one in receipts], fleet)
        logs = distinct(asked.paths)
        if not logs:
            print(f"there is no log in {', '.join(map(str, asked.paths))}", file=sys.stderr)
            return 4
        good = True
        job = Job(asked.level, trust)
        with (
            Progress(logs, asked.level, wanted=not asked.json) as progress,
            closing(verify_all(logs, job, processes=asked.processes, told=progress)) as found,
        ):
            for log, verdict in found:
                progress.clear()
                good = verdict.counts(also) and good
                if asked.json:
                    print(orjson.dumps({"path": str(log), **verdict.as_dict()}).decode("utf-8"))
                else:
                    print(verdict.text(str(log), also))
        seen = together.look(asked.paths, receipts, fleet)
        for finding in seen.findings:
            good = False
            print(orjson.dumps(finding._asdict()).decode() if asked.json else finding.text())
        for text in seen.witnessed:
            print(orjson.dumps({"witnessed": text}).decode() if asked.json else text)
        for text in seen.limits:
            print(text, file=sys.stderr)
    except (Stopped, KeyboardInterrupt) as error:
        print(str(error) or "interrupted", file=sys.stderr)
        return 130
    except Negative as error:
        print(error, file=sys.stderr)
        return 1
    except AuditError as error:
        print(error, file=sys.stderr)
        return 4
    return 0 if good else 1


def _trust(path: Path | None, witnessed: Sequence[Witnessed], fleet: Sequence[Named]) -> Trust:
    if path is not None:
        return Trust.read(path, witnessed, fleet)
    path = default_trust()
    if path.exists():
        return Trust.read(path, witnessed, fleet)
    print(f"nobody is trusted: there is no {path}, and --trust was not given", file=sys.stderr)
    return Trust(fleet=fleet)


if __name__ == "__main__":
    sys.exit(main())
