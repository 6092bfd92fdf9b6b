"""`new`: a starting set of documents for an aircraft of one's own.

Rules: the set is a copy of `flows/starter`, which is tested as it stands, with the name of the
aircraft put in and the schema beside it for the author's editor; it goes into a folder that is not
there yet or is empty, and into no other; nothing is enrolled and nothing is approved.
"""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path
from typing import Final

from runner.flow.faults import FlowErrors
from runner.flow.loader import load_documents
from runner.host import places
from runner.host.places import PlaceFault

STARTER: Final = "starter"
_TITLE: Final = "title: My aircraft\n"
_LONGEST_NAME: Final = 31


def new(folder: Path, title: str, registration: str) -> int:
    """Writes the starting set into `folder`; raises PlaceFault for one that is not empty."""
    reg = places.registration(registration) if registration else "REGISTRATION"
    _refuse_occupied(folder)
    files = _files(folder.resolve().name, title)
    try:
        for name, data in files.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            with path.open("xb") as stream:
                stream.write(data)
    except OSError as error:
        raise PlaceFault(
            f"{error.filename or folder}: cannot be written: {error.strerror}"
        ) from None
    print(f"{folder}: {len(files)} files. Every number in them is invented; put in your own. Then:")
    here = shlex.quote(str(folder))
    for command in (
        f"check --strict {here}",
        f"prove {here}",
        f"enrol {here} --registration {reg}",
        f"run {reg} --draft --answers {shlex.quote(str(folder / 'answers' / 'normal.txt'))}",
        f"approve {here} --key FILE",
    ):
        print(f"  latchword {command}")
    return 0


def _refuse_occupied(folder: Path) -> None:
    try:
        there = sorted(path.name for path in folder.iterdir()) if folder.exists() else []
    except OSError as error:
        raise PlaceFault(f"{folder}: cannot be used: {error.strerror}") from None
    if there:
        raise PlaceFault(
            f"{folder}: is not empty ({there[0]} is there); nothing was written; name a folder "
            "that is not there yet", 2,
        )  # fmt: skip


def _files(name: str, title: str) -> dict[str, bytes]:
    """The set by its names in the new folder; raises PlaceFault for a title that cannot be one."""
    source = places.shipped() / STARTER
    files = {
        path.relative_to(source).as_posix(): path.read_bytes()
        for path in sorted(source.rglob("*"))
        if path.suffix in (".yaml", ".txt")
    }
    text = files["aircraft.yaml"].decode("utf-8")
    text = text.replace("aircraft: starter\n", f"aircraft: {_identifier(name)}\n")
    if title:
        text = text.replace(_TITLE, f"title: {json.dumps(title, ensure_ascii=False)}\n")
    files["aircraft.yaml"] = text.encode("utf-8")
    # the schema stands one folder nearer than in the set that is shipped
    files = {one: data.replace(b"$schema=../", b"$schema=") for one, data in files.items()}
    try:
        load_documents({one: data for one, data in files.items() if one.endswith(".yaml")})
    except FlowErrors as errors:
        raise PlaceFault(f"--title {title[:60]!r}: cannot stand there: {errors}", 2) from None
    schemas = sorted((places.shipped() / "schema").glob("*.schema.json"))
    return {**files, **{f"schema/{path.name}": path.read_bytes() for path in schemas}}


def _identifier(name: str) -> str:
    """The name of a folder as documents may use it: small letters, digits, `_`."""
    plain = re.sub(r"[^a-z0-9]+", "_", name.casefold()).strip("_")[:_LONGEST_NAME]
    return plain if plain[:1].isalpha() else f"aircraft_{plain}"[:_LONGEST_NAME].rstrip("_")
