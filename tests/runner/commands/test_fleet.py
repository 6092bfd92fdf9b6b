"""`fleet`: from the keeper of a fleet's key to somebody who has a proof and nothing else."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from audit.people import new_key
from tests.audit.agents import add, lock, make_key, needs_ssh_agent, real_agent, ssh
from tests.runner.commands.conftest import Command, logs
from tests.runner.commands.test_scripted import DAY

Script = Callable[..., Path]
ALSO = ("--also", "scripted,demonstration")
ORIGIN = "tarn-valley.example/fleet"


@pytest.fixture
def log(command: Command, short: str, script: Script) -> Path:
    """A closed scripted run."""
    assert command("run", short, "--answers", script(*DAY)).code == 0
    (found,) = logs(short).glob("*.jsonl")
    return found


@pytest.fixture
def key(tmp_path: Path) -> Path:
    """The fleet's key."""
    return new_key("Fleet Keeper", None, tmp_path / "keeper")


def test_a_run_is_proven_to_somebody_who_has_only_the_proof(
    command: Command, log: Path, key: Path, tmp_path: Path, short: str, script: Script
) -> None:
    sign = ("fleet", "checkpoint", log.parent, "--key", key, "--origin", ORIGIN)
    said = command(*sign)
    assert said.code == 0
    assert said.lines[:2] == [ORIGIN, "1"]
    vkey = said.err.rpartition("this key of notes: ")[2].strip()
    first = log.parent / "fleet" / "tarn-valley.example-fleet-1.checkpoint"
    assert first.read_text("utf-8") == said.out
    assert f"{first}: 1 run added, 1 in all" in said.err
    # the next run's opening names that checkpoint, and verification compares
    assert command("run", short, "--answers", script(*DAY)).code == 0
    newest = next(path for path in log.parent.glob("*.jsonl") if path != log)
    named = json.loads(newest.read_bytes().splitlines()[0])["body"]["data"]["checkpoint"]
    assert named == {"origin": ORIGIN, "root": said.lines[2], "size": 1}
    assert command("verify", log.parent, "--level", "replayed", *ALSO).code == 0
    # by its key, when it is named
    by_key = command("verify", log.parent, "--checkpoint", first, "--vkey", vkey, *ALSO)
    assert by_key.code == 0
    told = {path.stem: row for path in (log, newest) for row in by_key.lines if path.stem in row}
    signed = f"({first.name}) is signed by its key"
    assert told[log.stem].endswith(f"{signed}, and has this run with this end")
    assert "and its key signed that" in told[newest.stem]
    alone = command("verify", log.parent, "--checkpoint", first, *ALSO)
    assert (alone.code, alone.out) == (2, "")
    assert "--checkpoint FILE and --vkey KEY go together" in alone.err
    assert command(*sign).lines[1] == "2"
    second = first.with_name("tarn-valley.example-fleet-2.checkpoint")
    # a proof, away from the machine
    proof = tmp_path / "proof"
    assert command("fleet", "prove", newest, "--checkpoint", second, "--out", proof).code == 0
    shown = command("fleet", "prove", newest.stem, "--checkpoint", second)
    assert shown.out == proof.read_text("utf-8")
    key_file = tmp_path / "fleet.vkey"
    key_file.write_text(vkey + "\n", "utf-8")
    for given in (vkey, key_file):
        checked = command("fleet", "check", proof, "--vkey", given)
        assert checked.code == 0
        assert checked.out.startswith(f"proven {newest.stem}: run 2 of device ")
    assert command("fleet", "check", proof, "--vkey", vkey, "--log", newest).code == 0
    other = command("fleet", "check", proof, "--vkey", vkey, "--log", log)
    assert other.code == 1
    assert "does not end as the proof says" in other.err
    # from the one checkpoint to the other, with the leaves and then without
    between = tmp_path / "consistency"
    said = command("fleet", "consistent", first, second, "--vkey", vkey, "--out", between)
    assert said.code == 0
    assert said.out.startswith("consistent: the 2 runs of ")
    apart = tmp_path / "apart"
    apart.mkdir()
    for path in (first, second):
        (apart / path.name).write_bytes(path.read_bytes())
    two = (apart / first.name, apart / second.name, "--vkey", vkey)
    assert command("fleet", "consistent", *two).code == 4
    assert command("fleet", "consistent", *two, "--proof", between).code == 0
    swapped = (two[1], two[0], *two[2:])
    assert command("fleet", "consistent", *swapped, "--proof", between).code == 1
    assert command("fleet", "consistent", second, first, "--vkey", vkey).code == 1


