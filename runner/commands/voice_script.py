"""What is read aloud in a trial and in an enrolment: answers of the demonstration's lists.

Rules: each sentence is an answer to the question at which it stands, so that it is heard against
all that might be said there; together they hold words and critical phrases, every digit in the
radiotelephony pronunciation (ICAO Annex 10 Volume II, 5.2.1.4) and as people say it, decimals,
a minus, and the words that steer the list; what the reading wants to know of a word stands in it
twice. At three seconds and a half a sentence the enrolment takes two minutes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from runner.flow.loader import Loaded
from runner.host.questions import question_of
from runner.speech.answers import answer_set
from runner.speech.heard import AnswerSet, Ranked, Sort
from runner.speech.lexicon import Lexicon, lexicon
from runner.speech.ways import ways

_TRIAL: Final = (
    ("start.disc_and_nose_right", "CLEAR RIGHT"),
    ("start.retry", "MAGNETOS OFF"),
    ("start.engine_rpm", "ONE SEVEN ZERO ZERO", "1700"),
    ("start.fire_guard", "IN PLACE, BOTTLE READY"),
    ("engage.rotor_brake", "BRAKE RELEASED"),
    ("warm_up.qnh", "ONE ZERO ONE TREE", "1013"),
    ("start.prime", "FOUR STROKES"),
    ("take_off.hover_power", "TWO NINER DECIMAL EIGHT", "29.8"),
    ("start.beacon", "STAND BY", "stand by"),
    ("warm_up.oil_temperature", "SIXTY FIVE", "65"),
)
_READING: Final = (
    ("start.disc_and_nose_right", "CLEAR RIGHT"),
    ("start.disc_and_nose_left", "CLEAR LEFT"),
    ("start.fire_guard", "IN PLACE, BOTTLE READY"),
    ("start.retry", "MAGNETOS OFF"),
    ("start.retry_mixture", "MIXTURE CUT-OFF"),
    ("start.throttle", "OPEN ONE FINGER"),
    ("start.engine_rpm", "ONE SEVEN ZERO ZERO", "1700"),
    ("start.engine_rpm", "SEVENTEEN HUNDRED", "1700"),
    ("start.beacon", "STAND BY", "stand by"),
    ("start.oil_pressure_needle", "RISING"),
    ("before_start.parking_brake", "BRAKE PARKED"),
    ("before_start.throttle", "CLOSED"),
    ("take_off.hover_power", "TWO NINER DECIMAL EIGHT", "29.8"),
    ("take_off.hover_power", "TWENTY NINE POINT EIGHT", "29.8"),
    ("start.starter_out", "STARTER RELEASED"),
    ("engage.rotor_brake", "BRAKE RELEASED"),
    ("start.beacon", "SAY AGAIN", "say again"),
    ("warm_up.qnh", "ONE ZERO ONE TREE", "1013"),
    ("warm_up.qnh", "ONE THOUSAND AND THIRTEEN", "1013"),
    ("start.running", "MIXTURE RICH"),
    ("run_up.servos_on", "SERVOS ON"),
    ("run_up.servos_off", "SERVOS OFF"),
    ("before_start.cooling_gills", "OPEN"),
    ("brief.outside_air", "MINUS SIX", "-6"),
    ("fuel.aft_tank", "TWO FOWER FIFE", "245"),
    ("fuel.aft_tank", "TWO HUNDRED AND FORTY FIVE", "245"),
    ("cabin.control_locks", "OUT, STOWED"),
    ("engage.collective", "DOWN, LOCKED"),
    ("before_start.tail_wheel", "LOCKED"),
    ("start.beacon", "NEGATIVE", "negative"),
    ("start.beacon", "AFFIRM", "affirm"),
    ("engage.clutch", "CLUTCH ON"),
    ("before_start.clutch_switch", "CLUTCH OFF"),
    ("turn_through.turned", "FOUR TURNS FREE"),
    ("start.beacon", "ROGER", "roger"),
    ("after_landing.cooling_gills", "OPEN"),
)


class Sentence(NamedTuple):
    """One sentence: what is shown, in capitals; the line that it is; the words that it has; the
    set that it is heard against."""

    shown: str
    line: str
    words: str
    answers: AnswerSet

    @property
    def meant(self) -> Ranked:
        """The answer that it is."""
        number = self.answers.number is not None and self.line[-1].isdigit()
        phrase = next((one for one in self.answers.phrases if one.line == self.line), None)
        sort = Sort.NUMBER if number else phrase.sort if phrase is not None else Sort.RESPONSE
        return Ranked(self.line, 0.0, sort)


def trial(loaded: Loaded, language: Lexicon) -> list[Sentence]:
    """The ten phrases of a trial, of the demonstration's lists."""
    return _sentences(_TRIAL, loaded, language)


def reading(loaded: Loaded) -> list[Sentence]:
    """The sentences of an enrolment, of the demonstration's lists."""
    return _sentences(_READING, loaded, lexicon())


def _sentences(
    rows: Sequence[tuple[str, ...]], loaded: Loaded, language: Lexicon
) -> list[Sentence]:
    found = []
    for number, (step, shown, *line) in enumerate(rows, 1):
        asked = question_of(loaded.table, loaded.table.steps[step])
        answers = answer_set(asked.listen, asked.view, language)._replace(ask=number)
        words = ways(shown, language, 1)[0]
        meant = line[0] if line else _line_of(words, answers)
        found.append(Sentence(shown, meant, words, answers))
    return found


def _line_of(words: str, answers: AnswerSet) -> str:
    return next(one.line for one in answers.phrases if words in one.ways)
