"""The light recogniser, a second opinion: `pocketsphinx` with a grammar made from the closed set.

Rules: it says one answer, the best path through the grammar, or none; it never rejects by itself
(it gives some answer to almost anything), so nothing may rest on it alone; its score is the natural
logarithm of the path's likelihood, which the engine hands out exponentiated; radiotelephony
pronunciations stand beside the dictionary's own; a way with a word that the dictionary lacks is not
listened for, and `lacking` names the word. Levels of the sound are taken from the utterance itself,
so that nothing carries over from the one before.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Iterable
from typing import TYPE_CHECKING, Final

import numpy as np
from pocketsphinx import Decoder

from runner.speech.heard import AnswerSet, Heard, NumberForm, Phrase, Ranked
from runner.speech.recognisers.answer_tree import Node, answers_said, roots_of
from runner.speech.recognisers.form import check
from runner.speech.recognisers.jsgf import grammar

if TYPE_CHECKING:
    from runner.speech.heard import Audio

NAME: Final = "sphinx"
_SETS_KEPT: Final = 16

PRONOUNCED: Final = {
    # ICAO Annex 10 Volume II, 5.2.1.4.
    "three": ("T R IY",),
    "four": ("F OW ER",),
    "five": ("F AY F",),
    "nine": ("N AY N ER",),
    "decimal": ("D EY S IY M AA L",),
    "thousand": ("T AW S AE N D",),
    # Words of the trade that the dictionary lacks: our own transcription.
    "avgas": ("AE V G AE S",),
    "centred": ("S EH N T ER D",),
    "magnetos": ("M AE G N IY T OW Z",),
    "relatched": ("R IY L AE CH T",),
    "safetied": ("S EY F T IY D",),
    "selector": ("S AH L EH K T ER",),
    "servos": ("S ER V OW Z",),
    "stabiliser": ("S T EY B AH L AY Z ER",),
    "swashplate": ("S W AA SH P L EY T",),
    "unchafed": ("AH N CH EY F T",),
    "wilco": ("W IH L K OW",),
    "carburettor": ("K AA R B ER EY T ER", "K AA R B Y ER EH T ER"),
}
"""Pronunciations beside those of the dictionary, in its own letters."""

_Key = tuple[tuple[Phrase, ...], NumberForm | None]


class Sphinx:
    """The recogniser, with the model inside its package."""

    def __init__(self) -> None:
        self._decoder = Decoder(lm=None, bestpath=False, loglevel="FATAL")
        for word, ways in PRONOUNCED.items():
            for way in ways:
                self._pronounce(word, way)
        self._sets: OrderedDict[_Key, tuple[str, tuple[Node, ...]]] = OrderedDict()
        self._made = 0

    @property
    def name(self) -> str:
        """How the log calls it."""
        return NAME

    def lacking(self, words: Iterable[str]) -> list[str]:
        """Those of `words` that it has no pronunciation of, in their order."""
        return [word for word in dict.fromkeys(words) if self._decoder.lookup_word(word) is None]

    def prepare(self, answers: AnswerSet) -> None:
        """Makes the grammar ahead."""
        self._set(answers)

    def decode(self, audio: Audio, answers: AnswerSet) -> Heard:
        """The best answer, or none. ValueError for audio of another form."""
        check(audio)
        name, roots = self._set(answers)
        if not name:
            return Heard(NAME, ())
        self._decoder.activate_search(name)
        # Forgets what it learned of noise and level: the last utterance's are not this one's.
        self._decoder.reinit_feat()
        self._decoder.start_utt()
        sound = (np.clip(audio, -1.0, 1.0) * 32767).astype("<i2").tobytes()
        self._decoder.process_raw(sound, full_utt=True)
        self._decoder.end_utt()
        path = self._decoder.hyp()
        text = path.hypstr if path is not None else ""
        if path is None or not text:
            return Heard(NAME, ())
        score = math.log(max(path.score, math.ulp(0.0)))
        said = answers_said(roots, text.split())
        return Heard(NAME, tuple(Ranked(one.line, score, one.sort) for one in said), text)

    def _set(self, answers: AnswerSet) -> tuple[str, tuple[Node, ...]]:
        """The name of the set's grammar, empty where no way can be heard, and its roots."""
        key = (answers.phrases, answers.number)
        found = self._sets.get(key)
        if found is None:
            text = grammar(answers, lambda word: self._decoder.lookup_word(word) is not None)
            self._made += 1
            found = (f"set{self._made}" if text else "", roots_of(answers))
            if text:
                self._decoder.add_jsgf_string(found[0], text)
            self._sets[key] = found
            if len(self._sets) > _SETS_KEPT:
                _, (oldest, _) = self._sets.popitem(last=False)
                if oldest:
                    self._decoder.remove_search(oldest)
        self._sets.move_to_end(key)
        return found

    def _pronounce(self, word: str, way: str) -> None:
        """One more pronunciation: variants of a word are numbered from 2."""
        variant, number = word, 1
        while (known := self._decoder.lookup_word(variant)) is not None:
            if known == way:
                return
            number += 1
            variant = f"{word}({number})"
        self._decoder.add_word(variant, way, True)