@needs_ssh_agent
def test_an_agent_that_holds_the_fleets_key_signs_and_the_file_stays_shut(
    command: Command, log: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = make_key(tmp_path / "fleet-key", "fleet")
    sign = ("fleet", "checkpoint", log.parent, "--origin", ORIGIN, "--key")
    opened: list[str] = []
    monkeypatch.setattr("getpass.getpass", opened.append)
    with real_agent() as address:
        add(address, made)
        monkeypatch.setenv("SSH_AUTH_SOCK", address)
        ssh("ssh-keygen", "-q", "-p", "-N", "a long phrase", "-f", made)
        said = command(*sign, made)
        assert (said.code, opened) == (0, [])
        vkey = said.err.rpartition("this key of notes: ")[2].strip()
        (first,) = (log.parent / "fleet").glob("*.checkpoint")
        assert command("fleet", "consistent", first, first, "--vkey", vkey).code == 0
        # the public half is enough
        first.unlink()
        made.rename(tmp_path / "away")
        said = command(*sign, f"{made}.pub")
        assert (said.code, said.out, opened) == (0, first.read_text("utf-8"), [])
        assert vkey in said.err
        # what the agent does not give nobody gives
        first.unlink()
        lock(address, "word")
        said = command(*sign, f"{made}.pub")
        assert (said.code, said.out) == (4, "")
        assert "nothing here can sign for the fleet key: the ssh-agent does not hold it" in said.err
    assert not first.exists()


def test_a_mistyped_passphrase_of_the_fleets_key_is_asked_for_again(
    command: Command, log: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    key = new_key("Fleet Keeper", "a long phrase", tmp_path / "keeper")
    typed = ["a lonk phrase", "a long phrase"]
    monkeypatch.setattr("getpass.getpass", lambda prompt: typed.pop(0))
    monkeypatch.delenv("SSH_AUTH_SOCK", raising=False)
    said = command("fleet", "checkpoint", log.parent, "--key", key, "--origin", ORIGIN)
    assert said.code == 0
    assert "try again, 2 more" in said.err
    assert typed == []


def test_what_keeps_a_checkpoint_from_being_signed(
    command: Command, log: Path, key: Path, tmp_path: Path
) -> None:
    def sign(folder: Path, origin: str = ORIGIN, key: Path = key) -> str:
        said = command("fleet", "checkpoint", folder, "--key", key, "--origin", origin)
        assert said.code in (1, 4)
        assert said.out == ""
        assert not (folder / "fleet").exists()
        return said.err

    assert "no such folder" in sign(tmp_path / "nowhere")
    assert "no run with a final head" in sign(tmp_path)
    assert "names no key" in sign(log.parent, "tarn valley")
    assert "cannot be read" in sign(log.parent, key=tmp_path / "nokey")
    log.write_bytes(log.read_bytes().replace(b"released", b"relaesed", 1))
    assert "nothing is signed: rejected" in sign(log.parent)


def test_a_run_that_is_still_open_is_left_out_and_named(
    command: Command, log: Path, key: Path, short: str, script: Script
) -> None:
    assert command("run", short, "--answers", script(*DAY[:4])).code == 75
    newest = next(path for path in log.parent.glob("*.jsonl") if path != log)
    said = command("fleet", "checkpoint", log.parent, "--key", key, "--origin", ORIGIN)
    assert said.lines[1] == "1"
    assert f"left out until they have ended: {newest.stem}" in said.err
    at = log.parent / "fleet" / "tarn-valley.example-fleet-1.checkpoint"
    proof = command("fleet", "prove", newest, "--checkpoint", at)
    assert proof.code == 1
    assert "not among the 1 runs" in proof.err


def test_a_checkpoint_that_is_no_longer_the_logs_is_found(
    command: Command, log: Path, key: Path
) -> None:
    command("fleet", "checkpoint", log.parent, "--key", key, "--origin", ORIGIN)
    log.unlink()
    (log.parent / "other.jsonl").write_text("{}\n", "utf-8")
    said = command("verify", log.parent, *ALSO)
    assert said.code == 1
    assert [row.split(":")[0] for row in said.lines[1:]] == ["foreign", "missing"]


@pytest.mark.parametrize("vkey", ["x+y", "a+b+c", "nowhere"])
def test_what_is_no_key_of_notes(command: Command, tmp_path: Path, vkey: str) -> None:
    (tmp_path / "proof").write_text("c2sp.org/tlog-proof@v1\n", "utf-8")
    assert command("fleet", "check", tmp_path / "proof", "--vkey", vkey).code in (1, 4)


def test_a_fleet_command_that_is_none_gets_the_nearest(command: Command) -> None:
    said = command("fleet", "chekpoint", "x")
    assert said.code == 2
    assert "Did you mean checkpoint?" in said.err


def test_a_checkpoint_that_cannot_be_read_keeps_nobody_from_flying(
    command: Command, log: Path, key: Path, short: str, script: Script
) -> None:
    command("fleet", "checkpoint", log.parent, "--key", key, "--origin", ORIGIN)
    (at,) = (log.parent / "fleet").glob("*.checkpoint")
    at.write_text(at.read_text("utf-8")[:-9], "utf-8")
    said = command("run", short, "--answers", script(*DAY))
    assert said.code == 0
    assert "the fleet's checkpoint is left out: " in said.err
    newest = next(path for path in log.parent.glob("*.jsonl") if path != log)
    assert json.loads(newest.read_bytes().splitlines()[0])["body"]["data"]["checkpoint"] is None
