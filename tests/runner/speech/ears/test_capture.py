"""The microphone over a sound library that does what it is told: faults, losses, places."""

from __future__ import annotations

import builtins
import queue
import sys
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest

np = pytest.importorskip("numpy")

from runner.speech.ears import capture  # noqa: E402
from runner.speech.ears.capture import Microphone  # noqa: E402
from runner.speech.ears.devices import (  # noqa: E402
    Device,
    NoMicrophone,
    NoSpeaker,
    choose,
    devices,
    portaudio,
)
from runner.speech.heard import RATE  # noqa: E402
from runner.speech.recognisers.form import check  # noqa: E402


class PortAudioError(Exception):
    """The library's own."""


class Stream:
    """One open device: sound is put into it by the test."""

    def __init__(self, library: Library, **given: Any) -> None:
        self.library = library
        self.given = given
        self.latency = library.latency
        self.active = False
        self.closed = False

    def start(self) -> None:
        if self.library.busy:
            raise PortAudioError("Device unavailable\nand much more")
        self.active = True

    def close(self, ignore_errors: bool = True) -> None:
        self.active, self.closed = False, True
        self.given["finished_callback"]()

    def hear(self, samples: Any, *, overflow: bool = False) -> None:
        block = np.asarray(samples, np.float32).reshape(-1, 1)
        block = np.repeat(block, self.given["channels"], axis=1)
        self.given["callback"](block, len(block), None, SimpleNamespace(input_overflow=overflow))
        block[:] = 9  # its memory is the library's again

    def die(self) -> None:
        self.active = False
        self.given["finished_callback"]()


class Library:
    """What of the sound library is used."""

    PortAudioError = PortAudioError

    def __init__(self, *names: str, rate: int = RATE) -> None:
        self.rate = rate
        self.plugged = list(names) or ["Headset"]
        self.listed = list(self.plugged)
        self.busy = False
        self.mono = True
        self.latency = 0.0
        self.streams: list[Stream] = []
        self.default = SimpleNamespace(device=[0, 0])

    def query_devices(self) -> list[dict[str, Any]]:
        return [
            {"name": name, "default_samplerate": float(self.rate), "max_input_channels": 2,
             "max_output_channels": 0}
            for name in self.listed
        ]  # fmt: skip

    def InputStream(self, **given: Any) -> Stream:  # noqa: N802
        if given["channels"] == 1 and not self.mono:
            raise PortAudioError("Invalid number of channels")
        self.streams.append(Stream(self, **given))
        return self.streams[-1]

    def _terminate(self) -> None:
        assert all(stream.closed for stream in self.streams)

    def _initialize(self) -> None:
        self.listed = list(self.plugged)


def opened(library: Library, device: str = "") -> tuple[Microphone, Stream]:
    microphone = Microphone(device, library)
    microphone.connect()
    return microphone, library.streams[-1]


def test_sound_comes_out_as_it_went_in_and_the_library_may_have_its_memory_back() -> None:
    microphone, stream = opened(Library())
    stream.hear([0.1, 0.2])
    stream.hear([0.3])
    piece = microphone.read(0)
    assert piece is not None
    assert piece.samples == pytest.approx([0.1, 0.2, 0.3])
    assert not piece.broken
    assert microphone.read(0) is None


def test_the_device_runs_at_its_own_rate_and_sound_comes_at_sixteen_kilohertz() -> None:
    microphone, stream = opened(Library(rate=48_000))
    assert stream.given["samplerate"] == 48_000
    assert stream.given["channels"] == 1
    stream.hear(np.full(48_000, 0.25))
    assert microphone.position == RATE
    piece = microphone.read(0)
    assert piece is not None
    assert RATE - 200 < len(piece.samples) <= RATE
    assert piece.samples[500:] == pytest.approx(0.25, abs=1e-3)


@pytest.mark.parametrize("rate", [16_000, 44_100, 48_000])
def test_sound_at_full_scale_stays_what_a_recogniser_takes(rate: int) -> None:
    microphone, stream = opened(Library(rate=rate))
    stream.hear(np.sign(np.sin(np.arange(rate) * 2 * np.pi * 437 / rate)))
    piece = microphone.read(0)
    assert piece is not None
    check(piece.samples)
    assert np.abs(piece.samples).max() == 1.0


