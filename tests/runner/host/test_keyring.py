"""Who signs with what: the order of choice, decided anew each time, and what is said if nobody can.

A test that needs a real agent or `ssh-keygen` says so where they are missing.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from audit import keygen, people, sshsig
from audit.agent import Agent
from audit.errors import AgentError, KeyFileError, WrongPassphrase
from audit.folder import LogFolder
from audit.keygen import KeygenSigner
from audit.trust import Trust, trust_key
from audit.verify import verify
from runner.host import places
from runner.host.keyring import Keyring, adopt, elsewhere
from runner.host.opening import Setup, start
from runner.host.places import PlaceFault
from runner.host.replay import replayed
from tests.audit.agents import (
    add,
    fake_agent,
    lock,
    make_key,
    needs_ssh_agent,
    needs_unix_sockets,
    real_agent,
    ssh,
)
from tests.runner.host.support import CREW, FakeClock, tiny, work_day

NAME = "Maren Holt"
KEYGEN = shutil.which("ssh-keygen") or ""
needs_ssh_keygen = pytest.mark.skipif(
    not KEYGEN, reason="ssh-keygen (openssh-client) is not installed"
)


class Asked:
    """A passphrase, and how often it was asked for."""

    def __init__(self, secret: str) -> None:
        self.secret = secret
        self.times = 0

    def __call__(self, name: str) -> str:
        assert name == NAME
        self.times += 1
        return self.secret


def takes(blob: bytes, key: bytes) -> bool:
    sshsig.verify(blob, key, sshsig.CLOSE, b"m\n")
    return True


@needs_ssh_agent
def test_the_agent_comes_before_our_key_file_and_the_file_when_it_is_locked() -> None:
    people.new_key(NAME, "a long phrase", places.keys())
    asked = Asked("a long phrase")
    with real_agent() as address:
        ring = Keyring(asked, Agent(address), KEYGEN)
        person = ring.person(NAME)
        assert takes(person.sign(sshsig.CLOSE, b"m\n"), person.key)
        assert asked.times == 1  # the agent does not hold it yet
        ssh("ssh-keygen", "-q", "-p", "-P", "a long phrase", "-N", "", "-f", places.key_path(NAME))
        add(address, places.key_path(NAME))
        ssh("ssh-keygen", "-q", "-p", "-N", "a long phrase", "-f", places.key_path(NAME))
        assert takes(person.sign(sshsig.CLOSE, b"m\n"), person.key)
        assert asked.times == 1  # the agent signed
        lock(address, "word")
        assert takes(person.sign(sshsig.CLOSE, b"m\n"), person.key)
        assert asked.times == 2
        lock(address, "word", unlock=True)
        assert takes(person.sign(sshsig.CLOSE, b"m\n"), person.key)
        assert asked.times == 2


@needs_ssh_agent
def test_a_run_of_the_lists_is_signed_by_the_agent_alone(tmp_path: Path) -> None:
    """Opened, worked to its end, closed and replayed; no key file is anywhere but in the agent."""
    clock = FakeClock()
    with real_agent() as address, LogFolder.open(tmp_path / "logs") as folder:
        ring = Keyring(None, Agent(address), KEYGEN)
        crew = []
        for role, name in CREW:
            key = make_key(tmp_path / role, name)
            add(address, key)
            adopt(name, tmp_path / f"{role}.pub")
            key.unlink()
            crew.append((role, ring.person(name)))
            trust_key(tmp_path / "allowed", name, crew[-1][1].public_line)
        setup = Setup(tiny(), folder, "TV-T1", ("crew",), tuple(crew), ("hook",), "", "script")
        run = start(setup, clock, patient=True)
        work_day(run, clock)
        assert run.close([person for _, person in crew]) == ""
        log = folder.path_of(run.recorder.writer.run)
        run.stop()
    trust = Trust.read(tmp_path / "allowed")
    verdict = verify(log, level="replayed", trust=trust, replay=replayed())
    assert verdict.counts(), verdict


@needs_unix_sockets
def test_a_refusal_of_the_agent_is_final() -> None:
    """It holds the key and says no: then nobody opens the file behind its back."""
    path = people.new_key(NAME, "a long phrase", places.keys())
    blob = sshsig.key_blob(people.load_signer(path, None).key)
    held = b"\x0c" + bytes([0, 0, 0, 1]) + sshsig.string(blob) + sshsig.string(b"")
    asked = Asked("a long phrase")

    def answer(question: bytes) -> bytes:
        return sshsig.string(held if question == b"\x0b" else b"\x05")

    with fake_agent(answer) as address:
        person = Keyring(asked, Agent(address)).person(NAME)
        with pytest.raises(AgentError, match="refused to sign"):
            person.sign(sshsig.CLOSE, b"m\n")
    assert asked.times == 0


@needs_unix_sockets
def test_an_agent_that_is_gone_is_told_of_and_the_file_signs(tmp_path: Path) -> None:
    people.new_key(NAME, "a long phrase", places.keys())
    told: list[str] = []
    ring = Keyring(Asked("a long phrase"), Agent(str(tmp_path / "gone")), KEYGEN, told.append)
    person = ring.person(NAME)
    assert takes(person.sign(sshsig.CLOSE, b"m\n"), person.key)
    assert len(told) == 1
    assert "cannot be spoken to" in told[0]
    assert told[0].endswith(f"{NAME} signs without it")


@needs_ssh_agent
def test_a_key_of_ones_own_signs_through_the_agent_or_ssh_keygen(tmp_path: Path) -> None:
    key = make_key(tmp_path / "id_ed25519", "somebody@somewhere")
    assert adopt(NAME, tmp_path / "id_ed25519.pub") == key
    assert elsewhere(NAME) == key
    assert not places.key_path(NAME).exists()
    assert (places.keys() / "maren-holt.pub").read_text("utf-8").endswith(f" {NAME}\n")
    person = Keyring(None, None, KEYGEN).person(NAME)
    ours = people.load_signer(key, None, NAME).sign(sshsig.CLOSE, b"m\n")
    assert person.sign(sshsig.CLOSE, b"m\n") == ours
    assert person.public_line == sshsig.public_line(person.key)
    with real_agent() as address:
        add(address, key)
        key.unlink()
        assert Keyring(None, Agent(address)).person(NAME).sign(sshsig.CLOSE, b"m\n") == ours
        with pytest.raises(AgentError, match="nothing here can sign for Maren Holt: no ssh-agent"):
            person.sign(sshsig.CLOSE, b"m\n")


@needs_unix_sockets
def test_who_can_sign_with_nothing_is_told_what_to_do(tmp_path: Path) -> None:
    public = people.new_key(NAME, None, tmp_path).with_name("maren-holt.pub")
    public.with_suffix("").unlink()
    assert adopt(NAME, public) is None
    mark = sshsig.fingerprint(Keyring().person(NAME).key)
    with pytest.raises(AgentError, match=r"no ssh-agent is known \(SSH_AUTH_SOCK\)") as caught:
        Keyring(None, None, KEYGEN).person(NAME).sign(sshsig.CLOSE, b"m")
    assert f"the key is {mark}: ssh-add it, then try again" in str(caught.value)
    empty = sshsig.string(b"\x0c" + bytes(4))
    with (
        fake_agent(lambda asked: empty) as address,
        pytest.raises(AgentError, match="the ssh-agent does not hold it, or is locked"),
    ):
        Keyring(None, Agent(address), KEYGEN).person(NAME).sign(sshsig.CLOSE, b"m")


def test_a_key_is_never_taken_over_another(tmp_path: Path) -> None:
    public = people.new_key(NAME, None, tmp_path).with_name("maren-holt.pub")
    people.new_key(NAME, None, places.keys())
    before = (places.keys() / "maren-holt.pub").read_bytes()
    with pytest.raises(KeyFileError, match="never written over"):
        adopt(NAME, public)
    assert (places.keys() / "maren-holt.pub").read_bytes() == before


def test_what_is_no_public_key_is_not_taken(tmp_path: Path) -> None:
    private = people.new_key(NAME, None, tmp_path)
    for path, why in (
        (private, "is not an OpenSSH public key"),
        (tmp_path / "missing.pub", "cannot be read: No such file"),
    ):
        with pytest.raises(PlaceFault, match=why):
            adopt(NAME, path)
    with pytest.raises(KeyFileError, match="1 to 60 letters"):
        adopt("a,b", private.with_name("maren-holt.pub"))
    with pytest.raises(PlaceFault, match="has no key here; make one"):
        Keyring().person("Nobody Here")
    assert not places.keys().exists()


@needs_ssh_keygen
def test_a_passphrase_that_ssh_keygen_does_not_get_is_a_wrong_one(tmp_path: Path) -> None:
    key = make_key(tmp_path / "key", NAME, passphrase="a long phrase")
    public = people.load_signer(key, None).key
    # no terminal and no program to ask with: OpenSSH then tries an empty passphrase
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SSH_ASKPASS_REQUIRE", "force")
        patch.setenv("SSH_ASKPASS", "/bin/false")
        with pytest.raises(WrongPassphrase, match="incorrect passphrase"):
            KeygenSigner(NAME, public, key, KEYGEN).sign(sshsig.CLOSE, b"m\n")


@needs_ssh_keygen
def test_what_ssh_keygen_signs_is_checked(tmp_path: Path) -> None:
    key = make_key(tmp_path / "key", NAME)
    other = people.load_signer(make_key(tmp_path / "other", NAME), None).key
    with pytest.raises(KeyFileError, match=r"is no signature of Maren Holt: .*another key"):
        KeygenSigner(NAME, other, key, KEYGEN).sign(sshsig.CLOSE, b"m\n")
    with pytest.raises(KeyFileError, match="No such file"):
        KeygenSigner(NAME, other, key, str(tmp_path / "no-program")).sign(sshsig.CLOSE, b"m\n")
    assert "Ed25519PrivateKey" not in Path(keygen.__file__).read_text("utf-8")
