"""Every word that a crew may have to say to lists, with the places in the documents it stands at.

Rules: a word counts if some question's answers hold it in a way of being said; its places are those
of the texts that are said (items, answers, titles), in the order of the documents; control words
and the words of numbers stand in no document and are told by what they are.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Final

from runner.engine.table import Table
from runner.engine.words import plain
from runner.flow.faults import Place
from runner.flow.loader import Loaded
from runner.flow.tree import Mapping as Entries
from runner.flow.tree import Node, Scalar, Sequence
from runner.host.questions import question_of
from runner.speech.answers import answer_set
from runner.speech.lexicon import Lexicon, lexicon
from runner.speech.ways import ways
from runner.words.numbers import say_number
from runner.words.sayings import sayings

CONTROL: Final = "a control word"
NUMBERS: Final = "said in numbers"
_VALUES: Final = (*range(21), *range(20, 100, 10), 145, 1700, 2345)
_SIDES: Final = ("below", "above", "drop")


def words_of(
    loaded: Loaded, folder: Path, flow: str = "", language: Lexicon | None = None
) -> dict[str, list[str]]:
    """The words by the places they stand at (`path:line:column`, or what they are); of one list or
    drill, or of all."""
    said = language or lexicon()
    found: dict[str, list[str]] = {}
    known, numbers = sayable(loaded.table, flow, said)
    for place, text in _texts(loaded, flow):
        at = f"{folder / place.file}:{place.line}:{place.column}"
        for word in _words(ways(text, said)):
            if word in known and at not in found.setdefault(word, []):
                found[word].append(at)
    for word in known - found.keys():
        found[word] = [CONTROL]
    for word in _words(number_ways()) if numbers else ():
        found.setdefault(word, []).append(NUMBERS)
    return dict(sorted(found.items()))


def number_ways() -> Iterator[str]:
    """Ways of saying numbers in which all the words of numbers stand."""
    yield from _SIDES
    yield say_number(Decimal("-9.5")).lower()
    for value in _VALUES:
        yield from sayings(Decimal(value))
    yield from sayings(Decimal("-29.92"), 2)


def _words(said: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(word for way in said for word in way.split()))


def sayable(table: Table, flow: str, said: Lexicon) -> tuple[set[str], bool]:
    """The words of all answers, of one list or of all, and whether a number is among them."""
    words: set[str] = set()
    numbers = False
    for step in table.steps.values():
        if not step.asked or (flow and step.id.partition(".")[0] != flow):
            continue
        asked = question_of(table, step)
        answers = answer_set(asked.listen, asked.view, said, role="commander")
        words.update(_words(way for phrase in answers.phrases for way in phrase.ways))
        numbers = numbers or answers.number is not None
    return words, numbers


def _texts(loaded: Loaded, flow: str) -> Iterator[tuple[Place, str]]:
    """The texts of the documents that are said, with their places."""
    table, parts = loaded.table, loaded.parts
    spoken = {plain(one) for one in table.happenings}
    spoken |= {plain(timer.label) for timer in table.timers.values()}
    for key, one in table.flows.items():
        spoken.add(plain(one.title))
        for step in one.steps if flow in ("", key) else ():
            choices = [text for c in step.choices for text in (c.text, *c.variants)]
            spoken |= {
                plain(text)
                for text in (
                    step.challenge, step.response, *step.variants, *choices, *step.key_words
                )
            }  # fmt: skip
    trees: list[Node] = [parts.node]
    # A drill's title may be said in any list.
    trees += [one.node for one in (*parts.lists.values(), *parts.drills.values())]
    for tree in trees:
        yield from ((one.place, one.text) for one in _scalars(tree) if plain(one.text) in spoken)


def _scalars(node: Node) -> Iterator[Scalar]:
    if isinstance(node, Scalar):
        yield node
        return
    inner: Iterable[Node] = node.items if isinstance(node, Sequence) else _values(node)
    for one in inner:
        yield from _scalars(one)


def _values(node: Entries) -> Iterable[Node]:
    values: Mapping[str, Node] = node.values
    return values.values()
