"""`approve` and what a run takes: whole sets, by somebody trusted, as they were signed."""

from __future__ import annotations

import json
import shlex
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from audit.line import parse
from audit.people import load_signer, new_key
from audit.sshsig import APPROVE
from audit.trust import allowed_line, revoke_key
from runner.host import places
from tests.runner.commands.conftest import APPROVER, DATA, Command, logs

needs_keygen = pytest.mark.skipif(not shutil.which("ssh-keygen"), reason="ssh-keygen is not here")
Script = Callable[..., Path]
LIST = "lists/check.yaml"


@pytest.fixture
def folder(short: str, tmp_path: Path) -> Path:
    """The folder of the shortest day, approved and enrolled."""
    return tmp_path / "aircraft" / "short"


def opening(registration: str) -> dict[str, object]:
    log = next(logs(registration).glob("*.jsonl"))
    return dict(parse(log.read_bytes().splitlines(keepends=True)[0]).data)


def refused(command: Command, script: Script, short: str = "TV-T2") -> str:
    """What a run says that takes these documents only as a draft."""
    said = command("run", short, "--answers", script("page read"))
    assert said.code == 1
    assert not logs(short).exists()
    assert "--draft" in said.err
    assert "latchword approve" in said.err
    draft = command("run", short, "--draft", "--answers", script("page read"))
    assert draft.code == 75
    assert "draft" in opening(short)["modes"]  # type: ignore[operator]
    return said.err


def test_the_opening_carries_the_approvals_and_the_verifier_takes_them(
    command: Command, short: str, folder: Path, script: Script
) -> None:
    assert command("run", short, "--answers", script("page read")).code == 75
    documents = opening(short)["documents"]
    assert isinstance(documents, list)
    assert [one["name"] for one in documents] == ["aircraft.yaml", LIST]
    assert {one["approval"]["name"] for one in documents} == {APPROVER}
    assert opening(short)["modes"] == ["crew", "scripted"]
    assert "approved by" not in command("verify", logs(short)).out
    assert "2 of 2 documents approved by Nora Vale" in command("show").out
    places.trust_file().write_text("", "utf-8")
    said = command("verify", logs(short)).out
    assert f"document {LIST} is approved by {APPROVER}, who is not trusted" in said


def test_a_copied_folder_stays_approved(
    command: Command, folder: Path, tmp_path: Path, script: Script
) -> None:
    copy = shutil.copytree(folder, tmp_path / "elsewhere")
    shutil.rmtree(folder)
    assert "approved by Nora Vale" in command("enrol", copy, "--registration", "TV-T2").out
    assert command("run", "TV-T2", "--answers", script("page read")).code == 75


def test_a_changed_document_is_refused(command: Command, folder: Path, script: Script) -> None:
    with (folder / LIST).open("a", encoding="utf-8") as stream:
        stream.write("# one more word\n")
    assert f"{LIST}: was changed after it was approved by {APPROVER}" in refused(command, script)


def test_an_added_document_is_refused(command: Command, folder: Path, script: Script) -> None:
    text = (folder / LIST).read_text("utf-8").replace("list: check", "list: more")
    text = text.replace("title: Check", "title: More").replace("close: Check", "close: More")
    (folder / "lists" / "more.yaml").write_text(text, "utf-8")
    aircraft = folder / "aircraft.yaml"
    aircraft.write_text(aircraft.read_text("utf-8").replace("[check]", "[check, more]"), "utf-8")
    said = refused(command, script)
    assert "lists/more.yaml: was not approved" in said
    assert "aircraft.yaml: was changed" in said


def test_a_document_that_is_gone_is_missed(
    command: Command, folder: Path, script: Script, approver: Path
) -> None:
    statement = folder / "approval.json"
    body = json.loads(statement.read_text("utf-8"))
    body["documents"].append({**body["documents"][1], "name": "lists/gone.yaml"})
    statement.write_text(json.dumps(body), "utf-8")
    (folder / "approval.json.sig").unlink()
    assert "approval.json.sig cannot be read" in command("enrol", folder, "--registration", "X").out
    signed = load_signer(approver, None).sign(APPROVE, statement.read_bytes())
    from audit.sshsig import armor

    (folder / "approval.json.sig").write_text(armor(signed), "utf-8")
    assert "gone.yaml: was approved by Nora Vale" in refused(command, script)


def test_a_statement_that_was_edited_is_refused(
    command: Command, folder: Path, script: Script
) -> None:
    statement = folder / "approval.json"
    statement.write_text(statement.read_text("utf-8").replace("Wren", "Lark"), "utf-8")
    assert "approval.json: is not signed as it stands" in refused(command, script)


@pytest.mark.parametrize("text", ["", "[]", "{", '{"format": 2}', '{"format": 1}', "[" * 100_000])
def test_what_is_no_statement_is_refused(
    command: Command, folder: Path, script: Script, text: str
) -> None:
    (folder / "approval.json").write_text(text, "utf-8")
    assert "is no statement of approval of format 1" in refused(command, script)


def test_without_any_statement_nothing_is_approved(
    command: Command, folder: Path, script: Script
) -> None:
    (folder / "approval.json").unlink()
    assert "were never approved" in refused(command, script)


def test_a_signature_of_another_document_does_not_do(
    command: Command, folder: Path, script: Script
) -> None:
    shutil.copy(folder / "aircraft.yaml.sig", folder / f"{LIST}.sig")
    assert f"{LIST}: its signature does not hold" in refused(command, script)


