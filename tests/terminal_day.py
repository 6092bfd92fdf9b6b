"""What the tests at a terminal share: the demonstration, its scripts, its log and its end.

Rules: what a log holds is read from its file, what a verdict is from the program's own verifier.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from runner.host.scripted import Input, parse, read_script
from tests.terminal_crew import work
from tests.terminal_driver import ROOT, Terminal

DOCUMENTS = ROOT / "flows" / "corvane_c4"
TO_THE_LISTS = ("commander: page read", "copilot: page read")
TO_SHUT_THE_DOORS = """
@+1s copilot: off
copilot: off
copilot: off
copilot: off, valve shut
copilot: off
copilot: off
magnetos off
cut-off, closed
fuel off
off
off
closed
copilot: entered
copilot: 4127.6
copilot: 132
copilot: 141
copilot: 32
commander: none
commander: nothing accepted
commander: serviceable
commander: signed by commander
closed
ground: in, both sides
copilot: tied down
copilot: covered, four blanks in
ground: under the nose
copilot: locked
commander: in
commander: pulled
commander: taken out
commander: locked
closed
"""
"""What is left to do where nothing turned: switches, figures, and the aircraft for the night."""
TO_SHUT_THE_DOORS_ENTERED = TO_SHUT_THE_DOORS.replace("commander: none\n", "commander: entered\n")
"""The same where a snag or a defect is open, which the post-flight list holds to be entered."""


def script(name: str) -> list[Input]:
    return read_script(DOCUMENTS / "answers" / f"{name}.txt")


def lines(*said: str) -> list[Input]:
    return list(parse(said))


def demo(logs: Path, *words: str) -> list[str]:
    return ["demo", "--log-dir", str(logs), *words]


def only_log(logs: Path) -> Path:
    (path,) = logs.glob("*.jsonl")
    return path


def verified(logs: Path) -> str:
    """What the program's own verifier says of the run, lists replayed."""
    done = subprocess.run(
        [sys.executable, "-m", "runner.cli", "verify", str(only_log(logs)),
         "--level", "replayed", "--also", "demonstration"],
        capture_output=True, text=True, encoding="utf-8", cwd=ROOT, check=False,
    )  # fmt: skip
    assert done.stderr == ""
    word = done.stdout.split()[0]
    assert (done.returncode == 0) == (word == "closed"), done.stdout
    return word


def events(logs: Path) -> list[dict[str, Any]]:
    """What the log holds of every event, in order: `event`, `outcome`, `heard` if words came."""
    with only_log(logs).open(encoding="utf-8") as stream:
        found = [json.loads(row)["body"]["data"] for row in stream]
    return [data for data in found if "event" in data]


def outcomes(logs: Path, *kinds: str) -> list[tuple[str, ...]]:
    """What came of the events, in the order of the log; of these kinds only, if any are named."""
    found = [tuple(item) for data in events(logs) for item in data["outcome"]]
    return [item for item in found if not kinds or item[0] in kinds]


def met(logs: Path) -> list[str]:
    """The steps that were met, in the order of the log."""
    return [item[1] for item in outcomes(logs, "met")]


def not_done(logs: Path) -> int:
    """How many lists the log left and never closed."""
    left: set[str] = set()
    for kind, *rest in outcomes(logs, "left behind", "list closed"):
        left = left | {rest[0]} if kind == "left behind" else left - {rest[0]}
    return len(left)


def end_the_day(screen: Terminal, logs: Path) -> None:
    """From the last list to the closed log; a day with lists that were left says so."""
    screen.see_text("END OF DAY +")
    left = not_done(logs)
    ended = f"LISTS ENDED, {left} NOT DONE" if left else "LISTS CLOSED, NONE OPEN"
    screen.see_text(ended)
    screen.key("+", after_ms=1000)
    screen.see_text("END OF DAY?")
    screen.key("+", after_ms=1000)
    assert screen.wait() == 0
    assert "the log is closed, head" in screen.text()
    assert b"Traceback" not in screen.output


def at_three_keys_alike(screen: Terminal) -> None:
    """To where three steps after each other are answered by the same key."""
    work(screen, lines(*TO_THE_LISTS, "commander: signed, in date", "copilot: 38.4"))
    work(screen, lines("commander: none open"))
    screen.see_text("5 LAST FLIGHT'S SNAGS")
    screen.passes(1000)


def at_the_second_question(screen: Terminal) -> None:
    work(screen, lines(*TO_THE_LISTS, "commander: signed, in date"))
    screen.see_text("2 HOURS TO NEXT INSPECTION")
    screen.passes(1000)
