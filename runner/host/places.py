"""Where things lie: configuration, keys, trust, enrolled aircraft, logs.

Rules: configuration and state, never a cache; nothing is made before it is needed; what is read
from a file that people may edit is checked, and a fault names the file and what to do.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, NamedTuple

from audit.people import file_name as key_file_name
from runner.engine.words import nearest

_REGISTRATION = re.compile(r"[A-Z0-9][A-Z0-9-]{0,15}")


class PlaceFault(Exception):
    """A folder or file that cannot be used: where, what, what to do. `code` is the exit code."""

    def __init__(self, text: str, code: int = 4) -> None:
        super().__init__(text)
        self.code = code


def _folder(kind: str) -> Path:
    import platformdirs

    make = platformdirs.user_config_path if kind == "config" else platformdirs.user_state_path
    return make("latchword", appauthor=False)


def config() -> Path:
    """The configuration folder."""
    return _folder("config")


def state() -> Path:
    """The state folder: logs live below it."""
    return _folder("state")


def keys() -> Path:
    """Where people's key files lie."""
    return config() / "keys"


def trust_file() -> Path:
    """The file of trusted keys (`allowed_signers`)."""
    return config() / "allowed_signers"


def shipped() -> Path:
    """The documents that come with the program."""
    import flows

    return Path(next(iter(flows.__path__)))


class Aircraft(NamedTuple):
    """An enrolled aircraft: registration, folder of documents, optional equipment fitted."""

    registration: str
    documents: Path
    fit: tuple[str, ...]

    @property
    def logs(self) -> Path:
        """Its log folder."""
        return state() / "logs" / self.registration


def registration(text: str) -> str:
    """A registration in capitals; raises PlaceFault for what cannot be one."""
    upper = text.strip().upper()
    if not _REGISTRATION.fullmatch(upper):
        raise PlaceFault(
            f"registration {text[:30]!r}: 1 to 16 of letters, digits and hyphens are allowed", 2
        )
    return upper


def _file(reg: str) -> Path:
    return config() / "aircraft" / f"{reg}.json"


def enrol(documents: Path, reg: str, fit: tuple[str, ...]) -> Aircraft:
    """Enrols an aircraft; replaces an earlier enrolment of the same registration."""
    aircraft = Aircraft(registration(reg), documents.resolve(), fit)
    path = _file(aircraft.registration)
    text = json.dumps(
        {"registration": aircraft.registration, "documents": str(aircraft.documents),
         "fit": list(fit)}, indent=1,
    )  # fmt: skip
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text + "\n", "utf-8")
    except OSError as error:
        raise PlaceFault(f"{path}: cannot be written: {error.strerror}") from None
    return aircraft


def enrolled() -> list[Aircraft]:
    """Every enrolled aircraft, by registration; a file that cannot be read is a PlaceFault."""
    folder = config() / "aircraft"
    return [_read(path) for path in sorted(folder.glob("*.json"))] if folder.is_dir() else []


def _read(path: Path) -> Aircraft:
    try:
        data: Any = json.loads(path.read_text("utf-8"))
        found = Aircraft(
            registration(data["registration"]), Path(data["documents"]), tuple(data["fit"])
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        raise PlaceFault(
            f"{path}: is no enrolment; enrol the aircraft again: "
            f"latchword enrol DIR --registration {path.stem}"
        ) from None
    return found


def find(name: str) -> Aircraft:
    """The enrolled aircraft of a registration; raises PlaceFault naming those there are."""
    known = enrolled()
    for aircraft in known:
        if aircraft.registration == name.strip().upper():
            return aircraft
    listed = ", ".join(a.registration for a in known) or (
        "none; enrol one: latchword enrol DIR --registration R"
    )
    close = nearest(name, [a.registration for a in known])
    hint = f"; nearest: {close}" if close else ""
    raise PlaceFault(f"no aircraft {name!r} is enrolled{hint}; enrolled: {listed}", 2)


def folder_of_documents(path: Path) -> Path:
    """The folder itself; raises PlaceFault if there is none."""
    if not path.is_dir():
        raise PlaceFault(
            f"{path}: there is no such folder of documents; bring it back, or enrol the aircraft "
            "from where they are: latchword enrol DIR --registration R"
        )
    return path


def key_path(name: str) -> Path:
    """Where a person's key file lies."""
    return keys() / key_file_name(name)
