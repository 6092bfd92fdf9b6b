"""What stands in a verdict besides its word, each told by a log that differs in that alone.

Found, as in `test_single_refusals.py`, by taking each statement of the verifier away in turn.
"""

from __future__ import annotations

import copy
import io
from pathlib import Path
from typing import Any

import pytest

from audit import canonical, curve, sshsig
from audit.folder import LogFolder
from audit.reader import ends_without_line_feed
from audit.verdict import Verdict
from audit.verify import verify
from tests.audit.helpers import (
    START_MS,
    Clock,
    Forge,
    Person,
    check,
    event,
    saved_states,
    simple_log,
    trust_in,
)


def test_from_every_saved_state_the_verdict_is_that_of_the_whole(
    whole: tuple[Path, list[Person]],
) -> None:
    path, people = whole
    log, trust = path.read_bytes(), trust_in(people)
    for level in ("boundary", "full"):
        wanted = check(log, people, level)
        for state in saved_states(path, people, level):
            found = verify(io.BytesIO(log), level=level, trust=trust, start=state)
            assert found == wanted


def test_a_saved_state_knows_nothing_of_what_came_after_it(
    tmp_path: Path, crew: list[Person]
) -> None:
    forge = Forge(crew).open().add("event", event())
    other = copy.copy(forge)
    other.rows = [*forge.rows]
    forge.add("attach", {"length": 1, "name": "a", "sha256": "1" * 64})
    path = tmp_path / "forged-run.jsonl"
    path.write_bytes(forge.log)
    states = saved_states(path, crew)
    other.add("event", event()).close(acceptances=[4])
    for state in states[:5]:
        found = verify(io.BytesIO(other.log), level="full", trust=trust_in(crew), start=state)
        assert found.result == "closed"


def test_who_owes_is_said_in_every_phase(crew: list[Person]) -> None:
    one, two = (person.name for person in crew)
    forge = Forge(crew)
    forge.add("open", forge.opening())
    assert check(forge.log, crew).owed == (one, two)
    assert check(forge.sign("open-sig", crew[0], 0).log, crew).owed == (two,)
    forge.sign("open-sig", crew[1], 0)
    assert check(forge.log, crew).owed == ()
    resumed = len(forge.resume().rows) - 1
    assert check(forge.log, crew).owed == (one, two)
    for person in crew:
        forge.sign("resume-sig", person, resumed)
    assert check(forge.log, crew).owed == ()
    number = len(forge.rows)
    forge.add("close", {"acceptances": [], "count": number}).sign("close-sig", crew[1], number)
    assert check(forge.log, crew).owed == (one,)
    assert check(forge.sign("close-sig", crew[0], number, next="").log, crew).owed == ()


def test_whom_nobody_trusts_is_said_once(crew: list[Person]) -> None:
    closed = check(Forge(crew).open().close().log)
    assert (closed.result, closed.notes) == ("untrusted", ())
    assert closed.why.endswith(f"{crew[0].name}, {crew[1].name}")
    unclosed = check(Forge(crew).open().log)
    assert unclosed.notes == (f"not by trusted keys: {crew[0].name}, {crew[1].name}",)


def test_one_person_for_every_role_is_said(crew: list[Person]) -> None:
    solo = Forge(crew[:1], modes=["solo"]).open().close().log
    assert check(solo, crew).notes == ("not crew-verified: one person answered for every role",)
    assert check(Forge(crew).open().close().log, crew).notes == ()


