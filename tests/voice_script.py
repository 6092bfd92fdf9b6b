"""What a crew says, utterance by utterance, to get through a script by voice, and what by keys.

Rules: the questions come from a replica of the run, played through the engine beforehand, and the
ways of saying an answer from its closed set, so nothing is said that the list would not let be
said; numbers are said as their sayer has them, not as their reader; what stays on keys is what the
list itself keeps there: the first page, what both look at, what no word of a closed set means.
"""

from __future__ import annotations

import io
import json
from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final, NamedTuple

from audit.folder import LogFolder
from runner.engine.effects import Listen, Prompt, View
from runner.host.clock import SimulatedClock
from runner.host.crew import demo_people
from runner.host.opening import Setup, start
from runner.host.run import Run
from runner.host.scripted import Input, Printer, play
from runner.speech.answers import answer_set, line_of
from runner.words.numbers import read_number
from runner.words.spoken import split
from tests.bench.speech.asked import documents
from tests.bench.speech.noise import seed_of
from tests.bench.speech.saying import NUMBER_WAYS, number_said, words_of

SIDES: Final = ("below", "above", "drop")
AFFIRM, NEGATIVE = "affirm", "negative"
_START_MS: Final = 1_795_557_003_412
_CORRECT, _SNAG = "correct ", "snag "

Ways = tuple[str, ...]
Outcome = tuple[tuple[str, ...], ...]


class Part(NamedTuple):
    """One line of a script. `said` is what is said for it, an utterance after the other, each in
    its ways; none: it is pressed. `outcome` is what came of it in the replica; `challenge` what the
    list asked, as it is read aloud, where it asked for one thing."""

    input: Input
    said: tuple[Ways, ...] = ()
    outcome: Outcome = ()
    challenge: str = ""

    @property
    def role(self) -> str:
        """Who says it, where the script says who."""
        return split(self.input.text).role

    @property
    def free(self) -> bool:
        """Whether its words are anybody's own: they are written down as they are heard."""
        return self.text.startswith(_SNAG)

    @property
    def text(self) -> str:
        """The line without who says it."""
        return split(self.input.text).text


class Replica(NamedTuple):
    """A script as it was played beforehand: its parts, and what its log says was met."""

    parts: tuple[Part, ...]
    met: tuple[tuple[str, ...], ...]


class _Notes(Printer):
    """Notes what stood when an input came."""

    def __init__(self, run: Run) -> None:
        super().__init__(io.StringIO(), run, as_json=True)
        self._of = run
        self.found: list[tuple[Listen, View]] = []

    def line(self, kind: str, text: str) -> None:
        """Called with each input just before the run hears it."""
        if kind == "answer":
            self.found.append((self._of.listen(), self._of.view()))


def replica(inputs: Sequence[Input], only: str = "") -> Replica:
    """The parts of a script of the demonstration, of one list `only` or of the day."""
    loaded = documents()
    with TemporaryDirectory(prefix="latchword-voice-") as place:
        logs = Path(place) / "logs"
        with LogFolder.open(logs) as folder:
            setup = Setup(
                loaded, folder, "TV-T9", ("crew", "demonstration", "scripted"), demo_people(),
                tuple(loaded.table.fit), only, "script",
            )  # fmt: skip
            clock = SimulatedClock(_START_MS)
            run = start(setup, clock, patient=True)
            notes = _Notes(run)
            play(run, clock, inputs, notes)
            run.stop()
        (log,) = logs.glob("*.jsonl")
        rows = [json.loads(row)["body"]["data"] for row in log.read_text("utf-8").splitlines()]
    answers = [one for one in inputs if one.text]
    ahead = [data for data in rows if "heard" in data]
    parts = []
    places = iter(zip(answers, notes.found, strict=True))
    for one in inputs:
        if not one.text:
            parts.append(Part(one))
            continue
        _, (listen, view) = next(places)
        taken = ahead and ahead[0]["heard"] == one.text
        outcome = outcome_of(ahead.pop(0)) if taken else ()
        parts.append(Part(one, _said(one, listen, view), outcome, words_of(view.challenge)))
    met = (item for data in rows for item in outcome_of(data) if item[0] == "met")
    return Replica(tuple(parts), tuple(met))


def outcome_of(data: Mapping[str, Any]) -> Outcome:
    """What came of an event, as the log has it, without the moment of a mark."""
    items = (tuple(item) for item in data.get("outcome", ()))
    return tuple(item[:2] if item[0] == "marked" else item for item in items)


def _said(given: Input, listen: Listen, view: View) -> tuple[Ways, ...]:
    line = " ".join(split(given.text).text.lower().split())
    if listen.prompt is Prompt.FIRST_PAGE or listen.both:
        return ()
    if line.startswith(_SNAG):
        return (("snag",), (words_of(line.removeprefix(_SNAG)),))
    ways = {phrase.line: phrase.ways for phrase in answer_set(listen, view).phrases}
    if line.startswith(_CORRECT):
        return _correction(line, view, ways, given.number)
    if listen.number and (number := _number(line, given.number)):
        return (number,)
    for found in (_meant(line, listen), _item(line, listen, view), line):
        if found in ways:
            return (_turned(ways[found], given.number),)
    return ()


def _number(line: str, seed: int) -> Ways:
    """Every way of saying a number or a threshold, the one of the seed first; none for words."""
    side, _, rest = line.partition(" ")
    text = rest if side in SIDES else line
    value = read_number(text)
    if value is None:
        return ()
    before = f"{side} " if side in SIDES else ""
    said = [before + number_said(Decimal(value), way) for way in NUMBER_WAYS]
    return _turned(tuple(dict.fromkeys(said)), seed)


def _meant(line: str, listen: Listen) -> str:
    """The line that stands for all texts of the same meaning."""
    for same in listen.meanings:
        if line in (" ".join(text.lower().split()) for text in same):
            return line_of(same[0])
    return ""


def _item(line: str, listen: Listen, view: View) -> str:
    """The line that ticks an item, which the script calls by its challenge."""
    name = line.removeprefix("tick ")
    if name == line:
        return ""
    here = {item.challenge.lower(): item.key for item in view.items}
    there = {challenge.lower(): key for key, challenge, _ in listen.elsewhere}
    key = here.get(name) or there.get(name)
    return f"tick {key}" if key else ""


def _correction(line: str, view: View, ways: dict[str, Ways], seed: int) -> tuple[Ways, ...]:
    """Item and value are said one after the other, each as an utterance of its own."""
    for step in (*view.before, *((view.latest,) if view.latest is not None else ())):
        opener = f"correct {step.challenge.lower()} "
        order = ways.get(f"correct {step.key} ")
        if line.startswith(opener) and order:
            value = line.removeprefix(opener)
            return (order, _number(value, seed) or (words_of(value),))
    return ()


def _turned(ways: Ways, seed: int) -> Ways:
    """The same ways, begun with another one."""
    first = seed_of("way", seed) % len(ways)
    return (*ways[first:], *ways[:first])
