"""Signatures from an ssh-agent: the private key stays with the agent and never comes here.

Rules: the protocol is draft-miller-ssh-agent, two of its questions, over a Unix socket or, on
Windows, the named pipe; one connection a question; every wait has an end; an answer is read
strictly; a signature is checked against the public key before anybody gets it. Only plain
ssh-ed25519 keys are seen, whatever else the agent holds.
"""

import queue
import socket
import sys
import threading
from collections.abc import Callable
from pathlib import Path

from audit import curve, sshsig
from audit.errors import AgentError, Fault

WINDOWS_PIPE = r"\\.\pipe\openssh-ssh-agent"

# how the names of named pipes begin
_PIPES = "\\\\"
_FAILURE = 5
_REQUEST_IDENTITIES, _IDENTITIES_ANSWER = 11, 12
_SIGN_REQUEST, _SIGN_RESPONSE = 13, 14
# OpenSSH's own limit for a message of an agent
_LARGEST = 256 * 1024
_MOST_KEYS = 2048

_Send = Callable[[bytes], object]
_Receive = Callable[[int], bytes]


class Agent:
    """An agent by its address: the path of a Unix socket (`SSH_AUTH_SOCK`) or of a named pipe.

    `patience_s` bounds the wait for a list of keys, `confirm_s` that for a signature, which a
    person may have to confirm (`ssh-add -c`).
    """

    def __init__(self, address: str, *, patience_s: float = 5, confirm_s: float = 60) -> None:
        self.address = address
        self._patience_s = patience_s
        self._confirm_s = confirm_s

    def held(self) -> list[bytes]:
        """The ssh-ed25519 public keys (32 bytes) that it holds now; a locked agent shows none."""
        kind, rest = self._ask(bytes([_REQUEST_IDENTITIES]), self._patience_s)
        if kind != _IDENTITIES_ANSWER:
            raise self._error("does not tell which keys it holds")
        try:
            return _read_keys(rest)
        except Fault as fault:
            raise self._error(f"gave a list of keys that cannot be read ({fault.why})") from None

    def sign(self, key: bytes, data: bytes) -> bytes:
        """The Ed25519 signature (64 bytes) over `data` by `key`, checked."""
        question = b"".join(
            (
                bytes([_SIGN_REQUEST]),
                sshsig.string(sshsig.key_blob(key)),
                sshsig.string(data),
                bytes(4),  # flags: none of them is for Ed25519
            )
        )
        kind, rest = self._ask(question, self._confirm_s)
        if kind == _FAILURE:
            raise self._error(
                "refused to sign: it is locked (ssh-add -X), holds the key no more (ssh-add FILE), "
                "or the signature was not confirmed"
            )
        if kind != _SIGN_RESPONSE:
            raise self._error(f"answered a request to sign with a message of kind {kind}")
        try:
            value = _read_signature(rest)
        except Fault as fault:
            raise self._error(f"gave a signature that cannot be read ({fault.why})") from None
        if not curve.verifies(key, value, data):
            raise self._error("gave a signature that does not fit the key")
        return value

    def _error(self, what: str) -> AgentError:
        return AgentError(f"the ssh-agent at {self.address} {what}; nothing was written")

    def _talk(self, message: bytes, seconds: float) -> bytes:
        if self.address.startswith(_PIPES):
            return _over_pipe(self.address, message)
        return _over_socket(self.address, message, seconds)

    def _ask(self, question: bytes, seconds: float) -> tuple[int, bytes]:
        """One question on a connection of its own: the kind of the answer, and the rest of it."""
        message = len(question).to_bytes(4, "big") + question
        try:
            answer = _within(seconds, lambda: self._talk(message, seconds))
        except TimeoutError:
            raise self._error(f"has not answered for {seconds:g} s") from None
        except EOFError:
            raise self._error("went away before it answered") from None
        except OSError as error:
            raise self._error(f"cannot be spoken to: {error.strerror or error}") from None
        except Fault as fault:
            raise self._error(fault.why) from None
        return answer[0], answer[1:]


