"""The numbered commands: what a function key does, and the same number on the `/` pages.

Rules: one table; a command's number never changes with the state, so that a hand learns it; what a
command sends are words of the crew's language and nothing else. `/` and a number is the way for a
numeric pad, the function key the way for a keyboard, the words the way for plain mode.
"""

from __future__ import annotations

from typing import NamedTuple

from runner.engine.effects import Prompt, View
from runner.terminal.keystate import Page
from runner.terminal.shell import LEAVE_WORDS


class Command(NamedTuple):
    """One of: words to `send`, a word line to open (`line`), a `page` to open."""

    label: str
    send: str = ""
    line: str = ""
    page: Page = Page.NONE
    help: str = ""


PUT_OFF = Command("PUT OFF", send="put off", help="set the step aside; it comes back")

SHEETS: tuple[tuple[Command, ...], ...] = (
    (
        Command("DRILLS", page=Page.DRILLS, help="the drills, numbered"),
        Command("SAY AGAIN", send="say again", help="the call once more"),
        Command("STAND BY", send="stand by", help="an interruption holds the list"),
        PUT_OFF,
        Command("SNAG", line="snag ", help="something noticed, kept for later"),
        Command("TIMER", page=Page.TIMERS, help="start a by-time"),
        Command("MARK", send="mark", help="take-off or landing, now"),
        Command("ACCEPT", page=Page.ACCEPT, help="the commander goes on, with a reason"),
        Command("DISCONTINUE", page=Page.DISCONTINUE, help="the way to the shutdown list"),
    ),
    (
        Command("UNABLE", send="unable", help="cannot be done: what instead"),
        Command("AFFIRM", send="affirm", help="yes, to what was read back"),
        Command("DISREGARD", send="disregard", help="drop what is pending"),
        Command("CONFIRM", send="confirm", help="say what was last recorded"),
        Command("CONDITION LOST", send="condition lost", help="the running wait starts again"),
        Command("CORRECTION", line="correction ", help="the last answer was wrong"),
        Command("HAND OVER", send="hand over", help="handling and monitoring change"),
        Command("THEME", send="theme", help="day, night, dark-adapted, plain"),
        Command("LEAVE OPEN", page=Page.LEAVE, help="leave the run open, to resume"),
    ),
    (
        Command("NEXT FLIGHT", send="next flight", help="the next flight of the day"),
        Command("TURN TO", line="turn to ", help="another list of this group"),
        Command("ON PAPER", line="on paper ", help="31 to 47 revision 6"),
        Command("CREW", line="crew ", help="copilot: NAME takes over"),
        Command("HAPPENED", line="happened ", help="refuelled, crew change ..."),
        Command("MAINTENANCE", line="maintenance ", help="an entry of maintenance"),
        Command("READING", line="reading ", help="a value read out unasked"),
        Command("CORRECT", line="correct ", help="an earlier step, by name"),
        Command("KEYS", page=Page.KEYS, help="what each key does here"),
    ),
)
"""Three sheets of nine; on the `/` page 0 turns to the next sheet."""

FUNCTION_KEYS: dict[str, Command] = {
    **{f"f{number}": command for number, command in enumerate(SHEETS[0], 1)},
    "f10": SHEETS[1][7],
    "f12": SHEETS[2][8],
}


def words(command: Command, view: View) -> str:
    """What a sending command says in this state."""
    if command.send == "mark":
        return "mark landing" if view.airborne else "mark take-off"
    if command.send == "stand by" and view.prompt is Prompt.STANDBY:
        return "continue"
    return command.send


def label(command: Command, view: View) -> str:
    """What the command is called in this state."""
    if command.send in ("mark", "stand by"):
        return words(command, view).upper()
    return command.label


def local(line: str) -> str:
    """The shell's own word in a typed line: `leave`, `theme`, `theme NAME`, `keys`, or nothing."""
    said = " ".join(line.casefold().split())
    if said == LEAVE_WORDS:
        return "leave"
    if said in ("keys", "words"):
        return "keys"
    return said if said == "theme" or said.startswith("theme ") else ""
