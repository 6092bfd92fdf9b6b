"""A crew that answers by voice, at a real pseudo-terminal and through a real sound device.

Rules: what is spoken goes into the sound device and nowhere else; the talk key is pressed only
when the screen asks for what will be said, and words begin only when the screen says LISTENING;
what came of them is read from the screen and from the log's file, as somebody who stands behind the
crew could; what was not taken, or refused, is said again, five times at most; a value that is read
back is confirmed only if it is the one that was said; whatever the log took is compared with what
was said, and one difference ends the test. Nothing sleeps: every wait is for screen, log or player.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from runner.speech.lexicon import lexicon
from runner.terminal.keystate import HELD_MS
from runner.words.numbers import read_number
from tests.runner.speech.sound import WITHIN, VirtualMicrophone
from tests.terminal_crew import REACTION_MS, keys_for, press
from tests.terminal_day import only_log
from tests.terminal_driver import Terminal
from tests.voice_script import AFFIRM, NEGATIVE, SIDES, Outcome, Part, Ways, outcome_of
from tests.voice_sounds import Throat

TALK: Final = "\t"
LISTENING, NO_MICROPHONE, STARTING = "LISTENING", "NO MICROPHONE", "VOICE STARTS"
AGAIN, READ_BACK = "SAY AGAIN", "READ BACK: "
WANTED: Final = ("SAY WHAT IS RIGHT", "SAY WHAT, OR DISREGARD")
"""What is shown when an order wants something behind it."""
FAULT: Final = "A FAULT OF THE VOICE"
DECIDED: Final = ("NOTHING HEARD", "SAID TOO LATE", FAULT)
"""What the screen alone says of an utterance that was judged."""
NOT_TAKEN: Final = (*DECIDED, "NOT TAKEN")
"""With what it says of a sound that never was one: an utterance may yet follow it."""
SKIPPED: Final = "OR TAB GOES ON, AND ANSWERS NOTHING"
MOST: Final = 5
"""Times that one thing is said."""
PRESS_MS: Final = HELD_MS + 50
"""What passes for the program before the talk key; a sooner press would be a key that is held."""
_LATE_S: Final = 4.0
"""A decision that was not made by then will never be."""


@dataclass
class Tally:
    """What the crew did; `again` holds what had to be said again, with what the log says of it,
    `refused` counts those of them that were taken for what the list refused, `given_up` holds what
    was pressed in the end."""

    utterances: int = 0
    taken: int = 0
    refused: int = 0
    pressed: int = 0
    affirmed: int = 0
    denied: int = 0
    again: list[str] = field(default_factory=list)
    given_up: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        rows = "".join(f"\n  again: {one}" for one in self.again)
        return (
            f"{self.utterances} utterances, {self.taken} taken, {len(self.again)} said again (of "
            f"these {self.refused} taken for what was refused), "
            f"{self.affirmed} read back and affirmed, {self.denied} denied, {self.pressed} by "
            f"keys, {len(self.given_up)} given up{rows}"
        )


class Log:
    """The file of the run's log, read as it grows."""

    def __init__(self, logs: Path) -> None:
        self._logs = logs
        self._at = 0

    def fresh(self) -> list[dict[str, Any]]:
        """What was written since this was asked last: the events, in order."""
        with only_log(self._logs).open("rb") as stream:
            stream.seek(self._at)
            data = stream.read()
        whole = data[: data.rfind(b"\n") + 1]
        self._at += len(whole)
        found = [json.loads(row)["body"]["data"] for row in whole.splitlines()]
        return [row for row in found if "event" in row]


