"""A run at a terminal signed by a real agent: no passphrase is asked for while it holds the key."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from audit import sshsig
from audit.line import parse
from runner.host import places
from tests.audit.agents import add, lock, make_key, needs_ssh_agent, real_agent
from tests.runner.commands.conftest import Command, logs
from tests.runner.commands.test_terminal import SECRET, end, terminal

pytestmark = [
    needs_ssh_agent,
    pytest.mark.skipif(os.name == "nt", reason="there are no pseudo-terminals there"),
]
RUN = ("--plain", "--single-pilot", "--crew", "commander=Ida Moe")


@pytest.fixture
def key(tmp_path: Path, command: Command) -> Path:
    """A key of her own, made by ssh-keygen and known here by its public half."""
    made = make_key(tmp_path / "id_ed25519", "ida@home")
    assert command("keys", "new", "Ida Moe", "--key", f"{made}.pub").code == 0
    assert command("keys", "trust", "Ida Moe").code == 0
    return made


def test_the_agent_signs_the_opening_and_nobody_is_asked(
    command: Command, short: str, key: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with real_agent() as address:
        add(address, key)
        key.unlink()
        monkeypatch.setenv("SSH_AUTH_SOCK", address)
        with terminal("run", short, *RUN) as run:
            run.expect("still to read it")
            assert "assphrase" not in run.before
    said = command("verify", logs(short))
    assert said.out.startswith("unclosed")
    assert "not by trusted keys" not in said.out
    (log,) = logs(short).glob("*.jsonl")
    first, second = (parse(row) for row in log.read_bytes().splitlines(keepends=True)[:2])
    assert second.type == "open-sig"
    public = sshsig.parse_public_line(key.with_name("id_ed25519.pub").read_text())[0]
    assert first.data["roster"][0]["key"] == sshsig.public_line(public)


def test_where_nothing_can_sign_no_run_is_begun(
    command: Command, short: str, key: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with real_agent() as address:
        add(address, key)
        key.unlink()
        lock(address, "word")
        monkeypatch.setenv("SSH_AUTH_SOCK", address)
        with terminal("run", short, *RUN) as run:
            code, said = end(run)
    assert code == 4
    assert "nothing here can sign for Ida Moe: the ssh-agent does not hold it, or is locked" in said
    assert "ssh-add it, then try again" in said
    assert list(logs(short).glob("*.jsonl*")) == []


def test_ssh_keygen_asks_where_no_agent_holds_the_key(
    command: Command, short: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = make_key(tmp_path / "id_ed25519", "ida@home", passphrase=SECRET)
    assert command("keys", "new", "Ida Moe", "--key", f"{made}.pub").code == 0
    monkeypatch.delenv("SSH_AUTH_SOCK", raising=False)
    with terminal("run", short, *RUN) as run:
        run.expect("nter passphrase")
        run.sendline("not this one")
        run.expect("incorrect passphrase.*try again, 2 more")
        run.expect("nter passphrase")
        run.sendline(SECRET)
        run.expect("still to read it")
    (log,) = logs(short).glob("*.jsonl")
    assert len(log.read_bytes().splitlines()) >= 2
    assert not places.key_path("Ida Moe").exists()
