"""The bytes of a document into its characters, or a fault at the first that may not stand there.

Rules: UTF-8 only, with or without a byte order mark, lines ended by LF or CRLF, at most 1 MiB; no
tab, no control character and nothing that cannot be seen or that changes the direction of writing,
since a reader of the document could not know that it is there.
"""

from __future__ import annotations

import unicodedata
from typing import Final

from runner.flow.faults import Faults, Place

MOST_BYTES: Final = 1024 * 1024
UNSEEN: Final = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
"""Unicode's categories of what cannot be seen: control, format, surrogate, private, unassigned,
line and paragraph separators."""


def decode(file: str, data: bytes, faults: Faults) -> str | None:
    """The characters of a document, if all of them may stand in one."""
    start = Place(file, 1, 1)
    if len(data) > MOST_BYTES:
        faults.add(
            start,
            "the document is too long",
            found=f"{len(data)} bytes",
            allowed=f"at most {MOST_BYTES} bytes",
            todo="split it: one list or drill a file",
        )
        return None
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        faults.add(start, "the document is UTF-16", allowed="UTF-8", todo="save it as UTF-8")
        return None
    try:
        text = data.removeprefix(b"\xef\xbb\xbf").decode("utf-8")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8", "replace")
        line = before.count("\n") + 1
        faults.add(
            Place(file, line, len(before) - (before.rfind("\n") + 1) + 1),
            "the document is not UTF-8",
            found=f"the byte 0x{data[error.start]:02x}",
            allowed="UTF-8",
            todo="save it as UTF-8",
        )
        return None
    text = text.replace("\r\n", "\n")
    refused = {c for c in set(text) if c != "\n" and unicodedata.category(c) in UNSEEN}
    if not refused:
        return text
    for number, line_text in enumerate(text.split("\n"), start=1):
        for column, character in enumerate(line_text, start=1):
            if character in refused:
                refuse_unseen(Place(file, number, column), character, faults)
                break
        if faults.full:
            break
    return None


def refuse_unseen(place: Place, character: str, faults: Faults) -> None:
    if character == "\t":
        faults.add(place, "a tab", allowed="spaces", todo="replace every tab by spaces")
    else:
        faults.add(
            place,
            "a character that cannot be seen",
            found=f"U+{ord(character):04X}",
            allowed="letters, digits, signs and spaces",
            todo="delete it",
        )