def test_what_is_on_its_way_through_the_device_is_said_already() -> None:
    library = Library()
    library.latency = 0.25
    microphone, stream = opened(library)
    stream.hear(np.full(1000, 0.5))
    assert microphone.position == 1000 + RATE // 4
    microphone.read(0)
    microphone.close()
    assert microphone.position == 1000
    library.latency = 30.0
    assert opened(library)[0].position == RATE


def test_places_count_what_has_arrived_and_was_not_read_yet() -> None:
    microphone, stream = opened(Library())
    assert microphone.position == 0
    stream.hear(np.ones(100))
    assert microphone.position == 100
    microphone.read(0)
    stream.hear(np.ones(50))
    assert microphone.position == 150


def test_a_device_that_knows_no_single_channel_gives_its_first() -> None:
    library = Library()
    library.mono = False
    microphone, stream = opened(library)
    assert stream.given["channels"] == 2
    stream.hear([0.5])
    piece = microphone.read(0)
    assert piece is not None
    assert list(piece.samples) == [0.5]


def test_overflows_are_counted_and_break_the_sound() -> None:
    microphone, stream = opened(Library())
    stream.hear([0.1])
    stream.hear([0.1], overflow=True)
    piece = microphone.read(0)
    assert piece is not None
    assert piece.broken
    assert microphone.overflows == 1
    stream.hear([0.1])
    piece = microphone.read(0)
    assert piece is not None
    assert not piece.broken


def test_sound_that_nobody_reads_is_lost_and_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(capture, "_MOST_SECONDS", 1.0)
    microphone, stream = opened(Library())
    for _ in range(30):
        stream.hear(np.ones(1600))
    assert microphone.overflows == 19
    piece = microphone.read(0)
    assert piece is not None
    assert piece.broken
    assert len(piece.samples) == microphone.position == 11 * 1600


def test_two_seconds_of_zeros_are_named_until_a_sound_comes() -> None:
    microphone, stream = opened(Library())
    stream.hear([0.5, *np.zeros(2 * RATE - 1)])
    microphone.read(0)
    assert not microphone.fault
    stream.hear([0.0])
    microphone.read(0)
    assert "gives exact silence" in microphone.fault
    assert "the keys go on" in microphone.fault
    assert not microphone.lost
    stream.hear([1e-5])
    microphone.read(0)
    assert not microphone.fault


@pytest.mark.parametrize(
    ("system", "advice"),
    [("darwin", "Privacy & Security"), ("win32", "Settings, Privacy"), ("linux", "mixer")],
)
def test_the_advice_is_that_of_the_system(
    system: str, advice: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "platform", system)
    microphone, stream = opened(Library())
    stream.hear(np.zeros(2 * RATE))
    microphone.read(0)
    assert advice in microphone.fault


def test_a_device_that_ends_is_told_with_the_last_sound_or_after_it() -> None:
    microphone, stream = opened(Library())
    stream.hear([0.5])
    stream.die()
    assert microphone.read(0) is not None
    assert microphone.lost
    assert "'Headset' is gone" in microphone.fault
    assert microphone.read(0) is None
    assert "'Headset' is gone" in microphone.fault


def test_a_device_from_which_nothing_comes_is_told() -> None:
    microphone, _ = opened(Library())
    microphone._blocks = SimpleNamespace(get=nothing)  # type: ignore[assignment]
    assert [(microphone.read(1.0), bool(microphone.fault))[1] for _ in range(4)] == [
        False, False, True, True
    ]  # fmt: skip
    assert "no sound arrives" in microphone.fault
    assert microphone.lost


def nothing(timeout: float) -> None:
    """What a queue does to which nothing comes, without the waiting."""
    raise queue.Empty


