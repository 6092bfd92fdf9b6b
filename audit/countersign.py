"""A supervisor's word on a run, in a file of its own beside the log.

Rules: the word is `accepted` or `returned`, signed over the run and its final head by somebody who
was never on its roster, from its opening or by a change of crew; it changes nothing about the log's
own result; a word over another head than the log's is refused, one over an earlier line of the log
is named as that. Several supervisors may give theirs, one line each.
"""

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from audit import FORMAT, canonical, durable, sshsig
from audit.course import Course, Person
from audit.errors import CountersignError, Fault
from audit.folder import line_with
from audit.people import Signer
from audit.reader import opened
from audit.shapes import RUN_ID
from audit.stamps import Stamp, parse_wall, wall_text
from audit.trust import Trust
from audit.verdict import Verdict

SUFFIX = ".countersign"
VERDICTS = ("accepted", "returned")
LONGEST_NOTE = 500
LARGEST_FILE = 1 << 20
_FIELDS = frozenset({"device", "format", "head", "name", "note", "run", "time", "verdict"})


class Word(NamedTuple):
    """One supervisor's word: `message` is what is signed, `key` is the signature's (32 bytes)."""

    device: str
    run: str
    head: str
    name: str
    verdict: str
    note: str
    wall_ms: int
    key: bytes
    blob: bytes
    message: bytes


def file_of(log: Path) -> Path:
    """Where the words on a log stand."""
    return log.with_suffix(SUFFIX)


def message_of(body: Mapping[str, Any]) -> bytes:
    """What a supervisor signs: the canonical bytes of the body and one LF."""
    return canonical.spell(dict(body)) + b"\n"


def give(log: Path, found: Verdict, verdict: str, note: str, signer: Signer, stamp: Stamp) -> Word:
    """Sign a word on the log of which `found` is what verifying came to, and write it, durably.

    Raises `CountersignError` for a verdict, a note or a person that cannot be, or a file that
    cannot be written; `KeyFileError` where the key does not sign.
    """
    body = {
        "device": found.opening["device"],
        "format": FORMAT,
        "head": found.head,
        "name": signer.name,
        "note": note,
        "run": found.opening["run"],
        "time": wall_text(stamp.wall_ms),
        "verdict": verdict,
    }
    try:
        canonical.check(body)
        _check(body)
    except Fault as fault:
        raise CountersignError(f"not countersigned: {fault.why}") from None
    if _aboard(found.people, signer.name, signer.key):
        raise CountersignError(
            f"not countersigned: {signer.name} was on the roster of {body['run']}; "
            "somebody else must look at it"
        )
    blob = signer.sign(sshsig.COUNTERSIGN, message_of(body))
    sshsig.verify(blob, signer.key, sshsig.COUNTERSIGN, message_of(body))
    row = canonical.spell({"body": body, "sig": canonical.base64_text(blob)}) + b"\n"
    path = file_of(log)
    # what stands there must be whole before anything is put behind it
    read(log)
    try:
        durable.extend(path, row)
    except OSError as error:
        raise CountersignError(
            f"{path}: cannot be written: {error.strerror or error}; look whether the word stands "
            "there before it is given again"
        ) from None
    return _parse(row)


def read(log: Path) -> list[Word]:
    """The words on a log, in the order given; none if there is no file.

    Raises `CountersignError` if the file cannot be read or a line of it is none of format 1.
    """
    path = file_of(log)
    try:
        if not path.exists():
            return []
        with opened(path) as stream:
            content = stream.read(LARGEST_FILE + 1)
    except OSError as error:
        raise CountersignError(f"{path}: cannot be read: {error.strerror or error}") from None
    if len(content) > LARGEST_FILE:
        raise CountersignError(f"{path}: is larger than {LARGEST_FILE} bytes")
    words = []
    for number, row in enumerate(content.splitlines(keepends=True)):
        try:
            words.append(_parse(row))
        except Fault as fault:
            raise CountersignError(f"{path}, line {number}: {fault.why}") from None
    return words


def _parse(row: bytes) -> Word:
    if not row.endswith(b"\n"):
        raise Fault("countersign", "it is incomplete")
    value = canonical.read(row[:-1])
    if type(value) is not dict or value.keys() != {"body", "sig"}:
        raise Fault("countersign", "a countersignature has exactly the fields body and sig")
    body = value["body"]
    canonical.check(value)
    _check(body)
    blob = canonical.base64_bytes(value["sig"])
    signature = sshsig.parse(blob)
    sshsig.verify(blob, signature.key, sshsig.COUNTERSIGN, message_of(body))
    return Word(
        body["device"], body["run"], body["head"], body["name"], body["verdict"], body["note"],
        parse_wall(body["time"]), signature.key, blob, message_of(body),
    )  # fmt: skip


def _check(body: Any) -> None:
    if type(body) is not dict or body.keys() != _FIELDS:
        raise Fault("countersign", f"its body has exactly the fields {', '.join(sorted(_FIELDS))}")
    if body["format"] != FORMAT or type(body["format"]) is not int:
        raise Fault("format", f"it is not of format {FORMAT}")
    if not canonical.is_hex64(body["device"]) or not canonical.is_hex64(body["head"]):
        raise Fault("countersign", "device and head are 64 hexadecimal digits")
    if type(body["run"]) is not str or not RUN_ID.fullmatch(body["run"]):
        raise Fault("countersign", "run names no run")
    sshsig.check_name(body["name"])
    if body["verdict"] not in VERDICTS:
        raise Fault("countersign", f"the verdict is {' or '.join(VERDICTS)}")
    if type(body["note"]) is not str or not 1 <= len(body["note"]) <= LONGEST_NOTE:
        raise Fault("countersign", f"a note is text of 1 to {LONGEST_NOTE} characters")
    if type(body["time"]) is not str:
        raise Fault("stamp", "time is not text")


def _aboard(people: Iterable[Person], name: str, key: bytes) -> bool:
    return any(name == person.name or key == person.key for person in people)


def look(log: Path, course: Course, trust: Trust) -> list[str]:
    """What the words on a log come to, for its verdict; `course` is where its last line left it.
    Raises `Fault("countersign")` for a file that does not hold or a word that is on another run or
    on a head that is none of this log's."""
    opening = course.opening
    try:
        words = read(log)
    except CountersignError as error:
        raise Fault("countersign", str(error)) from None
    notes = []
    for word in words:
        if (word.run, word.device) != (opening["run"], opening["device"]):
            raise Fault("countersign", f"{word.name} countersigned another run, {word.run}")
        said = f"{word.verdict} by {word.name} ({word.note})"
        if word.head != course.head:
            number = line_with(log, word.head)
            if number is None:
                raise Fault(
                    "countersign", f"{word.name} countersigned a head that is not in this log"
                )
            notes.append(f"not countersigned: {said} was over line {number}, not over its end")
        elif _aboard(course.people.values(), word.name, word.key):
            notes.append(f"not countersigned: {said}, who was on its roster")
        else:
            allowed = trust.find(word.name, word.key, sshsig.COUNTERSIGN, word.wall_ms)
            if allowed is None:
                notes.append(f"not countersigned: {said}, who is not trusted for that")
            else:
                mark = " with a demonstration key" if allowed.demonstration else ""
                notes.append(f"countersigned {said}{mark}")
    return notes
