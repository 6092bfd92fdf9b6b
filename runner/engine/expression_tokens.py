"""Cut the text of a condition or formula into tokens.

One job: tokens with their places, and the literal numbers among them. Rules: texts are in quotes on
one line without a backslash; numbers are digits, a point, digits, so that no whole number ever
stands beside a binary double and no author writes an exponent; nothing else is judged here.
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Final, NamedTuple

from runner.engine.expressions import ConditionFault, Node

LITERAL_DIGITS: Final = 15

_TOKEN: Final = re.compile(
    r"\s*(?:(?P<number>(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?[A-Za-z_0-9.]*)"
    r"|(?P<text>'[^'\\\n]*'|\"[^\"\\\n]*\")"
    r"|(?P<name>[A-Za-z_][A-Za-z_0-9]*)"
    r"|(?P<mark>&&|\|\||[<>=!]=|[-+*/%<>!?:().,\[\]])"
    r"|(?P<end>$)"
    r"|(?P<bad>.))",
    re.DOTALL,
)
_FLOAT: Final = re.compile(r"[0-9]+\.[0-9]+")


class Token(NamedTuple):
    """A piece of the source: number, text, name, mark, end, or bad for what is none of them."""

    kind: str
    text: str
    offset: int


def tokens(source: str) -> list[Token]:
    """All tokens of `source`; the last one is the end, at its length."""
    found: list[Token] = []
    position = 0
    while True:
        match = _TOKEN.match(source, position)
        kind = match.lastgroup if match else None
        if match is None or kind is None:  # white space alone is left
            return [*found, Token("end", "", len(source))]
        found.append(Token(kind, match[kind], match.start(kind)))
        if kind == "end":
            return found
        position = match.end()


def number(token: Token) -> Node:
    """The literal of a number token; `ConditionFault` unless it is digits, a point, digits."""
    text = token.text
    if text.isdigit():
        raise ConditionFault(f"the whole number {text[:20]}", "numbers with a decimal point",
                             f"{text[:20]}.0", f"{text[:20]}.0", token.offset)  # fmt: skip
    if not _FLOAT.fullmatch(text):
        raise ConditionFault(f"the number {text[:20]!r}", "digits, a point, digits, as 80.0 or 0.3",
                             offset=token.offset)  # fmt: skip
    value = Decimal(text)
    if len(text) - 1 > LITERAL_DIGITS:
        raise ConditionFault("a number this long", f"at most {LITERAL_DIGITS} digits",
                             offset=token.offset)  # fmt: skip
    trimmed = text.rstrip("0")
    return Node("literal", (), "number", token.offset, value, None,
                len(trimmed) - trimmed.index(".") - 1)  # fmt: skip
