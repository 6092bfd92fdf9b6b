"""The voice's own process: orders in, lines out; its player over a device of the test."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import threading
from types import SimpleNamespace
from typing import Any

import pytest

np = pytest.importorskip("numpy")

from runner.speech.ears.devices import NoSpeaker  # noqa: E402
from runner.speech.voice import engines, installed  # noqa: E402
from runner.speech.voice.engines import Espeak, NoVoice, Piper, Rendered, first_engine  # noqa: E402
from runner.speech.voice.player import Player  # noqa: E402
from runner.speech.voice.process import Kept, Speaker  # noqa: E402
from tests.runner.speech.sound import until  # noqa: E402

RATE = 22_050


class Talker:
    """An engine: a text is as many samples as it has letters."""

    name = "talker"

    def __init__(self) -> None:
        self.rendered: list[tuple[str, float]] = []

    def render(self, text: str, speed: float) -> Rendered:
        self.rendered.append((text, speed))
        if text == "broken":
            raise NoVoice("the talker could not say 'broken'")
        return Rendered(np.full(len(text), 7, np.int16), RATE)


class Ear:
    """A player that notes what it was given; a text of 99 letters is played until it is stopped."""

    def __init__(self) -> None:
        self.played: list[int] = []
        self.playing = threading.Event()
        self.stopped = threading.Event()

    def play(self, sound: Rendered) -> bool:
        self.played.append(len(sound.samples))
        if len(sound.samples) == 13:
            raise NoSpeaker("this machine has no loudspeaker")
        if len(sound.samples) == 99:
            self.playing.set()
            assert self.stopped.wait(30)
        return not self.stopped.is_set()

    def stop(self) -> None:
        self.stopped.set()

    def allow(self) -> None:
        self.stopped.clear()


class Session:
    """The process's two threads in this one process, its lines in a file of memory."""

    def __init__(self) -> None:
        self.engine, self.ear, self.out = Talker(), Ear(), io.StringIO()
        self.speaker = Speaker(self.engine, self.ear, self.out)  # type: ignore[arg-type]

    def give(self, *orders: dict[str, Any] | str) -> list[dict[str, Any]]:
        """Takes the orders, then works until all is said and rendered; what came of it."""
        lines = [one if isinstance(one, str) else json.dumps(one) for one in orders]
        for line in lines[:-1]:
            self.speaker._take(json.loads(line))
        working = threading.Thread(target=self.speaker.work)
        self.speaker._take(json.loads(lines[-1]))
        working.start()
        until(lambda: not self.speaker._says and not self.speaker._prepares, "all to be done")
        self.speaker.read([])
        working.join(30)
        assert not working.is_alive()
        return self.told()

    def wait_for(self, line: dict[str, Any]) -> None:
        """Until the process has said so."""
        until(lambda: line in self.told(), f"the line {line}")

    def told(self) -> list[dict[str, Any]]:
        return [json.loads(line) for line in self.out.getvalue().splitlines()]


def test_what_is_said_begins_and_ends_in_the_order_given() -> None:
    session = Session()
    told = session.give(
        {"say": 1, "text": "one"}, {"say": 2, "text": "three"}, {"say": 3, "text": "x"}
    )
    assert [one["ended"] for one in told if "ended" in one] == [1, 2, 3]
    assert session.ear.played[:2] == [3, 5]
    assert told[:4] == [
        {"began": 1}, {"ended": 1, "whole": True}, {"began": 2}, {"ended": 2, "whole": True}
    ]  # fmt: skip


def test_what_was_stopped_before_it_began_is_not_played_but_ends() -> None:
    session = Session()
    told = session.give(
        {"say": 1, "text": "one"}, {"say": 2, "text": "three"}, {"stop": 2},
        {"say": 3, "text": "seven77"}, {"prepare": "last"},
    )  # fmt: skip
    assert [one for one in told if one.get("ended") in (1, 2)] == [
        {"ended": 1, "whole": False}, {"ended": 2, "whole": False}
    ]  # fmt: skip
    assert session.ear.played == [7]
    assert {"ended": 3, "whole": True} in told


def test_what_is_playing_is_stopped_at_once() -> None:
    session = Session()
    working = threading.Thread(target=session.speaker.work)
    working.start()
    session.speaker._take({"say": 1, "text": "x" * 99})
    assert session.ear.playing.wait(30)
    session.speaker._take({"stop": 1})
    session.speaker._take({"say": 2, "text": "after"})
    session.wait_for({"ended": 2, "whole": True})
    session.speaker.read([])
    working.join(30)
    assert session.told() == [
        {"began": 1}, {"ended": 1, "whole": False}, {"began": 2}, {"ended": 2, "whole": True}
    ]  # fmt: skip


