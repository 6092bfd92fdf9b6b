"""The numbers of one form, word by word: every way of saying every value that the instrument shows.

Rules: only values within the form's range; behind the mark exactly its decimals are said, and no
fewer (a number whose end was lost in noise is then none, not another number), but a whole number
may be said without the mark, which counts as rare; before it digit by digit, with leading zeros up
to the digits of the largest value, or as people say whole numbers (`words.sayings`), these up to
LARGEST_SAID; a path that no value can complete is never entered; the line of a value is its plain
decimal, without zeros at its end. "below", "above" and "drop" come before a number where the form
allows them, and before all of it the words that the form wants there.
"""

from __future__ import annotations

from decimal import Decimal
from functools import lru_cache
from typing import Final

from runner.speech.heard import NumberForm, Sort
from runner.speech.recognisers.answer_tree import Answer, Branch, Node
from runner.words.sayings import sayings

LARGEST_SAID: Final = 9_999
"""Beyond this a whole number is said digit by digit only."""

DIGITS: Final = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine",
)  # fmt: skip
MARKS: Final = ("decimal", "point")
MINUS: Final = "minus"
UNMARKED: Final = -3.0
"""Log likelihood of leaving the mark out where decimals are due: about one number in twenty, our
estimate. Without it, numbers of which noise ate the end are taken for whole ones."""
SIDES: Final = ("below", "above")
DROP: Final = "drop"


