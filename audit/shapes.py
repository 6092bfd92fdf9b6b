"""What `data` may hold, for each type of line.

Rules: every object has exactly the fields named here, nothing more, nothing less; a value of the
wrong shape is a `Fault("shape")`. What one line says about another is `course.py`'s business.
"""

import itertools
import re
from collections.abc import Mapping
from typing import Any

from audit import FORMAT, canonical, curve, sshsig
from audit.errors import Fault

CREW_MODES = ("crew", "single-pilot", "solo")
OTHER_MODES = ("demonstration", "draft", "rehearsal", "scripted")
RUN_ID = re.compile(r"[a-z0-9][a-z0-9-]{0,62}[a-z0-9]")
_ROLE = re.compile(r"[a-z][a-z_]{0,30}")
_FILE_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,119}")
_SIG_FIELDS = frozenset({"line", "name", "sig"})


def _fields(data: Any, where: str, needed: set[str], optional: frozenset[str] = frozenset()) -> Any:
    if type(data) is not dict:
        raise Fault("shape", f"{where} is not an object")
    if data.keys() == needed:
        return data
    missing = needed - data.keys()
    if missing:
        raise Fault("shape", f"{where} lacks {', '.join(sorted(missing))}")
    surplus = data.keys() - needed - optional
    if surplus:
        raise Fault(
            "shape",
            f"{where} has {', '.join(sorted(surplus))}; allowed are "
            f"{', '.join(sorted(needed | optional))}",
        )
    return data


def _number(value: Any, where: str, least: int) -> int:
    if type(value) is not int or value < least:
        raise Fault("shape", f"{where} is not a whole number from {least}")
    return value


def _hex64(value: Any, where: str) -> None:
    if not canonical.is_hex64(value):
        raise Fault("shape", f"{where} is not 64 hexadecimal digits")


def _text(value: Any, where: str, longest: int) -> None:
    if type(value) is not str or not 1 <= len(value) <= longest:
        raise Fault("shape", f"{where} is not text of 1 to {longest} characters")


def one_time_key(value: Any) -> bytes:
    """The 32 bytes of a `key0` or `next`; refuses other spellings and weak keys."""
    key = canonical.base64_bytes(value, 32)
    curve.check_public_key(key)
    return key


def _person(entry: Any, where: str) -> None:
    _fields(entry, where, {"key", "name", "role"})
    sshsig.check_name(entry["name"])
    if type(entry["role"]) is not str or not _ROLE.fullmatch(entry["role"]):
        raise Fault("shape", f"{where}: role is not 1 to 31 of a-z and _")
    person_key(entry["key"])


def person_key(value: Any) -> bytes:
    """The 32 bytes of a roster's key, written `ssh-ed25519 AAAA…` without a comment."""
    if type(value) is not str:
        raise Fault("shape", "a person's key is not text")
    key, _ = sshsig.parse_public_line(value)
    if sshsig.public_line(key) != value:
        raise Fault("shape", "a person's key is not written ssh-ed25519 AAAA… with nothing after")
    return key


def opening(data: dict[str, Any]) -> None:
    """The `open` line: who, with what documents, on which device, after which run."""
    if data.get("format") != FORMAT or type(data.get("format")) is not int:
        raise Fault("format", f"format {data.get('format')!r}; this verifier knows {FORMAT} only")
    _fields(
        data,
        "open",
        {
            "carried",
            "checkpoint",
            "device",
            "documents",
            "format",
            "key0",
            "lexicon",
            "modes",
            "prev_run",
            "roster",
            "rules",
            "run",
            "run_seq",
        },
    )
    one_time_key(data["key0"])
    _hex64(data["device"], "device")
    _hex64(data["lexicon"], "lexicon")
    _number(data["rules"], "rules", 1)
    if type(data["carried"]) is not dict:
        raise Fault("shape", "carried is not an object")
    run_id(data["run"], "run")
    if _number(data["run_seq"], "run_seq", 1) == 1:
        if data["prev_run"] is not None:
            raise Fault("shape", "the first run of a device has no prev_run")
    else:
        run_id(data["prev_run"], "prev_run")
    if data["checkpoint"] is not None:
        _fields(data["checkpoint"], "checkpoint", {"origin", "root", "size"})
        _text(data["checkpoint"]["origin"], "checkpoint origin", 200)
        _number(data["checkpoint"]["size"], "checkpoint size", 1)
        canonical.base64_bytes(data["checkpoint"]["root"], 32)
    _documents(data["documents"])
    _modes(data["modes"])
    _roster(data["roster"])


def run_id(value: Any, where: str) -> None:
    """Raise `Fault` unless `value` can name a run (and so a file)."""
    if type(value) is not str or not RUN_ID.fullmatch(value):
        raise Fault("shape", f"{where} is not 2 to 64 of a-z, 0-9 and hyphens")