class AgentSigner:
    """A `Signer` whose key an agent holds."""

    def __init__(self, name: str, key: bytes, agent: Agent) -> None:
        self.name = name
        self.key = key
        self._agent = agent

    def sign(self, namespace: str, message: bytes) -> bytes:
        """The raw OpenSSH signature blob; raises `AgentError`."""
        value = self.sign_bare(sshsig.to_be_signed(namespace, message))
        return sshsig.encode(sshsig.Signature(self.key, namespace, value))

    def sign_bare(self, message: bytes) -> bytes:
        """The bare Ed25519 signature (64 bytes): for a signed note, a frame of its own."""
        return self._agent.sign(self.key, message)


def address_of(value: str | None) -> str:
    """Where the agent is: what `SSH_AUTH_SOCK` says, on Windows the system's pipe; else empty."""
    return value or (WINDOWS_PIPE if sys.platform == "win32" else "")


def _read_keys(rest: bytes) -> list[bytes]:
    reader = sshsig.Reader(rest)
    count = int.from_bytes(reader.take(4), "big")
    if count > _MOST_KEYS:
        raise Fault("sshsig", f"{count} keys")
    found = []
    for _ in range(count):
        blob = reader.string()
        reader.string()  # the comment says nothing that could be relied on
        try:
            found.append(sshsig.parse_key_blob(blob))
        except Fault:
            continue  # a key of another kind, or a weak one, signs no log
    reader.end()
    return found


def _read_signature(rest: bytes) -> bytes:
    outer = sshsig.Reader(rest)
    inner = sshsig.Reader(outer.string())
    outer.end()
    if inner.string() != b"ssh-ed25519":
        raise Fault("sshsig", "it is not plain ssh-ed25519")
    value = inner.string()
    inner.end()
    if len(value) != 64:
        raise Fault("sshsig", f"it has {len(value)} bytes, an Ed25519 signature has 64")
    return value


def _exchange(send: _Send, receive: _Receive, message: bytes) -> bytes:
    """Send a message, read the answer's content; `EOFError` if it ends too early."""
    send(message)
    length = int.from_bytes(_exactly(receive, 4), "big")
    if not 1 <= length <= _LARGEST:
        raise Fault("sshsig", f"answered with {length} bytes; 1 to {_LARGEST} are allowed")
    return _exactly(receive, length)


def _exactly(receive: _Receive, length: int) -> bytes:
    got = b""
    while len(got) < length:
        part = receive(length - len(got))
        if not part:
            raise EOFError
        got += part
    return got


def _over_socket(address: str, message: bytes, seconds: float) -> bytes:
    if sys.platform == "win32":
        raise OSError("Unix sockets are not spoken here; the agent of Windows has a pipe")
    else:  # noqa: RET506 -- the type checker leaves out a branch of another system, nothing else
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as wire:
            wire.settimeout(seconds)
            wire.connect(address)
            return _exchange(wire.sendall, wire.recv, message)


def _over_pipe(address: str, message: bytes) -> bytes:
    with Path(address).open("r+b", buffering=0) as pipe:
        return _exchange(pipe.write, lambda most: pipe.read(most) or b"", message)


def _within(seconds: float, talk: Callable[[], bytes]) -> bytes:
    """What `talk` returns, or `TimeoutError`.

    A thread does the talking, and is left behind if it must be: a named pipe has no timeout of its
    own, and that of a socket would let one byte a second go on for ever.
    """
    answers: queue.SimpleQueue[bytes | Exception] = queue.SimpleQueue()

    def work() -> None:
        try:
            answers.put(talk())
        except (OSError, EOFError, Fault) as error:
            answers.put(error)

    threading.Thread(target=work, name="ssh-agent", daemon=True).start()
    try:
        answer = answers.get(timeout=seconds)
    except queue.Empty:
        raise TimeoutError from None
    if isinstance(answer, Exception):
        raise answer
    return answer
