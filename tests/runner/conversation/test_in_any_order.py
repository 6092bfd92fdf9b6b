"""Whatever comes in whatever order: an utterance answers the question it was said to, or nothing.

The recognisers hear an answer in everything: whatever they are asked about would pass. What keeps a
sound from answering another question must be the rest.
"""

from __future__ import annotations

import tempfile
import threading
from bisect import bisect_right
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

np = pytest.importorskip("numpy")

from hypothesis import given, settings  # noqa: E402
from hypothesis import strategies as st  # noqa: E402

from audit.folder import LogFolder  # noqa: E402
from runner.engine.effects import Effect, Prompt, Show, Voice  # noqa: E402
from runner.speech.ears.gate import LEAD, Mode  # noqa: E402
from runner.speech.heard import Heard, Sort  # noqa: E402
from tests.runner.conversation.desks import only_written, surely  # noqa: E402
from tests.runner.conversation.sounds import QUIET, SPEECH, mark_of, piece  # noqa: E402
from tests.runner.conversation.talk import READ, Panel, Talk  # noqa: E402
from tests.runner.host.support import right_answer  # noqa: E402
from tests.runner.speech.sound import until  # noqa: E402

if TYPE_CHECKING:
    from runner.speech.ears.hearing import Clip
    from runner.speech.heard import AnswerSet, Audio

ANSWER, ORDER, SNAG, OFF, UNHEARD = "answer", "correction ", "snag ", "disregard", "unheard"


def anything(answers: AnswerSet, wanted: str) -> list[Heard]:
    """An answer to whatever is asked, or what is wanted where it may be said."""
    lines = {phrase.line: phrase.sort for phrase in answers.phrases}
    if wanted == UNHEARD:
        return only_written("smell of oil")
    if wanted in lines:
        return surely(wanted, lines[wanted])
    if answers.number is not None:
        return surely("1200" if answers.number.high > 1200 else "60", Sort.NUMBER)
    first = [line for line, sort in lines.items() if sort is not Sort.CONTROL]
    return surely(first[0], lines[first[0]]) if first else only_written("smell of oil")


class Willing(Panel):
    """Recognisers that hear an answer in everything, and note what they were asked."""

    def __init__(self) -> None:
        super().__init__()
        self.wanted: dict[float, str] = {}
        self.judged: set[tuple[float, int, int]] = set()

    def heard(self, audio: Audio, answers: AnswerSet) -> list[Heard]:
        assert self.goes_on.wait(30)
        mark = mark_of(audio)
        self.judged.add((mark, len(audio), answers.ask))
        return anything(answers, self.wanted.get(mark, ANSWER))


