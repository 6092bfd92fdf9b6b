"""What each key does at the question that stands: the help behind one key.

Rules: a line a key or a group of keys, the ones that answer first; the keys are those in force, own
ones included, and what they do is taken from the tables that the keys go by; a key that does
nothing here says so, and why. Only the keys of the list; a page over it says its own in its title.
"""

from __future__ import annotations

from runner.engine.effects import Prompt, View
from runner.terminal.aside import Aside
from runner.terminal.commands import FUNCTION_KEYS, label
from runner.terminal.keymap import NAMES, Keymap, called
from runner.terminal.keys import TABLE, Means, both_look, each_reads, takes_number
from runner.terminal.voicekeys import VOICE_KEYS

MOST_KEYS = 3


def keys_here(view: View, aside: Aside) -> list[str]:
    """Lines `KEYS: what they do`, for the question of `view`."""
    listen, keymap = aside.listen, aside.keymap
    number = takes_number(view, listen)
    below = number and listen.low is not None and listen.low < 0
    said = [(_keys(keymap, "as shown"), _yes(view, aside))]
    sign = () if below else ("minus",)
    said.append((_keys(keymap, "not so", *sign), _no(view)))
    if number:
        signs = _keys(keymap, "point", "minus") if below else _keys(keymap, "point")
        said.append((f"DIGITS and {signs}", "the value"))
        said.append((_keys(keymap, "enter"), "ends the value, a second after its first digit"))
        if view.options:
            said.append((_keys(keymap, "point"), "alone: the choices, by their numbers"))
    elif digits := _digits(view):
        said.append(digits)
    said.append(("0 or " + _keys(keymap, "page down"), "the next sheet of a page"))
    said.append((_keys(keymap, "back"), "takes back what is typed; closes a page"))
    said.append((_keys(keymap, "drills"), "the drills; a number opens one"))
    for key, command in FUNCTION_KEYS.items():
        name = next(act.name for act in NAMES.values() if act.key == key)
        if name not in ("drills", "keys"):
            does = _nothing_now(name, view) or label(command, view).lower()
            said.append((_keys(keymap, name), does))
    if more := _keys(keymap, "more"):
        said.append((f"{more}, then a number", "every command"))
        said.append((f"{more}, then a letter", "words, ended by Enter"))
        said.append((f"{more} again", "the page closes"))
    said += [(_keys(keymap, name), NAMES[name].does) for name in VOICE_KEYS]
    return [f"{keys}: {does}" for keys, does in said if keys]


def _keys(keymap: Keymap, *names: str) -> str:
    found = [called(key) for name in names for key in keymap.keys_of(name)]
    # A letter in both cases is one key to a hand.
    once = [key for key in found if not (key.islower() and key.upper() in found)]
    return " or ".join(once[:MOST_KEYS])


def _yes(view: View, aside: Aside) -> str:
    cell = TABLE[view.prompt][0]
    response = cell.means is Means.RESPONSE or view.prompt is Prompt.CAUTION
    if each_reads(view) or (response and both_look(view)):
        return "nothing; each by the number of their own"
    if cell.means is Means.END:
        return cell.means.value
    if cell.means is not Means.RESPONSE:
        return cell.text if cell.means is Means.SEND else f"nothing; {cell.text.lower()}"
    if view.options:
        return "nothing; choose by number"
    if aside.listen.number:
        return "nothing; type what is read"
    return aside.listen.responses[0] if aside.listen.responses else "nothing is asked now"


def _no(view: View) -> str:
    cell = TABLE[view.prompt][1]
    if cell.means is Means.FAULT:
        return "fault, then the number of the item"
    if cell.means is Means.SEND:
        return cell.text
    return f"nothing; {cell.text.lower()}" if cell.text else cell.means.value


def _digits(view: View) -> tuple[str, str] | None:
    """What a digit does where no value is typed."""
    if view.prompt is Prompt.STATION:
        return "1 to 9", "tick the item of that number"
    if view.prompt is Prompt.FIRST_PAGE:
        return "1 to 9", "who has read the page"
    if view.prompt is Prompt.CLOSED:
        return "1 to 9", "the line of that number"
    if view.options:
        return "1 to 9", "the choice of that number"
    if both_look(view):
        return "1 to 9", "who has looked, and sees it as shown"
    return None


def _nothing_now(name: str, view: View) -> str:
    if name == "put off" and not view.may_put_off:
        return "nothing; this step cannot be put off"
    if name == "accept page" and not view.accept_class:
        return "nothing; there is nothing to accept"
    if name == "timer" and not view.timers:
        return "nothing; no timer belongs to this list"
    return ""