class _Span:
    """The values of one sign, counted in units of the last decimal, and how their lines begin."""

    def __init__(self, low: int, high: int, decimals: int, lead: str) -> None:
        self.low, self.high, self.decimals, self.lead = low, high, decimals, lead
        self.scale = 10**decimals
        self.places = len(str(high // self.scale))

    def has(self, least: int, most: int) -> bool:
        """Whether a value of the span lies from `least` to `most`."""
        return least <= self.high and most >= self.low

    def whole(self, number: int) -> bool:
        """Whether a value of the span has `number` before the mark."""
        return self.has(number * self.scale, number * self.scale + self.scale - 1)

    def answer(self, units: int) -> Answer:
        """The answer that a value is."""
        whole, behind = divmod(units, self.scale)
        fraction = f"{behind:0{self.decimals}}".rstrip("0") if behind else ""
        return Answer(f"{self.lead}{whole}{'.' if fraction else ''}{fraction}", Sort.NUMBER)


class _After:
    """Digits behind the mark: `said` of them, `units` so far."""

    def __init__(self, span: _Span, units: int, said: int) -> None:
        self._span, self._units, self._said = span, units, said
        self._following: dict[str, Node] | None = None

    def following(self) -> dict[str, Node]:
        if self._following is None:
            self._following = {}
            left = self._span.decimals - self._said - 1
            for digit, word in enumerate(DIGITS):
                units = 10 * self._units + digit
                if left >= 0 and self._span.has(units * 10**left, (units + 1) * 10**left - 1):
                    self._following[word] = _After(self._span, units, self._said + 1)
        return self._following

    def ends(self) -> tuple[Answer, ...]:
        done = self._said and self._said == self._span.decimals
        return (self._span.answer(self._units),) if done else ()


def _marked(span: _Span, whole: int) -> dict[str, Node]:
    """What may follow a whole number: the mark, if there are decimals."""
    after = _After(span, whole, 0)
    return dict.fromkeys(MARKS, after) if span.decimals else {}


class _Before:
    """Digits before the mark, one by one."""

    def __init__(self, span: _Span, digits: str) -> None:
        self._span, self._digits = span, digits
        self._following: dict[str, Node] | None = None

    def following(self) -> dict[str, Node]:
        if self._following is None:
            self._following = {
                word: _Before(self._span, f"{self._digits}{digit}")
                for digit, word in enumerate(DIGITS)
                if self._open(f"{self._digits}{digit}")
            }
            if self._digits and self._span.whole(int(self._digits)):
                self._following.update(_marked(self._span, int(self._digits)))
        return self._following

    def ends(self) -> tuple[Answer, ...]:
        return _ended(self._span, int(self._digits)) if self._digits else ()

    def _open(self, digits: str) -> bool:
        """Whether more digits can still make a value of the span."""
        number = int(digits) * self._span.scale
        return any(
            self._span.has(number * 10**more, (number + self._span.scale) * 10**more - 1)
            for more in range(self._span.places - len(digits) + 1)
        )


def _ended(span: _Span, whole: int) -> tuple[Answer, ...]:
    units = whole * span.scale
    if not span.has(units, units):
        return ()
    answer = span.answer(units)
    return (answer._replace(rare=UNMARKED) if span.decimals else answer,)


class _Said:
    """A place in the tree of whole numbers as people say them, seen through a span."""

    def __init__(self, span: _Span, place: _Place) -> None:
        self._span, self._place = span, place
        self._following: dict[str, Node] | None = None

    def following(self) -> dict[str, Node]:
        if self._following is None:
            self._following = {
                word: _Said(self._span, place)
                for word, place in self._place.following.items()
                if any(self._span.whole(whole) for whole in place.below)
            }
            for whole in self._place.ends:
                if self._span.whole(whole):
                    self._following.update(_marked(self._span, whole))
        return self._following

    def ends(self) -> tuple[Answer, ...]:
        return tuple(one for whole in self._place.ends for one in _ended(self._span, whole))


class _Place:
    """A place in the tree of whole numbers: words that follow, numbers that end or lie below."""

    def __init__(self) -> None:
        self.following: dict[str, _Place] = {}
        self.ends: list[int] = []
        self.below: list[int] = []


@lru_cache(maxsize=16)
def _wholes(low: int, high: int) -> _Place:
    """The everyday ways of saying each number from `low` to `high`."""
    root = _Place()
    for whole in range(low, high + 1):
        for said in dict.fromkeys(_written_lead(way) for way in sayings(Decimal(whole))[1:]):
            for words in said:
                place = root
                for word in words:
                    place.below.append(whole)
                    place = place.following.setdefault(word, _Place())
                place.below.append(whole)
                if whole not in place.ends:
                    place.ends.append(whole)
    return root


def _written_lead(way: str) -> tuple[tuple[str, ...], ...]:
    """The words of a way; and again with figures before "hundred" or "thousand" ("17 hundred")."""
    words = tuple(way.split())
    for scale in ("thousand", "hundred"):
        if scale in words:
            place = words.index(scale)
            lead = _FIGURES.get(words[:place])
            return (words,) if lead is None else (words, (lead, *words[place:]))
    return (words,)


_FIGURES: Final = {
    tuple(way.split()): str(number) for number in range(10, 100) for way in sayings(Decimal(number))
}


def number_roots(form: NumberForm) -> tuple[Node, ...]:
    """Where the numbers of `form` begin. ValueError for a range that holds no value."""
    roots = list(_signed(form, ""))
    for word in (*(SIDES if form.thresholds else ()), *((DROP,) if form.drops else ())):
        roots.append(_behind((word,), _signed(form, f"{word} ")))
    if form.before:
        return tuple(_behind(tuple(words.lower().split()), tuple(roots)) for words in form.before)
    return tuple(roots)


def _behind(words: tuple[str, ...], roots: tuple[Node, ...]) -> Node:
    """All `roots`, with words before them."""
    root = Branch()
    root.graft(words, _Either(roots))
    return root


class _Either:
    """Several roots at one place."""

    def __init__(self, roots: tuple[Node, ...]) -> None:
        self._following = merged(roots)

    def following(self) -> dict[str, Node]:
        return self._following

    def ends(self) -> tuple[Answer, ...]:
        return ()


class _Both:
    """Two nodes that the same words lead to."""

    def __init__(self, nodes: tuple[Node, ...]) -> None:
        self._nodes = nodes
        self._following: dict[str, Node] | None = None

    def following(self) -> dict[str, Node]:
        if self._following is None:
            self._following = merged(self._nodes)
        return self._following

    def ends(self) -> tuple[Answer, ...]:
        return tuple(dict.fromkeys(one for node in self._nodes for one in node.ends()))


def merged(nodes: tuple[Node, ...]) -> dict[str, Node]:
    """What may follow any of `nodes`; a word of several leads to all that they lead to."""
    found: dict[str, list[Node]] = {}
    for node in nodes:
        for word, deeper in node.following().items():
            if not any(deeper is known for known in found.setdefault(word, [])):
                found[word].append(deeper)
    return {
        word: deeper[0] if len(deeper) == 1 else _Both(tuple(deeper))
        for word, deeper in found.items()
    }


def _signed(form: NumberForm, lead: str) -> tuple[Node, ...]:
    scale = Decimal(10) ** form.decimals
    low = int((form.low * scale).to_integral_value(rounding="ROUND_CEILING"))
    high = int((form.high * scale).to_integral_value(rounding="ROUND_FLOOR"))
    if low > high:
        raise ValueError(f"no number lies from {form.low} to {form.high}")
    roots: list[Node] = []
    if high >= 0:
        roots += _ways(_Span(max(low, 0), high, form.decimals, lead))
    if low < 0:
        roots.append(
            _behind((MINUS,), _ways(_Span(max(-high, 1), -low, form.decimals, f"{lead}-")))
        )
    return tuple(roots)


def _ways(span: _Span) -> tuple[Node, ...]:
    least = span.low // span.scale
    most = min(span.high // span.scale, LARGEST_SAID)
    if least > most:
        return (_Before(span, ""),)
    return (_Before(span, ""), _Said(span, _wholes(least, most)))