def test_somebody_nobody_trusts_approves_nothing(
    command: Command, folder: Path, script: Script, tmp_path: Path
) -> None:
    stranger = new_key("Per Wick", None, tmp_path / "strange")
    said = command("approve", folder, "--key", stranger)
    assert said.code == 0
    assert "nobody here trusts" in said.err
    assert "which nobody here trusts" in refused(command, script)
    # what the message tells to type is what makes the approval count
    words = shlex.split(said.err.partition("latchword keys trust ")[2].splitlines()[0])
    assert words[:2] == ["Per Wick", "--key"]
    assert command("keys", "trust", *words).code == 0
    assert command("run", "TV-T2", "--answers", script("page read")).code == 75


def test_a_revoked_key_approves_nothing(command: Command, folder: Path, script: Script) -> None:
    revoke_key(places.trust_file(), APPROVER, "20990101Z")
    assert "a key that was revoked" in refused(command, script)


@pytest.mark.parametrize(
    "dates", [{"valid_before": "20200101Z"}, {"valid_after": "20990101Z"}], ids=str
)
def test_a_key_counts_between_its_dates(
    command: Command, folder: Path, script: Script, approver: Path, dates: dict[str, str]
) -> None:
    key = load_signer(approver, None).key
    places.trust_file().write_text(allowed_line(APPROVER, key, **dates), "utf-8")  # type: ignore[arg-type]
    assert "not trusted to approve in that name at that time" in refused(command, script)


def test_a_key_of_the_demonstration_approves_nothing(
    command: Command, folder: Path, script: Script, approver: Path
) -> None:
    key = load_signer(approver, None).key
    line = allowed_line(APPROVER, key, demonstration=True)
    places.trust_file().write_text(line, "utf-8")
    assert "a key of the demonstration" in refused(command, script)


def test_one_document_is_approved_and_the_others_keep_theirs(
    command: Command, folder: Path, script: Script, tmp_path: Path
) -> None:
    with (folder / LIST).open("a", encoding="utf-8") as stream:
        stream.write("# one more word\n")
    second = new_key("Ole Fry", None, tmp_path / "second")
    public = f"{second}.pub"
    assert command("keys", "trust", "Ole Fry", "--key", public).code == 0
    said = command("approve", folder / LIST, "--key", second)
    assert (said.code, said.err.count("not approved yet")) == (0, 0)
    assert command("run", "TV-T2", "--answers", script("page read")).code == 75
    documents = opening("TV-T2")["documents"]
    assert isinstance(documents, list)
    assert [one["approval"]["name"] for one in documents] == [APPROVER, "Ole Fry"]


def test_one_document_alone_leaves_the_rest_unapproved_and_says_so(
    command: Command, tmp_path: Path, approver: Path
) -> None:
    folder = shutil.copytree(DATA / "short", tmp_path / "short")
    said = command("approve", folder / LIST, "--key", approver)
    assert "not approved yet: aircraft.yaml" in said.err
    enrolled = command("enrol", folder, "--registration", "TV-T7").out
    assert "aircraft.yaml: was not approved" in enrolled


def test_what_has_a_fault_is_not_approved(command: Command, tmp_path: Path, approver: Path) -> None:
    folder = shutil.copytree(DATA / "short", tmp_path / "short")
    (folder / LIST).write_text("list: check\n", "utf-8")
    said = command("approve", folder, "--key", approver)
    assert said.code == 1
    assert "nothing was approved" in said.err
    assert not list(folder.rglob("*.sig"))
    alone = tmp_path / "alone.yaml"
    shutil.copy(DATA / "short" / LIST, alone)
    assert "belongs to no aircraft" in command("approve", alone, "--key", approver).err
    assert command("approve", DATA / "short").code == 2


def test_the_passphrase_is_asked_for_once(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    typed = iter(["wrong", "open sesame"])
    monkeypatch.setattr("getpass.getpass", lambda prompt: next(typed))
    folder = shutil.copytree(DATA / "short", tmp_path / "short")
    key = new_key("Ole Fry", "open sesame", tmp_path / "keys")
    assert command("approve", folder, "--key", key).code == 0
    assert len(list(folder.rglob("*.sig"))) == 3
    assert next(typed, "none left") == "none left"


@needs_keygen
def test_ssh_keygen_accepts_every_signature(folder: Path) -> None:
    for path in (folder / "aircraft.yaml", folder / LIST, folder / "approval.json"):
        words = ["ssh-keygen", "-Y", "verify", "-f", str(places.trust_file()), "-I", APPROVER]
        words += ["-n", APPROVE, "-s", f"{path}.sig"]
        good = subprocess.run(words, input=path.read_bytes(), capture_output=True, check=False)
        assert good.returncode == 0, good.stderr
        changed = path.read_bytes() + b" "
        bad = subprocess.run(words, input=changed, capture_output=True, check=False)
        assert bad.returncode != 0


@needs_keygen
def test_a_run_takes_what_ssh_keygen_signed(
    command: Command, folder: Path, script: Script, approver: Path
) -> None:
    ours = (folder / f"{LIST}.sig").read_bytes()
    for path in (folder / LIST, folder / "approval.json"):
        path.with_name(path.name + ".sig").unlink()
        subprocess.run(
            ["ssh-keygen", "-q", "-Y", "sign", "-f", str(approver), "-n", APPROVE, str(path)],
            capture_output=True, check=True,
        )  # fmt: skip
    assert (folder / f"{LIST}.sig").read_bytes() == ours
    assert command("run", "TV-T2", "--answers", script("page read")).code == 75


def test_the_demonstration_takes_unapproved_documents_and_says_so(
    command: Command, script: Script, tmp_path: Path
) -> None:
    answers = script("page read")
    assert command("demo", "--answers", answers, "--log-dir", tmp_path / "demo").code == 75
    log = next((tmp_path / "demo").glob("*.jsonl"))
    data = parse(log.read_bytes().splitlines(keepends=True)[0]).data
    assert "demonstration" in data["modes"]
    assert {one["approval"] for one in data["documents"]} == {None}
