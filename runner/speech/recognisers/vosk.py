"""`vosk` with a model folder that the user names.

Rules: the engine is given a path and nothing else, since its other ways of finding a model reach
for the network and end the program; the folder is looked at first, so that a wrong one is told in
words; the grammar holds what may be said in words that the model knows, and `[unk]` where it knows
that; a best path with an unknown word in it is no answer; its confidence is no ground for
rejection, its scores are those of the paths. It adds a little random noise to the sound, from the
C library's row of random numbers, which begins anew with each utterance so that the same sound
gives the same figures. `lacking` says which words a model does not know.
"""

from __future__ import annotations

import ctypes
import json
import sys
from collections import OrderedDict
from collections.abc import Iterable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import vosk

from runner.speech.heard import RATE, AnswerSet, Heard, NumberForm, Phrase, Ranked
from runner.speech.recognisers.answer_tree import Node, answers_said, roots_of
from runner.speech.recognisers.form import check
from runner.speech.recognisers.number_tree import DIGITS, DROP, MARKS, MINUS, SIDES
from runner.words.sayings import sayings

if TYPE_CHECKING:
    from runner.speech.heard import Audio

NAME: Final = "vosk"
UNKNOWN: Final = "[unk]"

_NEEDED: Final = ("am/final.mdl", "conf/mfcc.conf", "conf/model.conf")
_DYNAMIC: Final = ("graph/HCLr.fst", "graph/Gr.fst")
"""Without these the graph is fixed, and a closed set would be silently left out of account."""

_SILENCE_S: Final = 0.3
_ALTERNATIVES: Final = 8
_SETS_KEPT: Final = 64
_VALUES_SAID: Final = 400


class NoModel(Exception):
    """The folder is no model that can be used; says what is missing."""


class Vosk:
    """The recogniser over one model folder."""

    def __init__(self, folder: Path) -> None:
        look(folder)
        vosk.SetLogLevel(-1)
        try:
            self._model = vosk.Model(model_path=str(folder))
        except Exception as fault:  # the engine raises nothing narrower
            raise NoModel(f"{folder}: the engine cannot load this model ({fault})") from fault
        self._unknown = self._knows(UNKNOWN)
        self._sets: OrderedDict[
            tuple[tuple[Phrase, ...], NumberForm | None], tuple[str, tuple[Node, ...]]
        ] = OrderedDict()

    @property
    def name(self) -> str:
        """How the log calls it."""
        return NAME

    def lacking(self, words: Iterable[str]) -> list[str]:
        """Those of `words` that the model does not know, in their order."""
        return [word for word in dict.fromkeys(words) if not self._knows(word)]

    def prepare(self, answers: AnswerSet) -> None:
        """Makes the grammar ahead."""
        self._set(answers)

    def decode(self, audio: Audio, answers: AnswerSet) -> Heard:
        """The answers ranked. ValueError for audio of another form."""
        check(audio)
        grammar, roots = self._set(answers)
        if not grammar:
            return Heard(NAME, ())
        _begin_anew()
        engine = vosk.KaldiRecognizer(self._model, float(RATE), grammar)
        engine.SetMaxAlternatives(_ALTERNATIVES)
        silence = np.zeros(int(_SILENCE_S * RATE), np.float32)
        sound = np.concatenate([silence, audio, silence])
        # An end that the engine finds by itself would cut the utterance in two.
        ended = engine.AcceptWaveform((sound * 32767).astype("<i2").tobytes())
        first = json.loads(engine.Result()) if ended else {}
        return _heard(first, json.loads(engine.FinalResult()), roots)

    def _set(self, answers: AnswerSet) -> tuple[str, tuple[Node, ...]]:
        key = (answers.phrases, answers.number)
        found = self._sets.get(key)
        if found is None:
            said = [
                way for way in dict.fromkeys(_said(answers)) if all(map(self._knows, way.split()))
            ]
            if said and self._unknown:
                said.append(UNKNOWN)
            grammar = json.dumps(said, ensure_ascii=False) if said else ""
            found = self._sets[key] = (grammar, roots_of(answers))
            if len(self._sets) > _SETS_KEPT:
                self._sets.popitem(last=False)
        self._sets.move_to_end(key)
        return found

    def _knows(self, word: str) -> bool:
        return bool(self._model.vosk_model_find_word(word) >= 0)


def _begin_anew() -> None:
    """The C library's random numbers start where they always do."""
    library = ctypes.CDLL("msvcrt" if sys.platform == "win32" else None)
    library.srand(1)


def look(folder: Path) -> None:
    """`NoModel` unless `folder` holds a model that takes a closed set."""
    if not folder.is_dir():
        raise NoModel(f"{folder} is no folder; name the one in which am, conf and graph lie")
    missing = [name for name in _NEEDED if not (folder / name).is_file()]
    if missing:
        raise NoModel(f"{folder} is no model: {', '.join(missing)} missing")
    fixed = [name for name in _DYNAMIC if not (folder / name).is_file()]
    if fixed:
        raise NoModel(
            f"{folder}: {', '.join(fixed)} missing, so this model cannot be told what may be said; "
            "take one of the small ones"
        )


def _heard(first: dict[str, Any], last: dict[str, Any], roots: tuple[Node, ...]) -> Heard:
    """The paths of an utterance as answers; where it fell in two, there is no answer."""
    paths = last.get("alternatives", [])
    begun = first.get("alternatives", [])
    if begun and begun[0]["text"]:
        if paths and paths[0]["text"]:
            return Heard(NAME, (), f"{begun[0]['text']} {paths[0]['text']}")
        paths = begun
    free = paths[0]["text"] if paths else ""
    if not free or UNKNOWN in free.split():
        return Heard(NAME, (), free)
    ranked: dict[str, Ranked] = {}
    for path in paths:
        for one in answers_said(roots, path["text"].split()):
            ranked.setdefault(one.line, Ranked(one.line, float(path["confidence"]), one.sort))
    best = sorted(ranked.values(), key=lambda one: (-one.score, one.line))
    # What the engine holds to be likeliest is no answer: no other may stand for it.
    known = answers_said(roots, free.split())
    return Heard(NAME, tuple(best) if known else (), free)


def _said(answers: AnswerSet) -> Iterator[str]:
    """What stands in the grammar: the engine makes pairs of words of it."""
    for phrase in answers.phrases:
        for way in phrase.ways:
            yield " ".join(way.lower().replace("-", " ").split())
    form = answers.number
    if form is None:
        return
    leads = ["", *(SIDES if form.thresholds else ()), *((DROP,) if form.drops else ())]
    for before in form.before or ("",):
        for lead in leads:
            for digit in DIGITS:
                yield f"{before.lower()} {lead} {digit}".strip().replace("  ", " ")
    for first in DIGITS:
        for second in DIGITS:
            yield f"{first} {second}"
        for mark in MARKS if form.decimals else ():
            yield f"{first} {mark} {first}"
        if form.low < 0:
            yield f"{MINUS} {first}"
    low, high = int(form.low), int(form.high)
    for value in range(low, high + 1, max(1, (high - low) // _VALUES_SAID)):
        yield from sayings(Decimal(value))
