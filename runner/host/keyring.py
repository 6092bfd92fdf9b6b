"""Who signs with what: an agent, OpenSSH's own program, or a key file of ours.

Rules, in this order, decided anew at each signing: an agent that holds the person's key signs, and
its refusal is final; a key that was made here is opened for one signature; a key that lies
elsewhere is opened by `ssh-keygen`, never by us. A person is known here by `NAME.pub` in the folder
of keys, or by the private key beside it.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from audit import sshsig
from audit.agent import Agent, AgentSigner
from audit.errors import AgentError, Fault, KeyFileError
from audit.keygen import KeygenSigner
from audit.people import Ask, Signer, load_signer
from runner.host import places
from runner.host.places import PlaceFault


class Keyring(NamedTuple):
    """What can sign on this machine. Empty: no agent, no ssh-keygen. `told` hears why an agent was
    passed over."""

    ask: Ask | None = None
    agent: Agent | None = None
    keygen: str = ""
    told: Callable[[str], None] = lambda text: None

    def person(self, name: str) -> Holder:
        """Somebody who has a key here; raises PlaceFault if not."""
        return Holder(name, public_key(name), self)


class Holder:
    """A `Signer` that finds what signs for it when it is asked to."""

    def __init__(self, name: str, key: bytes, ring: Keyring) -> None:
        self.name = name
        self.key = key
        self._ring = ring

    @property
    def public_line(self) -> str:
        """`ssh-ed25519 AAAA…` without a comment, as a roster has it."""
        return sshsig.public_line(self.key)

    def sign(self, namespace: str, message: bytes) -> bytes:
        """The raw OpenSSH signature blob; raises `AuditError`'s kin."""
        return self._source().sign(namespace, message)

    def _source(self) -> Signer:
        ring, why = self._ring, "no ssh-agent is known (SSH_AUTH_SOCK)"
        if ring.agent is not None:
            try:
                if self.key in ring.agent.held():
                    return AgentSigner(self.name, self.key, ring.agent)
                why = "the ssh-agent does not hold it, or is locked"
            except AgentError as fault:
                why = str(fault)
                ring.told(f"{fault}; {self.name} signs without it")
        path = places.key_path(self.name)
        if path.exists():
            return load_signer(path, ring.ask, self.name)
        private = elsewhere(self.name)
        if private is not None and private.exists() and ring.keygen:
            return KeygenSigner(self.name, self.key, private, ring.keygen)
        raise AgentError(
            f"nothing here can sign for {self.name}: {why}; the key is "
            f"{sshsig.fingerprint(self.key)}: ssh-add it, then try again"
        )


def public_file(name: str) -> Path:
    """Where a person's public key lies."""
    path = places.key_path(name)
    return path.with_name(path.name + ".pub")


def _elsewhere_file(name: str) -> Path:
    path = places.key_path(name)
    return path.with_name(path.name + ".elsewhere")


def elsewhere(name: str) -> Path | None:
    """The private key file of somebody whose key was made elsewhere, if it was named."""
    try:
        return Path(_elsewhere_file(name).read_text("utf-8").rstrip("\n"))
    except OSError:
        return None


def public_key(name: str) -> bytes:
    """Somebody's public key (32 bytes); raises PlaceFault if there is none here."""
    path = places.key_path(name)
    if path.exists():
        return load_signer(path, None, name).key
    public = public_file(name)
    if not public.exists():
        raise PlaceFault(f"{name} has no key here; make one: latchword keys new {name!r}")
    return read_public(public)


def read_public(path: Path) -> bytes:
    """The key (32 bytes) in a `.pub` file; raises PlaceFault for what is none."""
    try:
        return sshsig.parse_public_line(path.read_text("utf-8"))[0]
    except OSError as error:
        raise PlaceFault(f"{path}: cannot be read: {error.strerror}") from None
    except (UnicodeDecodeError, Fault) as fault:
        raise PlaceFault(f"{path}: is not an OpenSSH public key of kind ssh-ed25519 ({fault})") \
            from None  # fmt: skip


def adopt(name: str, public: Path) -> Path | None:
    """Take somebody's own key: its public half is copied here, its private half stays where it is.

    Returns the private file if it lies beside `public`; `None` where only an agent has it.
    """
    try:
        sshsig.check_name(name)
    except Fault as fault:
        raise KeyFileError(fault.why) from None
    key = read_public(public)
    here = public_file(name)
    if here.exists() or places.key_path(name).exists():
        raise KeyFileError(f"{here}: there is a key already; it is never written over")
    private = public.resolve().with_suffix("") if public.suffix == ".pub" else None
    there = private is not None and private.exists()
    try:
        here.parent.mkdir(parents=True, exist_ok=True)
        if there:
            _elsewhere_file(name).write_text(f"{private}\n", "utf-8")
        here.write_text(sshsig.public_line(key, name) + "\n", "utf-8")
    except OSError as error:
        raise PlaceFault(f"{here}: cannot be written: {error.strerror}") from None
    return private if there else None
