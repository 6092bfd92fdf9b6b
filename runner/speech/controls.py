"""The words that steer the list, as they may be said to the question that stands.

Rules: the words of radiotelephony are in every set, also where the list refuses them, so that they
are heard as what they are and never as the nearest answer; what hangs on the moment (drills, marks,
timers, lists to turn to) comes from what the crew sees; accepting an unmet limit is a key's and no
word's. An order that wants a value or words behind it ends in a space: `follow` knows it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from runner.engine.effects import Line, Listen, Prompt, View
from runner.engine.words import plain
from runner.speech.heard import Phrase, Sort
from runner.speech.lexicon import Lexicon
from runner.speech.ways import joined, ways

_OPENERS: Final = {"correction": "correction ", "snag": "snag "}
_MARKS: Final = ("mark take-off", "mark landing")
_NO_WORDS: Final = ("accept", "drill", "mark")
"""Controls of the list that are no word by themselves."""
_ALWAYS: Final = ("roger", "wilco")
_BY_PROMPT: Final = {
    Prompt.FIRST_PAGE: ("page read", "wrong aircraft"),
    Prompt.MEMORY_ITEMS: ("memory items done",),
    Prompt.CLOSED: ("end of day",),
}
GIVEN: Final = ("answered", "unmet", "accepted")
"""How a step stands whose answer may be corrected."""


def controls(listen: Listen, view: View | None, lexicon: Lexicon) -> Iterator[Phrase]:
    """Every control word of a question, the shortest first."""
    words = [word for word in listen.controls if word not in _NO_WORDS]
    words += _ALWAYS
    words += _BY_PROMPT.get(listen.prompt, ())
    words += _MARKS if "mark" in listen.controls else ()
    if view is not None:
        words += ["hand over"]
        words += ["next flight"] if view.may_begin_next else []
        words += ["condition lost"] if view.may_be_lost else []
        words += ["drill opened by mistake"] if view.may_be_mistake else []
    for word in dict.fromkeys(words):
        yield Phrase(_OPENERS.get(word, word), lexicon.control[word], Sort.CONTROL)
    if view is not None:
        yield from _named(view, lexicon)


def _named(view: View, lexicon: Lexicon) -> Iterator[Phrase]:
    orders = [("drill", key, title) for key, title in view.drills]
    orders += [("timer", key, label) for key, label in view.timers]
    orders += [("turn to", line.key, line.title) for line in view.lists if line.status == "open"]
    orders += [("happened", what, what) for what in view.happenings]
    for order, key, title in orders:
        said = joined((lexicon.named[order],), ways(title, lexicon))
        if said:
            yield Phrase(f"{order} {key}", said, Sort.CONTROL)
    for line in correctable(view):
        said = joined((lexicon.named["correct"],), ways(line.challenge, lexicon))
        if said:
            yield Phrase(f"correct {line.key} ", said, Sort.CONTROL)


def correctable(view: View) -> tuple[Line, ...]:
    """What was answered in this list and the latest answer, the latest first; of two items with
    one name the later one."""
    given = [line for line in reversed(view.before) if line.status in GIVEN and not line.computed]
    if view.latest is not None and not view.latest.computed:
        given = [view.latest, *given]
    named: dict[str, Line] = {}
    for line in given:
        if line.key:
            named.setdefault(plain(line.challenge), line)
    return tuple(named.values())


def follow(line: str) -> str:
    """What an order wants behind it: "correct" a value, "snag" words; empty where it is whole."""
    if not line.endswith(" "):
        return ""
    return "snag" if line == _OPENERS["snag"] else "correct"


def corrected_step(line: str, view: View) -> str:
    """The step whose value an order to correct is about; empty where nothing was answered."""
    named = line.strip().partition(" ")[2]
    return named or (view.latest.key if view.latest is not None else "")
