"""The quick look of the boundary level: a run of event lines, in one loop.

Rules: a line is taken only if it is an event, canonically spelled, of the number and after the head
that are due, at most as long as a line may be; whatever else it is, it is left to `line.parse` and
what stands behind that, which alone say what is wrong. The profile, the shape of the event, its
time and its own signature are not looked at, and a crew change is never taken here. One parse, one
spelling and one hash a line, and nothing made that outlives the line: the boundary level is bound
by those three.
"""

from collections.abc import Callable
from hashlib import sha256
from typing import NamedTuple

import orjson

from audit.canonical import OPTIONS
from audit.line import LONGEST
from audit.reader import LIMIT

MOST = 2048
_HEAD = b'{"body":'
_MIDDLE = b',"sig":"'
_TAIL = b'"}\n'
_BEFORE_SIG = len(_TAIL) + 88
_TAIL_LENGTH = len(_MIDDLE) + _BEFORE_SIG


Read = Callable[[int], bytes]
"""Gives the next line of a file, at most so many bytes of it; nothing at the end."""


class Skimmed(NamedTuple):
    """`taken` lines of `length` bytes were taken, the last of them `last` bytes long and of the
    SHA-256 `head`; `rest` is the line that was read behind them, empty at the end of the file."""

    taken: int
    length: int
    last: int
    head: str
    rest: bytes


def skim(raw: bytes, read: Read, seq: int, head: str, most: int = MOST) -> Skimmed:
    """Take `raw`, which should be event line `seq` after `head`, and what `read` gives behind it.

    Not more than `most` lines; none at all, and `rest` being `raw`, if `raw` is none to be taken.
    """
    loads, dumps = orjson.loads, orjson.dumps
    first, length, last = seq, 0, 0
    for number in range(seq, seq + most):
        spelled = raw[8:-_TAIL_LENGTH]
        try:
            body = loads(spelled)
            if not (
                body["prev"] == head
                and (seq := body["seq"]) == number
                and type(seq) is int
                and body["type"] == "event"
                and "crew_change" not in body["data"]
                and len(body) == 8
                and body["next"] != ""
                and dumps(body, None, OPTIONS) == spelled
                and raw[:8] == _HEAD
                and raw[-_TAIL_LENGTH:-_BEFORE_SIG] == _MIDDLE
                and raw[-3:] == _TAIL
                and len(raw) <= LONGEST
            ):
                return Skimmed(number - first, length, last, head, raw)
        except (ValueError, TypeError, KeyError, RecursionError):
            return Skimmed(number - first, length, last, head, raw)
        last = len(raw)
        length += last
        head = sha256(raw).hexdigest()
        raw = read(LIMIT)
    return Skimmed(most, length, last, head, raw)