class Day:
    """A run by voice of which everything is noted: when each question stood, what was taken, and
    what became of it."""

    def __init__(self, folder: LogFolder, mode: Mode) -> None:
        self.willing = Willing()
        self.talk = Talk(folder, lines=READ, mode=mode, clipper=lambda samples: samples.tobytes())
        self.talk.judge._panel = self.willing  # type: ignore[assignment]
        self.talk.judge._way = self.talk.judge._way._replace(open_microphone=False)
        self.stood: list[tuple[int, int]] = [(0, self.talk.run.view().ask)]
        self.covers: list[tuple[int, bool]] = [(0, False)]
        self.taken: dict[float, Clip] = {}
        self.did: list[tuple[str, Any, str]] = []
        self._spied()
        self.talk.start()
        self.down = False

    def _spied(self) -> None:
        talk, conversation, run = self.talk, self.talk.conversation, self.talk.run
        conversation._way = conversation._way._replace(open_microphone=False)
        taken, line, again, clip = (
            conversation._taken, run.submit_heard, run.ask_again, run.keep_clip,
        )  # fmt: skip

        def note_taken(one: Clip) -> None:
            mark = mark_of(one.samples)
            assert mark not in self.taken
            self.taken[mark] = one
            taken(one)

        def note_line(text: str, ask: int, evidence: str) -> Any:
            self.did.append(("line", ask, text))
            return line(text, ask, evidence)

        def note_again(ask: int, evidence: str) -> Any:
            self.did.append(("line", ask, "say again"))
            return again(ask, evidence)

        def note_clip(content: bytes) -> str:
            self.did.append(("clip", mark_of(np.frombuffer(content, np.float32)), ""))
            return clip(content)

        conversation._taken = note_taken  # type: ignore[method-assign,assignment]
        run.submit_heard, run.ask_again = note_line, note_again  # type: ignore[method-assign,assignment]
        run.keep_clip = note_clip  # type: ignore[method-assign]
        run.subscribe(self._shown)
        assert talk.run is run

    def _shown(self, effects: tuple[Effect, ...]) -> None:
        for effect in effects:
            if isinstance(effect, Show) and effect.view.ask != self.stood[-1][1]:
                self.stood.append((self.talk.device.given, effect.view.ask))

    def do(self, what: tuple[str, Any]) -> None:
        """One thing that happens."""
        kind, given = what
        talk = self.talk
        if kind == "key":
            if talk.run.view().prompt is Prompt.WAITING:
                talk.clock.go(30_000)
            talk.keys(right_answer(talk.run) if given == ANSWER else given)
        elif kind == "talk":
            talk.conversation.talk()
        elif kind == "pedal":
            talk.conversation.hold(given)
        elif kind == "transmit":
            self.down = given
            talk.conversation.transmit(down=given)
        elif kind == "page":
            self.covers.append((talk.device.given, given))
            talk.conversation.cover(covered=given)
        elif kind == "own voice":
            talk.voice.changed(given)
        elif kind == "judging":
            (self.willing.goes_on.set if given else self.willing.goes_on.clear)()
        elif kind == "silence":
            talk.device.put(piece(given))
        elif kind == "heard":
            until(lambda: talk.device.dealt_with >= talk.device.given, "the sound")
        else:
            talk.marks = round(talk.marks + 0.0005, 4)
            self.willing.wanted[talk.marks] = given
            talk.device.put(piece(0.4, SPEECH, talk.marks))

    def over(self) -> None:
        """Until nothing is going on any more."""
        talk = self.talk
        self.willing.goes_on.set()
        talk.hears(1.5, QUIET)
        talk.judged()

    def asked_at(self, place: int) -> int:
        """The question that stood at a place of the sound."""
        number = bisect_right([at for at, _ in self.stood], place) - 1
        return self.stood[max(number, 0)][1]

    def covered(self, first: int, last: int) -> bool:
        """Whether a page lay over the question anywhere in a piece of the sound."""
        number = bisect_right([at for at, _ in self.covers], first) - 1
        return any(on for at, on in self.covers[number:] if at < last)

    def check(self) -> None:
        assert not [text for text in self.talk.ear.texts if "FAULT" in text]
        lines = [one for one in self.did if one[0] == "line"]
        clips = [one for one in self.did if one[0] == "clip"]
        # Each line is followed by the clip of the utterance that it came from, and by no other.
        assert self.did == [one for pair in zip(lines, clips, strict=True) for one in pair]
        marks = [mark for _, mark, _ in clips]
        assert len(set(marks)) == len(marks)
        for (_, ask, _), mark in zip(lines, marks, strict=True):
            clip = self.taken[mark]
            assert ask == clip.utterance.ask == self.asked_at(clip.utterance.began - LEAD)
            assert not self.covered(clip.utterance.began, clip.utterance.ended)
            # Judged as it was taken, against its own question: nothing of another one served it.
            assert (mark, len(clip.samples), ask) in self.willing.judged
        asks = [event["event"].get("ask") for event in self.talk.events()]
        assert len(asks) <= len([one for one in lines if one[2] != "say again"])


@contextmanager
def day(mode: Mode) -> Iterator[Day]:
    with tempfile.TemporaryDirectory() as place, LogFolder.open(Path(place) / "logs") as folder:
        made = Day(folder, mode)
        try:
            yield made
        finally:
            made.willing.goes_on.set()
            made.talk.end()


