"""What may be said, word by word: the phrases of a closed set as a tree, and its roots.

Rules: a node knows the words that may follow and the answers that may end there; nodes are made
when they are asked for, so that a set without end costs nothing; two answers said alike both end in
their node, and neither is preferred.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple, Protocol

from runner.speech.heard import AnswerSet, Phrase, Sort


class Answer(NamedTuple):
    """One answer: its line as the list reads it, and what it is to the list."""

    line: str
    sort: Sort
    rare: float = 0.0
    """The log likelihood of saying it in this way, where that is rare."""


class Node(Protocol):
    """A place in what may be said."""

    def following(self) -> dict[str, Node]:
        """The words that may come next, in a fixed order."""
        ...

    def ends(self) -> tuple[Answer, ...]:
        """The answers that are complete here."""
        ...


class Branch:
    """A node that is filled word by word."""

    def __init__(self) -> None:
        self._following: dict[str, Node] = {}
        self._ends: list[Answer] = []

    def following(self) -> dict[str, Node]:
        """The words that were added here."""
        return self._following

    def ends(self) -> tuple[Answer, ...]:
        """The answers that were added here."""
        return tuple(self._ends)

    def add(self, words: Iterable[str], answer: Answer) -> None:
        """`answer` may be said as `words`."""
        node = self
        for word in words:
            deeper = node._following.get(word)
            if not isinstance(deeper, Branch):
                deeper = node._following[word] = Branch()
            node = deeper
        if answer not in node._ends:
            node._ends.append(answer)

    def graft(self, words: tuple[str, ...], node: Node) -> None:
        """What follows `words` is `node`."""
        branch = self
        for word in words[:-1]:
            deeper = branch._following.get(word)
            if not isinstance(deeper, Branch):
                deeper = branch._following[word] = Branch()
            branch = deeper
        branch._following[words[-1]] = node


def phrase_tree(phrases: Iterable[Phrase]) -> Branch:
    """The phrases in all their ways. ValueError for a way without words."""
    root = Branch()
    for phrase in phrases:
        for way in phrase.ways:
            words = way.lower().replace("-", " ").split()
            if not words:
                raise ValueError(f"a way of saying {phrase.line!r} is empty")
            root.add(words, Answer(phrase.line, phrase.sort))
    return root


def roots_of(answers: AnswerSet) -> tuple[Node, ...]:
    """Where every answer of the set begins."""
    from runner.speech.recognisers.number_tree import number_roots  # it builds on this module

    phrases: tuple[Node, ...] = (phrase_tree(answers.phrases),)
    return phrases + (number_roots(answers.number) if answers.number else ())


def answers_said(roots: Iterable[Node], words: Iterable[str]) -> tuple[Answer, ...]:
    """The answers that exactly these words are."""
    nodes = list(roots)
    for word in words:
        nodes = [deeper for node in nodes if (deeper := node.following().get(word)) is not None]
    found = {answer for node in nodes for answer in node.ends()}
    return tuple(sorted(found, key=lambda answer: (answer.line, answer.sort.value)))
