"""Who signs with what: an agent, OpenSSH's own program, or a key file of ours.

Rules, in this order, decided anew at each signing: an agent that holds the person's key signs, and
its refusal is final; a key that was made here is opened for one signature; a key that lies
elsewhere is opened by `ssh-keygen`, never by us. A person is known here by `NAME.pub` in the folder
of keys, or by the private key beside it; a key file that is named stands in the place of those, and
its `.pub` is enough where an agent has the rest.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from audit import sshsig
from audit.agent import Agent, AgentSigner
from audit.errors import AgentError, Fault, KeyFileError
from audit.keygen import KeygenSigner
from audit.people import Ask, KeyFileSigner, check_name, load_signer
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
        return Holder(name, public_key(name), self, places.key_path(name))

    def named(self, path: Path, name: str | None = None) -> Holder:
        """Whose key file is named, the private one or its `.pub`; `name` where no `.pub` says it.
        Raises KeyFileError, PlaceFault."""
        private = path.with_suffix("") if path.suffix == ".pub" else path
        public = private.with_name(private.name + ".pub")
        if name is None and public.exists():
            _check_comment(public)
        if private.exists() or not public.exists():
            signer = load_signer(private, None, name)
            return Holder(signer.name, signer.key, self, private)
        key, stated = _public_of(public)
        if name is not None:
            check_name(name)
        return Holder(stated if name is None else name, key, self, private)


class Holder:
    """A `Signer` that finds what signs for it when it is asked to."""

    def __init__(self, name: str, key: bytes, ring: Keyring, private: Path) -> None:
        self.name = name
        self.key = key
        self._ring = ring
        self._private = private

    @property
    def public_line(self) -> str:
        """`ssh-ed25519 AAAA…` without a comment, as a roster has it."""
        return sshsig.public_line(self.key)

    def sign(self, namespace: str, message: bytes) -> bytes:
        """The raw OpenSSH signature blob; raises `AuditError`'s kin."""
        own, why = self._own()
        if own is not None:
            return own.sign(namespace, message)
        there, keygen = elsewhere(self.name), self._ring.keygen
        if there is not None and there.exists() and keygen:
            return KeygenSigner(self.name, self.key, there, keygen).sign(namespace, message)
        raise self._nothing(why)

    def sign_bare(self, message: bytes) -> bytes:
        """The bare Ed25519 signature (64 bytes), which `ssh-keygen` cannot make."""
        own, why = self._own()
        if own is None:
            raise self._nothing(why)
        return own.sign_bare(message)

    def _own(self) -> tuple[AgentSigner | KeyFileSigner | None, str]:
        """The agent or the file that can sign, and why it is not the agent."""
        ring, why = self._ring, "no ssh-agent is known (SSH_AUTH_SOCK)"
        if ring.agent is not None:
            try:
                if self.key in ring.agent.held():
                    return AgentSigner(self.name, self.key, ring.agent), ""
                why = "the ssh-agent does not hold it, or is locked"
            except AgentError as fault:
                why = str(fault)
                ring.told(f"{fault}; {self.name} signs without it")
        if self._private.exists():
            return load_signer(self._private, ring.ask, self.name), why
        return None, why

    def _nothing(self, why: str) -> AgentError:
        return AgentError(
            f"nothing here can sign for {self.name}: {why}; the key is "
            f"{sshsig.fingerprint(self.key)}: ssh-add it, then try again"
        )


def known_here() -> list[tuple[str, bytes]]:
    """Who has a key here, by file: name and public key. Raises PlaceFault for a file that is
    none."""
    if not places.keys().is_dir():
        return []
    return [
        (name, key)
        for key, name in (_public_of(path) for path in sorted(places.keys().glob("*.pub")))
    ]


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
    return _public_of(path)[0]


def _public_of(path: Path) -> tuple[bytes, str]:
    try:
        return sshsig.parse_public_line(path.read_text("utf-8"))
    except OSError as error:
        raise PlaceFault(f"{path}: cannot be read: {error.strerror}") from None
    except (UnicodeDecodeError, Fault) as fault:
        raise PlaceFault(f"{path}: is not an OpenSSH public key of kind ssh-ed25519 ({fault})") \
            from None  # fmt: skip


def _check_comment(public: Path) -> None:
    comment = _public_of(public)[1]
    try:
        check_name(comment)
    except KeyFileError:
        raise KeyFileError(
            f"{public}: its comment {comment!r} is no person's name; say whose key it is: "
            "--name NAME"
        ) from None


def adopt(name: str, public: Path) -> Path | None:
    """Take somebody's own key: its public half is copied here, its private half stays where it is.

    Returns the private file if it lies beside `public`; `None` where only an agent has it.
    """
    check_name(name)
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