def test_a_torn_log_is_looked_at_beside_too(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    log = simple_log(folder, crew, clock)
    other = log.with_name("another-name.jsonl")
    other.write_bytes(log.read_bytes()[:-9])
    verdict = check(other, crew)
    assert verdict.result == "torn"
    assert verdict.notes == (f"the file is not named after its run, {log.stem}",)


def test_where_the_lists_part_behind_the_last_line_the_last_is_named(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    log = simple_log(folder, crew, clock)
    rows = log.read_bytes().splitlines(keepends=True)
    for number in (0, 3, len(rows) + 5):
        verdict = verify(
            log, level="replayed", trust=trust_in(crew),
            replay=lambda lines, _, number=number: (number, "outcome", "another"),  # type: ignore[misc]
        )  # fmt: skip
        assert (verdict.result, verdict.line, verdict.level) == ("rejected", number, "replayed")
        before = min(number, len(rows) - 1)
        assert verdict.offset == sum(map(len, rows[:before]))


def test_an_approval_counts_at_the_time_of_the_opening(
    tmp_path: Path, crew: list[Person], clock: Clock
) -> None:
    approver = Person("Standards Pilot")
    content = b"title: Before start\n"
    sig = canonical.base64_text(approver.sign(sshsig.APPROVE, content))
    approval = {"key": approver.public_line, "name": approver.name, "sig": sig}
    with LogFolder.open(tmp_path / "logs") as folder:
        name = folder.store_document(content)
        document = {"approval": approval, "name": "before start", "sha256": name}
        log = simple_log(folder, crew, clock, documents=[document])
        everybody = [*crew, approver]
        trust = trust_in(everybody, after=START_MS, before=START_MS + 60_000)
        verdict = verify(log, level="full", trust=trust)
        assert (verdict.result, verdict.notes) == ("closed", ())


@pytest.mark.parametrize(
    ("modes", "said"),
    [
        (["crew"], ("2 of 3 documents were approved by nobody",)),
        (["crew", "rehearsal", "scripted"], ("2 of 3 documents were approved by nobody",)),
        (["crew", "draft"], ()),
        (["crew", "demonstration"], ()),
    ],
)
def test_documents_that_nobody_approved_are_said_unless_the_run_is_labelled_for_it(
    folder: LogFolder, crew: list[Person], clock: Clock, modes: list[str], said: tuple[str, ...]
) -> None:
    approver = Person("Standards Pilot")
    documents: list[dict[str, Any]] = []
    for number in range(3):
        content = f"title: List {number}\n".encode()
        sig = canonical.base64_text(approver.sign(sshsig.APPROVE, content))
        approval = {"key": approver.public_line, "name": approver.name, "sig": sig}
        documents.append(
            {
                "approval": None if number else approval,
                "name": f"list {number}",
                "sha256": folder.store_document(content),
            }
        )
    log = simple_log(folder, crew, clock, documents=documents, modes=modes)
    verdict = check(log, [*crew, approver])
    assert (verdict.result, verdict.notes) == ("closed", said)
    # it stands in the opening: said too where the documents themselves are not beside the log
    (folder.documents / documents[1]["sha256"]).unlink()
    missing = "1 of 3 documents are not beside the log"
    assert check(log, [*crew, approver]).notes == (*said, missing)


def test_an_end_without_line_feed_is_looked_for_from_where_one_is_told() -> None:
    stream = io.BytesIO(b"a\nb")
    assert ends_without_line_feed(stream, 2)
    assert not ends_without_line_feed(stream, 0)
    assert not ends_without_line_feed(stream, 1)


def test_a_key_of_another_length_fits_nothing() -> None:
    assert not curve.verifies(b"short", bytes(64), b"m")


def told(
    result: str = "closed", asked: str = "full", level: str = "full", labels: tuple[str, ...] = ()
) -> Verdict:
    return Verdict(
        result, asked, level, 0, 0, "", "9 lines", (), labels, ("a note",), {}, (), 9, "0" * 64, ()
    )


ALSO = "must be named to count: --also"


@pytest.mark.parametrize(
    ("verdict", "also", "why"),
    [
        (told(), set(), ""),
        (told("unclosed", labels=("draft",)), set(), ""),
        (told(labels=("draft",)), {"draft"}, ""),
        (told(labels=("draft",)), set(), f"draft {ALSO} draft"),
        (told(labels=("demonstration", "scripted")), {"scripted"},
         f"demonstration {ALSO} demonstration,scripted"),
        (told(labels=("demonstration", "scripted")), set(),
         f"demonstration and scripted {ALSO} demonstration,scripted"),
        (told(asked="replayed"), set(), "replayed was asked and full is what was verified"),
        (told(asked="replayed", labels=("draft",)), set(),
         f"replayed was asked and full is what was verified; draft {ALSO} draft"),
    ],
    ids=str,
)  # fmt: skip
def test_why_a_closed_log_does_not_count(verdict: Verdict, also: set[str], why: str) -> None:
    said = f"DOES NOT COUNT: {why}" if why else ""
    assert verdict.uncounted(also) == said
    before = verdict.text("x.jsonl")
    assert "COUNT" not in before
    assert verdict.text("x.jsonl", also) == (f"{before}; {said}" if said else before)
