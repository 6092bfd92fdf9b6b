"""Signing through an agent: a real one, and ones that refuse, die, are silent or lie.

The messages are those of draft-miller-ssh-agent, "SSH Agent Protocol", sections 3 and 4.
"""

from __future__ import annotations

import os
import shutil
import sys
import threading
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit import agent as agents
from audit import sshsig
from audit.agent import Agent, AgentSigner, address_of
from audit.canonical import base64_bytes
from audit.errors import AgentError
from audit.folder import LogFolder
from audit.keygen import KeygenSigner
from audit.line import parse
from audit.people import Signer, load_signer
from audit.recovery import recover
from audit.stamps import wall_text
from audit.trust import Trust, trust_key
from audit.verify import verify
from audit.writer import LogWriter
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
from tests.audit.helpers import Clock, Person, event, opening

string = sshsig.string


def message(*parts: bytes) -> bytes:
    return string(b"".join(parts))


def number(value: int) -> bytes:
    return value.to_bytes(4, "big")


def holding(*blobs: bytes) -> bytes:
    """IDENTITIES_ANSWER."""
    return message(b"\x0c", number(len(blobs)), *(string(b) + string(b"") for b in blobs))


def signed(value: bytes, kind: bytes = b"ssh-ed25519") -> bytes:
    """SIGN_RESPONSE."""
    return message(b"\x0e", string(string(kind) + string(value)))


def signer_of(key: Path, address: str) -> AgentSigner:
    name = load_signer(key, None).name
    return AgentSigner(name, load_signer(key, None).key, Agent(address))


def whole_run(folder: LogFolder, clock: Clock, crew: Sequence[Signer]) -> Path:
    """Opened, resumed and closed: signatures of all three kinds of everybody."""
    data = {
        "documents": [], "lexicon": "1" * 64, "modes": ["crew"], "rules": 1,
        "roster": [
            {"name": crew[0].name, "role": "commander"},
            {"name": crew[1].name, "role": "copilot"},
        ],
    }  # fmt: skip
    writer = LogWriter.create(folder, data, crew, clock())
    writer.event(event(), clock())
    writer.stop()
    clock.reboot()
    writer = LogWriter.resume(recover(folder, writer.run), clock(), None)
    for person in crew:
        writer.sign_resume(person, clock())
    writer.close([], crew, clock())
    return folder.path_of(writer.run)


@needs_ssh_agent
@pytest.mark.parametrize("source", ["ssh-agent", "ssh-keygen"])
def test_a_whole_run_is_signed_elsewhere_and_ssh_keygen_takes_every_signature(
    source: str, tmp_path: Path, folder: LogFolder, clock: Clock
) -> None:
    trust = tmp_path / "allowed"
    keys = [make_key(tmp_path / "one", "Maren Holt"), make_key(tmp_path / "two", "Åsa Lind")]
    for person in (load_signer(key, None) for key in keys):
        trust_key(trust, person.name, person.public_line)
    crew: list[Signer]
    if source == "ssh-keygen":
        program = str(shutil.which("ssh-keygen"))
        crew = [
            KeygenSigner(one.name, one.key, one.path, program)
            for one in (load_signer(key, None) for key in keys)
        ]
        log = whole_run(folder, clock, crew)
    else:
        with real_agent() as address:
            add(address, *keys)
            crew = [signer_of(key, address) for key in keys]
            for key in keys:
                key.unlink()  # nobody but the agent has it now
            log = whole_run(folder, clock, crew)
    verdict = verify(log, level="full", trust=Trust.read(trust))
    assert verdict.counts(), verdict
    rows = log.read_bytes().splitlines(keepends=True)
    lines = [parse(row) for row in rows]
    kinds = []
    for line in lines:
        if line.type.endswith("-sig"):
            kinds.append(line.type)
            text = rows[line.data["line"]]
            if line.type == "resume-sig":
                text += lines[line.seq - 1].head.encode() + b"\n"
            at = "".join(c for c in wall_text(line.stamp.wall_ms)[:19] if c.isdigit())
            sig = tmp_path / "sig"
            sig.write_text(sshsig.armor(base64_bytes(line.data["sig"])))
            said = ssh(
                "ssh-keygen", "-Y", "verify", "-f", trust, "-I", line.data["name"], "-n",
                f"{line.type.removesuffix('-sig')}@latchword-v1", "-s", sig,
                "-O", f"verify-time={at}Z", text=text,
            )  # fmt: skip
            assert said.startswith("Good ")
    assert kinds == ["open-sig"] * 2 + ["resume-sig"] * 2 + ["close-sig"] * 2


@needs_ssh_agent
@pytest.mark.parametrize("namespace", sshsig.NAMESPACES)
def test_we_take_what_ssh_keygen_signs_with_the_agent(tmp_path: Path, namespace: str) -> None:
    key = make_key(tmp_path / "key", "Maren Holt", passphrase="")
    with real_agent() as address:
        add(address, key)
        signer = signer_of(key, address)
        key.unlink()
        theirs = ssh(
            "ssh-keygen", "-Y", "sign", "-f", f"{key}.pub", "-n", namespace, sock=address,
            text=b"a line\n",
        )  # fmt: skip
        ours = signer.sign(namespace, b"a line\n")
    sshsig.verify(sshsig.dearmor(theirs), signer.key, namespace, b"a line\n")
    assert sshsig.armor(ours) == theirs