class VoiceCrew:
    """The crew at one terminal."""

    def __init__(
        self, screen: Terminal, device: VirtualMicrophone, logs: Path, throat: Throat, *,
        reads: bool = False, gives_up: bool = False,
    ) -> None:  # fmt: skip
        """`reads`: the copilot reads each challenge aloud, with the talk key up; `gives_up`: what
        was said in vain is pressed, and does not end the test."""
        self.screen, self.tally = screen, Tally()
        self._reads, self._gives_up = reads, gives_up
        self._device, self._throat = device, throat
        self._log = Log(logs)

    def ready(self) -> None:
        """Waits until the voice has begun and hears."""
        self.screen.see(
            lambda: not any(word in self.screen.text() for word in (STARTING, NO_MICROPHONE)),
            "a voice that has begun",
        )

    def work(self, parts: Iterable[Part]) -> None:
        """Works through what a script says."""
        for part in parts:
            self.give(part)

    def give(self, part: Part) -> None:
        """One line of a script, by voice or by keys."""
        if not part.input.text:
            self.screen.passes(part.input.passes)
            return
        self.screen.passes(max(0, part.input.passes - REACTION_MS))
        if not part.said:
            press(self.screen, part.input.text)
            self.tally.pressed += 1
            self._log.fresh()
            return
        orders = all(self._order(part, ways) for ways in part.said[:-1])
        if orders and self._answer(part, part.said[-1]):
            self.tally.taken += 1
            if part.text == "next flight":
                # What the flight skips lies over its first question; the talk key puts it away,
                # and opens nothing by that press.
                self.screen.see_text(SKIPPED)
                self.screen.key(TALK, after_ms=PRESS_MS)
                self.screen.see(lambda: SKIPPED not in self.screen.text(), "the question below")
                assert LISTENING not in self.screen.text(), self._story(
                    "heard on an unseen question"
                )
            return
        if not self._gives_up:
            raise AssertionError(self._story(f"never taken: {part.input.text} ({part.said})"))
        self.tally.given_up.append(part.input.text)
        press(self.screen, part.input.text)
        self._log.fresh()

    # one thing said until it is taken ----------------------------------------------------------

    def _order(self, part: Part, ways: Ways) -> bool:
        """The first half of what is said in two."""
        self._asked(part)
        for turn in range(MOST):
            said = ways[turn % len(ways)]
            came = self.say(part.role, (said,), self._turn(part, turn))
            if any(words in self.screen.text() for words in WANTED) and not came:
                return True
            self._said_again(said, came)
        return False

    def _answer(self, part: Part, ways: Ways) -> bool:
        if len(part.said) == 1:
            self._asked(part)
        for turn in range(MOST):
            said = ways[turn % len(ways)]
            came = self.say(part.role, (said,), self._turn(part, turn))
            if not came or _again(came, part.text) or _refused(came):
                self._said_again(said, came)
                continue
            if not _read_back(came):
                self._alike(part, said, came)
                return True
            right = self._right(part)
            if right and _read_back([{"outcome": part.outcome}]):
                return True  # the script affirms it
            self._confirm(part, said, right=right)
            if right:
                return True
        return False

    def _asked(self, part: Part) -> None:
        self.screen.see(
            lambda: keys_for(self.screen, part.input.text) is not None,
            f"a screen that asks for: {part.input.text}\n{self.tally}",
        )
        self.screen.passes(REACTION_MS - PRESS_MS)
        if self._reads and part.challenge:
            self._log.fresh()
            self.play(self._throat.said("copilot", part.challenge))
            came = self._log.fresh()
            assert not came, self._story(f"{part.challenge!r}, read with the key up: {came}")

    def _right(self, part: Part) -> bool:
        """Whether what is read back is what was said."""
        self.screen.see_text(READ_BACK)
        shown = self.screen.text().partition(READ_BACK)[2].split()
        words = part.text.split()
        value = read_number(words[-1])
        if value is None:
            return shown[: len(words)] == [word.upper() for word in words]
        sides = [word.upper() for word in words[:-1]]
        at = len(sides) if words[0] in SIDES else 0
        return shown[:at] == sides[:at] and read_number(shown[at]) == value

    def _confirm(self, part: Part, said: str, *, right: bool) -> None:
        """Answers what is read back."""
        # As the crew's guide has it: first the way that is heard better.
        ways = lexicon().control[AFFIRM if right else NEGATIVE][::-1]
        for turn in range(MOST):
            word = ways[turn % len(ways)]
            came = self.say(part.role, (word,), self._turn(part, turn))
            if came and not _again(came) and not _refused(came):
                if right:
                    self._alike(part, word, came)
                affirmed = any(row["event"]["kind"] == "affirm" for row in came)
                assert affirmed == right, self._story(f"said {word!r} to {said!r}, came {came}")
                self.tally.affirmed += right
                self.tally.denied += not right
                return
            self._said_again(f"{word} to {said}", came)
        raise AssertionError(self._story(f"never confirmed: {part.input.text}"))

    @staticmethod
    def _turn(part: Part, turn: int) -> int:
        return part.input.number + turn

    # one utterance -------------------------------------------------------------------------------

    def say(self, role: str, texts: Sequence[str], turn: int = 0) -> list[dict[str, Any]]:
        """Presses the talk key, says it, and waits for what comes of it: the events of the log;
        none, where the screen alone says what became of it."""
        path = self._throat.said(role, *texts, turn=turn)
        self.ready()
        self.play(self._throat.breath())
        missed = [row for row in self._log.fresh() if row["event"].get("source") == "voice"]
        assert not missed, self._story(f"taken when nobody waited for it any more: {missed}")
        self.screen.key(TALK, after_ms=PRESS_MS)
        self.screen.see_text(LISTENING)
        return self.heard(path)

    def heard(self, path: Path) -> list[dict[str, Any]]:
        """Plays it while the program listens, and waits for what comes of it."""
        stood = self._shown(*DECIDED, *WANTED)
        self.tally.utterances += 1
        self.play(path)
        self.screen.see(lambda: LISTENING not in self.screen.text(), "the end of listening")
        late = time.monotonic() + _LATE_S
        found: list[dict[str, Any]] = []

        def over() -> bool:
            found.extend(self._log.fresh())
            told = self._shown(*DECIDED, *WANTED) - stood
            return bool(found) or bool(told) or time.monotonic() > late

        self.screen.see(over, "what came of an utterance")
        if any(row["event"].get("source") == "host" for row in found):
            self.screen.see_text(AGAIN)
        return found

    def play(self, path: Path) -> None:
        """Plays a sound to its end, the screen read meanwhile."""
        with self._device.playing(path) as player:
            until = time.monotonic() + WITHIN
            self.screen.see(
                lambda: player.poll() is not None or time.monotonic() > until, "a player's end"
            )
            assert player.poll() == 0, f"{path} was not played"

    def _shown(self, *words: str) -> set[str]:
        text = self.screen.text()
        return {word for word in words if word in text}

    # what came of it -----------------------------------------------------------------------------

    def _said_again(self, said: str, came: list[dict[str, Any]]) -> None:
        why = "; ".join(str(row.get("heard", "")) for row in came)
        self.tally.refused += _refused(came)
        told = [row for row in self.screen.lines() if any(words in row for words in NOT_TAKEN)]
        shown = "; ".join(" ".join(row.split()) for row in told)
        self.tally.again.append(f"{said!r}: {why or shown or 'nothing came of it'}")

    def _alike(self, part: Part, said: str, came: list[dict[str, Any]]) -> None:
        """What was taken is what was said."""
        voiced = [row for row in came if row["event"].get("source") == "voice"]
        outcome: Outcome = tuple(item for row in voiced for item in outcome_of(row))
        kept = 2 if part.free else None
        if [item[:kept] for item in outcome] != [item[:kept] for item in part.outcome]:
            raise AssertionError(self._story(f"said {said!r} for {part.input.text!r}, came {came}"))

    def _story(self, what: str) -> str:
        return f"{what}\n{self.tally}\n" + "\n".join(self.screen.lines())


def _again(came: Iterable[dict[str, Any]], said: str = "") -> bool:
    """Whether the program asked again, or took what was `said` for a word that has the question
    said again, which it was not."""
    given = [(row["event"]["kind"], row["event"].get("source")) for row in came]
    repeats = [one for one in given if one[0] in ("say again", "confirm")]
    return any(one != (said, "voice") for one in repeats)


def _refused(came: Iterable[dict[str, Any]]) -> bool:
    """Whether all that it was taken for was refused, so that nothing came of it."""
    outcomes = [item for row in came for item in row["outcome"]]
    return bool(outcomes) and all(item[0] == "refused" for item in outcomes)


def _read_back(came: Iterable[dict[str, Any]]) -> bool:
    """Whether a value is read back now."""
    return any(item[0] == "read back" for row in came for item in row["outcome"])