def test_what_was_rendered_ahead_is_not_rendered_again() -> None:
    session = Session()
    working = threading.Thread(target=session.speaker.work)
    working.start()
    session.speaker._take({"prepare": "oil"})
    session.wait_for({"prepared": 1})
    session.speaker._take({"say": 1, "text": "oil"})
    session.wait_for({"ended": 1, "whole": True})
    session.speaker.read([])
    working.join(30)
    assert session.engine.rendered == [("oil", 1.0)]


def test_what_is_to_be_said_comes_before_what_is_rendered_ahead() -> None:
    session = Session()
    session.give({"prepare": "later"}, {"say": 1, "text": "now"})
    assert session.engine.rendered[0] == ("now", 1.0)


def test_another_speed_is_another_sound_and_stays_within_bounds() -> None:
    session = Session()
    session.give({"prepare": "oil"}, {"speed": 9}, {"say": 1, "text": "oil"})
    assert ("oil", installed.SPEEDS[1]) in session.engine.rendered


def test_faults_are_sentences_and_the_text_ends() -> None:
    session = Session()
    told = session.give(
        {"prepare": "broken"}, {"say": 1, "text": "broken"}, {"say": 2, "text": "x" * 13},
        {"say": 3, "text": "fine"},
    )  # fmt: skip
    assert [one["fault"] for one in told if "fault" in one] == [
        "the talker could not say 'broken'", "this machine has no loudspeaker"
    ]  # fmt: skip
    assert [(one["ended"], one["whole"]) for one in told if "ended" in one][:2] == [
        (1, False), (2, False)
    ]  # fmt: skip


def test_lines_that_are_no_orders_are_passed_over() -> None:
    session = Session()
    session.speaker.read(["", "no json", "[1]", "{}", '{"prepare": "oil"}'])
    assert list(session.speaker._prepares) == ["oil"]


def test_the_longest_unused_sound_is_given_up_first() -> None:
    kept = Kept(most=60)
    for text in ("a", "b", "c"):
        kept.put(text, 1.0, Rendered(np.zeros(10, np.int16), RATE))
    assert kept.get("a", 1.0) is not None
    kept.put("d", 1.0, Rendered(np.zeros(10, np.int16), RATE))
    assert [text for text in "abcd" if kept.get(text, 1.0) is not None] == ["a", "c", "d"]
    assert kept.get("a", 1.5) is None


class PortAudioError(Exception):
    """The library's own."""


class Out:
    """A sound library with one loudspeaker, which takes what it is given in blocks."""

    PortAudioError = PortAudioError

    class CallbackStop(Exception):
        """The end, after what was given."""

    class CallbackAbort(Exception):
        """The end, now."""

    def __init__(self, rate: int = 48_000, channels: int = 2) -> None:
        self.rate, self.channels = rate, channels
        self.default = SimpleNamespace(device=[-1, 0])
        self.heard: list[Any] = []
        self.fails = 0
        self.rescans = 0
        self.stop_after = 1 << 30
        self.player: Player | None = None

    def query_devices(self) -> list[dict[str, Any]]:
        return [
            {"name": "Speaker", "default_samplerate": float(self.rate),
             "max_output_channels": self.channels, "max_input_channels": 0}
        ]  # fmt: skip

    def OutputStream(self, **given: Any) -> Any:  # noqa: N802
        if self.fails:
            self.fails -= 1
            raise PortAudioError("Device unavailable")

        def start() -> None:
            assert given["samplerate"] == self.rate
            assert given["latency"] >= 0.2
            for block in range(1 << 20):
                if block == self.stop_after and self.player:
                    self.player.stop()
                out = np.full((256, given["channels"]), 9, np.float32)
                try:
                    given["callback"](out, 256, None, None)
                except self.CallbackAbort:
                    break
                except self.CallbackStop:
                    self.heard.append(out)
                    break
                self.heard.append(out)
            given["finished_callback"]()

        return SimpleNamespace(start=start, close=lambda ignore_errors: None)

    def _terminate(self) -> None:
        self.rescans += 1

    def _initialize(self) -> None:
        pass


def sine(seconds: float) -> Rendered:
    wave = 12_000 * np.sin(2 * np.pi * 500 * np.arange(int(seconds * RATE)) / RATE)
    return Rendered(wave.astype(np.int16), RATE)


def test_a_sound_is_played_whole_at_the_rate_of_the_device_on_its_channels() -> None:
    library = Out()
    assert Player("", library).play(sine(0.5))
    heard = np.concatenate(library.heard)
    assert heard.shape[1] == 2
    assert np.array_equal(heard[:, 0], heard[:, 1])
    expected = 12_000 / 32_768 * np.sin(2 * np.pi * 500 * np.arange(24_000) / 48_000)
    assert np.abs(heard[500:23_500, 0] - expected[500:23_500]).max() < 2e-3
    assert not heard[24_000:].any()
    assert len(heard) >= 24_000 + 0.25 * 48_000


