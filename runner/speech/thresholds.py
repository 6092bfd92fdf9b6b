"""How clear an answer must have been: by recogniser, noise, kind of answer, and who else heard it.

Rules: the figures are data, fitted by a script on other speakers and other noise than those that
judge them, and kept with the report of that fit; a bar that is not there is never passed, so that
what was not fitted is not taken; one person's reading may shift the score that is wanted by a
bounded amount, and can only raise the margin.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from enum import Enum
from functools import cache
from importlib.resources import files
from typing import Any, Final, NamedTuple, TypeVar

E = TypeVar("E", bound=Enum)

FORMAT: Final = 1
MOST_SHIFT: Final = 1.5
"""By how much at most the score wanted of one person lies under everybody's."""
MOST_RAISED: Final = 3.0
MOST_GAIN_DB: Final = 40.0


class Kind(Enum):
    """What an answer may do, and so how clear it must have been."""

    WORDS = "words"
    PHRASES = "phrases"
    NUMBERS = "numbers"
    CRITICAL = "critical"
    AWAY = "away"
    LIGHT = "light"


class Who(Enum):
    """Who else heard it: another recogniser the same, nobody, another one something else; and what
    is enough to have it read back, whoever heard it."""

    AGREED = "agreed"
    ALONE = "alone"
    DIFFER = "differ"
    ASK = "ask"


class Bar(NamedTuple):
    """At least this score (distance to the free writing, None: not asked) and this margin."""

    score: float | None
    margin: float


Bars = Mapping[tuple[str, str, Kind, Who], Bar]
"""By recogniser, noise class, kind and who heard it."""


class ThresholdFault(ValueError):
    """Thresholds that cannot be used: where, what, what is allowed."""


class Thresholds(NamedTuple):
    """All bars. `noise` are the classes, the quietest first, each from its ratio in dB upwards;
    `confusable` multiplies the margin wanted between two answers that sound alike."""

    noise: tuple[tuple[str, float], ...]
    confusable: float
    bars: Bars
    fit: Mapping[str, Any] | None = None

    def noise_class(self, snr_db: float | None) -> str:
        """The class of a ratio of speech to noise; of an unknown one the loudest."""
        if snr_db is not None:
            for name, from_db in self.noise:
                if snr_db >= from_db:
                    return name
        return self.noise[-1][0]

    def bar(self, recogniser: str, noise: str, kind: Kind, who: Who) -> Bar | None:
        """The bar to pass; None where nothing passes."""
        return self.bars.get((recogniser, noise, kind, who))


class Person(NamedTuple):
    """What a reading told of one person: gain, what their scores lie under everybody's, how much
    more margin they want, and their ways of saying words."""

    name: str
    gain_db: float = 0.0
    shifts: Mapping[str, float] = {}
    raised: float = 1.0
    ways: Mapping[str, tuple[str, ...]] = {}


def of_person(thresholds: Thresholds, person: Person) -> Thresholds:
    """The bars for one person."""
    found = {}
    for (recogniser, noise, kind, who), bar in thresholds.bars.items():
        least = 0.0 if kind is Kind.CRITICAL else -MOST_SHIFT
        shift = min(max(person.shifts.get(recogniser, 0.0), least), MOST_SHIFT)
        score = None if bar.score is None else bar.score + shift
        raised = min(max(person.raised, 1.0), MOST_RAISED)
        found[recogniser, noise, kind, who] = Bar(score, bar.margin * raised)
    return thresholds._replace(bars=found)


@cache
def thresholds() -> Thresholds:
    """The bars that come with the program."""
    return read_thresholds(
        (files("runner.speech") / "thresholds.json").read_bytes(), "thresholds.json"
    )


def read_thresholds(content: bytes, where: str) -> Thresholds:
    """The bars of a file's bytes. Raises ThresholdFault."""
    data = _object(_json(content, where), where)
    if data.get("format") != FORMAT:
        raise _fault(where, "format", data.get("format"), str(FORMAT))
    fit = data.get("fit")
    confusable = _number(data.get("confusable"), f"{where}: confusable", 1.0)
    return Thresholds(
        _noise(data.get("noise"), where), confusable, _bars(data, where),
        _object(fit, f"{where}: fit") if fit is not None else None,
    )  # fmt: skip


def as_data(given: Thresholds) -> dict[str, Any]:
    """What `read_thresholds` reads, for the script that fits."""
    bars: dict[str, Any] = {}
    for (recogniser, noise, kind, who), bar in given.bars.items():
        here = bars.setdefault(recogniser, {}).setdefault(noise, {}).setdefault(kind.value, {})
        here[who.value] = {"score": bar.score, "margin": bar.margin}
    noise_classes = [
        {"name": name, "from_db": None if from_db == -math.inf else from_db}
        for name, from_db in given.noise
    ]
    fit = dict(given.fit) if given.fit is not None else None
    return {
        "format": FORMAT, "fit": fit, "noise": noise_classes, "confusable": given.confusable,
        "bars": bars,
    }  # fmt: skip


