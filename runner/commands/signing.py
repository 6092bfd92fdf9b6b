"""Passphrases and signatures of a run: before the first list, after the last, never between.

Rules: a mistyped passphrase is asked for again, three times in all; who cannot sign at the end goes
on owing and is named; nobody's refusal keeps the others from signing.
"""

from __future__ import annotations

import contextlib
import getpass
import shutil
import sys
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path

from audit.agent import Agent, address_of
from audit.errors import AuditError, WrongPassphrase
from audit.people import Signer
from runner.host import crew as people
from runner.host.keyring import Keyring
from runner.host.places import PlaceFault
from runner.host.run import Run

TRIES = 3


def say(text: str) -> None:
    """A message for a person, on standard error; where the terminal has gone, nobody hears it."""
    with contextlib.suppress(OSError):
        print(text, file=sys.stderr)


def ask_passphrase(name: str) -> str:
    """A passphrase from the terminal; nothing is echoed."""
    return getpass.getpass(f"Passphrase of {name}: ")


class Patient:
    """Somebody who may mistype a passphrase."""

    def __init__(self, person: Signer) -> None:
        self._person = person

    @property
    def name(self) -> str:
        """The principal."""
        return self._person.name

    @property
    def key(self) -> bytes:
        """The public key, 32 bytes."""
        return self._person.key

    def sign(self, namespace: str, message: bytes) -> bytes:
        """The signature; raises `WrongPassphrase` after the last try."""
        return patiently(partial(self._person.sign, namespace, message))


def patiently(sign: Callable[[], bytes]) -> bytes:
    """What `sign` gives; raises `WrongPassphrase` after the last try."""
    for left in range(TRIES - 1, 0, -1):
        try:
            return sign()
        except WrongPassphrase as fault:
            say(f"{fault}; try again, {left} more")
    return sign()


def once(signers: list[Signer]) -> list[Signer]:
    """Each person once, in order."""
    return list({person.name: person for person in reversed(signers)}.values())[::-1]


def keyring(environment: Mapping[str, str]) -> Keyring:
    """What can sign here: the agent that the environment names, ssh-keygen, a key file of ours."""
    address = address_of(environment.get("SSH_AUTH_SOCK"))
    return Keyring(
        ask_passphrase, Agent(address) if address else None, shutil.which("ssh-keygen") or "", say
    )


def somebody(ring: Keyring, key: Path | None, name: str | None, who: str) -> Signer:
    """Who signs: the holder of a key file, or somebody known here by name; `who` asks for it."""
    if key is not None:
        return ring.named(key, name)
    if name is None:
        raise PlaceFault(f"{who} --key FILE, or --name NAME for a key known here", 2)
    return ring.person(name)


def close(begun: Run, signers: list[Signer], ring: Keyring) -> str:
    """Closes the log, each person signing for themselves; empty, or who still owes or what else
    keeps it open."""
    writer = begun.recorder.writer
    everybody = once([*signers, *others(begun, signers, ring)])
    for person in everybody:
        if writer.phase == "running" and person.name in writer.owed():
            _tried(partial(_vouch, begun, person), person)
    if writer.phase == "running":
        trouble = begun.close([])
        if trouble and writer.phase == "running":
            return trouble
    # Who left the crew during the run owes a closing signature like everybody else.
    for person in once([*everybody, *others(begun, everybody, ring)]):
        if person.name in writer.owed():
            _tried(partial(_sign_off, begun, person), person)
    owed = writer.owed()
    return f"signature owed by {', '.join(owed)}" if owed else ""


def _vouch(begun: Run, person: Signer) -> None:
    begun.recorder.writer.sign_resume(person, begun.clock.stamp())


def _sign_off(begun: Run, person: Signer) -> None:
    begun.recorder.writer.sign_close(person, begun.clock.stamp())


def others(begun: Run, signers: list[Signer], ring: Keyring) -> list[Signer]:
    """Everybody aboard or owing a signature who is not among `signers`; who has no key here is
    said."""
    known = {person.name for person in signers}
    demonstration = "demonstration" in begun.state.modes or "scripted" in begun.state.modes
    found: list[Signer] = []
    for name in (*begun.recorder.writer.owed(), *(n for _, n in begun.state.crew)):
        if name in known:
            continue
        known.add(name)
        try:
            if demonstration:
                found.append(people.demo_signer(name))
            else:
                found.append(Patient(ring.person(name)))
        except (PlaceFault, AuditError) as fault:
            say(str(fault))
    return found


def _tried(sign: Callable[[], object], person: Signer) -> None:
    try:
        sign()
    except (AuditError, EOFError) as fault:
        say(f"{person.name} did not sign: {fault or 'no passphrase was given'}")
    except KeyboardInterrupt:
        say(f"{person.name} did not sign")
