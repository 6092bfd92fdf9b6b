"""`keys`: made, taken, listed, trusted between dates, revoked; `ssh-keygen` reads the file."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

import pytest

from audit import people, sshsig
from runner.host import places
from tests.audit.agents import add, make_key, needs_ssh_agent, real_agent, ssh
from tests.runner.commands.conftest import Command


def rows(command: Command) -> list[dict[str, Any]]:
    said = command("keys", "list", "--json")
    assert said.code == 0, said
    return [json.loads(line) for line in said.lines]


@needs_ssh_agent
def test_fingerprints_are_those_of_ssh_keygen(command: Command) -> None:
    path = people.new_key("Åsa Holt", None, places.keys())
    theirs = ssh("ssh-keygen", "-l", "-f", path.with_name("asa-holt.pub")).split()[1]
    assert theirs.startswith("SHA256:")
    assert [row["fingerprint"] for row in rows(command)] == [theirs]
    assert theirs in command("keys", "list").out


def test_an_empty_list_says_what_to_do(command: Command) -> None:
    said = command("keys", "list")
    assert (said.code, said.out) == (0, "")
    assert "latchword keys new NAME" in said.err


def test_a_list_has_what_is_trusted_and_what_signs(command: Command, tmp_path: Path) -> None:
    people.new_key("Åsa Holt", None, places.keys())
    public = people.new_key("R Byrne", None, tmp_path).with_name("r-byrne.pub")
    dates = ("--from", "2026-01-01", "--until", "2027-12-31")
    assert command("keys", "trust", "R Byrne", "--key", public, *dates).code == 0
    first, second = rows(command)
    assert first["name"] == "R Byrne"
    assert first["trusted"]
    assert first["valid_from"] == "2026-01-01T00:00:00Z"
    assert first["valid_until"] == "2027-12-31T23:59:59Z"
    assert (first["revoked"], first["signs_with"], first["agent"]) == ("", "", False)
    assert second["name"] == "Åsa Holt"
    assert not second["trusted"]
    assert second["signs_with"] == str(places.key_path("Åsa Holt"))
    assert command("keys", "trust", "Åsa Holt").code == 0
    text = command("keys", "list").lines
    assert text == [
        f"R Byrne  {first['fingerprint']}",
        "  trusted; from 2026-01-01; until 2027-12-31; no private key here",
        f"Åsa Holt  {second['fingerprint']}",
        f"  trusted; signs with {places.key_path('Åsa Holt')}",
    ]
    # what is longer than a terminal is nothing but the folder of the keys
    assert max(map(len, text[:3])) < 80


@needs_ssh_agent
def test_a_list_has_what_the_agent_holds(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine = make_key(tmp_path / "mine", "x")
    strange = make_key(tmp_path / "strange", "x")
    said = command("keys", "new", "B Ray", "--key", f"{mine}.pub")
    assert said.code == 0
    assert f"ssh-agent, or ssh-keygen with {mine}" in said.out
    with real_agent() as address:
        monkeypatch.setenv("SSH_AUTH_SOCK", address)
        add(address, mine, strange)
        first, second = rows(command)
        assert (first["name"], first["agent"]) == ("B Ray", True)
        assert first["signs_with"] == f"ssh-keygen {mine}"
        assert (second["name"], second["agent"], second["trusted"]) == ("", True, False)
        # in the order in which they are asked
        (_, own, *_) = command("keys", "list").lines
        assert own == f"  not trusted; signs with ssh-agent, else ssh-keygen {mine}"
    said = command("keys", "list")
    assert said.code == 0
    assert "cannot be spoken to" in said.err


@pytest.mark.parametrize(
    ("words", "code", "why"),
    [
        (("--from", "yesterday"), 2, "--from: date 'yesterday': allowed: 2026-11-24"),
        (("--until", "2026-13-01"), 2, "--until: time '20261301235959Z' does not exist"),
        (("--until", "20261124"), 2, "--until: date '20261124'"),
        (("--from", "2027-01-01", "--until", "2026-01-01"), 4, "is not before"),
    ],
)
def test_dates_that_cannot_be(
    command: Command, words: tuple[str, ...], code: int, why: str
) -> None:
    people.new_key("A Holt", None, places.keys())
    said = command("keys", "trust", "A Holt", *words)
    assert said.code == code
    assert why in said.err
    assert not places.trust_file().exists()


def keygen_takes(person: people.KeyFileSigner, tmp_path: Path, at: str) -> bool:
    blob = person.sign(sshsig.CLOSE, b"m\n")
    (tmp_path / "sig").write_text(sshsig.armor(blob), "ascii")
    done = subprocess.run(
        ["ssh-keygen", "-Y", "verify", "-f", str(places.trust_file()), "-I", person.name,
         "-n", sshsig.CLOSE, "-s", str(tmp_path / "sig"), "-O", f"verify-time={at}"],
        input=b"m\n", capture_output=True, check=False,
    )  # fmt: skip
    return done.returncode == 0


@needs_ssh_agent
def test_ssh_keygen_reads_the_dates_and_the_revocation(command: Command, tmp_path: Path) -> None:
    person = people.load_signer(people.new_key("A Holt", None, places.keys()), None)
    other = people.load_signer(people.new_key("B Ray", None, places.keys()), None)
    dates = ("--from", "2026-11-01", "--until", "2026-11-30")
    assert command("keys", "trust", "A Holt", *dates).code == 0
    assert command("keys", "trust", "B Ray").code == 0
    places.trust_file().write_text(
        "# ours\n\n" + places.trust_file().read_text("utf-8").rstrip("\n"), "utf-8"
    )
    assert not keygen_takes(person, tmp_path, "20261031235959Z")
    assert keygen_takes(person, tmp_path, "20261101000000Z")
    assert keygen_takes(person, tmp_path, "20261130235959Z")
    assert not keygen_takes(person, tmp_path, "20261201000000Z")
    said = command("keys", "revoke", "A Holt", "--at", "2026-11-24T21:50Z")
    assert said.code == 0
    mark = sshsig.fingerprint(person.key)
    assert said.out == f"A Holt  {mark}  revoked 2026-11-24T21:50:00Z\n"
    assert "a witness knew before" in said.err
    assert keygen_takes(person, tmp_path, "20261124215000Z")
    assert not keygen_takes(person, tmp_path, "20261124215001Z")
    assert not keygen_takes(person, tmp_path, "20261031235959Z")
    assert keygen_takes(other, tmp_path, "20261124215001Z")
    assert places.trust_file().read_text("utf-8").startswith("# ours\n\n")
    row = rows(command)[0]
    assert (row["revoked"], row["valid_until"]) == ("2026-11-24T21:50:00Z",) * 2
    assert "REVOKED 2026-11-24T21:50:00Z" in command("keys", "list").lines[1]
    # an earlier date takes its place, a later one does not; by fingerprint as well as by name
    for at, wanted in (
        ("2026-12-01", "2026-11-24T21:50:00Z"),
        ("20261120Z", "2026-11-20T00:00:00Z"),
    ):
        assert command("keys", "revoke", mark, "--at", at).code == 0
        assert rows(command)[0]["revoked"] == wanted
    again = command("keys", "trust", "A Holt")
    assert again.code == 4
    assert f"{mark} is revoked; a revoked key never comes back" in again.err


def test_revoking_now_and_what_cannot_be_revoked(command: Command) -> None:
    people.new_key("A Holt", None, places.keys())
    assert command("keys", "revoke", "A Holt").code == 4
    command("keys", "trust", "A Holt")
    before = places.trust_file().read_bytes()
    said = command("keys", "revoke", "A Hold")
    assert said.code == 4
    assert "no key of 'A Hold' is there; known are: A Holt, SHA256:" in said.err
    said = command("keys", "revoke", "A Holt", "--at", "soon")
    assert said.code == 2
    assert places.trust_file().read_bytes() == before
    assert command("keys", "revoke", "A Holt").code == 0
    assert rows(command)[0]["revoked"] > "2026"


def test_bad_lines_are_told_all_with_their_places(command: Command) -> None:
    people.new_key("A Holt", None, places.keys())
    command("keys", "trust", "A Holt")
    with places.trust_file().open("a", encoding="utf-8") as stream:
        stream.write('"B Ray namespaces="x" ssh-ed25519 AAAA\nC nonsens="1" ssh-ed25519 AAAA\n')
    for words in (("list",), ("revoke", "A Holt")):
        said = command("keys", *words)
        assert said.code == 4
        first, second = said.err.splitlines()
        assert first.startswith(f"{places.trust_file()}, line 2, column 1: a line reads ")
        assert second.startswith(f"{places.trust_file()}, line 3, column 3: options 'nonsens")


def test_a_mistyped_name_gets_the_nearest_and_a_trusted_key_its_fingerprint(
    command: Command,
) -> None:
    people.new_key("Ida Rask", None, places.keys())
    said = command("keys", "trust", "Ida Raks")
    assert (said.code, said.out) == (4, "")
    assert said.err.rstrip().endswith("; nearest: Ida Rask")
    (row,) = rows(command)
    said = command("keys", "trust", "Ida Rask")
    assert said.err.startswith(f"{row['fingerprint']}: compare that with what Ida Rask has")
    said = command("keys", "revoke", "Ida Raks")
    assert said.code == 4
    assert said.err.rstrip().endswith("; nearest: Ida Rask")
    said = command("keys", "revoke", row["fingerprint"][:-1] + "x")
    assert said.err.rstrip().endswith(f"; nearest: {row['fingerprint']}")