def read_person(content: bytes, where: str) -> Person:
    """One person's file. Raises ThresholdFault."""
    data = _object(_json(content, where), where)
    name = data.get("name")
    if not isinstance(name, str) or not name.strip():
        raise _fault(where, "name", name, "a name")
    shifts = {
        recogniser: _number(shift, f"{where}: shifts: {recogniser}", -MOST_SHIFT, MOST_SHIFT)
        for recogniser, shift in _object(data.get("shifts", {}), f"{where}: shifts").items()
    }
    ways = _object(data.get("ways", {}), f"{where}: ways")
    for word, said in ways.items():
        if not isinstance(said, list) or not all(isinstance(way, str) for way in said):
            raise _fault(where, f"ways: {word}", said, "a list of words")
    return Person(
        name, _number(data.get("gain_db", 0.0), f"{where}: gain_db", -MOST_GAIN_DB, MOST_GAIN_DB),
        shifts, _number(data.get("raised", 1.0), f"{where}: raised", 1.0, MOST_RAISED),
        {word: tuple(said) for word, said in ways.items()},
    )  # fmt: skip


def person_data(person: Person) -> dict[str, Any]:
    """What `read_person` reads."""
    return {
        "name": person.name, "gain_db": person.gain_db, "shifts": dict(person.shifts),
        "raised": person.raised, "ways": {word: list(said) for word, said in person.ways.items()},
    }  # fmt: skip


def _noise(value: object, where: str) -> tuple[tuple[str, float], ...]:
    found: list[tuple[str, float]] = []
    for entry in value if isinstance(value, list) else ():
        at = _object(entry, f"{where}: noise")
        name, from_db = at.get("name"), at.get("from_db")
        if not isinstance(name, str) or name in dict(found):
            raise _fault(where, "noise", name, "a name for each class, each once")
        least = -math.inf if from_db is None else _number(from_db, f"{where}: noise: {name}")
        if found and least >= found[-1][1]:
            raise _fault(where, f"noise: {name}", from_db, "classes from the quietest down")
        found.append((name, least))
    if not found or found[-1][1] != -math.inf:
        raise _fault(where, "noise", value, "classes of which the last has no from_db (null)")
    return tuple(found)


def _bars(data: Mapping[str, Any], where: str) -> dict[tuple[str, str, Kind, Who], Bar]:
    known = {name for name, _ in _noise(data.get("noise"), where)}
    found = {}
    for recogniser, by_noise in _object(data.get("bars"), f"{where}: bars").items():
        at = f"{where}: bars: {recogniser}"
        for noise, by_kind in _object(by_noise, at).items():
            if noise not in known:
                raise _fault(at, "noise", noise, ", ".join(sorted(known)))
            for kind, by_who in _object(by_kind, f"{at}: {noise}").items():
                for who, bar in _object(by_who, f"{at}: {noise}: {kind}").items():
                    here = f"{at}: {noise}: {kind}: {who}"
                    key = (recogniser, noise, _one_of(Kind, kind, here), _one_of(Who, who, here))
                    if bar is not None:
                        found[key] = _bar(bar, here)
    return found


def _bar(value: object, where: str) -> Bar:
    bar = _object(value, where)
    if set(bar) != {"score", "margin"}:
        raise _fault(where, "bar", sorted(bar), "score and margin")
    score = None if bar["score"] is None else _number(bar["score"], f"{where}: score")
    return Bar(score, _number(bar["margin"], f"{where}: margin", 0.0))


def _one_of(cls: type[E], name: str, where: str) -> E:
    try:
        return cls(name)
    except ValueError:
        raise _fault(where, cls.__name__.lower(), name, ", ".join(e.value for e in cls)) from None


def _number(value: object, where: str, least: float = -math.inf, most: float = math.inf) -> float:
    good = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    if not good or not least <= float(value) <= most:  # type: ignore[arg-type]
        raise _fault(where, "number", value, f"a finite number from {least} to {most}")
    return float(value)  # type: ignore[arg-type]


def _json(content: bytes, where: str) -> object:
    try:
        return json.loads(content)
    except (ValueError, RecursionError) as fault:
        raise ThresholdFault(f"{where}: no JSON: {fault}") from None


def _object(value: object, where: str) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise _fault(where, "entries", value, "an object")
    return value


def _fault(where: str, what: str, found: object, allowed: str) -> ThresholdFault:
    return ThresholdFault(f"{where}: {what}: found {str(found)[:60]!r}; allowed: {allowed}")
