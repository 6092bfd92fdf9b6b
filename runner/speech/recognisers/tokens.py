"""The tokens of the packaged model: text to token numbers and back.

One job: the tokenizer's file, read and applied. Rules: the file is a row of byte strings, each
behind its length (a byte; from 128 on, that byte - 128 plus 128 times the next one); byte pairs
merge the pair first whose union has the lowest number; a space is U+2581, one before each text; a
byte string that stands twice (single bytes do) is meant by its last number, which is what the model
writes; what no token covers is spelled in bytes, so that every text comes back.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

START: Final = 1
END: Final = 2
SPACE: Final = "▁"
"""What a space is written as."""

_FIRST_WORD: Final = 3
"""Tokens below are marks: unknown, start, end."""


class BadTokenizer(ValueError):
    """The file is no tokenizer's."""


class Tokens:
    """The tokens of one file."""

    def __init__(self, data: bytes) -> None:
        self._bytes = _strings(data)
        self._numbers = {text: number for number, text in enumerate(self._bytes) if number > END}
        missing = [byte for byte in range(256) if bytes((byte,)) not in self._numbers]
        if missing:
            raise BadTokenizer(f"no token for byte {missing[0]}; each of the 256 needs one")

    @classmethod
    def read(cls, path: Path) -> Tokens:
        """The tokens of a file. `BadTokenizer` if it is none, OSError if it cannot be read."""
        return cls(path.read_bytes())

    def __len__(self) -> int:
        """How many tokens there are."""
        return len(self._bytes)

    def encode(self, text: str) -> list[int]:
        """The tokens of `text`, with the space before it that the model writes."""
        parts = list((SPACE + text.replace(" ", SPACE)).encode())
        row = [bytes((part,)) for part in parts]
        row = self._characters(row)
        while True:
            best = min(
                (self._numbers.get(left + right, len(self._bytes)), place)
                for place, (left, right) in enumerate(
                    zip(row, [*row[1:], b"\xff\xff"], strict=True)
                )
            )
            if best[0] == len(self._bytes):
                return [self._numbers[part] for part in row]
            place = best[1]
            row[place : place + 2] = [row[place] + row[place + 1]]

    def decode(self, tokens: Iterable[int]) -> str:
        """The text of `tokens`, marks left out; bytes that are no text become U+FFFD."""
        joined = b"".join(self._bytes[token] for token in tokens if token >= _FIRST_WORD)
        text = joined.decode(errors="replace").replace(SPACE, " ")
        return text.removeprefix(" ")

    def text(self, token: int) -> str | None:
        """What one token writes, space as " "; None for a mark, half a character or a double that
        is never meant."""
        raw = self._bytes[token]
        if token < _FIRST_WORD or self._numbers.get(raw) != token:
            return None
        try:
            return raw.decode().replace(SPACE, " ")
        except UnicodeDecodeError:
            return None

    def _characters(self, row: Sequence[bytes]) -> list[bytes]:
        """Single bytes joined to the characters that are tokens: pairs merge characters."""
        found: list[bytes] = []
        for character in b"".join(row).decode():
            raw = character.encode()
            found += [raw] if raw in self._numbers else [bytes((byte,)) for byte in raw]
        return found


def _strings(data: bytes) -> list[bytes]:
    found: list[bytes] = []
    place = 0
    while place < len(data):
        length = data[place]
        place += 1
        if length >= 128:
            if place == len(data):
                raise BadTokenizer("the tokenizer ends within a length")
            length += 128 * data[place] - 128
            place += 1
        if place + length > len(data):
            raise BadTokenizer(f"the tokenizer ends within token {len(found)}")
        found.append(data[place : place + length])
        place += length
    return found
