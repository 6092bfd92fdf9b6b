"""The thread that listens: what is told reaches the gate, and nothing that goes wrong ends it."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest

np = pytest.importorskip("numpy")

from runner.conversation import microphone  # noqa: E402
from runner.conversation.microphone import BACK, NONE, Listener  # noqa: E402
from runner.engine.effects import Voice  # noqa: E402
from runner.speech.ears.detector import Detector  # noqa: E402
from runner.speech.ears.gate import PRESSED_FOR, Mode  # noqa: E402
from runner.speech.ears.hearing import Clip, Hearing  # noqa: E402
from runner.speech.heard import RATE  # noqa: E402
from tests.runner.conversation.sounds import (  # noqa: E402
    QUIET,
    SPEECH,
    FakeDevice,
    LoudIsSpeech,
    mark_of,
    piece,
)
from tests.runner.speech.sound import until  # noqa: E402


class Listening:
    """A listener with all that it hands on."""

    def __init__(self, mode: Mode = Mode.PRESSED) -> None:
        self.device, self.net = FakeDevice(), LoudIsSpeech()
        self.hearing = Hearing(mode, Detector(self.net))
        self.taken: list[Clip] = []
        self.likely: list[Clip] = []
        self.said: list[str] = []
        self.kinds: list[Voice] = []
        self.announces: Exception | None = None
        self.listener = Listener(
            self.device, self.hearing, self.taken.append, self.likely.append, self._announce
        )
        self.listener.asked(1)

    def _announce(self, text: str, kind: Voice) -> None:
        self.said.append(text)
        self.kinds.append(kind)
        if self.announces is not None:
            raise self.announces

    def heard(self) -> None:
        """Waits until all that was put in has been heard."""
        until(lambda: self.device.dealt_with >= self.device.given, "the sound")

    def hears(self, seconds: float, value: float = QUIET) -> None:
        self.device.put(piece(seconds, value))
        self.heard()

    def opened(self) -> None:
        """The key is pressed and the gate is open."""
        self.listener.talk()
        self.hears(0.1)
        assert self.listener.listening


@pytest.fixture(params=[Mode.PRESSED])
def ear(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[Listening]:
    monkeypatch.setattr(microphone, "LOOK_AGAIN_S", 0.01)
    made = Listening(request.param)
    made.listener.start()
    made.hears(0.5)
    yield made
    made.listener.stop()
    assert made.device.closed == 1
    assert not [t for t in threading.enumerate() if t.name == "microphone"]


def test_what_is_said_behind_the_key_is_taken_once_for_the_question_that_stood(
    ear: Listening,
) -> None:
    ear.opened()
    ear.device.say(mark=0.42)
    ear.heard()
    until(lambda: ear.taken, "an utterance")
    assert [(one.utterance.ask, mark_of(one.samples)) for one in ear.taken] == [(1, 0.42)]
    assert not ear.listener.listening
    ear.device.say()
    ear.heard()
    assert len(ear.taken) == 1
    assert ear.said == []


def test_without_the_key_nothing_is_taken(ear: Listening) -> None:
    ear.device.say()
    ear.heard()
    assert (ear.taken, ear.likely, ear.said) == ([], [], [])


def test_a_second_press_shuts_the_gate_and_hands_on_what_was_said(ear: Listening) -> None:
    ear.opened()
    ear.hears(0.5, SPEECH)
    ear.hears(0.4)
    ear.listener.talk()
    ear.hears(0.1)
    until(lambda: ear.taken, "an utterance")
    assert not ear.taken[0].utterance.cut
    assert not ear.listener.listening


def test_what_the_second_press_falls_into_says_that_it_was_cut(ear: Listening) -> None:
    ear.opened()
    ear.hears(0.5, SPEECH)
    ear.listener.talk()
    ear.hears(0.1, SPEECH)
    until(lambda: ear.taken, "an utterance")
    assert ear.taken[0].utterance.cut


@pytest.mark.parametrize("ear", [Mode.OPEN], indirect=True)
def test_an_answer_belongs_to_the_question_that_stood_when_it_began(ear: Listening) -> None:
    ear.device.put(piece(1.0))
    ear.device.put(piece(0.4, SPEECH))
    ear.heard()
    ear.listener.asked(2)
    ear.hears(1.0)
    until(lambda: ear.taken, "an utterance")
    assert ear.taken[0].utterance.ask == 1


def test_while_the_transmit_key_is_down_nothing_is_taken(ear: Listening) -> None:
    ear.opened()
    ear.listener.transmit(down=True)
    ear.device.say()
    ear.heard()
    ear.listener.talk()
    ear.hears(0.1)
    assert not ear.listener.listening
    ear.device.say()
    ear.listener.transmit(down=False)
    ear.hears(0.1)
    assert not ear.listener.listening
    assert ear.taken == []


@pytest.mark.parametrize("ear", [Mode.PRESSED, Mode.OPEN], indirect=True)
def test_its_own_voice_is_not_heard(ear: Listening) -> None:
    ear.hears(1.0)
    ear.listener.own_voice(True)
    ear.listener.talk()
    ear.device.say()
    ear.heard()
    assert not ear.listener.listening
    ear.listener.own_voice(False)
    ear.hears(1.0)
    assert ear.taken == []
    ear.device.say()
    ear.heard()
    until(lambda: ear.taken, "what is said after it")


def test_a_pedal_is_open_for_as_long_as_it_is_down_and_the_key_is_pressed_as_before(
    ear: Listening,
) -> None:
    ear.listener.hold(down=True)
    ear.hears(7.0)
    assert ear.listener.listening
    ear.hears(0.5, SPEECH)
    ear.hears(0.2)
    ear.listener.hold(down=False)
    ear.hears(0.1)
    until(lambda: ear.taken, "an utterance")
    until(lambda: not ear.listener.listening, "the gate to shut")
    assert ear.hearing.state.mode is Mode.PRESSED
    ear.opened()


def test_what_it_will_be_is_handed_on_once_before_the_pause_is_over(ear: Listening) -> None:
    ear.opened()
    ear.hears(0.5, SPEECH)
    for _ in range(12):
        ear.hears(0.032)
    until(lambda: ear.likely, "what is likely")
    assert (len(ear.likely), ear.taken) == (1, [])
    ear.hears(0.6)
    until(lambda: ear.taken, "the utterance")
    assert ear.taken[0].utterance == ear.likely[0].utterance
    assert np.array_equal(ear.taken[0].samples, ear.likely[0].samples)
    assert len(ear.likely) == 1


def test_who_goes_on_after_a_breath_is_likely_to_have_said_more(ear: Listening) -> None:
    ear.opened()
    for _ in range(2):
        ear.hears(0.5, SPEECH)
        ear.hears(0.4)
    until(lambda: len(ear.likely) == 2, "both")
    first, second = (one.utterance for one in ear.likely)
    assert (first.first, first.last < second.last) == (second.first, True)
    ear.hears(0.6)
    until(lambda: ear.taken, "the utterance")
    assert ear.taken[0].utterance == second


def test_of_speech_that_was_not_taken_the_crew_hears_what_it_cannot_know(ear: Listening) -> None:
    ear.hears(0.5, SPEECH)
    ear.listener.talk()
    ear.hears(0.2, SPEECH)
    until(lambda: ear.said, "a sentence")
    assert ear.said == ["NOT TAKEN: BEGAN BEFORE THE KEY"]
    ear.hears(0.5)
    ear.hears(0.3, SPEECH)
    ear.device.put(piece(0.3, SPEECH), broken=True)
    ear.heard()
    until(lambda: len(ear.said) == 2, "another")
    assert ear.said[1] == "NOT TAKEN: SOUND WAS LOST"
    assert set(ear.kinds) == {Voice.REFUSED}
    assert ear.taken == []


def test_what_the_transmit_key_or_its_own_voice_falls_into_is_not_spoken_about(
    ear: Listening,
) -> None:
    ear.opened()
    ear.hears(0.3, SPEECH)
    ear.listener.transmit(down=True)
    ear.hears(0.5)
    ear.listener.transmit(down=False)
    ear.opened()
    ear.hears(0.3, SPEECH)
    ear.listener.own_voice(True)
    ear.hears(0.5)
    assert (ear.said, ear.taken) == ([], [])


# When the microphone is gone.


def test_its_loss_and_its_return_are_said_once_each(ear: Listening) -> None:
    ear.device.comes_back = lambda: ear.device.reopened >= 1
    gone = threading.Event()

    def looked() -> bool:
        # Found wrong in another way meanwhile: it is lost all the same.
        ear.device.fault = "no input device"
        return gone.is_set()

    ear.device.comes_back = looked
    ear.device.lose("it is gone")
    until(lambda: ear.listener.fault == "no input device", "the look for it")
    assert ear.said == [f"{NONE}: it is gone"]
    assert not ear.listener.listening
    gone.set()
    until(lambda: BACK in ear.said, "its return")
    assert ear.said == [f"{NONE}: it is gone", BACK]
    assert ear.kinds == [Voice.STATUS, Voice.STATUS]
    assert not ear.listener.fault
    ear.hears(1.0)
    ear.opened()
    ear.device.say()
    ear.heard()
    until(lambda: ear.taken, "an answer after it")


def test_what_was_said_into_the_loss_is_dropped_and_told(ear: Listening) -> None:
    ear.opened()
    ear.hears(0.4, SPEECH)
    ear.device.lose()
    until(lambda: len(ear.said) == 2, "both sentences")
    assert sorted(ear.said) == [f"{NONE}: it is gone", "NOT TAKEN: SOUND WAS LOST"]
    assert ear.taken == []


@pytest.mark.parametrize("presses", [1, 2, 3])
@pytest.mark.parametrize("when", ["before", "while", "at"])
def test_a_key_pressed_around_the_loss_opens_nothing_when_it_is_back(
    ear: Listening, presses: int, when: str
) -> None:
    """Minutes later somebody speaks, and did not press."""
    back = threading.Event()
    ear.device.comes_back = back.is_set
    if when == "before":
        for _ in range(presses):
            ear.listener.talk()
            ear.hears(0.1)
    if when == "at":  # pressed at a place to which no sound ever came
        for _ in range(presses):
            ear.listener.talk()
    ear.device.lose()
    until(lambda: ear.said, "the loss")
    if when == "while":
        for _ in range(presses):
            ear.listener.talk()
    back.set()
    until(lambda: BACK in ear.said, "its return")
    ear.device.say()
    ear.heard()
    assert not ear.listener.listening
    assert ear.taken == []


def test_a_question_asked_while_it_was_gone_is_the_one_that_stands_when_it_is_back(
    ear: Listening,
) -> None:
    back = threading.Event()
    ear.device.comes_back = back.is_set
    ear.device.lose()
    until(lambda: ear.said, "the loss")
    for ask in (2, 3, 4):
        ear.listener.asked(ask)
    back.set()
    until(lambda: BACK in ear.said, "its return")
    ear.hears(1.0)
    ear.opened()
    ear.device.say()
    ear.heard()
    until(lambda: ear.taken, "an answer")
    assert ear.taken[0].utterance.ask == 4


def test_silence_of_a_microphone_that_is_not_permitted_is_said_and_listening_is_not_shown(
    ear: Listening,
) -> None:
    ear.opened()
    ear.device.fault = "exact silence"
    assert not ear.listener.listening
    ear.hears(0.1)
    until(lambda: ear.said, "the sentence")
    assert ear.said == [f"{NONE}: exact silence"]
    ear.device.fault = ""
    ear.hears(0.1)
    until(lambda: len(ear.said) == 2, "its end")
    assert ear.said[1] == BACK


@pytest.mark.parametrize("what", ["device", "detector"])
def test_a_fault_of_our_own_is_said_once_and_it_is_listened_on(ear: Listening, what: str) -> None:
    ear.opened()
    ear.hears(0.3, SPEECH)
    broken = ear.device if what == "device" else ear.net
    broken.fails = RuntimeError("no")
    for _ in range(4):
        ear.device.put(piece(0.1, SPEECH))
    until(lambda: ear.said, "the sentence")
    until(lambda: ear.listener.fault, "the fault")
    assert sorted(ear.said) == [
        f"{NONE}: a fault of the program (RuntimeError); the keys go on",
        "NOT TAKEN: SOUND WAS LOST",
    ]
    assert not ear.listener.listening
    broken.fails = None
    ear.device.put(piece(1.0))
    until(lambda: BACK in ear.said, "that it goes on")
    assert ear.said.count(BACK) == 1
    # Half of it was not heard: the other half is no answer.
    assert ear.taken == []
    ear.hears(1.0)
    ear.opened()
    ear.device.say(mark=0.42)
    until(lambda: ear.taken, "an answer after it")
    assert mark_of(ear.taken[0].samples) == 0.42


def test_a_desk_that_fails_does_not_end_it(ear: Listening) -> None:
    ear.announces = RuntimeError("no screen")
    ear.device.comes_back = lambda: True
    ear.device.lose()
    until(lambda: BACK in ear.said, "its return")
    ear.hears(1.0)
    ear.opened()
    ear.device.say()
    ear.heard()
    until(lambda: ear.taken, "an answer after it")


def test_stopped_before_it_began_it_holds_nothing() -> None:
    made = Listening()
    made.listener.stop()
    assert made.device.closed == 0


def test_five_seconds_in_which_nobody_was_heard_are_told(ear: Listening) -> None:
    ear.opened()
    ear.hears(PRESSED_FOR / RATE - 0.3)
    assert ear.said == []
    ear.hears(0.5)
    assert ear.said == ["NOTHING HEARD"]
    assert not ear.listener.listening


def test_a_key_that_is_pressed_again_is_no_silence(ear: Listening) -> None:
    ear.opened()
    ear.hears(1.0)
    ear.listener.talk()
    ear.hears(0.1)
    ear.hears(6.0)
    assert ear.said == []
