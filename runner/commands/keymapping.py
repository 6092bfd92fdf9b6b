"""`keymap`: the table of keys in force, and whether one's own file is right.

Rules: changes nothing; data on standard output, faults on standard error with exit code 3, the
code of documents that are invalid; what is shown is what a run would go by.
"""

from __future__ import annotations

import json
from pathlib import Path

from runner.commands.signing import say
from runner.host.keyfile import key_file, read
from runner.terminal.keymap import DEFAULT, NAMES, Keymap, called


def show_keymap(path: Path | None, *, as_json: bool) -> int:
    """Shows the table of keys of a file, or of the one in force. Raises FlowErrors for faults."""
    file = path or key_file()
    keymap = read(file) if path is not None or file.exists() else Keymap()
    rows = _rows(keymap)
    say(f"own keys from {file}" if file.exists() else f"no own keys: there is no {file}")
    if as_json:
        for key, action, does, own in rows:
            print(json.dumps({"key": key, "action": action, "does": does, "own": own}))
        return 0
    for key, action, does, own in rows:
        print(f"{'own' if own else '':<4} {key:<12} {action:<17} {does}")
    print(f"     {'mouse':<12} {'on' if keymap.mouse else 'off'}")
    return 0


def _rows(keymap: Keymap) -> list[tuple[str, str, str, bool]]:
    """Key, action, what it does, whether it is one's own; in the order of the actions."""
    found = {**DEFAULT, **keymap.own}
    order = list(NAMES)
    keys = sorted(found, key=lambda key: order.index(found[key]))
    return [(called(k), found[k], NAMES[found[k]].does, k in keymap.own) for k in keys]
