"""What is set of the voice on this machine, and who is enrolled: files in the configuration folder.

Rules: read as strictly as a document, every fault with line, column, what was found, what is
allowed and the nearest match; a file with a fault is not used at all, never in part, and a run goes
on with what holds without it, and a sentence that says so; no file is no fault. Written whole or
not at all. Nothing here loads a recogniser, an engine or the sound library.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final, NamedTuple

from audit.durable import sync_folder, write_new
from audit.errors import KeyFileError
from audit.people import check_name, file_name
from runner.flow.faults import Faults, FlowErrors, quoted
from runner.flow.tree import Node, Scalar
from runner.host.keyfile import bytes_of, entries
from runner.host.places import PlaceFault, config
from runner.speech.thresholds import Person, ThresholdFault, person_data, read_person
from runner.speech.voice.installed import ENGINES, SPEEDS

KEYS: Final = ("model", "microphone", "loudspeaker", "speed", "engine")
_LONGEST: Final = 4096
_HEAD: Final = """\
# The voice on this machine; `latchword voice set` and `latchword voice model` write it.
"""


class VoiceSettings(NamedTuple):
    """What holds on this machine. `model` is the folder of a vosk model; devices are named by a
    part of their name or their number, empty is the system's own choice; `engine` empty is the best
    that is there; `fault` says why the file is not used."""

    model: Path | None = None
    microphone: str = ""
    loudspeaker: str = ""
    speed: float = 1.0
    engine: str = ""
    fault: str = ""


class Enrolled(NamedTuple):
    """Who has read to the program, and a sentence for each file that is not used."""

    persons: list[Person]
    faults: list[str]


def settings_file() -> Path:
    """Where the settings lie."""
    return config() / "voice.yaml"


def read_settings() -> VoiceSettings:
    """What holds; never raises. A file with a fault leaves everything as it is without one, and
    `fault` says so."""
    path = settings_file()
    if not path.exists():
        return VoiceSettings()
    try:
        return read_file(path)
    except (FlowErrors, PlaceFault) as fault:
        first = str(fault).splitlines()[0]
        return VoiceSettings(
            fault=f"{path} is not used, the voice is as it comes: {first}; mend it, or remove it"
        )


def read_file(path: Path) -> VoiceSettings:
    """The settings of a file. Raises FlowErrors for what it says, PlaceFault where it cannot be
    read."""
    return _parsed(path, bytes_of(path))


def _parsed(path: Path, data: bytes) -> VoiceSettings:
    tree, faults = entries(path, data, KEYS)
    texts = {key: _text(key, tree.values[key], faults) for key in KEYS if key in tree.values}
    found = VoiceSettings(
        _model(texts.get("model", ""), tree.values.get("model"), faults),
        texts.get("microphone", ""),
        texts.get("loudspeaker", ""),
        _speed(tree.values.get("speed"), faults),
        _engine(texts.get("engine", ""), tree.values.get("engine"), faults),
    )
    faults.check()
    return found


def write_settings(settings: VoiceSettings) -> Path:
    """Writes the file anew and tells where it lies; the default of a thing is left out. PlaceFault
    where it cannot be written, or where a name is one that could not be read from it."""
    said: dict[str, object] = {}
    for key in KEYS:
        value = getattr(settings, key)
        if value != VoiceSettings._field_defaults[key]:
            said[key] = value if isinstance(value, float) else str(value)
    # A text in quotes as JSON has them is the same text in YAML.
    lines = [f"{key}: {json.dumps(value, ensure_ascii=False)}\n" for key, value in said.items()]
    path = settings_file()
    text = _HEAD + "".join(lines or ["speed: 1.0\n"])
    try:
        kept = _parsed(path, text.encode())
    except (FlowErrors, UnicodeEncodeError) as fault:
        why = "is no text" if isinstance(fault, UnicodeEncodeError) else fault.faults[0].what
        raise PlaceFault(f"{path} cannot hold such a name ({why}); nothing is changed", 2) from None
    if kept != settings._replace(fault=""):
        raise PlaceFault(f"{path} cannot hold this; nothing is changed", 2)
    _put(path, text)
    return path


def may_be_kept(name: str) -> bool:
    """Whether a name of a device can be read from the file again."""
    lines = f"microphone: {json.dumps(name, ensure_ascii=False)}\n"
    try:
        return _parsed(settings_file(), lines.encode()).microphone == name
    except (FlowErrors, UnicodeEncodeError):
        return False


def person_file(name: str) -> Path:
    """Where a person's file lies. PlaceFault for what cannot be a person's name."""
    try:
        check_name(name)
    except KeyFileError as fault:
        raise PlaceFault(f"NAME {quoted(name)}: {fault}", 2) from None
    return config() / "voices" / f"{file_name(name)}.json"


def persons() -> list[Person]:
    """Who is enrolled, by name; a file that is not used is left out (`enrolled` tells of it)."""
    return enrolled().persons


def enrolled() -> Enrolled:
    """Who is enrolled, by name, and what is wrong with the files that are not used."""
    found, faults = [], []
    folder = config() / "voices"
    for path in sorted(folder.glob("*.json")) if folder.is_dir() else ():
        try:
            found.append(read_person_file(path))
        except PlaceFault as fault:
            faults.append(str(fault))
    return Enrolled(sorted(found, key=lambda person: person.name), faults)


def read_person_file(path: Path) -> Person:
    """One person's file. PlaceFault says why it is not used."""
    try:
        person = read_person(path.read_bytes(), str(path))
    except (OSError, ThresholdFault) as fault:
        why = fault.strerror if isinstance(fault, OSError) else fault
        raise PlaceFault(
            f"{path} is not used ({why}): read again, `latchword voice enrol NAME`"
        ) from None
    if person_file(person.name) != path:
        raise PlaceFault(
            f"{path} is not used: it is of {quoted(person.name)}, whose file would be "
            f"{person_file(person.name).name}; read again, `latchword voice enrol NAME`"
        )
    return person


