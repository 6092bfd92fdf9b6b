"""The closed set of what may be said to a question, from what the engine listens for.

Rules: each phrase is a line that the list reads as the event meant, with the ways of saying it;
texts that mean the same are one phrase; a way that would fit two different answers belongs to
neither; a critical step is answered by two words or more; what both pilots must look at is no
voice's, unless it is known whose; with an open microphone all that passes or changes something
begins with the address.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import Final

from runner.engine.effects import Listen, Prompt, View
from runner.speech.controls import controls
from runner.speech.heard import AnswerSet, NumberForm, Phrase, Sort
from runner.speech.lexicon import Lexicon, lexicon
from runner.speech.ways import joined, ways
from runner.words.numbers import read_number, read_threshold
from runner.words.spoken import LEADING, SIMPLE, split

UNADDRESSED: Final = frozenset(
    {"say again", "confirm", "stand by", "disregard", "negative", "discontinue"}
)
"""What an open microphone takes without the address, and drills: nothing passes by it."""
_NONE: Final = Decimal(0)
_LEADS: Final = re.compile(rf"(?:{'|'.join(LEADING)})(?= |$)")


def answer_set(
    listen: Listen, view: View | None = None, language: Lexicon | None = None, *,
    role: str = "", open_microphone: bool = False,
) -> AnswerSet:  # fmt: skip
    """All that may be said to a question. Without the view, what hangs on the moment is missing;
    `role` is who speaks, where that is known."""
    said = language or lexicon()
    answers: list[Phrase] = []
    number = None
    if not listen.both or role:
        answers = _apart([*_responses(listen, view, said), *_items(listen, view, said)])
        number = _number(listen)
    chosen = listen.prompt is Prompt.CHOOSING
    phrases = _with_controls(answers, list(controls(listen, view, said)), chosen=chosen)
    if open_microphone:
        phrases = [_addressed(phrase, said) for phrase in phrases]
        number = number._replace(before=said.address) if number is not None else None
    critical = _critical_lines(listen, view)
    return AnswerSet(
        listen.ask, tuple(phrases), number, listen.critical, critical, _read_back(listen)
    )


def correction_set(
    opener: str, listen: Listen, language: Lexicon | None = None, *, open_microphone: bool = False
) -> AnswerSet:
    """What may follow "correct ITEM": the item's own answers, and the words that break it off.

    `opener` stands before the line of each; nothing of it is read back, so it must be surely heard.
    """
    said = language or lexicon()
    # Another step's answers: what is read back just now, or chosen, is not the question here.
    listen = listen._replace(prompt=Prompt.ASKING)
    answers = [
        phrase._replace(line=opener + _value_line(same[0]))
        for phrase, same in zip(_responses(listen, None, said), listen.meanings, strict=True)
    ]
    if len(listen.meanings) == 1:  # of a choice no option is "not so"
        answers.append(Phrase(f"{opener}not so", said.control["negative"]))
    out = [Phrase(w, said.control[w], Sort.CONTROL) for w in ("disregard", "say again", "stand by")]
    phrases = _with_controls(_apart(answers), out, chosen=False)
    number = _number(listen)
    if open_microphone:
        phrases = [_addressed(phrase, said) for phrase in phrases]
        number = number._replace(before=said.address) if number is not None else None
    return AnswerSet(listen.ask, tuple(phrases), number, listen.critical)


def _critical_lines(listen: Listen, view: View | None) -> frozenset[str]:
    if view is None and listen.critical_items:
        # By their challenges alone they cannot be told from the others.
        return frozenset(f"tick {challenge.lower()}" for challenge, _ in listen.items)
    return frozenset(f"tick {key}" for key in listen.critical_items)


def _read_back(listen: Listen) -> frozenset[Sort]:
    if listen.critical:
        return frozenset()
    numbers = {Sort.NUMBER} if listen.number else set()
    words = {Sort.RESPONSE} if listen.words_read_back else set()
    return frozenset(numbers | words)


def _number(listen: Listen) -> NumberForm | None:
    if not listen.number:
        return None
    low, high = listen.low, listen.high
    return NumberForm(
        listen.decimals, low if low is not None else _NONE, high if high is not None else _NONE,
        listen.unit, listen.thresholds, listen.drops,
    )  # fmt: skip


def _responses(listen: Listen, view: View | None, said: Lexicon) -> Iterator[Phrase]:
    if listen.prompt is Prompt.READ_BACK:
        # *Affirm* and *negative* are control words, and in every set.
        return
    lead = view.challenge if view is not None else ""
    for same in listen.meanings:
        spoken = [way for text in same for way in ways(text, said)]
        if listen.critical:
            spoken = _in_full(spoken, lead, said)
        yield Phrase(line_of(same[0]), tuple(dict.fromkeys(spoken)))


def _in_full(spoken: list[str], challenge: str, said: Lexicon) -> list[str]:
    """The ways of two words or more; a text of one word with its item named before it."""
    item = ways(challenge, said)
    long = [way for way in spoken if " " in way]
    return long + [way for way in joined(item, (w for w in spoken if " " not in w)) if " " in way]


def _items(listen: Listen, view: View | None, said: Lexicon) -> Iterator[Phrase]:
    keys = {line.challenge: line.key for line in view.items} if view is not None else {}
    for challenge, response in listen.items:
        name = keys.get(challenge, challenge.lower())
        item = ways(challenge, said)
        state = joined(item, ways(response, said))
        ticked = joined((said.named["tick"],), item)
        yield Phrase(f"tick {name}", (*state, *ticked), Sort.ITEM)
        yield Phrase(f"fault {name}", joined((said.named["fault"],), item), Sort.ITEM)
    for key, challenge, response in listen.elsewhere:
        item = ways(challenge, said)
        ticked = joined((said.named["tick"],), item)
        yield Phrase(f"tick {key}", (*ticked, *joined(item, ways(response, said))), Sort.ITEM)


def _apart(phrases: Iterable[Phrase]) -> list[Phrase]:
    """The phrases without the ways that fit more than one of them."""
    found = list(phrases)
    times = Counter(way for phrase in found for way in dict.fromkeys(phrase.ways))
    return [p._replace(ways=tuple(w for w in p.ways if times[w] == 1)) for p in found]


def _with_controls(answers: list[Phrase], words: list[Phrase], *, chosen: bool) -> list[Phrase]:
    """Answers and control words, where a way that fits both is neither's.

    Of the options that the list itself offers one that opens a drill is the drill's own order,
    which can be undone; any other is the option and no control word.
    """
    if chosen:
        drills = {w for p in words if p.line.startswith("drill ") for w in p.ways}
        answers = [p for p in answers if not drills & {*p.ways}]
        offered = {way for phrase in answers for way in phrase.ways}
        words = [_without(phrase, offered) for phrase in words]
    # *Roger* to a caution is an answer; elsewhere it is the word that answers nothing.
    lines = {phrase.line for phrase in answers}
    words = [phrase for phrase in words if phrase.line not in lines]
    both = {w for p in words for w in p.ways} & {w for p in answers for w in p.ways}
    kept = [_without(phrase, both) for phrase in (*answers, *_apart(words))]
    return [phrase for phrase in kept if phrase.ways]


def _without(phrase: Phrase, these: set[str]) -> Phrase:
    return phrase._replace(ways=tuple(way for way in phrase.ways if way not in these))


def _addressed(phrase: Phrase, said: Lexicon) -> Phrase:
    if phrase.line in UNADDRESSED or phrase.line.startswith("drill "):
        return phrase
    return phrase._replace(ways=joined(said.address, phrase.ways, most=len(phrase.ways) + 2))


def line_of(text: str) -> str:
    """The line that answers with this text: plain where it reads back so, else letter by letter."""
    plain = " ".join(text.lower().split())
    taken = plain.rstrip(".!?") in SIMPLE or _LEADS.match(plain) or split(plain).text != plain
    if not taken and _value_line(text) == plain:
        return plain
    return f"answer {_quoted(text)}"


def _value_line(text: str) -> str:
    """A value behind an order: plain where it reads back so, else letter by letter."""
    plain = " ".join(text.lower().split())
    number = read_number(plain)
    reads = f"{number:f}" if number is not None else plain.upper()
    odd = read_threshold(plain) is not None or plain.startswith(("drop ", '"'))
    return plain if not odd and reads == " ".join(text.upper().split()) else _quoted(text)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
