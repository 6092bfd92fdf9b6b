"""The numbered commands: what a function key does, and the same number on the `/` pages.

Rules: one table; a command's number never changes with the state, so that a hand learns it; what a
command sends are words of the crew's language and nothing else. `/` and a number is the way for a
numeric pad, the function key the way for a keyboard, the words the way for plain mode. The sheets
are: what is said at any time, what is said about an answer or by the crew, what a day brings, and
what is only looked at.
"""

from __future__ import annotations

from runner.engine.effects import WRONG_AIRCRAFT, Prompt, View
from runner.terminal.keystate import MORE_KEY, Command, Page
from runner.terminal.shell import LEAVE_WORDS

PUT_OFF = Command("PUT OFF", send="put off", help="set the step aside; it comes back")
NEXT_FLIGHT = Command("NEXT FLIGHT", send="next flight", help="the next flight of the day")
CREW_PAGE = Command("CREW", page=Page.CREW, help="who is who; somebody takes over")
FLIGHTS_PAGE = Command("FLIGHTS", page=Page.FLIGHTS, help="what is done and still valid")
KEPT_PAGE = Command("SNAGS, DEFECTS", page=Page.KEPT, help="kept for the technical log")
COPY_PAGE = Command("COPY PAGE", page=Page.COPY, help="figures for the technical log")
RECEIPT_PAGE = Command("RECEIPT", page=Page.RECEIPT, help="what the log has come to, to keep")

COMMAND_SHEETS: tuple[tuple[Command, ...], ...] = (
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
        Command("CORRECT", page=Page.CORRECT, help="an answer was wrong: which"),
        Command("HAND OVER", send="hand over", help="handling and monitoring change"),
        Command("THEME", send="theme", help="day, night, dark-adapted, plain"),
        Command("LEAVE OPEN", page=Page.LEAVE, help="leave the run open, to resume"),
    ),
    (
        NEXT_FLIGHT,
        Command("TURN TO", page=Page.LISTS, help="another list of this group"),
        Command("ON PAPER", page=Page.PAPER, help="done from the card, by its numbers"),
        CREW_PAGE,
        Command("HAPPENED", page=Page.HAPPENED, help="refuelled, passengers changed ..."),
        Command("MAINTENANCE", line="maintenance ", help="an entry of maintenance"),
        Command("READING", line="reading ", help="a value read out unasked"),
        Command("DOCUMENTS", page=Page.DOCUMENTS, help="revisions and codes of this run"),
        Command("KEYS", page=Page.KEYS, help="what each key does here"),
    ),
    (
        Command("OPEN ITEMS", page=Page.OPEN, help="open, put off, accepted"),
        FLIGHTS_PAGE,
        KEPT_PAGE,
        COPY_PAGE,
        RECEIPT_PAGE,
    ),
)
"""Sheets of nine at most; on the `/` page 0 turns to the next one."""
AT_THE_END = (COPY_PAGE, KEPT_PAGE, FLIGHTS_PAGE, RECEIPT_PAGE)
"""What is numbered on the page of a day whose lists are closed. The next flight, which is not
always to be had, stands behind them, so that no number of these ever means it."""


def is_wrong_aircraft(view: View) -> bool:
    """Whether the run has ended because the placard was another aircraft's."""
    return view.prompt is Prompt.CLOSED and any(one.why == WRONG_AIRCRAFT for one in view.lists)


def at_the_end(view: View) -> tuple[Command, ...]:
    """What is numbered where no list is open: nothing, in a run for the wrong aircraft; the next
    flight only where it may begin."""
    if is_wrong_aircraft(view):
        return ()
    return (*AT_THE_END, NEXT_FLIGHT) if view.may_begin_next else AT_THE_END


FUNCTION_KEYS: dict[str, Command] = {
    **{f"f{number}": command for number, command in enumerate(COMMAND_SHEETS[0], 1)},
    "f10": COMMAND_SHEETS[1][7],
    "f12": COMMAND_SHEETS[2][8],
}


def number_of(command: Command) -> str:
    """The keys of a numeric pad that lead to a command: `/ 0 0 1`."""
    sheet = next(n for n, commands in enumerate(COMMAND_SHEETS) if command in commands)
    return " ".join((MORE_KEY, *"0" * sheet, str(COMMAND_SHEETS[sheet].index(command) + 1)))


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
    if said in ("keys", "words", "help"):
        return "keys"
    return said if said == "theme" or said.startswith("theme ") else ""
