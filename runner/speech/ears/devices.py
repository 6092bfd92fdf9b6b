"""The sound devices of this machine, and which of them is meant.

Rules: the sound library is imported here alone, and late; a device is named by its number or by a
part of its name, and a name that fits none gets the nearest one; the list is that of the moment
when the library was begun, so it is begun again (`rescan`) to see what was plugged in, which ends
every stream of this process.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal, NamedTuple

from runner.engine.words import nearest


class NoSound(Exception):
    """There is no sound device to use; says what was found and what to do."""


class NoMicrophone(NoSound):
    """There is no microphone to use."""


class NoSpeaker(NoSound):
    """There is no loudspeaker to use."""


Way = Literal["input", "output"]
_FAULTS: dict[Way, type[NoSound]] = {"input": NoMicrophone, "output": NoSpeaker}
_THINGS: dict[Way, str] = {"input": "microphone", "output": "loudspeaker"}


class Device(NamedTuple):
    """One device: its number, name, own rate and channels, and whether the system prefers it."""

    number: int
    name: str
    rate: int
    channels: int
    preferred: bool


def portaudio(way: Way = "input") -> Any:
    """The sound library, begun. Raises where it is not installed or its own library is missing."""
    try:
        import sounddevice
    except ImportError:
        raise _FAULTS[way](
            "the sound library is not installed: python -m pip install 'latchword[voice]'; the keys"
            " go on"
        ) from None
    except OSError as fault:
        raise _FAULTS[way](
            f"PortAudio, which gives sound, is missing ({fault}): install it (Debian and Ubuntu: "
            "apt-get install libportaudio2); the keys go on"
        ) from None
    return sounddevice


def devices(library: Any, way: Way = "input") -> list[Device]:
    """The devices that sound goes into or comes out of, in the library's order."""
    try:
        listed = list(library.query_devices())
        places = list(library.default.device)
    except library.PortAudioError as fault:
        raise _FAULTS[way](f"the sound devices cannot be listed: {fault}; the keys go on") from None
    preferred = places[0 if way == "input" else 1]
    return [
        Device(
            number,
            str(one["name"]),
            round(one["default_samplerate"]),
            int(one[f"max_{way}_channels"]),
            number == preferred,
        )
        for number, one in enumerate(listed)
        if one[f"max_{way}_channels"] > 0
    ]


def choose(wanted: str, found: Sequence[Device], way: Way = "input") -> Device:
    """The device that is meant: by its number, its name or a part of it, or the preferred one."""
    thing = _THINGS[way]
    if not found:
        raise _FAULTS[way](f"this machine has no {thing}: plug one in; the keys go on")
    if not wanted:
        return next((one for one in found if one.preferred), found[0])
    if wanted.isdigit():
        fits = [one for one in found if one.number == int(wanted)]
    else:
        same = wanted.casefold()
        fits = [one for one in found if one.name.casefold() == same] or [
            one for one in found if same in one.name.casefold()
        ]
    if len({one.name for one in fits}) == 1:
        return fits[0]
    if fits:
        raise _FAULTS[way](
            f"{wanted!r} is the name of several {thing}s: {_listed(fits)}; say its number"
        )
    names = [one.name for one in found]
    near = nearest(wanted, names)
    hint = f"; nearest: {near}" if near else ""
    raise _FAULTS[way](f"no {thing} {wanted!r}; there are: {_listed(found)}{hint}; the keys go on")


def rescan(library: Any) -> None:
    """Has the library look for devices again: it does so only when it begins."""
    library._terminate()
    library._initialize()


def _listed(found: Sequence[Device]) -> str:
    return ", ".join(f"{one.number} {one.name}" for one in found)