def test_stopped_it_is_silent_within_a_block() -> None:
    library = Out()
    library.player = player = Player("", library)
    library.stop_after = 5
    assert not player.play(sine(1))
    assert len(library.heard) == 5
    assert not player.play(sine(1))
    assert len(library.heard) == 5
    player.allow()
    library.stop_after = 1 << 30
    assert player.play(sine(0.1))


def test_a_device_that_fails_is_looked_for_once_more() -> None:
    library = Out()
    library.fails = 1
    assert Player("", library).play(sine(0.1))
    assert library.rescans == 1
    library.fails = 2
    with pytest.raises(NoSpeaker, match=r"cannot be used \(Device unavailable\)"):
        Player("", library).play(sine(0.1))


def test_a_loudspeaker_that_is_none_gets_what_there_is() -> None:
    with pytest.raises(NoSpeaker, match="no loudspeaker 'phones'; there are: 0 Speaker"):
        Player("phones", Out()).play(sine(0.1))


@pytest.mark.skipif("piper" not in installed.voices(), reason="piper or its voice is missing")
def test_piper_says_the_same_text_the_same_way_and_slower_when_told() -> None:
    engine = Piper()
    first = engine.render("oil pressure?", 1.0)
    assert first.rate == RATE
    assert 0.5 < len(first.samples) / first.rate < 2
    assert int(np.abs(first.samples).max()) > 5_000
    assert np.array_equal(first.samples, engine.render("oil pressure?", 1.0).samples)
    assert len(engine.render("oil pressure?", 0.7).samples) > 1.2 * len(first.samples)


@pytest.mark.skipif(installed.ESPEAK not in installed.voices(), reason="espeak-ng is missing")
def test_the_small_engine_does_too_and_takes_nothing_for_an_option() -> None:
    engine = Espeak()
    first = engine.render("oil pressure?", 1.0)
    assert 0.5 < len(first.samples) / first.rate < 2
    assert int(np.abs(first.samples).max()) > 5_000
    assert len(engine.render("oil pressure?", 0.7).samples) > 1.2 * len(first.samples)
    assert len(engine.render("--help", 1.0).samples) < 3 * first.rate
    engine._program = "false"
    with pytest.raises(NoVoice, match="could not say 'oil'"):
        engine.render("oil", 1.0)


def test_without_the_neural_voice_the_small_one_speaks_and_without_any_it_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(engines, "packaged_voice", lambda: None)
    monkeypatch.setattr(installed, "find_spec", lambda name: None)
    monkeypatch.setattr("shutil.which", lambda name: "/usr/bin/espeak-ng")
    assert first_engine().name == "espeak-ng"
    assert installed.voices() == ("espeak-ng",)
    assert not installed.missing()
    monkeypatch.setattr("shutil.which", lambda name: None)
    with pytest.raises(NoVoice) as told:
        first_engine()
    assert str(told.value) == installed.missing() == installed.NONE
    assert "pip install 'latchword[speak]'" in installed.NONE
    assert "apt-get install espeak-ng" in installed.NONE


def test_an_engine_that_is_broken_says_more_than_one_that_is_missing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def broken() -> None:
        raise NoVoice("piper cannot be loaded (no such symbol)")

    monkeypatch.setitem(engines._ENGINES, "piper", broken)
    monkeypatch.setattr("shutil.which", lambda name: None)
    with pytest.raises(NoVoice, match="no such symbol"):
        first_engine()


def test_a_voice_that_is_none_gets_the_allowed_ones() -> None:
    with pytest.raises(NoVoice, match="no voice 'pipe'; allowed: piper, espeak-ng"):
        first_engine("pipe")


def test_the_process_says_what_to_install_and_ends(tmp_path: Any) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "runner.speech.voice.process", "1.0", "", "trumpet"],
        capture_output=True, text=True, encoding="utf-8", check=False, input="", timeout=60,
    )  # fmt: skip
    assert done.returncode == 0
    assert json.loads(done.stdout) == {
        "fault": "no voice 'trumpet'; allowed: piper, espeak-ng", "final": True
    }  # fmt: skip


def test_the_program_imports_no_engine() -> None:
    """Neither piper nor numpy: the voice as the program knows it is light."""
    code = (
        "import sys; import runner.speech.voice.speaking; "
        "print([n for n in ('piper', 'numpy', 'onnxruntime', 'sounddevice', 'soundfile') "
        "if n in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, encoding="utf-8", check=True
    )
    assert done.stdout.strip() == "[]"
