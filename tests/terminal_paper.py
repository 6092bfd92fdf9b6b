"""What a stream of bytes paints: the paper of every cell, read sequence by sequence.

Rules: every character that is printed, every erasing and every entering and leaving of the
alternate page is a painting in the paper that stands at that moment, as terminals do that erase in
a colour; on those that do not, an erasing paints the terminal's own page, and is counted so too. A
sequence that is not known is a fault, so that none is passed over.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

DEFAULT = "default"
ERASES = "JKX@LMP"
_SEQUENCE = re.compile(
    r"\x1b\[(?P<args>[?>=]?[0-9;]*) ?(?P<end>[@-~])|\x1b\](?P<title>[^\x07\x1b]*)(?:\x07|\x1b\\)"
    r"|\x1b(?P<short>[()][0-9A-B]|[=>78MDEHc])|(?P<control>[\x00-\x1f\x7f])|(?P<text>[^\x00-\x1f\x7f]+)"
)


@dataclass
class Painted:
    """Every paper and ink that was painted, by name ("0,0,0", "256:231", "16:40", "default"), and
    the paper that stood when the alternate page was entered and left."""

    seen: set[str] = field(default_factory=set)
    inks: set[str] = field(default_factory=set)
    entered_in: list[str] = field(default_factory=list)
    left_in: list[str] = field(default_factory=list)
    outside: str = ""
    """The text that was printed while no alternate page stood."""
    paper: str = DEFAULT
    ink: str = DEFAULT
    reverse: bool = False
    inside: bool = False
    kinds: set[str] = field(default_factory=set)
    """The kinds of colour sequence: 16, 256, rgb."""


def papers(sent: str) -> Painted:
    """Reads a whole stream."""
    found = Painted()
    at = 0
    while at < len(sent):
        match = _SEQUENCE.match(sent, at)
        if match is None:
            raise ValueError(f"what is this? {sent[at : at + 20]!r}")
        at = match.end()
        if match["text"] is not None:
            _print(found, match["text"])
        elif match["end"] is not None:
            _sequence(found, match["args"], match["end"])
        elif match["control"] in ("\n", "\r") and not found.inside:
            found.outside += match["control"]
    return found


def _print(found: Painted, text: str) -> None:
    if not found.inside:
        found.outside += text
        return
    shown = (found.ink, found.paper)
    paper, ink = shown if found.reverse else shown[::-1]
    found.seen.add(paper)
    if text.strip():
        found.inks.add(ink)


def _sequence(found: Painted, args: str, end: str) -> None:
    if end == "m":
        for colours in _colours(args):
            _colour(found, colours)
    elif end in "hl" and args in ("?1049", "?1047", "?47"):
        (found.entered_in if end == "h" else found.left_in).append(found.paper)
        found.inside = end == "h"
    elif end in ERASES and found.inside:
        found.seen |= {found.paper, DEFAULT}


def _colours(args: str) -> Iterator[tuple[int, ...]]:
    codes = [int(code or "0") for code in args.split(";")]
    at = 0
    while at < len(codes):
        wide = {5: 3, 2: 5}[codes[at + 1]] if codes[at] in (38, 48) else 1
        yield tuple(codes[at : at + wide])
        at += wide


def _colour(found: Painted, codes: tuple[int, ...]) -> None:
    first = codes[0]
    if first in (38, 48):
        name = f"256:{codes[2]}" if codes[1] == 5 else ",".join(map(str, codes[2:]))
        found.kinds.add("256" if codes[1] == 5 else "rgb")
        if first == 38:
            found.ink = name
        else:
            found.paper = name
    elif first == 0:
        found.ink = found.paper = DEFAULT
        found.reverse = False
    elif first in (7, 27):
        found.reverse = first == 7
    elif 30 <= first <= 37 or 90 <= first <= 97:
        found.ink = f"16:{first}"
        found.kinds.add("16")
    elif 40 <= first <= 47 or 100 <= first <= 107:
        found.paper = f"16:{first}"
        found.kinds.add("16")
    elif first == 39:
        found.ink = DEFAULT
    elif first == 49:
        found.paper = DEFAULT
    elif first not in (1, 2, 3, 4, 5, 8, 9, 22, 23, 24, 25, 28, 29):
        raise ValueError(f"what is SGR {codes}?")
