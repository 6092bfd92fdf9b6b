"""A crew at the plain mode: reads the lines that came, types the words of a script.

Rules: only what was printed counts; a person waits until the last call asks for what they want to
say; what was typed must come back as an answer taken, never as a refusal.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from runner.host.scripted import Input
from runner.words.numbers import read_number
from runner.words.spoken import split
from tests.terminal_crew import REACTION_MS
from tests.terminal_driver import Terminal

FREE = (
    "say again", "stand by", "put off", "mark ", "snag ", "turn to ", "happened ", "correct ",
    "correction ", "next flight", "tick ", "drill ", "discontinue",
)  # fmt: skip
SILENT = ("snag ", "page read", "correct ", "happened ")
"""Words after which the call that stands is not another one."""
NEWS = ("SNAG:", "STATE:", "READ BACK:", "CORRECTED:", "PASSENGERS CHANGED")
CALLS = ("CALL ", "CALL: ", "CAUTION ", "WAITING ", "STANDBY:", "PAGE:", "CLOSED")
CAME = (*CALLS, "HEARD:", "BOTH LOOK:", "ITEM ", "LAST VALUE:", "STANDS:")
"""What a line that was taken leaves: another call, or what has changed of the one that stands."""


def printed(terminal: Terminal, since: int = 0) -> list[str]:
    """The lines that came from a place of the output on; the last one may be in the making."""
    return terminal.output[since:].decode("utf-8", "replace").replace("\r", "").split("\n")


def last_call(terminal: Terminal) -> list[str]:
    """The last call and the lines that belong to it."""
    lines = printed(terminal)
    for place in range(len(lines) - 1, -1, -1):
        if lines[place].startswith(CALLS):
            return lines[place:]
    return []


def asked(terminal: Terminal, line: str) -> bool:
    """Whether the last call asks for what the line says."""
    speech, call = split(line), last_call(terminal)
    said, text = speech.text, "\n".join(call)
    if said.startswith(FREE):
        return True
    if said == "page read":
        return "still to read it: " in text and speech.role in text.split("read it: ")[-1]
    if said == "continue":
        return "answer continue" in text
    if said == "affirm":
        return "CALL: affirm?" in text
    if call and call[0].startswith("CAUTION "):
        # A caution is answered by roger or by its own words; the crew of the script knows both.
        return True
    if said == "memory items done":
        return "CALL: memory items done?" in text
    value = read_number(said) is not None or re.match(r"(drop|below|above) \d", said)
    if value:
        return "; limit " in text or "; read in " in text
    if "BOTH LOOK" in text and not re.search(rf"still to answer: .*{speech.role}", text):
        return False
    return said.upper() in text.upper()


def type_line(terminal: Terminal, line: str) -> None:
    """Waits for the call, types, and waits for what came of it; refused is a fault."""
    terminal.see(lambda: asked(terminal, line), f"a call for: {line}")
    terminal.passes(REACTION_MS)
    start = len(terminal.output)
    terminal.type(f"{line}\r")
    silent = split(line).text.startswith(SILENT)

    def taken() -> bool:
        came = printed(terminal, start)[1:-1]
        return any(one.startswith(NEWS if silent else CAME) for one in came)

    if split(line).text != "say again":
        terminal.see(taken, f"what came of: {line}")
    came = "\n".join(printed(terminal, start))
    assert "REFUSED" not in came, came


def work(terminal: Terminal, inputs: Iterable[Input]) -> int:
    """Works through a script; how many lines were typed."""
    given = 0
    for one in inputs:
        if not one.text:
            terminal.passes(one.passes)
            continue
        terminal.passes(max(0, one.passes - REACTION_MS))
        type_line(terminal, one.text)
        given += 1
    return given
