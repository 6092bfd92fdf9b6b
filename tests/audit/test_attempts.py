"""Who may try what: each attempt that the lines themselves must stop, made and named.

The forger here holds every key it says it holds; what stops it is said by the code.
"""

import hashlib
import io
from pathlib import Path
from typing import Any

import pytest

from audit import canonical, sshsig
from audit.chain import findings
from audit.folder import LogFolder
from audit.line import head_of
from audit.recovery import recover
from audit.trust import Allowed, Trust
from audit.verify import verify
from audit.writer import LogWriter
from tests.audit.helpers import (
    START_MS,
    Clock,
    Forge,
    Person,
    check,
    code_of,
    event,
    opening,
    simple_log,
    trust_in,
)


def test_the_forger_can_write_a_good_log(crew: list[Person]) -> None:
    forge = Forge(crew).open().add("event", event()).close()
    assert check(forge.log, crew).counts()


def test_change_reorder_insert(crew: list[Person]) -> None:
    rows = Forge(crew).open().add("event", event(1)).add("event", event(2)).close().rows
    changed = rows[3].replace(b'"1600"', b'"1700"')
    assert code_of(b"".join([*rows[:3], changed, *rows[4:]])) == "signature"
    assert code_of(b"".join([*rows[:3], rows[4], rows[3], *rows[5:]])) == "seq"
    other = Forge(crew).open().add("event", event(3)).rows[3]
    assert code_of(b"".join([*rows[:3], other, *rows[4:]])) == "prev"
    # a line re-signed by a key of one's own
    forge = Forge(crew).open()
    forge.add("event", event(), key=Forge(crew).key)
    assert code_of(forge.log) == "signature"


def test_cut_the_tail(crew: list[Person]) -> None:
    rows = Forge(crew).open().add("event", event(1)).add("event", event(2)).close().rows
    for length in range(1, len(rows)):
        verdict = check(b"".join(rows[:length]), crew)
        assert verdict.result == "unclosed"
        assert not verdict.counts({"crew"})
    # with the last key at hand (the machine in use): closing again over fewer lines, or lying
    # about the count
    assert code_of(Forge(crew).open().add("event", event(1)).close(count=9).log) == "count"