@needs_ssh_agent
def test_only_plain_ed25519_keys_are_seen(tmp_path: Path) -> None:
    plain = make_key(tmp_path / "plain", "Maren Holt")
    others = [make_key(tmp_path / kind, kind, kind) for kind in ("ecdsa", "rsa")]
    with real_agent() as address:
        assert Agent(address).held() == []
        add(address, *others, plain)
        assert Agent(address).held() == [load_signer(plain, None).key]


@needs_ssh_agent
def test_an_agent_that_is_locked_shows_no_key_and_signs_nothing(tmp_path: Path) -> None:
    key = make_key(tmp_path / "key", "Maren Holt")
    with real_agent() as address:
        add(address, key)
        signer = signer_of(key, address)
        lock(address, "word")
        assert Agent(address).held() == []
        with pytest.raises(AgentError, match="refused to sign: it is locked"):
            signer.sign(sshsig.OPEN, b"m")
        lock(address, "word", unlock=True)
        sshsig.verify(signer.sign(sshsig.OPEN, b"m"), signer.key, sshsig.OPEN, b"m")


@needs_ssh_agent
def test_a_key_taken_out_of_the_agent_signs_no_more(tmp_path: Path) -> None:
    key = make_key(tmp_path / "key", "Maren Holt")
    with real_agent() as address:
        add(address, key)
        signer = signer_of(key, address)
        assert signer.sign(sshsig.OPEN, b"m")
        add(address, "-D")
        with pytest.raises(AgentError, match="holds the key no more"):
            signer.sign(sshsig.OPEN, b"m")


@needs_ssh_agent
def test_who_does_not_confirm_does_not_sign(tmp_path: Path) -> None:
    """`ssh-add -c`: the agent asks, here a program that always says no."""
    key = make_key(tmp_path / "key", "Maren Holt")
    asked = tmp_path / "no"
    asked.write_text("#!/bin/sh\nexit 1\n")
    asked.chmod(0o700)
    old = {name: os.environ.get(name) for name in ("SSH_ASKPASS", "DISPLAY")}
    os.environ.update(SSH_ASKPASS=str(asked), DISPLAY="none")
    try:
        with real_agent() as address:
            add(address, "-c", key)
            signer = signer_of(key, address)
            assert Agent(address).held() == [signer.key]
            with pytest.raises(AgentError, match="not confirmed"):
                signer.sign(sshsig.OPEN, b"m")
    finally:
        for name, value in old.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


@needs_ssh_agent
def test_an_agent_that_died_is_said_to_be_gone(tmp_path: Path) -> None:
    key = make_key(tmp_path / "key", "Maren Holt")
    with real_agent() as address:
        add(address, key)
        signer = signer_of(key, address)
    with pytest.raises(AgentError, match=r"cannot be spoken to: No such file.*nothing was written"):
        signer.sign(sshsig.OPEN, b"m")


ONE, OTHER = Person("Maren Holt"), Person("Somebody Else")
TO_SIGN = sshsig.to_be_signed(sshsig.OPEN, b"m")
RIGHT = ONE.private.sign(TO_SIGN)

LIES: dict[str, tuple[bytes | None, str]] = {
    "another key's signature": (signed(OTHER.private.sign(TO_SIGN)), "does not fit the key"),
    "a signature of something else": (signed(ONE.private.sign(b"x")), "does not fit the key"),
    "zeros": (signed(bytes(64)), "does not fit the key"),
    "63 bytes": (signed(RIGHT[:-1]), "has 63 bytes"),
    "65 bytes": (signed(RIGHT + b"\x00"), "has 65 bytes"),
    "another kind": (signed(RIGHT, b"ssh-rsa"), "not plain ssh-ed25519"),
    "a hardware key's kind": (signed(RIGHT, b"sk-ssh-ed25519@openssh.com"), "not plain"),
    "bytes after it": (message(signed(RIGHT)[4:], b"x"), "bytes after its end"),
    "a length that lies": (message(b"\x0e", number(999), b"x"), "ends too early"),
    "no signature": (message(b"\x0e"), "ends too early"),
    "success": (message(b"\x06"), "a message of kind 6"),
    "a list of keys": (holding(), "a message of kind 12"),
    "failure": (message(b"\x05"), "refused to sign"),
    "an empty message": (number(0), "0 bytes"),
    "a message too long": (number(1 << 30), "1073741824 bytes"),
    "half a message": (signed(RIGHT)[:50], "went away before it answered"),
    "half a length": (b"\x00\x00", "went away before it answered"),
    "nothing, and hangs up": (b"", "went away before it answered"),
    "silence": (None, "has not answered for 0.05 s"),
}


