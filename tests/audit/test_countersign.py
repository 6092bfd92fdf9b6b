"""A supervisor's word beside a log: told, checked, never more than a word."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from audit import canonical, countersign, sshsig
from audit.errors import CountersignError
from audit.folder import LogFolder
from audit.people import new_key
from audit.recovery import recover
from audit.stamps import Stamp
from audit.trust import DEMONSTRATION, Allowed, Trust
from audit.verdict import Verdict
from audit.verify import verify
from audit.writer import LogWriter
from tests.audit.helpers import Clock, Person, event, opening, simple_log, trust_in

BOSS = "Ida Rask"
NOTE = "read against the paper"
needs_ssh_keygen = pytest.mark.skipif(
    shutil.which("ssh-keygen") is None, reason="ssh-keygen is not installed"
)


@pytest.fixture
def boss() -> Person:
    return Person(BOSS)


@pytest.fixture
def log(folder: LogFolder, crew: list[Person], clock: Clock) -> Path:
    return simple_log(folder, crew, clock)


def said(log: Path, people: list[Person], trust: Trust | None = None) -> Verdict:
    return verify(log, level="full", trust=trust or trust_in(people))


def give(
    log: Path, person: Person, clock: Clock, verdict: str = "accepted", note: str = NOTE
) -> countersign.Word:
    found = verify(log, level="full", trust=None)
    return countersign.give(log, found, verdict, note, person, clock())


def rewritten(log: Path, person: Person, **changes: Any) -> None:
    """One word with other fields, signed as it stands: what somebody with the key could write."""
    path = countersign.file_of(log)
    body = canonical.read(path.read_bytes().splitlines()[0])["body"]
    body = {key: value for key, value in {**body, **changes}.items() if value is not ...}
    blob = person.sign(sshsig.COUNTERSIGN, countersign.message_of(body))
    row = canonical.spell({"body": body, "sig": canonical.base64_text(blob)})
    path.write_bytes(row + b"\n")


def test_a_countersigned_log(log: Path, crew: list[Person], boss: Person, clock: Clock) -> None:
    before = said(log, [*crew, boss])
    word = give(log, boss, clock)
    assert (word.name, word.verdict, word.note, word.head) == (BOSS, "accepted", NOTE, before.head)
    after = said(log, [*crew, boss])
    assert after.notes == (f"countersigned accepted by {BOSS} ({NOTE})",)
    assert (after.result, after.head, after.counts()) == ("closed", before.head, True)
    assert log.with_suffix(".countersign").read_bytes().count(b"\n") == 1


def test_several_supervisors(log: Path, crew: list[Person], boss: Person, clock: Clock) -> None:
    other = Person("Nils Berg")
    give(log, boss, clock, "returned", "the landing is not marked")
    give(log, other, clock)
    assert said(log, [*crew, boss, other]).notes == (
        f"countersigned returned by {BOSS} (the landing is not marked)",
        f"countersigned accepted by Nils Berg ({NOTE})",
    )
    assert [word.name for word in countersign.read(log)] == [BOSS, "Nils Berg"]


def test_a_word_makes_nothing_closed(
    folder: LogFolder, crew: list[Person], boss: Person, clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    writer.event(event(), clock())
    writer.stop()
    log = folder.path_of(writer.run)
    give(log, boss, clock)
    found = said(log, [*crew, boss])
    assert (found.result, found.code, found.counts()) == ("unclosed", "open", False)
    assert found.notes == (f"countersigned accepted by {BOSS} ({NOTE})",)
    # nor does it make a log trusted
    other = simple_log(folder, crew, clock)
    give(other, boss, clock)
    assert said(other, [boss]).result == "untrusted"


def test_a_word_on_an_earlier_line_is_named_as_that(
    folder: LogFolder, crew: list[Person], boss: Person, clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    writer.stop()
    log = folder.path_of(writer.run)
    give(log, boss, clock)
    writer = LogWriter.resume(recover(folder, writer.run), clock(), None)
    for person in crew:
        writer.sign_resume(person, clock())
    writer.close([], crew, clock())
    found = said(log, [*crew, boss])
    assert found.result == "closed"
    assert (
        f"not countersigned: accepted by {BOSS} ({NOTE}) was over line 2, not over its end"
        in found.notes
    )


def test_a_word_over_another_head_is_refused(
    log: Path, crew: list[Person], boss: Person, clock: Clock
) -> None:
    give(log, boss, clock)
    rewritten(log, boss, head="0" * 64)
    found = said(log, [*crew, boss])
    assert (found.result, found.code) == ("rejected", "countersign")
    assert "a head that is not in this log" in found.why
    assert found.line == found.lines - 1


@pytest.mark.parametrize("field", ["run", "device"])
def test_a_word_on_another_run_is_refused(
    log: Path, crew: list[Person], boss: Person, clock: Clock, field: str
) -> None:
    give(log, boss, clock)
    rewritten(log, boss, **{field: "another-run" if field == "run" else "0" * 64})
    found = said(log, [*crew, boss])
    assert (found.result, found.code) == ("rejected", "countersign")


def test_the_words_of_one_run_beside_another(
    folder: LogFolder, crew: list[Person], boss: Person, clock: Clock
) -> None:
    one, two = simple_log(folder, crew, clock), simple_log(folder, crew, clock)
    give(one, boss, clock)
    shutil.copy(countersign.file_of(one), countersign.file_of(two))
    assert said(two, [*crew, boss]).code == "countersign"


def test_who_is_not_trusted_has_not_countersigned(
    log: Path, crew: list[Person], boss: Person, clock: Clock
) -> None:
    word = give(log, boss, clock)
    not_counted = (f"not countersigned: accepted by {BOSS} ({NOTE}), who is not trusted for that",)
    assert said(log, crew).notes == not_counted
    others = [Allowed(person.name, person.key, None, None, None) for person in crew]
    for line in (
        Allowed(BOSS, boss.key, sshsig.CLOSE, None, None),
        Allowed("Another Name", boss.key, None, None, None),
        Allowed(BOSS, boss.key, None, None, word.wall_ms - 1),
        Allowed(BOSS, boss.key, None, word.wall_ms + 1, None),
    ):
        found = said(log, [], Trust([*others, line]))
        assert (found.result, found.notes) == ("closed", not_counted)
    marked = Allowed(f"{BOSS},{DEMONSTRATION}", boss.key, None, None, None)
    found = said(log, [], Trust([*others, marked]))
    assert found.notes == (f"countersigned accepted by {BOSS} ({NOTE}) with a demonstration key",)


def test_the_crew_cannot_countersign_themselves(
    log: Path, crew: list[Person], boss: Person, clock: Clock
) -> None:
    with pytest.raises(CountersignError, match="was on the roster"):
        give(log, crew[0], clock)
    namesake = Person(crew[0].name)
    with pytest.raises(CountersignError, match="was on the roster"):
        give(log, namesake, clock)
    assert not countersign.file_of(log).exists()
    # and what a member of the crew writes there all the same is no countersignature
    give(log, boss, clock)
    rewritten(log, crew[0], name=crew[0].name)
    found = said(log, [*crew, boss])
    assert found.result == "closed"
    assert found.notes == (
        f"not countersigned: accepted by {crew[0].name} ({NOTE}), who was on its roster",
    )
    rewritten(log, crew[0], name=BOSS)
    trust = Trust([Allowed("*", person.key, None, None, None) for person in crew])
    assert "who was on its roster" in said(log, [], trust).notes[0]


@pytest.mark.parametrize("other", [None, "name", "key"])
def test_who_came_aboard_later_cannot_countersign_it_either(
    folder: LogFolder, crew: list[Person], boss: Person, clock: Clock, other: str | None
) -> None:
    relief = Person("Tor Lie")
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    change = {"key": relief.public_line, "name": relief.name, "role": "copilot"}
    writer.event(event(crew_change=change), clock())
    writer.close([], [*crew, relief], clock())
    log = folder.path_of(writer.run)
    # the same person by the name or the key alone
    twin = Person(relief.name if other == "name" else "Another Name")
    if other == "key":
        twin.private, twin.key = relief.private, relief.key
    supervisor = relief if other is None else twin
    with pytest.raises(CountersignError, match="was on the roster"):
        give(log, supervisor, clock)
    assert not countersign.file_of(log).exists()
    give(log, boss, clock)
    rewritten(log, supervisor, name=supervisor.name)
    found = said(log, [*crew, relief, supervisor, boss])
    assert found.result == "closed"
    assert found.notes == (
        f"not countersigned: accepted by {supervisor.name} ({NOTE}), who was on its roster",
    )


@pytest.mark.parametrize(
    ("verdict", "note", "why"),
    [
        ("perhaps", NOTE, "accepted or returned"),
        ("accepted", "", "1 to 500 characters"),
        ("accepted", "x" * 501, "1 to 500 characters"),
        ("accepted", "two\nlines", "control character"),
        ("accepted", "e\u0301", "normal form C"),
    ],
)
def test_a_word_that_cannot_be(
    log: Path, boss: Person, clock: Clock, verdict: str, note: str, why: str
) -> None:
    with pytest.raises(CountersignError, match=why):
        give(log, boss, clock, verdict, note)
    assert not countersign.file_of(log).exists()


BAD: list[dict[str, Any]] = [
    {"format": 2}, {"format": "1"}, {"format": True}, {"device": "x"}, {"head": "x"},
    {"run": "A"}, {"run": 1}, {"name": "a,b"}, {"note": ""}, {"note": 1}, {"time": "now"},
    {"time": 1}, {"verdict": "closed"}, {"verdict": None}, {"extra": 1}, {"note": ...},
]  # fmt: skip


@pytest.mark.parametrize("changes", BAD, ids=str)
def test_a_word_of_another_shape_is_refused(
    log: Path, crew: list[Person], boss: Person, clock: Clock, changes: dict[str, Any]
) -> None:
    give(log, boss, clock)
    rewritten(log, boss, **changes)
    found = said(log, [*crew, boss])
    assert (found.result, found.code) == ("rejected", "countersign")


def test_no_change_of_one_byte_is_taken(
    log: Path, crew: list[Person], boss: Person, clock: Clock
) -> None:
    give(log, boss, clock)
    path = countersign.file_of(log)
    good = path.read_bytes()
    for at in range(len(good)):
        for bad in (good[:at] + bytes([good[at] ^ 1]) + good[at + 1 :], good[:at] + good[at + 1 :]):
            path.write_bytes(bad)
            with pytest.raises(CountersignError):
                countersign.read(log)
    for bad in (good + b"x", good + b"\n", b"\n" + good, good[:-1]):
        path.write_bytes(bad)
        assert said(log, [*crew, boss]).code == "countersign"
    path.write_bytes(b"x" * (countersign.LARGEST_FILE + 1))
    with pytest.raises(CountersignError, match="larger than"):
        countersign.read(log)


def test_nothing_is_written_behind_a_torn_word(log: Path, boss: Person, clock: Clock) -> None:
    give(log, boss, clock)
    path = countersign.file_of(log)
    torn = path.read_bytes()[:-9]
    path.write_bytes(torn)
    with pytest.raises(CountersignError, match="incomplete"):
        give(log, boss, clock)
    assert path.read_bytes() == torn


def test_a_word_that_cannot_be_written_is_said(
    log: Path, boss: Person, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(fd: int) -> None:
        raise OSError(28, os.strerror(28))

    give(log, boss, clock)
    monkeypatch.setattr("audit.durable.sync", full)
    with pytest.raises(CountersignError, match=r"No space left.*look whether the word stands"):
        give(log, boss, clock)


def test_a_signature_for_something_else_is_no_word(
    log: Path, crew: list[Person], boss: Person, clock: Clock
) -> None:
    give(log, boss, clock)
    path = countersign.file_of(log)
    body = canonical.read(path.read_bytes()[:-1])["body"]
    for namespace, message in (
        (sshsig.APPROVE, countersign.message_of(body)),
        (sshsig.COUNTERSIGN, canonical.spell(body)),
        (sshsig.COUNTERSIGN, log.read_bytes().splitlines(keepends=True)[-1]),
    ):
        blob = canonical.base64_text(boss.sign(namespace, message))
        path.write_bytes(canonical.spell({"body": body, "sig": blob}) + b"\n")
        assert said(log, [*crew, boss]).code == "countersign"


@pytest.fixture
def keygen(tmp_path: Path, log: Path) -> Callable[..., subprocess.CompletedProcess[bytes]]:
    def run(*words: object, message: bytes) -> subprocess.CompletedProcess[bytes]:
        return subprocess.run(
            ["ssh-keygen", "-Y", *map(str, words)], input=message, capture_output=True, check=False
        )

    return run


@needs_ssh_keygen
def test_ssh_keygen_agrees_with_a_word_given_here(
    log: Path, boss: Person, clock: Clock, tmp_path: Path,
    keygen: Callable[..., subprocess.CompletedProcess[bytes]],
) -> None:  # fmt: skip
    word = give(log, boss, clock)
    allowed, signature = tmp_path / "allowed_signers", tmp_path / "word.sig"
    allowed.write_text(f'"{BOSS}" namespaces="{sshsig.COUNTERSIGN}" {boss.public_line}\n', "utf-8")
    signature.write_text(sshsig.armor(word.blob), "ascii")
    words = ("verify", "-f", allowed, "-I", BOSS, "-n", sshsig.COUNTERSIGN, "-s", signature)
    assert keygen(*words, message=word.message).returncode == 0
    assert keygen(*words, message=word.message[:-1]).returncode != 0


@needs_ssh_keygen
def test_a_word_that_ssh_keygen_signs_is_taken(
    log: Path, crew: list[Person], tmp_path: Path, clock: Clock,
    keygen: Callable[..., subprocess.CompletedProcess[bytes]],
) -> None:  # fmt: skip
    path = new_key(BOSS, None, tmp_path)
    key, _ = sshsig.parse_public_line(path.with_name(path.name + ".pub").read_text("utf-8"))

    class ByKeygen:
        name = BOSS

        def __init__(self) -> None:
            self.key = key

        def sign(self, namespace: str, message: bytes) -> bytes:
            done = keygen("sign", "-f", path, "-n", namespace, message=message)
            assert done.returncode == 0, done.stderr
            return sshsig.dearmor(done.stdout.decode("ascii"))

    found = verify(log, level="full", trust=None)
    stamp: Stamp = clock()
    countersign.give(log, found, "accepted", NOTE, ByKeygen(), stamp)
    people = [Allowed(person.name, person.key, None, None, None) for person in crew]
    trust = Trust([*people, Allowed(BOSS, key, sshsig.COUNTERSIGN, None, None)])
    assert said(log, [], trust).notes == (f"countersigned accepted by {BOSS} ({NOTE})",)