def _documents(value: Any) -> None:
    if type(value) is not list:
        raise Fault("shape", "documents is not a list")
    for entry in value:
        _fields(entry, "a document", {"approval", "name", "sha256"})
        _text(entry["name"], "a document's name", 200)
        _hex64(entry["sha256"], "a document's sha256")
        if entry["approval"] is not None:
            approval = _fields(entry["approval"], "an approval", {"key", "name", "sig"})
            sshsig.check_name(approval["name"])
            person_key(approval["key"])
            canonical.base64_bytes(approval["sig"])
    names = [entry["name"] for entry in value]
    if len(set(names)) != len(names):
        raise Fault("shape", "two documents have one name")


def _modes(value: Any) -> None:
    allowed = f"one of {', '.join(CREW_MODES)} and any of {', '.join(OTHER_MODES)}, sorted"
    if type(value) is not list or not all(type(mode) is str for mode in value):
        raise Fault("shape", f"modes is not {allowed}")
    known = set(CREW_MODES) | set(OTHER_MODES)
    if value != sorted(set(value)) or not set(value) <= known:
        raise Fault("shape", f"modes {value} is not {allowed}")
    if sum(mode in CREW_MODES for mode in value) != 1:
        raise Fault("shape", f"modes {value} is not {allowed}")


def _roster(value: Any) -> None:
    if type(value) is not list or not value:
        raise Fault("shape", "roster is not a list of at least one person")
    for entry in value:
        _person(entry, "a roster entry")


def event(data: dict[str, Any]) -> None:
    """An `event` line: what reached the engine, what came of it, the digest of the state."""
    _fields(
        data, "event", {"event", "outcome", "state"}, optional=frozenset({"crew_change", "heard"})
    )
    if type(data["event"]) is not dict:
        raise Fault("shape", "event is not an object")
    if type(data["outcome"]) is not list:
        raise Fault("shape", "outcome is not a list")
    _hex64(data["state"], "state")
    if "heard" in data:
        heard = data["heard"]
        if type(heard) is not str or len(heard) > canonical.HEARD_LIMIT:
            raise Fault("shape", f"heard is not text of at most {canonical.HEARD_LIMIT} characters")
    if "crew_change" in data:
        _person(data["crew_change"], "crew_change")


def person_signature(data: dict[str, Any]) -> None:
    """An `open-sig`, `resume-sig` or `close-sig` line."""
    if data.keys() != _SIG_FIELDS:
        raise Fault("shape", f"a signature line has exactly {', '.join(sorted(_SIG_FIELDS))}")
    _number(data["line"], "line", 0)
    sshsig.check_name(data["name"])
    canonical.base64_bytes(data["sig"])


def resume(data: dict[str, Any]) -> None:
    """A `resume` line: after which line, what was moved aside, the new key, the gap."""
    _fields(data, "resume", {"gap", "head", "key0", "line", "residue"})
    if data["gap"] is not None:
        _number(data["gap"], "gap", 0)
    _hex64(data["head"], "head")
    one_time_key(data["key0"])
    _number(data["line"], "line", 0)
    if type(data["residue"]) is not list:
        raise Fault("shape", "residue is not a list")
    for entry in data["residue"]:
        file_entry(entry, "a residue")


def file_entry(entry: Any, where: str) -> Mapping[str, Any]:
    """`{"length", "name", "sha256"}` of a file beside the log, by a plain file name."""
    _fields(entry, where, {"length", "name", "sha256"})
    _number(entry["length"], f"{where}: length", 0)
    if type(entry["name"]) is not str or not _FILE_NAME.fullmatch(entry["name"]):
        raise Fault("shape", f"{where}: name is not a plain file name of at most 120 characters")
    _hex64(entry["sha256"], f"{where}: sha256")
    checked: Mapping[str, Any] = entry
    return checked


def close(data: dict[str, Any]) -> None:
    """The `close` line: how many lines came before it, and which of them are acceptances."""
    _fields(data, "close", {"acceptances", "count"})
    _number(data["count"], "count", 1)
    numbers = data["acceptances"]
    if type(numbers) is not list or not all(type(number) is int for number in numbers):
        raise Fault("shape", "acceptances is not a list of line numbers")
    if any(later <= earlier for earlier, later in itertools.pairwise(numbers)):
        raise Fault("shape", "acceptances are not in ascending order")
    if numbers and numbers[0] < 1:
        raise Fault("shape", "an acceptance is not a line number")


BY_TYPE = {
    "open": opening,
    "open-sig": person_signature,
    "event": event,
    "resume": resume,
    "resume-sig": person_signature,
    "attach": lambda data: file_entry(data, "attach"),
    "close": close,
    "close-sig": person_signature,
}