def test_cut_and_resume_with_an_invented_rest(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    log = simple_log(folder, crew, clock, events=4)
    rows = log.read_bytes().splitlines(keepends=True)
    forge = Forge(crew)
    forge.rows = rows[:5]
    forge.head = head_of(rows[4])
    forge.clock = clock
    forge.resume().add("event", event(99))
    resumed = 5
    assert check(forge.log, crew).result == "unclosed"
    # the crew's signatures of before do not fit, and nobody else's count
    strangers = [Person(person.name) for person in crew]
    forge.sign("resume-sig", strangers[0], resumed)
    assert code_of(forge.log, crew) == "person-key"
    # closed without vouching
    forge = Forge(crew).open().resume().close()
    assert code_of(forge.log, crew) == "owed"
    # all vouch: it may close, and the verdict says so
    forge = Forge(crew).open().resume().add("event", event(99))
    for person in crew:
        forge.sign("resume-sig", person, 3)
    verdict = check(forge.close().log, crew)
    assert verdict.counts()
    assert verdict.notes == ("resumed once: lines before it are proven only by a witness",)


def test_a_resume_signature_covers_the_head_reached(crew: list[Person]) -> None:
    forge = Forge(crew).open().resume()
    early = crew[0].sign(sshsig.RESUME, forge.rows[3] + forge.head.encode() + b"\n")
    forge.add("event", event(99)).sign("resume-sig", crew[0], 3, blob=early)
    assert code_of(forge.log, crew) == "person-signature"
    forge = Forge(crew).open().resume()
    forge.sign("resume-sig", crew[0], 3, blob=crew[0].sign(sshsig.RESUME, forge.rows[3]))
    assert code_of(forge.log, crew) == "person-signature"


def test_a_signature_before_a_desk_resume_does_not_serve_after_it(crew: list[Person]) -> None:
    forge = Forge(crew).open()
    forge.add("close", {"acceptances": [], "count": 3})
    old = crew[0].sign(sshsig.CLOSE, forge.rows[3])
    forge.resume().sign("close-sig", crew[0], 4, blob=old)
    assert code_of(forge.log) == "person-signature"
    forge = Forge(crew).open()
    forge.add("close", {"acceptances": [], "count": 3})
    forge.resume().sign("close-sig", crew[0], 3)
    assert code_of(forge.log) == "order"


def test_delete_a_run(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    logs = [simple_log(folder, crew, clock) for _ in range(4)]
    assert findings([folder.path]) == []
    kept = {log: log.read_bytes() for log in logs}
    logs[1].unlink()
    assert [(found.code, found.run_seq) for found in findings([folder.path])] == [("missing", 2)]
    logs[2].unlink()
    (found,) = findings([folder.path])
    assert "runs 2 to 3" in found.why
    logs[1].write_bytes(kept[logs[1]])
    logs[0].unlink()
    assert [found.run_seq for found in findings([folder.path])] == [1, 3]


def test_a_file_that_is_no_log_is_said(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    log = simple_log(folder, crew, clock)
    log.write_bytes(b"x" + log.read_bytes())
    assert [(found.code, found.why) for found in findings([folder.path])] == [
        ("foreign", f"{log.name} does not begin as a log")
    ]


def test_replace_a_run(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    first, second = simple_log(folder, crew, clock), simple_log(folder, crew, clock)
    forge = Forge(crew, head=folder.device)
    forge.open(run=first.stem, device=folder.device).add("event", event(7)).close()
    first.write_bytes(forge.log)
    assert check(first, crew).result == "closed"
    assert [(found.code, found.run_seq) for found in findings([folder.path])] == [("unchained", 2)]
    assert second.stem in findings([folder.path])[0].why


def test_fork_or_roll_back_the_machine(tmp_path: Path, crew: list[Person], clock: Clock) -> None:
    with LogFolder.open(tmp_path / "a") as folder:
        simple_log(folder, crew, clock)
        for log in folder.path.glob("*.jsonl"):
            (tmp_path / log.name).write_bytes(log.read_bytes())
        log.unlink()
        simple_log(folder, crew, clock)
        for log in folder.path.glob("*.jsonl"):
            (tmp_path / log.name).write_bytes(log.read_bytes())
    assert [(found.code, found.run_seq) for found in findings([tmp_path])] == [("forked", 1)]


def test_splice_another_runs_lines(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    one = simple_log(folder, crew, clock).read_bytes().splitlines(keepends=True)
    two = simple_log(folder, crew, clock).read_bytes().splitlines(keepends=True)
    for at in range(1, len(one)):
        assert code_of(b"".join([*one[:at], *two[at:]])) == "prev"
    # the opening of one run, its signatures of another
    forge, other = Forge(crew), Forge(crew)
    forge.add("open", forge.opening())
    other.add("open", other.opening(run="another-run"))
    forge.sign("open-sig", crew[0], 0, message=other.rows[0])
    assert code_of(forge.log) == "person-signature"
    # the first run of a device begins at the device
    assert code_of(Forge(crew, head="e" * 64).open().log) == "prev"


def test_move_the_clock(crew: list[Person]) -> None:
    clock = Clock()
    forge = Forge(crew, clock=clock).open().add("event", event())
    clock.wall += 3_600_000
    forge.add("event", event())
    clock.wall -= 1_000
    forge.add("event", event())
    clock.wall -= 7_200_000
    verdict = check(forge.add("event", event()).close().log, crew)
    assert verdict.result == "closed"
    assert verdict.notes == ("clock moved 2 times against boot time, first at line 4 by +3600.0 s",)
    clock = Clock()
    forge = Forge(crew, clock=clock).open()
    clock.mono -= 5_000
    assert code_of(forge.add("event", event()).log) == "stamp"
    clock = Clock()
    forge = Forge(crew, clock=clock).open()
    clock.reboot()
    assert check(forge.add("event", event()).close().log, crew).notes == ()


def test_swap_the_flow(tmp_path: Path, crew: list[Person], clock: Clock) -> None:
    with LogFolder.open(tmp_path) as folder:
        content = b"title: Before start\n"
        approver = Person("Standards Pilot")
        approval = {
            "key": approver.public_line,
            "name": approver.name,
            "sig": canonical.base64_text(approver.sign(sshsig.APPROVE, content)),
        }
        name = folder.store_document(content)
        document = {"approval": approval, "name": "before start", "sha256": name}
        log = simple_log(folder, crew, clock, documents=[document])
        assert check(log, [*crew, approver]).notes == ()
        assert "not trusted for that" in check(log, crew).notes[0]
        (folder.documents / name).write_bytes(b"title: After start\n")
        verdict = check(log, [*crew, approver])
        assert (verdict.result, verdict.code, verdict.line) == ("rejected", "document", 0)
        (folder.documents / name).unlink()
        assert check(log, [*crew, approver]).notes == ("1 of 1 documents are not beside the log",)
        # an approval of another document
        wrong = {**approval, "sig": canonical.base64_text(approver.sign(sshsig.APPROVE, b"x"))}
        folder.store_document(content)
        log = simple_log(folder, crew, clock, documents=[{**document, "approval": wrong}])
        assert check(log, [*crew, approver]).code == "approval"


def test_change_an_attachment(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    clip = folder.path / "clip.wav"
    clip.write_bytes(b"RIFF")
    digest = hashlib.sha256(b"RIFF").hexdigest()
    writer.attach("clip.wav", 4, digest, clock())
    writer.close([], crew, clock())
    log = folder.path_of(writer.run)
    assert check(log, crew).notes == ()
    clip.write_bytes(b"RIFX")
    assert (check(log, crew).code, check(log, crew).line) == ("attachment", 3)
    clip.unlink()
    assert check(log, crew).notes == ("attachment clip.wav is not beside the log",)


@pytest.mark.parametrize("version", [0, 2, "1", None, True])
def test_talk_the_format_down(crew: list[Person], version: Any) -> None:
    assert code_of(Forge(crew).open(format=version).log) == "format"
    for other in ("latchword-v2", "latchword-v0", "latchword"):
        forge = Forge(crew)
        forge.add("open", forge.opening())
        forge.sign("open-sig", crew[0], 0, namespace=f"open@{other}")
        assert code_of(forge.log) == "sshsig"


def test_talk_the_domain_down(crew: list[Person], monkeypatch: pytest.MonkeyPatch) -> None:
    for domain in (b"latchword/audit/entry@v2\n", b""):
        with monkeypatch.context() as patch:
            patch.setattr("audit.line.DOMAIN", domain)
            log = Forge(crew).open().log
        assert code_of(log) == "signature"


def test_a_namespace_does_not_serve_for_another(crew: list[Person]) -> None:
    for namespace in (sshsig.CLOSE, sshsig.RESUME, sshsig.APPROVE, sshsig.COUNTERSIGN):
        forge = Forge(crew)
        forge.add("open", forge.opening()).sign("open-sig", crew[0], 0, namespace=namespace)
        assert code_of(forge.log) == "sshsig"


def test_sign_for_the_other(crew: list[Person]) -> None:
    one, two = crew
    # by one's own key under the other's name; twice; out of order; for somebody not aboard
    forge = Forge(crew)
    forge.add("open", forge.opening()).sign("open-sig", two, 0, name=one.name)
    assert code_of(forge.log) == "person-key"
    forge = Forge(crew)
    forge.add("open", forge.opening()).sign("open-sig", two, 0)
    assert code_of(forge.log) == "order"
    forge = Forge(crew)
    forge.add("open", forge.opening()).sign("open-sig", one, 0).sign("open-sig", one, 0)
    assert code_of(forge.log) == "order"
    forge = Forge(crew).open().add("close", {"acceptances": [], "count": 3})
    forge.sign("close-sig", two, 3).sign("close-sig", two, 3, next="")
    assert code_of(forge.log) == "order"
    forge = Forge(crew).open().add("close", {"acceptances": [], "count": 3})
    assert code_of(forge.sign("close-sig", Person("Stranger"), 3).log) == "order"
    # one key for two roles
    twin = Person("Twin")
    twin.private, twin.key = one.private, one.key
    assert code_of(Forge([one, twin]).open().log) == "roster"


def test_one_signs_alone_for_both(crew: list[Person]) -> None:
    forge = Forge(crew).open().add("close", {"acceptances": [], "count": 3})
    forge.sign("close-sig", crew[0], 3, next="")
    assert code_of(forge.log) == "next"
    forge = Forge(crew).open().add("close", {"acceptances": [], "count": 3})
    assert check(forge.sign("close-sig", crew[0], 3).log, crew).why == (
        "signature owed by Åsa Lind"
    )


def test_take_over_a_name_by_a_crew_change(crew: list[Person]) -> None:
    thief = Person(crew[0].name)
    change = {"key": thief.public_line, "name": thief.name, "role": "commander"}
    forge = Forge(crew).open().add("event", event(crew_change=change))
    assert code_of(forge.log) == "roster"
    newcomer = Person("New")
    newcomer.private, newcomer.key = crew[0].private, crew[0].key
    change = {"key": newcomer.public_line, "name": "New", "role": "copilot"}
    assert code_of(Forge(crew).open().add("event", event(crew_change=change)).log) == "roster"


def test_steal_a_key_later(crew: list[Person]) -> None:
    """A key withdrawn by date signs nothing after it; a thief's clock is a witness's business."""
    log = Forge(crew).open().close().log
    for after, before, result in (
        (None, START_MS - 1, "untrusted"),
        (START_MS + 60_000, None, "untrusted"),
        (START_MS - 1, START_MS + 60_000, "closed"),
    ):
        assert check_with(log, trust_in(crew, after=after, before=before)) == result


def check_with(log: bytes, trust: Trust | None) -> str:
    return verify(io.BytesIO(log), level="full", trust=trust).result


def test_unsigned_by_anybody_trusted(crew: list[Person]) -> None:
    log = Forge(crew).open().close().log
    assert check_with(log, None) == "untrusted"
    assert check_with(log, trust_in(crew[:1])) == "untrusted"
    assert check_with(log, trust_in([Person(person.name) for person in crew])) == "untrusted"
    only_open = Trust(Allowed(one.name, one.key, sshsig.OPEN, None, None) for one in crew)
    assert check_with(log, only_open) == "untrusted"


def test_pass_a_demonstration_off_as_a_flight(crew: list[Person]) -> None:
    """The label comes from the key as well as from the modes."""
    log = Forge(crew).open().close().log
    marked = Trust(
        Allowed(f"{one.name},demonstration@latchword-v1", one.key, None, None, None) for one in crew
    )
    verdict = verify(io.BytesIO(log), level="full", trust=marked)
    assert verdict.result == "closed"
    assert verdict.modes == ("crew",)
    assert verdict.labels == ("demonstration",)
    assert not verdict.counts()
    assert verdict.counts({"demonstration"})


@pytest.mark.parametrize("mode", ["demonstration", "draft", "rehearsal", "scripted"])
def test_a_mode_that_does_not_count(crew: list[Person], mode: str) -> None:
    verdict = check(Forge(crew, modes=sorted(["crew", mode])).open().close().log, crew)
    assert verdict.result == "closed"
    assert not verdict.counts()
    assert verdict.counts({mode})


@pytest.mark.parametrize("where", ["key0", "next", "person", "resume"])
def test_keys_under_which_anybody_can_sign(crew: list[Person], where: str) -> None:
    weak = bytes([1]) + bytes(31)
    text = canonical.base64_text(weak)
    if where == "key0":
        log = Forge(crew).open(key0=text).log
    elif where == "next":
        log = Forge(crew).open().add("event", event(), next=text).log
    elif where == "resume":
        log = Forge(crew).open().resume(key0=text).log
    else:
        person = Person("Weak")
        person.key = weak
        log = Forge([crew[0], person]).open().log
    assert code_of(log) == "weak-key"


def test_after_the_end(crew: list[Person]) -> None:
    log = Forge(crew).open().close().log
    for more in (b"x", b"\n", b"\x00" * 10, b'{"body":', log.splitlines(keepends=True)[3]):
        assert code_of(log + more) == "after-end"
    forge = Forge(crew).open().close()
    assert code_of(forge.add("event", event()).log) == "after-end"


def test_resume_a_closed_or_replaced_history(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    writer.stop()
    log = folder.path_of(writer.run)
    LogWriter.resume(recover(folder, writer.run), clock(), None).stop()
    rows = log.read_bytes().splitlines(keepends=True)
    assert code_of(b"".join([*rows[:3], rows[3].replace(b'"line":2', b'"line":1')])) == "resume"
    for changes in ({"line": 1}, {"head": "0" * 64}):
        assert code_of(Forge(crew).open().resume(**changes).log) == "resume"
    forge = Forge(crew)
    forge.add("open", forge.opening()).resume()
    assert code_of(forge.log) == "order"


def test_live_misuse_cannot_be_prevented_and_the_format_says_so() -> None:
    text = (Path(__file__).parents[2] / "audit" / "FORMAT.md").read_text("utf-8")
    assert "cannot be prevented" in text
