"""`python -m audit verify PATH…`: verification without the rest of Latchword.

Rules: needs this package, `cryptography` and `orjson` only; one line a log on stdout, the result
word first; messages on stderr; exit 0 only if every log counts, 1 if one does not, 2 for usage,
4 for a file that cannot be read.
"""

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path

import orjson

from audit.chain import gaps
from audit.errors import AuditError
from audit.trust import Trust
from audit.verify import LEVELS, logs_of, verify


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
    command.add_argument("--json", action="store_true", help="one JSON object a log")
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; the exit code."""
    asked = _arguments().parse_args(arguments)
    also = frozenset(filter(None, asked.also.split(",")))
    try:
        trust = _trust(asked.trust)
        logs = [log for path in asked.paths for log in logs_of(path)]
        if not logs:
            print(f"there is no log in {', '.join(map(str, asked.paths))}", file=sys.stderr)
            return 4
        good = True
        for log in logs:
            verdict = verify(log, level=asked.level, trust=trust)
            good = verdict.counts(also) and good
            if asked.json:
                print(orjson.dumps({"path": str(log), **verdict.as_dict()}).decode("utf-8"))
            else:
                print(verdict.text(str(log)))
        for finding in (found for path in asked.paths if path.is_dir() for found in gaps(path)):
            good = False
            print(orjson.dumps(finding._asdict()).decode() if asked.json else finding.why)
    except AuditError as error:
        print(error, file=sys.stderr)
        return 4
    return 0 if good else 1


def _trust(path: Path | None) -> Trust:
    if path is not None:
        return Trust.read(path)
    path = default_trust()
    if path.exists():
        return Trust.read(path)
    print(f"nobody is trusted: there is no {path}, and --trust was not given", file=sys.stderr)
    return Trust()


if __name__ == "__main__":
    sys.exit(main())
