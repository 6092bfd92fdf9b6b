"""The table of keys of one's own, read from its file in the configuration folder.

Rules: read as strictly as a document; every fault at once, each with line, column, what was found,
what is allowed and the nearest match; a file with a fault is not used at all, never in part, and a
run goes on with the keys that the program comes with; no file is no fault.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from runner.flow.faults import Faults, FlowErrors, Place, nearest_word, quoted
from runner.flow.nodes import read as read_nodes
from runner.flow.tree import Mapping, Node, Scalar
from runner.host.places import PlaceFault, config
from runner.terminal.keymap import NAMES, Keymap, called, lacking
from runner.terminal.keynames import KEPT, NAMED, read_name

TOP = ("keys", "mouse")
NEVER_ONE_KEY = {
    "accept": "accept page", "accepts": "accept page", "discontinue": "discontinue page",
    "leave": "more", "leave open": "more", "end of day": "as shown", "affirm": "as shown",
}  # fmt: skip
"""Words for what no single key does, and the action whose page or question leads there."""
_ALLOWED = ", ".join(
    name for name in NAMES if not name.startswith("digit ") or name == "digit 0"
).replace("digit 0", "digit 0 to digit 9")
ON_OFF = {"on": True, "off": False, "true": True, "false": False}


def key_file() -> Path:
    """Where the table of keys of one's own lies."""
    return config() / "keymap.yaml"


def bytes_of(path: Path) -> bytes:
    """The bytes of a file of settings. PlaceFault where it cannot be read."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise PlaceFault(f"{path}: cannot be read: {error.strerror}") from None


def entries(path: Path, data: bytes, allowed: Sequence[str]) -> tuple[Mapping, Faults]:
    """The entries of a file of settings, and the faults found so far: keys that are unknown.
    Raises FlowErrors for bytes that are no such file, PlaceFault for one that holds nothing."""
    faults = Faults("meaning")
    tree = read_nodes(str(path), data, faults)
    faults.check()
    if tree is None:
        raise PlaceFault(f"{path}: holds nothing")
    for key, place in tree.keys.items():
        if key not in allowed:
            faults.add(place, "an unknown key", found=quoted(key), allowed=allowed)
    return tree, faults


def read(path: Path) -> Keymap:
    """The table of a file. Raises FlowErrors for what it says, PlaceFault where it cannot be
    read."""
    tree, faults = entries(path, bytes_of(path), TOP)
    own = _own(tree, faults)
    mouse = _mouse(tree.values.get("mouse"), faults)
    faults.check()
    for action, why in lacking(own):
        place = tree.keys.get("keys", tree.place)
        faults.add(place, f"no key is left for {action}: {why}", todo="give it a key, or leave one")
    faults.check()
    return Keymap(own, mouse)


def _own(tree: Mapping, faults: Faults) -> dict[str, str]:
    node = tree.values.get("keys")
    if node is None:
        return {}
    if not isinstance(node, Mapping):
        faults.add(node.place, "keys is no table", allowed="a line `KEY: ACTION` for each key")
        return {}
    own: dict[str, str] = {}
    written: dict[str, str] = {}
    for text, place in node.keys.items():
        key = _key(text, place, faults)
        action = _action(node.values[text], faults)
        if not key or not action:
            continue
        if key in own:
            faults.add(
                place, f"the key {called(key)} stands twice", found=quoted(text),
                todo=f"keep it or {quoted(written[key])}: one key means one thing",
            )  # fmt: skip
            continue
        own[key], written[key] = action, text
    return own


def _key(text: str, place: Place, faults: Faults) -> str:
    key = read_name(text)
    if key in KEPT:
        faults.add(place, "a key that cannot be given a meaning", found=quoted(text),
                   todo=f"take another one: {KEPT[key]}")  # fmt: skip
        return ""
    if not key:
        faults.add(
            place, "a key that no terminal reports", found=quoted(text.casefold()),
            allowed="a character, F1 to F24, up, home, insert, page down, ctrl-t, alt-t ...",
            nearest=nearest_word(text.casefold(), sorted(NAMED)),
        )  # fmt: skip
    return key


def _action(node: Node, faults: Faults) -> str:
    if not isinstance(node, Scalar):
        faults.add(node.place, "a key means one action", allowed=_ALLOWED)
        return ""
    # A digit may be written as itself: 5, for digit 5.
    name = " ".join(node.text.casefold().split())
    name = f"digit {name}" if len(name) == 1 and name.isdecimal() else name
    if name in NAMES:
        return name
    if name in NEVER_ONE_KEY:
        faults.add(node.place, "what no single key does", found=quoted(node.text),
                   nearest=NEVER_ONE_KEY[name], todo="a second, later key confirms it")  # fmt: skip
    else:
        faults.add(node.place, "an unknown action", found=quoted(name), allowed=_ALLOWED,
                   nearest=nearest_word(name, NAMES))  # fmt: skip
    return ""


def _mouse(node: Node | None, faults: Faults) -> bool:
    if node is None:
        return True
    text = node.text.casefold() if isinstance(node, Scalar) else ""
    if text not in ON_OFF:
        found = quoted(node.text) if isinstance(node, Scalar) else "no word"
        faults.add(node.place, "mouse is on or off", found=found, allowed=("on", "off"))
        return True
    return ON_OFF[text]


def in_force() -> tuple[Keymap, str]:
    """The table that a run goes by, and what is to be said of a file that is not used."""
    path = key_file()
    if not path.exists():
        return Keymap(), ""
    try:
        return read(path), ""
    except (FlowErrors, PlaceFault) as fault:
        first = str(fault).splitlines()[0]
        said = f"{path} is not used, the keys of the program hold: {first}; see: latchword keymap"
        return Keymap(fault=first), said
