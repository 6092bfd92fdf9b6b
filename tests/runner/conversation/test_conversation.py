"""A voice that begins, lacks parts, and ends: the run waits for none of it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import pytest

np = pytest.importorskip("numpy")

from runner.conversation.answering import TOO_LATE  # noqa: E402
from runner.conversation.conversation import LISTENING, STARTING  # noqa: E402
from runner.conversation.hearing import Judge  # noqa: E402
from runner.conversation.microphone import NONE  # noqa: E402
from runner.engine.effects import Prompt, Voice  # noqa: E402
from runner.speech.ears.gate import Mode  # noqa: E402
from runner.speech.voice.lineup import Hold  # noqa: E402
from tests.runner.conversation.desks import surely  # noqa: E402
from tests.runner.conversation.talk import CLOSING, STATION, Talk  # noqa: E402
from tests.runner.speech.sound import until  # noqa: E402

Make = Callable[..., Talk]


def test_it_begins_once_and_does_not_wait(make: Make) -> None:
    gate = threading.Event()
    calls: list[str] = []
    panel: list[Judge] = []

    def slow() -> Judge:
        calls.append("judge")
        assert gate.wait(30)
        return panel[0]

    talk = make(lines=STATION, parts={"judge": slow})
    panel.append(talk.judge)
    assert talk.conversation.bands() == ()
    talk.conversation.start()
    talk.conversation.start()
    until(lambda: calls, "the beginning")
    assert talk.conversation.bands() == (STARTING,)
    # Keys go on meanwhile, and those of the voice do no harm.
    talk.conversation.talk()
    talk.conversation.hold(True)
    talk.conversation.call_again()
    talk.keys("closed")
    gate.set()
    talk.begun()
    assert calls == ["judge"]
    talk.hears(1.0)
    talk.says(surely("roger"))
    talk.judged()
    assert [one["event"]["ask"] for one in talk.events()] == [CLOSING + 1]


def test_what_happened_between_the_making_and_the_start_is_known(make: Make) -> None:
    talk = make(lines=STATION)
    talk.keys("closed")
    talk.start()
    talk.says(surely("roger"))
    talk.judged()
    assert [one["event"]["ask"] for one in talk.events()] == [CLOSING + 1]
    assert TOO_LATE not in talk.ear.texts
    assert "CAUTION: Propeller and rotor clear before the starter" in talk.voice.texts


@pytest.mark.parametrize("part", ["judge", "hearing", "device", "speaking"])
def test_a_part_that_cannot_be_had_is_named_once_and_the_run_goes_on(make: Make, part: str) -> None:
    def lacking(*_: object) -> Any:
        raise OSError("install it")

    talk = make(lines=STATION, parts={part: lacking})
    talk.conversation.start()
    talk.begun()
    assert [text for text in talk.ear.texts if "install it" in text] == ["NO VOICE: install it"]
    assert talk.conversation.bands() == (() if part == "speaking" else (NONE,))
    talk.conversation.talk()
    talk.conversation.transmit(down=True)
    talk.conversation.transmit(down=False)
    talk.conversation.call_again()
    assert talk.conversation.swap_caller() == "copilot reads"
    talk.conversation.swap_caller()
    talk.keys("closed")
    assert talk.run.view().prompt is Prompt.CAUTION
    if part == "speaking":
        talk.hears(1.0)
        talk.says(surely("roger"))
        talk.judged()
        assert len(talk.events()) == 1
    else:
        assert "CAUTION: Propeller and rotor clear before the starter" in talk.voice.texts
    if part in ("hearing", "device"):
        assert talk.panel.closed == 1


def test_a_voice_that_is_lacking_says_what_and_what_ends_it_later_is_said(
    make: Make,
) -> None:
    talk = make(lines=STATION)
    talk.voice.fault = "no voice is installed"
    talk.start()
    talk.said("no voice is installed")
    talk.end()
    other = make(lines=STATION).start()
    other.voice.fault = "the voice has ended"
    other.said("the voice has ended")
    assert other.ear.texts.count("the voice has ended") == 1


def test_what_a_recogniser_lacks_is_said(make: Make) -> None:
    talk = make(lines=STATION)
    talk.judge.lacking = ("no second opinion: gone",)
    talk.start()
    talk.said("no second opinion: gone")


def test_its_own_voice_shuts_the_gate_also_where_it_spoke_before_there_was_one(
    make: Make,
) -> None:
    gate = threading.Event()
    made: list[Talk] = []

    def slow() -> Judge:
        assert gate.wait(30)
        return made[0].judge

    talk = make(lines=STATION, mode=Mode.OPEN, parts={"judge": slow})
    made.append(talk)
    talk.conversation.start()
    until(lambda: talk.voice.texts, "the first call")
    talk.voice.changed(True)
    gate.set()
    talk.begun()
    talk.hears(1.0)
    assert talk.conversation.bands() == ()
    talk.says(surely("closed", free="list closed"))
    talk.voice.changed(False)
    talk.hears(1.0)
    assert talk.panel.asked == []
    assert LISTENING in talk.conversation.bands()
    talk.voice.changed(True)
    talk.hears(0.1)
    assert talk.conversation.bands() == ()


def test_transmitting_before_the_voice_began_counts(make: Make) -> None:
    talk = make(lines=STATION)
    talk.conversation.transmit(down=True)
    talk.start()
    assert Hold.TRANSMITTING in talk.voice.holds
    talk.conversation.talk()
    talk.hears(0.2)
    assert talk.conversation.bands() == ()
    talk.conversation.transmit(down=False)
    assert Hold.TRANSMITTING not in talk.voice.holds
    talk.opened()


def test_stopped_while_it_still_begins_it_lets_everything_go(make: Make) -> None:
    gate, entered = threading.Event(), threading.Event()
    made: list[Talk] = []

    def slow(changed: Callable[[bool], None]) -> Any:
        entered.set()
        assert gate.wait(30)
        return made[0].voice

    talk = make(lines=STATION, parts={"speaking": slow})
    made.append(talk)
    talk.conversation.start()
    assert entered.wait(30)
    ended = threading.Thread(target=talk.conversation.stop)
    ended.start()
    until(talk.conversation._stopped.is_set, "the stop")
    gate.set()
    ended.join(30)
    until(lambda: talk.voice.closed and talk.panel.closed, "all to be let go")
    assert talk.conversation.bands() in ((), (NONE,))
    assert talk.device.reopened == 0


def test_stopped_it_is_silent_and_hears_nothing(make: Make) -> None:
    talk = make(lines=STATION).start()
    talk.conversation.stop()
    assert (talk.voice.closed, talk.panel.closed, talk.device.closed) == (1, 1, 1)
    said = list(talk.voice.texts)
    talk.keys("closed")
    talk.conversation.talk()
    talk.conversation.transmit(down=True)
    assert talk.voice.texts == said
    talk.conversation.stop()


def test_stopped_before_it_began_there_is_nothing_to_let_go(make: Make) -> None:
    make(lines=STATION).conversation.stop()


def test_sentences_of_the_voice_are_in_no_log(talk: Talk) -> None:
    path = talk.folder.path_of(talk.run.recorder.writer.run)
    before = path.read_bytes()
    talk.run.announce(TOO_LATE, Voice.REFUSED)
    assert path.read_bytes() == before


def test_before_the_first_sound_has_arrived_it_still_starts(make: Make) -> None:
    """The key would open nothing yet, and LISTENING must be true when it stands there."""
    talk = make(lines=STATION)
    talk.conversation.start()
    until(lambda: talk.voice.texts, "the first call")
    until(lambda: talk.conversation._listener is not None, "the listening")
    assert talk.conversation.bands() == (STARTING,)
    talk.begun()
    talk.hears(1.0)
    talk.opened()