def own_file(name: str) -> Path:
    """A person's file, after a look whether it is not somebody else's, whose name is written like
    theirs. PlaceFault where it is."""
    path = person_file(name)
    try:
        other = read_person(path.read_bytes(), str(path)).name
    except (OSError, ThresholdFault):
        return path
    if other != name:
        raise PlaceFault(
            f"NAME {quoted(name)}: {path} is of {quoted(other)} already; say that name as it "
            f"stands, or remove it: latchword voice enrol {quoted(other)} --forget", 2
        )  # fmt: skip
    return path


def write_person(person: Person, measured: Mapping[str, Any]) -> Path:
    """Writes a person's file, with what was measured beside what follows from it."""
    path = own_file(person.name)
    data = {**person_data(person), "measured": dict(measured)}
    _put(path, json.dumps(data, indent=1, ensure_ascii=False) + "\n")
    return path


def forget_person(name: str) -> bool:
    """Removes a person's file; False where there was none."""
    path = own_file(name)
    try:
        path.unlink()
        sync_folder(path.parent)
    except FileNotFoundError:
        return False
    except OSError as error:
        raise PlaceFault(f"{path}: cannot be removed: {error.strerror}") from None
    return True


def _put(path: Path, text: str) -> None:
    """The file anew, whole or not at all."""
    new = path.with_name(path.name + ".new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        new.unlink(missing_ok=True)
        write_new(new, text.encode(), 0o644)
        new.replace(path)
        sync_folder(path.parent)
    except OSError as error:
        raise PlaceFault(f"{path}: cannot be written: {error.strerror}") from None


def _text(key: str, node: Node, faults: Faults) -> str:
    if isinstance(node, Scalar) and len(node.text) <= _LONGEST:
        return node.text if node.value is not None else ""
    faults.add(node.place, f"{key} is no text", allowed=f"a text of at most {_LONGEST} characters")
    return ""


def _model(text: str, node: Node | None, faults: Faults) -> Path | None:
    if not text or node is None:
        return None
    path = Path(text).expanduser()
    if not path.is_absolute():
        faults.add(node.place, "a model by a part of its path", found=quoted(text),
                   allowed="the whole path of its folder",
                   todo="latchword voice model PATH writes it")  # fmt: skip
        return None
    return path


def _speed(node: Node | None, faults: Faults) -> float:
    if node is None:
        return 1.0
    value = node.value if isinstance(node, Scalar) else None
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number or not SPEEDS[0] <= float(value or 0) <= SPEEDS[1]:
        found = quoted(node.text) if isinstance(node, Scalar) else "no number"
        faults.add(node.place, "a speed that is not spoken", found=found,
                   allowed=f"{SPEEDS[0]} to {SPEEDS[1]}")  # fmt: skip
        return 1.0
    return float(value or 0)


def _engine(text: str, node: Node | None, faults: Faults) -> str:
    if text and text not in ENGINES and node is not None:
        faults.add(node.place, "an unknown voice", found=quoted(text), allowed=ENGINES)
        return ""
    return text
