"""What the tests of agents share: a real `ssh-agent`, and agents that behave as they are told."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

needs_ssh_agent = pytest.mark.skipif(
    sys.platform == "win32" or not all(map(shutil.which, ("ssh-agent", "ssh-add", "ssh-keygen"))),
    reason="ssh-agent, ssh-add and ssh-keygen (openssh-client) are not installed",
)
needs_unix_sockets = pytest.mark.skipif(
    sys.platform == "win32", reason="an agent has no Unix socket there"
)


def ssh(program: str, *words: str | Path, sock: str = "", text: bytes = b"", **more: str) -> str:
    """Runs one of OpenSSH's programs without a terminal; what it said."""
    environment = {**os.environ, "SSH_AUTH_SOCK": sock, "SSH_ASKPASS_REQUIRE": "never", **more}
    done = subprocess.run(
        [str(shutil.which(program)), *map(str, words)], input=text, capture_output=True,
        check=False, timeout=60, env=environment,
    )  # fmt: skip
    assert done.returncode == 0, (program, words, done.stderr)
    return done.stdout.decode()


@contextmanager
def real_agent(*words: str) -> Iterator[str]:
    """A fresh `ssh-agent`, in the foreground; the address of its socket."""
    # the path of a socket may have about a hundred characters, and a test's folder has more
    with tempfile.TemporaryDirectory(prefix="lw-") as folder:
        address = str(Path(folder) / "agent")
        process = subprocess.Popen(
            [str(shutil.which("ssh-agent")), "-D", "-a", address, *words],
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            assert process.stdout is not None
            # it says where it is when it listens
            assert b"SSH_AUTH_SOCK" in process.stdout.readline()
            yield address
        finally:
            process.kill()
            process.wait()
            if process.stdout is not None:
                process.stdout.close()


def make_key(path: Path, name: str, kind: str = "ed25519", passphrase: str = "") -> Path:
    """A key pair made by `ssh-keygen`."""
    ssh("ssh-keygen", "-q", "-t", kind, "-f", path, "-N", passphrase, "-C", name)
    return path


def add(address: str, *words: str | Path) -> None:
    """`ssh-add`."""
    ssh("ssh-add", "-q", *words, sock=address)


def lock(address: str, word: str, *, unlock: bool = False) -> None:
    """`ssh-add -x` or `-X`: asks for a password, which a small program gives it."""
    with tempfile.TemporaryDirectory(prefix="lw-") as folder:
        asked = Path(folder) / "ask"
        asked.write_text(f"#!/bin/sh\necho {word}\n")
        asked.chmod(0o700)
        ssh(
            "ssh-add", "-X" if unlock else "-x", sock=address,
            SSH_ASKPASS=str(asked), SSH_ASKPASS_REQUIRE="force",
        )  # fmt: skip


Answer = Callable[[bytes], bytes | None]


@contextmanager
def fake_agent(answer: Answer) -> Iterator[str]:
    """An agent that answers each message with these exact bytes; `None` is silence until the end,
    empty bytes hang up."""
    stop = threading.Event()
    with (
        tempfile.TemporaryDirectory(prefix="lw-") as folder,
        socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listening,
    ):
        address = str(Path(folder) / "agent")
        listening.bind(address)
        listening.listen(8)

        def talk(wire: socket.socket) -> None:
            with wire:
                length = int.from_bytes(wire.recv(4, socket.MSG_WAITALL), "big")
                said = answer(wire.recv(length, socket.MSG_WAITALL))
                if said is None:
                    stop.wait()
                else:
                    wire.sendall(said)

        def serve() -> None:
            while True:
                wire, _ = listening.accept()
                if stop.is_set():
                    wire.close()
                    return
                talkers.append(threading.Thread(target=talk, args=(wire,)))
                talkers[-1].start()

        talkers: list[threading.Thread] = []
        serving = threading.Thread(target=serve)
        serving.start()
        try:
            yield address
        finally:
            stop.set()
            with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as last:
                last.connect(address)
            for thread in (serving, *talkers):
                thread.join()