@needs_unix_sockets
@pytest.mark.parametrize("case", LIES)
def test_an_agent_that_lies_writes_nothing(case: str, folder: LogFolder, clock: Clock) -> None:
    said, why = LIES[case]
    with fake_agent(lambda asked: said) as address:
        person = AgentSigner(
            ONE.name, ONE.key, Agent(address, confirm_s=0.05 if said is None else 60)
        )
        with pytest.raises(AgentError, match=why) as caught:
            person.sign(sshsig.OPEN, b"m")
        assert str(caught.value).startswith(f"the ssh-agent at {address} ")
        with pytest.raises(AgentError):
            LogWriter.create(folder, opening([ONE]), [person], clock())
    assert list(folder.path.glob("*.jsonl*")) == []


@needs_unix_sockets
def test_the_wait_for_a_list_of_keys_ends_too() -> None:
    with (
        fake_agent(lambda asked: None) as address,
        pytest.raises(AgentError, match=r"has not answered for 0\.05 s"),
    ):
        Agent(address, patience_s=0.05).held()


@needs_unix_sockets
def test_a_signature_that_fits_is_taken() -> None:
    asked = []

    def answer(question: bytes) -> bytes:
        asked.append(question)
        return signed(RIGHT)

    with fake_agent(answer) as address:
        blob = AgentSigner(ONE.name, ONE.key, Agent(address)).sign(sshsig.OPEN, b"m")
    assert blob == ONE.sign(sshsig.OPEN, b"m")
    # SIGN_REQUEST: the key, what is to be signed, no flags
    assert asked == [b"\x0d" + string(sshsig.key_blob(ONE.key)) + string(TO_SIGN) + bytes(4)]


WEAK = string(b"ssh-ed25519") + string(bytes(32))
LISTS: dict[str, tuple[bytes, list[bytes] | str]] = {
    "none": (holding(), []),
    "one": (holding(sshsig.key_blob(ONE.key)), [ONE.key]),
    "a weak one beside it": (holding(WEAK, sshsig.key_blob(ONE.key)), [ONE.key]),
    "another kind": (holding(string(b"sk-ssh-ed25519@openssh.com") + string(ONE.key)), []),
    "no blob at all": (holding(b""), []),
    "failure": (message(b"\x05"), "does not tell which keys it holds"),
    "one too few": (message(b"\x0c", number(2), string(b""), string(b"")), "ends too early"),
    "one too many": (message(b"\x0c", number(0), string(b"")), "bytes after its end"),
    "countless": (message(b"\x0c", number(2**32 - 1)), "4294967295 keys"),
}


@needs_unix_sockets
@pytest.mark.parametrize("case", LISTS)
def test_lists_of_keys_are_read_strictly(case: str) -> None:
    said, wanted = LISTS[case]
    with fake_agent(lambda asked: said) as address:
        if isinstance(wanted, list):
            assert Agent(address).held() == wanted
        else:
            with pytest.raises(AgentError, match=wanted):
                Agent(address).held()


@given(st.binary(max_size=200))
def test_nothing_but_our_error_comes_of_any_answer(said: bytes) -> None:
    def talk(answer: bytes) -> agents._Receive:
        left = [answer]

        def receive(most: int) -> bytes:
            part, left[0] = left[0][:most], left[0][most:]
            return part

        return receive

    class Told(Agent):
        def _talk(self, message: bytes, seconds: float) -> bytes:
            return agents._exchange(lambda sent: None, talk(said), message)

    for ask in (Told("told").held, lambda: Told("told").sign(ONE.key, b"m")):
        try:
            assert isinstance(ask(), list)
        except AgentError:
            continue


@pytest.mark.skipif(sys.platform == "win32", reason="a terminal stands in for the pipe")
def test_a_pipe_is_spoken_as_a_socket_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that is read and written, as a named pipe of Windows is: here a terminal."""
    import tty

    ours, theirs = os.openpty()
    try:
        tty.setraw(ours)
        tty.setraw(theirs)
        monkeypatch.setattr(agents, "_PIPES", "/dev/")
        answer = signed(RIGHT)

        def serve() -> None:
            got = b""
            while len(got) < 4 or len(got) < 4 + int.from_bytes(got[:4], "big"):
                got += os.read(ours, 4096)
            os.write(ours, answer)

        serving = threading.Thread(target=serve)
        serving.start()
        assert Agent(os.ttyname(theirs)).sign(ONE.key, TO_SIGN) == RIGHT
        serving.join()
    finally:
        os.close(ours)
        os.close(theirs)


def test_the_address_is_the_one_that_the_environment_names() -> None:
    assert address_of("/run/agent") == "/run/agent"
    nobody = agents.WINDOWS_PIPE if sys.platform == "win32" else ""
    assert address_of(None) == address_of("") == nobody


def test_no_private_key_is_named_in_the_module() -> None:
    text = Path(agents.__file__).read_text("utf-8")
    assert "Ed25519PrivateKey" not in text
    assert "load_ssh_private_key" not in text
