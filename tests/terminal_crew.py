"""A crew at the keyboard: what a script says, pressed on the keys that the screen offers for it.

Rules: the keys come from what the screen shows (the row of keys, the numbers before choices, items
and people), not from the program's data; a person waits until the screen asks for what they want to
say; who has no key for it types the words; a key that was not taken is a fault, never repeated.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from functools import partial

from runner.host.scripted import Input
from runner.words.numbers import read_number
from runner.words.spoken import split
from tests.terminal_driver import Terminal

WORDS = {
    "say again": ("f2",), "stand by": ("f3",), "put off": ("f4",), "mark take-off": ("f7",),
    "mark landing": ("f7",), "unable": ("/", "0", "1"), "disregard": ("/", "0", "3"),
    "condition lost": ("/", "0", "5"), "next flight": ("/", "0", "0", "1"),
}  # fmt: skip
LINES = {
    "snag ": ("f5",), "correction ": ("/", "0", "6", "1"),
}  # fmt: skip
REACTION_MS = 1000
LOOKS = "BOTH LOOK "
TYPING = ("TYPED ", "WORDS ")
NOT_TAKEN = ("TOO SOON", "KEY HELD", "BEING RECORDED", "REFUSED", "NO NUMBER", "DROPPED")
_NUMBER = re.compile(r"-?\d+(\.\d+)?")
Looked = Callable[[Terminal], None]


def keys_for(screen: Terminal, line: str) -> tuple[str, ...] | None:
    """The keys for a line of a script on the screen as it stands; None where it asks for
    something else (still)."""
    speech = split(line)
    said, hint = speech.text, screen.hint()
    if said in WORDS:
        return WORDS[said]
    for start, opens in LINES.items():
        if said.startswith(start):
            return (*opens, said.removeprefix(start), "enter")
    if said.startswith(("turn to ", "correct ", "happened ")):
        return (said, "enter")
    if said.startswith("drill "):
        return ("f1", f"drill:{said.removeprefix('drill ')}")
    if said == "discontinue":
        return ("f9", "+")
    offered = first_key(hint)
    if said == "end of day":
        return ("+", "+") if offered == "END OF DAY +" else None
    if said == "page read" and offered.startswith("TO READ"):
        own = re.search(rf"(\d) {speech.role.upper()}\b", offered)
        sheet = re.search(r"(\d+) OF (\d+) +NEXT 0", screen.text())
        left = int(sheet[2]) - int(sheet[1]) if sheet else 0
        return (*("0",) * left, own[1]) if own else None
    if said in PLUS:
        return ("+",) if offered.startswith(PLUS[said]) else None
    if said == "not so":
        return ("-",) if "NOT SO -" in hint else None
    if said.startswith("tick "):
        # An item of the station that the other one works at, while this list is open: by words.
        return _numbered(screen, said.removeprefix("tick ")) or (said, "enter")
    number = _NUMBER.fullmatch(said) is not None
    takes = offered in ("VALUE, ENTER", ". THEN NUMBER") or (
        offered == "AFFIRM +" and "LIMIT" in screen.text()
    )
    if number:
        return (said, "enter") if takes else None
    if re.match(r"(drop|below|above) \d", said):
        return (said, "enter") if takes else None
    if read_number(said) is not None:
        return None
    return _words(screen, speech.role, said, offered)


def first_key(hint: str) -> str:
    """What the row of keys names first: how the question is answered."""
    return re.split(r"\s{2,}", hint)[0]


PLUS = {
    "page read": "TO READ", "affirm": "AFFIRM +", "memory items done": "ITEMS DONE +",
    "continue": "GO ON +", "roger": "ROGER +",
}  # fmt: skip


def _words(screen: Terminal, role: str, said: str, offered: str) -> tuple[str, ...] | None:
    """The key for a response in words."""
    caution = "CAUTION" in screen.lines()
    if offered.startswith(LOOKS) and (caution or asked(screen, said)):
        looking = re.search(rf"TO LOOK: .*?(\d) {role.upper()}\b", screen.text())
        return (looking[1],) if looking else None
    if offered == "NUMBER CHOOSES" or offered.startswith(LOOKS):
        return _numbered(screen, said)
    if offered in (". THEN NUMBER", "VALUE, ENTER"):
        chosen = _numbered(screen, said)
        return (".", *chosen) if chosen else None
    if offered == "ROGER +":
        return ("+",)
    if offered == "AS SHOWN +":
        return ("+",) if asked(screen, said) else None
    return None


def asked(screen: Terminal, said: str) -> bool:
    """Whether the words stand on the screen as what is expected."""
    who = r"(COMMANDER|COPILOT|GROUND|HANDLING|MONITORING|BOTH LOOK)"
    words = re.escape(said.upper())
    beside, above = rf"{who}[^:]*: {words}", rf"{words} {who}[^:]* ANSWERS"
    return re.search(f"{beside}|{above}", screen.text()) is not None


def _numbered(screen: Terminal, said: str) -> tuple[str, ...] | None:
    found = re.search(rf"(?:^|\s)(\d) {re.escape(said)}(?=\s|$)", screen.text(), re.I)
    return (found[1],) if found else None


def press(screen: Terminal, line: str, looked: Looked = lambda screen: None) -> None:
    """Waits until the screen asks for it, presses, and waits until the screen has changed. What
    stood on the screen before the keys goes to `looked`; a second passes after it."""
    found: list[tuple[str, ...]] = []

    def ready() -> bool:
        keys = keys_for(screen, line)
        if keys is not None:
            found.append(keys)
        return keys is not None

    screen.see(ready, f"a screen that asks for: {line}")
    looked(screen)
    screen.passes(REACTION_MS)
    before = screen.face()
    written = len(found[-1]) > 1 and found[-1][-1] == "enter"
    before_key = ""
    for key in found[-1]:
        if key.startswith("drill:"):
            _choose_drill(screen, key.removeprefix("drill:"))
            continue
        # What must never be one key has a page of its own, and wants its second key after a pause.
        slow = key in ("+", "0") or before_key in (".", "0")
        stood = screen.face()
        screen.key(key, after_ms=1000 if slow else None)
        if key == "0":
            # A sheet that is turned to is seen before the next key.
            screen.see(partial(_another_face, screen, stood), "the next sheet")
        before_key = key
        if key == "f9":
            screen.see_text("DISCONTINUE?")
        if found[-1] == ("+", "+") and screen.face() != before:
            screen.see_text("END OF DAY?")
        if written and key == found[-1][-2]:
            screen.see_text(key)
    if split(line).text == "next flight":
        # What the flight skips lies over its first question, and is put away by one key.
        screen.see_text("GOES ON, AND ANSWERS NOTHING")
        screen.key("+", after_ms=1000)
    if split(line).text == "say again":
        return

    def taken() -> bool:
        hint = screen.hint()
        if hint.startswith(TYPING) or "BACK -" in hint:
            return False
        # The same value once more may leave the screen as it was: then the typing is gone from it.
        return written or screen.face() != before

    screen.see(taken, f"what came of: {line}")
    text = screen.text()
    for fault in NOT_TAKEN:
        assert fault not in text, f"{line}: {fault}\n" + "\n".join(screen.lines())


def _choose_drill(screen: Terminal, title: str) -> None:
    """On the drills page, turning it as often as it takes."""
    screen.see_text("DRILLS: NUMBER OPENS")
    for _ in range(4):
        found = re.search(rf"(?:^|\s)(\d) {re.escape(title)}(?=\s|$)", screen.text(), re.I)
        if found:
            screen.key(found[1])
            return
        before = screen.face()
        screen.key("0")
        screen.see(lambda before=before: screen.face() != before, "the next drills")  # type: ignore[misc]
    raise AssertionError(f"no drill {title}\n" + "\n".join(screen.lines()))


def _another_face(screen: Terminal, stood: str) -> bool:
    return screen.face() != stood


def work(screen: Terminal, inputs: Iterable[Input], looked: Looked = lambda screen: None) -> int:
    """Works through a script; `looked` is called with every screen before its answer. How many
    answers were given."""
    given = 0
    for one in inputs:
        if not one.text:
            screen.passes(one.passes)
            continue
        # The last second is that of a person who has seen the question.
        screen.passes(max(0, one.passes - REACTION_MS))
        press(screen, one.text, looked)
        given += 1
    return given
