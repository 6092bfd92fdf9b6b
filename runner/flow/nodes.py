"""Bytes of a document into a tree of values, each with its line and column.

Rules: the tree is built from the parser's events, never by a ready-made loader, which would drop a
duplicate key and read `no` as false and `1:30` as ninety. Values are those of the YAML 1.2 core
types that a document needs: null, true and false, decimal whole numbers and decimal fractions;
everything else (`no`, `1:30`, `012`, `0x10`) is text. Refused, with a place: what is not UTF-8,
more than 1 MiB, more than 40 levels, more values than a document can need, tabs, control and
invisible characters, aliases, anchors, tags, directives, a second document, a duplicate key, a key
that is not text, numbers that are not finite. Nothing here recurses, so no depth can exhaust the
stack.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field
from typing import Any, Final

import yaml

from runner.flow import yaml_faults
from runner.flow.characters import UNSEEN, decode, refuse_unseen
from runner.flow.faults import Faults, Place, quoted
from runner.flow.tree import Core, Mapping, Node, Scalar, Sequence

MOST_LEVELS: Final = 40
MOST_VALUES: Final = 20_000

_NULL: Final = frozenset({"", "~", "null", "Null", "NULL"})
_TRUTH: Final = {
    "true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False,
}  # fmt: skip
_WHOLE: Final = re.compile(r"[-+]?(?:0|[1-9][0-9]{0,14})")
_DIGITS: Final = re.compile(r"[-+]?[1-9][0-9]*")
_FRACTION: Final = re.compile(
    r"[-+]?(?:\.[0-9]+|(?:0|[1-9][0-9]*)(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?"
)
_NOT_FINITE: Final = re.compile(r"[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)")


@dataclass(slots=True)
class _Open:
    """A collection being read; a mapping has `key` while its value is awaited."""

    place: Place
    mapping: bool
    items: list[Node] = field(default_factory=list)
    keys: dict[str, Place] = field(default_factory=dict)
    values: dict[str, Node] = field(default_factory=dict)
    key: str | None = None
    spoiled: bool = False


class _Stop(Exception):
    """The rest of the document is not worth reading."""


def read(file: str, data: bytes, faults: Faults) -> Mapping | None:
    """The tree of one document, or None with its faults noted in `faults`.

    `file` is the name shown in faults. The top of a document must be a mapping. A fault does not
    end the reading where the rest can still be understood.
    """
    text = decode(file, data, faults)
    if text is None:
        return None
    reader = _Reader(file, faults)
    try:
        parser = yaml.CSafeLoader(text)
        while type(event := parser.get_event()) is not yaml.StreamEndEvent:
            reader.take(event)
    except _Stop:
        return None
    except yaml.MarkedYAMLError as error:
        yaml_faults.explain(file, text, error, faults)
        return None
    except (yaml.YAMLError, RecursionError, MemoryError):
        faults.add(Place(file, 1, 1), "this cannot be read as YAML")
        return None
    return reader.result()


class _Reader:
    """Builds the tree from events, without recursion."""

    def __init__(self, file: str, faults: Faults) -> None:
        self._file = file
        self._faults = faults
        self._open: list[_Open] = []
        self._root: Node | None = None
        self._documents = 0
        self._values = 0

    def result(self) -> Mapping | None:
        if isinstance(self._root, Mapping):
            return self._root
        place = self._root.place if self._root else Place(self._file, 1, 1)
        found = "nothing"
        if self._root is not None:
            found = quoted(self._root.text) if isinstance(self._root, Scalar) else "a list"
        if not self._faults or self._root is not None:
            self._faults.add(
                place, "the document is not a mapping", found=found, allowed="keys and values"
            )
        return None

    def take(self, event: Any) -> None:
        """One event of the parser; raises `_Stop` where the rest cannot be used."""
        kind = type(event)
        if kind is yaml.ScalarEvent:
            self._scalar(event)
        elif kind is yaml.MappingStartEvent or kind is yaml.SequenceStartEvent:
            self._count(event)
            self._decorated(event)
            if len(self._open) >= MOST_LEVELS:
                self._faults.add(
                    self._place(event), "too many levels", allowed=f"at most {MOST_LEVELS}"
                )
                raise _Stop
            self._open.append(_Open(self._place(event), kind is yaml.MappingStartEvent))
        elif kind is yaml.MappingEndEvent or kind is yaml.SequenceEndEvent:
            self._close()
        elif kind is yaml.AliasEvent:
            self._faults.add(
                self._place(event),
                "an alias",
                found=quoted("*" + str(event.anchor)),
                todo="write the value again, or in quotes if it is text",
            )
            self._put(Scalar(self._place(event), None, ""), spoiled=True)
        elif kind is yaml.DocumentStartEvent:
            self._document(event)

    def _place(self, event: Any) -> Place:
        mark = event.start_mark
        return Place(self._file, mark.line + 1, mark.column + 1)

    def _count(self, event: Any) -> None:
        self._values += 1
        if self._values > MOST_VALUES:
            self._faults.add(
                self._place(event), "too many values", allowed=f"at most {MOST_VALUES} a document"
            )
            raise _Stop

    def _document(self, event: Any) -> None:
        self._documents += 1
        if self._documents > 1:
            self._faults.add(
                self._place(event), "a second document", todo="write it as a file of its own"
            )
            raise _Stop
        if event.version or event.tags:
            self._faults.add(
                Place(self._file, 1, 1),
                "a directive (%)",
                todo="delete the line that begins with %",
            )

    def _decorated(self, event: Any) -> None:
        """Refuse what stands before a value: an anchor or a tag."""
        if event.anchor is not None:
            self._faults.add(
                self._place(event),
                "an anchor",
                found=quoted("&" + str(event.anchor)),
                todo="delete it, or write text that begins with & in quotes",
            )
        if event.tag is not None:
            self._faults.add(
                self._place(event),
                "a tag",
                found=quoted(event.tag),
                todo='put a condition or text that begins with ! in quotes: "!x"',
            )

    def _scalar(self, event: Any) -> None:
        """A single value. Most of what is read passes here, before the first screen of each start,
        so it calls nothing that it need not."""
        self._count(event)
        if event.anchor is not None or event.tag is not None:
            self._decorated(event)
        text: str = event.value
        start, end, length = event.start_mark, event.end_mark, len(text)
        line, column = start.line, start.column
        place = Place(self._file, line + 1, column + 1)
        wide = end.column - column - length if end.line == line else -1
        style = event.style
        if style in ("|", ">"):
            text = text.rstrip("\n")
        if not (text.isascii() and text.isprintable()):
            text = self._checked(place, text)
        is_plain = not style and event.tag is None
        value = self._core(place, text) if is_plain else text
        # as wide as its text, or by two quotes wider; else it is not as written
        self._put(Scalar(place, value, text, 0 if wide == 0 else 1 if wide == 2 else -1))

    def _checked(self, place: Place, text: str) -> str:
        """The text, or nothing where something in it may not stand in a document."""
        for character in text:
            if unicodedata.category(character) in UNSEEN:
                if character == "\n":
                    self._faults.add(
                        place, "text of more than one line", todo="fold it with >- or shorten it"
                    )
                else:
                    refuse_unseen(place, character, self._faults)
                return ""
        if not unicodedata.is_normalized("NFC", text):
            self._faults.add(
                place,
                "letters and accents written apart",
                found=quoted(text),
                allowed="composed characters (Unicode NFC)",
            )
        return text

    def _core(self, place: Place, text: str) -> Core:
        """The value of an unquoted word."""
        if text in _NULL:
            return None
        if text in _TRUTH:
            return _TRUTH[text]
        if text[0] not in "+-.0123456789":
            return text
        if _WHOLE.fullmatch(text):
            return int(text)
        if _NOT_FINITE.fullmatch(text):
            self._faults.add(place, "a number that is not finite", found=quoted(text))
            return text
        if _FRACTION.fullmatch(text):
            number = float(text) if len(text) <= 40 else float("inf")
            if _DIGITS.fullmatch(text) or number in (float("inf"), float("-inf")):
                self._faults.add(
                    place, "a number that is too long", found=quoted(text), allowed="15 digits"
                )
                return text
            return number
        return text

    def _close(self) -> None:
        done = self._open.pop()
        node: Node
        if done.mapping:
            node = Mapping(done.place, done.keys, done.values)
        else:
            node = Sequence(done.place, tuple(done.items))
        self._put(node, spoiled=done.spoiled)

    def _put(self, node: Node, spoiled: bool = False) -> None:
        """Hang a finished value into the collection that is open."""
        if not self._open:
            self._root = node
            return
        around = self._open[-1]
        if not around.mapping:
            around.items.append(node)
        elif around.key is None:
            around.key = self._key(around, node, spoiled)
        else:
            around.values[around.key] = node
            around.key = None

    def _key(self, around: _Open, node: Node, spoiled: bool) -> str:
        """The text of a key; a place-holder where it cannot be one, so that reading goes on."""
        if isinstance(node, Scalar) and node.text and node.text not in around.keys and not spoiled:
            around.keys[node.text] = node.place
            return node.text
        unusable = f"\0{len(around.keys)}"
        if not isinstance(node, Scalar):
            self._faults.add(
                node.place,
                "a key that is a collection",
                allowed="a word or words",
                todo="write text with braces or brackets in quotes",
            )
        elif not node.text and not spoiled:
            self._faults.add(node.place, "a key without a name")
        elif node.text in around.keys:
            self._faults.add(
                node.place,
                f"the key {quoted(node.text)} stands twice",
                found=f"the first on line {around.keys[node.text].line}",
                todo="keep one of them",
            )
        around.keys[unusable] = node.place
        return unusable