def test_plugged_out_and_in_it_is_opened_again_and_places_go_on() -> None:
    library = Library("Headset", "Webcam")
    microphone, stream = opened(library, "Headset")
    stream.hear(np.ones(1000))
    microphone.read(0)
    library.plugged = ["Webcam"]
    stream.die()
    assert not microphone.reopen()
    assert microphone.fault.startswith("no microphone 'Headset'; there are: 0 Webcam")
    assert microphone.lost
    library.plugged = ["Webcam", "Headset"]
    assert microphone.reopen()
    assert (microphone.fault, microphone.lost) == ("", False)
    assert microphone.position == 1000
    stream = library.streams[-1]
    assert stream.given["device"] == 1
    stream.hear([0.5])
    piece = microphone.read(0)
    assert piece is not None
    assert piece.broken
    assert microphone.position == 1001


def test_what_was_not_read_before_the_end_has_no_place() -> None:
    library = Library()
    microphone, stream = opened(library)
    stream.hear(np.ones(1000))
    microphone.read(0)
    stream.hear(np.ones(77))
    microphone.reopen()
    assert microphone.position == 1000


def test_a_device_that_somebody_else_has_is_no_crash() -> None:
    library = Library()
    library.busy = True
    with pytest.raises(NoMicrophone) as told:
        Microphone("", library).connect()
    assert str(told.value).startswith("the microphone 'Headset' cannot be opened (Device unavai")
    assert "\n" not in str(told.value)
    assert all(stream.closed for stream in library.streams)


def test_closed_it_says_so_and_gives_nothing() -> None:
    microphone, stream = opened(Library())
    stream.hear([0.5])
    microphone.close()
    assert stream.closed
    assert microphone.read(0) is None
    assert microphone.fault == "the microphone is not open; the keys go on"
    microphone.close()


FOUND = [
    Device(0, "Built-in", 48_000, 2, False),
    Device(2, "USB Headset Mono", 16_000, 1, True),
    Device(5, "USB Webcam", 44_100, 2, False),
]


@pytest.mark.parametrize(
    ("wanted", "number"),
    [("", 2), ("5", 5), ("built-in", 0), ("headset", 2), ("USB Webcam", 5), ("cam", 5)],
)
def test_a_device_is_chosen_by_number_name_or_part_of_it(wanted: str, number: int) -> None:
    assert choose(wanted, FOUND).number == number


def test_without_a_preference_the_first_is_taken() -> None:
    assert choose("", [one._replace(preferred=False) for one in FOUND]).number == 0


@pytest.mark.parametrize(
    ("wanted", "says"),
    [
        ("usb", "'usb' is the name of several microphones: 2 USB Headset Mono, 5 USB Webcam"),
        ("7", "no microphone '7'; there are: 0 Built-in, 2 USB Headset Mono, 5 USB Webcam"),
        ("buildin", "nearest: Built-in"),
    ],
)
def test_a_device_that_is_none_gets_what_there_is(wanted: str, says: str) -> None:
    with pytest.raises(NoMicrophone) as told:
        choose(wanted, FOUND)
    assert says in str(told.value)


def test_a_machine_without_any_says_so() -> None:
    with pytest.raises(NoMicrophone, match="this machine has no microphone"):
        choose("", [])
    with pytest.raises(NoSpeaker, match="this machine has no loudspeaker"):
        choose("", [], "output")


def test_only_devices_of_the_way_are_listed() -> None:
    assert [one.name for one in devices(Library("A", "B"))] == ["A", "B"]
    assert devices(Library("A", "B"), "output") == []


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        (ImportError("no"), "pip install 'latchword\\[voice\\]'"),
        (OSError("PortAudio library not found"), "libportaudio2"),
    ],
)
def test_without_the_library_the_keys_go_on(
    fault: Exception, says: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    real: Callable[..., Any] = builtins.__import__

    def refused(name: str, *rest: Any, **more: Any) -> Any:
        if name == "sounddevice":
            raise fault
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", refused)
    with pytest.raises(NoMicrophone, match=says):
        portaudio()
    microphone = Microphone()
    assert not microphone.reopen()
    assert "the keys go on" in microphone.fault
