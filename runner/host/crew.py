"""Who is aboard and in what mode: names from the command line, keys, demonstration people.

Rules: two roles need two people and two keys, unless one trainee or one pilot answers for all; the
demonstration's people have keys of their own, made on first use, unprotected, and trusted only
under the mark of a demonstration.
"""

from __future__ import annotations

from pathlib import Path

from audit.people import KeyFileSigner, Signer, load_signer, new_key
from audit.people import file_name as key_file_name
from audit.trust import trust_key
from runner.host import places
from runner.host.keyring import Keyring
from runner.host.places import PlaceFault

DEMO_CREW = (("commander", "Ines Marlow"), ("copilot", "Tom Aske"), ("ground", "Per Lund"))
ROLES = ("commander", "copilot", "ground")


def parse_crew(text: str) -> dict[str, str]:
    """`commander=NAME,copilot=NAME` as roles and names; raises PlaceFault."""
    crew: dict[str, str] = {}
    for part in filter(None, (p.strip() for p in text.split(","))):
        role, equals, name = (p.strip() for p in part.partition("="))
        if not equals or role not in ROLES or not name or role in crew:
            raise PlaceFault(
                f"--crew {part!r}: write commander=NAME,copilot=NAME (and ground=NAME); "
                "each role once",
                2,
            )
        crew[role] = name
    return crew


def aboard(
    crew: dict[str, str], *, solo: bool, single: bool, keyring: Keyring
) -> tuple[tuple[str, ...], tuple[tuple[str, Signer], ...]]:
    """The modes and the signers of a run; raises PlaceFault for a crew that cannot be."""
    if solo and single:
        raise PlaceFault("--solo and --single-pilot: one of the two", 2)
    needed = ("commander",) if solo or single else ("commander", "copilot")
    missing = [role for role in needed if role not in crew]
    if missing:
        raise PlaceFault(f"--crew: missing {', '.join(missing)}; write --crew "
                         + ",".join(f"{r}=NAME" for r in needed), 2)  # fmt: skip
    if len(set(crew.values())) < len(crew):
        raise PlaceFault("--crew: two roles need two people", 2)
    mode = "solo" if solo else "single-pilot" if single else "crew"
    people = tuple((role, keyring.person(crew[role])) for role in ROLES if role in crew)
    return (mode,), people


def key_of(name: str) -> str:
    """The public key of somebody who takes over a role; raises PlaceFault's kin for none."""
    from audit.errors import KeyFileError

    try:
        return Keyring().person(name).public_line
    except PlaceFault as fault:
        raise KeyFileError(str(fault)) from None


def demo_folder() -> Path:
    """Where the demonstration lives."""
    return places.state() / "demonstration"


def demo_people(*, solo: bool = False, single: bool = False) -> tuple[tuple[str, Signer], ...]:
    """The demonstration's crew; makes and trusts their keys on first use."""
    people = []
    for role, name in DEMO_CREW[: 1 if solo or single else 3]:
        people.append((role, demo_signer(name)))
    return tuple(people)


def demo_signer(name: str) -> KeyFileSigner:
    """Somebody of the demonstration, with a key of their own that is marked as such."""
    folder = demo_folder() / "keys"
    path = folder / key_file_name(name)
    if not path.exists():
        new_key(name, None, folder)
    person = load_signer(path, None, name)
    trust_key(places.trust_file(), name, person.public_line, demonstration=True)
    return person


def demo_key_of(name: str) -> str:
    """The public key of anybody who takes over a role in the demonstration."""
    return demo_signer(name).public_line
