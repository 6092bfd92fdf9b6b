"""How a language says what the lists write: signs, abbreviations, control words, the address.

Rules: a lexicon is data (a YAML file), and another language is another file; it is checked whole
when it is read, and a fault is told with its place, what was allowed and what to do; it says how
something sounds and never what it means: the lines of the control words are the engine's.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any, Final

from runner.engine.words import nearest

Ways = tuple[str, ...]

CONTROL: Final = (
    "affirm", "condition lost", "confirm", "continue", "correction", "discontinue", "disregard",
    "drill opened by mistake", "end of day", "hand over", "mark landing", "mark take-off",
    "memory items done", "negative", "next flight", "page read", "put off", "roger", "say again",
    "snag", "stand by", "unable", "wilco", "wrong aircraft",
)  # fmt: skip
"""Every control word that has a way of being said, by its line."""
NAMED: Final = ("correct", "drill", "fault", "happened", "tick", "timer", "turn to")
"""Orders that a name follows."""
_SAID: Final = re.compile(r"[^\W\d_]+(?:'[^\W\d_]+)*(?: [^\W\d_]+(?:'[^\W\d_]+)*)*")
_KEYS: Final = (
    "language", "numbers", "digits", "decimal", "minus", "vowels", "signs", "words", "control",
    "named", "address", "repairs", "denials", "opposites", "negations", "reversing", "reversible",
)  # fmt: skip


class LexiconFault(ValueError):
    """A lexicon that cannot be used: where, what, what is allowed."""


@dataclass(frozen=True, eq=False)
class Lexicon:
    """One language, equal to itself alone. `words` and `control` have the plain way first."""

    language: str
    digits: Ways
    decimal: str
    minus: str
    control: Mapping[str, Ways]
    named: Mapping[str, str]
    address: Ways
    everyday: bool = False
    vowels: str = ""
    signs: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, Ways] = field(default_factory=dict)
    repairs: Ways = ()
    denials: Ways = ()
    opposites: tuple[Ways, ...] = ()
    negations: Ways = ()
    reversing: Ways = ()
    reversible: Ways = ()
    sha256: str = ""

    def having(self, more: Mapping[str, Ways]) -> Lexicon:
        """The same language as one person says it: their ways of words behind the common ones."""
        words = dict(self.words)
        for word, ways in more.items():
            words[word] = tuple(dict.fromkeys((*words.get(word, (word,)), *ways)))
        return Lexicon(**{**self.__dict__, "words": words})


@cache
def lexicon(language: str = "en") -> Lexicon:
    """A lexicon of ours, by its language."""
    place = files("runner.speech") / "lexicons" / f"{language}.yaml"
    return read_lexicon(place.read_bytes(), f"{language}.yaml")


def read_lexicon(content: bytes, where: str) -> Lexicon:
    """The lexicon of a file's bytes. Raises LexiconFault."""
    import yaml

    try:
        data = yaml.safe_load(content)
    except (yaml.YAMLError, UnicodeDecodeError) as fault:
        raise LexiconFault(f"{where}: no YAML: {' '.join(str(fault).split())}") from None
    if not isinstance(data, dict):
        raise LexiconFault(f"{where}: found no entries; allowed: {', '.join(_KEYS)}")
    entry = _Entries(data, where)
    entry.known(data, _KEYS, "")
    digits = entry.ways("digits")
    if len(digits) != 10:
        raise entry.fault("digits", f"{len(digits)} words", "ten, from zero to nine")
    numbers = data.get("numbers", "digits")
    if numbers not in ("english", "digits"):
        raise entry.fault("numbers", repr(numbers), "english, digits")
    return Lexicon(
        entry.text("language"), digits, entry.said("decimal"), entry.said("minus"),
        entry.all("control", CONTROL), entry.orders(), entry.ways("address"),
        everyday=numbers == "english", vowels=str(data.get("vowels", "")),
        signs={str(k): str(v) for k, v in entry.map("signs").items()},
        words=entry.words(), repairs=entry.ways("repairs"), denials=entry.ways("denials"),
        opposites=entry.sets("opposites"), negations=entry.some("negations"),
        reversing=entry.some("reversing"), reversible=entry.some("reversible"),
        sha256=hashlib.sha256(content).hexdigest(),
    )  # fmt: skip


class _Entries:
    """The entries of one file, each checked where it is taken."""

    def __init__(self, data: Mapping[Any, Any], where: str) -> None:
        self.data, self.where = data, where

    def fault(self, key: str, found: str, allowed: str, close: str = "") -> LexiconFault:
        near = f"; nearest: {close}" if close else ""
        return LexiconFault(f"{self.where}: {key}: found {found}; allowed: {allowed}{near}")

    def known(self, given: Mapping[Any, Any], names: tuple[str, ...], under: str) -> None:
        for key in given:
            if key not in names:
                raise self.fault(
                    under or "entries", repr(key), ", ".join(names), nearest(str(key), names)
                )

    def text(self, key: str) -> str:
        value = self.data.get(key)
        if not isinstance(value, str) or not value:
            raise self.fault(key, repr(value), "a word")
        return value

    def said(self, key: str) -> str:
        return self.spoken(key, self.text(key))

    def spoken(self, key: str, text: object) -> str:
        if not isinstance(text, str) or not _SAID.fullmatch(text) or text != text.lower():
            raise self.fault(key, repr(text), "words of lower-case letters, one space between them")
        return text

    def ways(self, key: str) -> Ways:
        return self.each(key, self.data.get(key))

    def each(self, key: str, value: object) -> Ways:
        if not isinstance(value, list) or not value:
            raise self.fault(key, repr(value), "a list of words, the plain way first")
        return tuple(self.spoken(key, word) for word in value)

    def some(self, key: str) -> Ways:
        """Words that a language need not have."""
        return self.each(key, self.data[key]) if key in self.data else ()

    def sets(self, key: str) -> tuple[Ways, ...]:
        """Lists of words, of which a language may have none."""
        value = self.data.get(key, [])
        if not isinstance(value, list):
            raise self.fault(key, repr(value), "lists of words")
        return tuple(self.each(f"{key}: {number}", one) for number, one in enumerate(value, 1))

    def map(self, key: str) -> Mapping[Any, Any]:
        value = self.data.get(key) or {}
        if not isinstance(value, dict):
            raise self.fault(key, repr(value), "entries of a word and its ways")
        return value

    def words(self) -> dict[str, Ways]:
        return {str(w): self.each(f"words: {w}", ways) for w, ways in self.map("words").items()}

    def all(self, key: str, names: tuple[str, ...]) -> dict[str, Ways]:
        given = self.map(key)
        self.known(given, names, key)
        for name in names:
            if name not in given:
                raise self.fault(key, f"no {name!r}", "a way for each control word")
        return {name: self.each(f"{key}: {name}", given[name]) for name in names}

    def orders(self) -> dict[str, str]:
        given = self.map("named")
        self.known(given, NAMED, "named")
        return {name: self.spoken(f"named: {name}", given.get(name)) for name in NAMED}