def things(names: st.SearchStrategy[str]) -> st.SearchStrategy[tuple[str, Any]]:
    def of(name: str) -> st.SearchStrategy[tuple[str, Any]]:
        given: st.SearchStrategy[Any] = st.booleans()
        if name == "say":
            given = st.sampled_from([ANSWER, ANSWER, ORDER, SNAG, OFF, UNHEARD])
        elif name == "key":
            given = st.sampled_from([ANSWER, ANSWER, "not so", "stand by", "continue", "snag x"])
        elif name == "silence":
            given = st.sampled_from([0.1, 0.35, 0.7])
        elif name in ("talk", "heard"):
            given = st.none()
        return st.tuples(st.just(name), given)

    return names.flatmap(of)


ALONE = ["say", "say", "silence", "silence", "heard", "key", "judging"]
PRESSED = [*ALONE, "talk", "talk"]
HAPPENINGS = st.lists(
    things(st.sampled_from([*PRESSED, "pedal", "transmit", "own voice", "page"])), max_size=25
)
ANSWERED = [("talk", None), ("silence", 0.35), ("say", ANSWER), ("silence", 0.7), ("heard", None)]


@settings(max_examples=25)
@given(HAPPENINGS, st.sampled_from([Mode.PRESSED, Mode.OPEN]))
def test_an_utterance_is_one_line_at_most_and_only_of_its_own_question(
    happenings: list[tuple[str, Any]], mode: Mode
) -> None:
    with day(mode) as made:
        for one in happenings:
            made.do(one)
        made.over()
        made.check()


@settings(max_examples=25)
@given(
    st.lists(
        things(st.sampled_from([*ALONE, "page"])),
        min_size=2, max_size=6,
    ),
    st.integers(0, len(ANSWERED)), st.integers(1, 2),
)  # fmt: skip
def test_whatever_comes_between_the_pieces_of_answers(
    between: list[tuple[str, Any]], where: int, times: int
) -> None:
    """Here answers are mostly taken, so that what comes between meets one: who goes on after a
    breath, a key, a judge that is slow."""
    with day(Mode.PRESSED) as made:
        for _ in range(times):
            for one in (*ANSWERED[:where], *between, *ANSWERED[where:]):
                made.do(one)
        made.over()
        made.check()


def test_what_the_two_above_look_at_is_not_empty() -> None:
    with day(Mode.PRESSED) as made:
        for _ in range(3):
            for one in ANSWERED:
                made.do(one)
            made.over()
        made.check()
        assert [(what, ask) for what, ask, _ in made.did if what == "line"] == [
            ("line", 2), ("line", 3), ("line", 4),
        ]  # fmt: skip
        assert made.talk.run.view().prompt is Prompt.CLOSING


def test_keys_voice_and_screen_at_once_never_wait_for_each_other() -> None:
    """Every lock is taken from every side, for as long as it takes to do all this."""
    with day(Mode.OPEN) as made:
        talk, faults = made.talk, []
        over = threading.Event()

        def worked(work: Any) -> threading.Thread:
            def run() -> None:
                try:
                    work()
                except Exception as fault:
                    faults.append(fault)

            return threading.Thread(target=run)

        def keys() -> None:
            for number in range(150):
                made.do(
                    ("key", (ANSWER, "say again", "snag x", "stand by", "continue")[number % 5])
                )
            over.set()

        def screen() -> None:
            while not over.is_set():
                talk.conversation.bands()
                talk.conversation.swap_caller()
                talk.conversation.call_again()
                talk.conversation.talk()
                talk.run.view()

        def mouths() -> None:
            while not over.is_set():
                for down in (True, False):
                    talk.voice.changed(down)
                    talk.conversation.transmit(down=down)
                    talk.run.announce("SOMETHING", Voice.STATUS)

        def speech() -> None:
            while not over.is_set():
                for one in (("silence", 0.35), ("say", ANSWER), ("silence", 0.7), ("heard", None)):
                    made.do(one)

        threads = [worked(one) for one in (keys, screen, mouths, speech)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(60)
        assert not [thread for thread in threads if thread.is_alive()]
        assert not faults
        talk.voice.changed(False)
        talk.conversation.transmit(down=False)
        made.over()
        assert not [text for text in talk.ear.texts if "FAULT" in text]
        marks = [mark for what, mark, _ in made.did if what == "clip"]
        assert len(set(marks)) == len(marks)
        lines = [one for one in made.did if one[0] == "line"]
        assert len(lines) == len(marks)
