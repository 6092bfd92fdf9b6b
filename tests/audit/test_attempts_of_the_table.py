"""Every attempt of FORMAT.md's table, made by a test named after it, and what is said of it: the
result, the line, the byte where that line begins, and the stable code.

More ways to make each are in `test_attempts.py` and `test_chain.py`; here each has one at least
whose whole verdict is known beforehand.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from audit import together
from audit.folder import LogFolder, read_info
from audit.line import DOMAIN
from audit.receipt import receipt_of
from audit.trust import Trust, Witnessed, allowed_line, revoke_key
from audit.verify import verify
from tests.audit.helpers import Clock, Forge, Person, check, event, simple_log

FORMAT = (Path(__file__).parents[2] / "audit" / "FORMAT.md").read_text("utf-8")


def said(log: bytes | Path, people: list[Person]) -> tuple[str, str, int, int]:
    found = check(log, people)
    return found.result, found.code, found.line, found.offset


def rejected(code: str, rows: list[bytes], line: int) -> tuple[str, str, int, int]:
    return "rejected", code, line, sum(map(len, rows[:line]))


def codes(path: Path) -> list[tuple[str, int]]:
    return [(found.code, found.run_seq) for found in together.look([path], []).findings]


@pytest.fixture
def rows(crew: list[Person]) -> list[bytes]:
    """open, two open-sig, two events, close, two close-sig."""
    return Forge(crew).open().add("event", event(1)).add("event", event(2)).close().rows


def test_change_reorder_insert(crew: list[Person], rows: list[bytes]) -> None:
    changed = [*rows[:3], rows[3].replace(b'"1600"', b'"1700"'), *rows[4:]]
    assert changed[3] != rows[3]
    assert said(b"".join(changed), crew) == rejected("signature", changed, 3)
    reordered = [*rows[:3], rows[4], rows[3], *rows[5:]]
    assert said(b"".join(reordered), crew) == rejected("seq", reordered, 3)
    inserted = [*rows[:4], rows[3], *rows[4:]]
    assert said(b"".join(inserted), crew) == rejected("seq", inserted, 4)
    # of the right number, behind the right line, by a key of the forger's own
    forge = Forge(crew).open()
    forge.add("event", event(), key=Forge(crew).key)
    assert said(forge.log, crew) == rejected("signature", forge.rows, 3)
    other = Forge(crew).open().add("event", event(3)).rows[3]
    inserted = [*rows[:3], other, *rows[3:]]
    assert said(b"".join(inserted), crew) == rejected("prev", inserted, 3)


def test_cut_the_tail(crew: list[Person], rows: list[bytes]) -> None:
    starts = [sum(map(len, rows[:number])) for number in range(len(rows) + 1)]
    log = b"".join(rows)
    why = {1: "owed", 2: "owed", 3: "open", 4: "open", 5: "open", 6: "owed", 7: "owed"}
    for length, code in why.items():
        last = (length - 1, starts[length - 1])
        assert said(log[: starts[length]], crew) == ("unclosed", code, *last)
    assert said(log[:-1], crew) == ("torn", "torn", 7, starts[7])
    assert said(log, crew)[0] == "closed"
    # closed again over fewer lines by whoever has the machine: the count is signed
    fewer = Forge(crew).open().add("event", event(1)).close(count=9)
    assert said(fewer.log, crew) == rejected("count", fewer.rows, 4)


def test_cut_and_resume_with_an_invented_rest(crew: list[Person]) -> None:
    def cut() -> Forge:
        return Forge(crew).open().add("event", event(1)).resume().add("event", event(99))

    # the crew is not there: it stays open, nobody else's signature is taken, none is not enough
    assert said(cut().log, crew)[:3] == ("unclosed", "open", 5)
    assert check(cut().log, crew).owed == tuple(person.name for person in crew)
    forge = cut().sign("resume-sig", Person(crew[0].name), 4)
    assert said(forge.log, crew) == rejected("person-key", forge.rows, 6)
    forge = cut().close()
    assert said(forge.log, crew) == rejected("owed", forge.rows, 6)
    # all vouch: it closes, the verdict says so, and who has a witness sees what was cut
    forge = cut()
    for person in crew:
        forge.sign("resume-sig", person, 4)
    verdict = check(forge.close().log, crew)
    assert (verdict.result, verdict.notes) == (
        "closed", ("resumed once: lines before it are proven only by a witness",),
    )  # fmt: skip


def test_delete_a_run(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    logs = [simple_log(folder, crew, clock) for _ in range(3)]
    kept = receipt_of(logs[2])
    assert codes(folder.path) == []
    logs[1].unlink()
    assert codes(folder.path) == [("missing", 2)]
    # the newest leaves no gap: nothing here shows it, a receipt kept elsewhere does
    logs[2].unlink()
    assert codes(folder.path) == []
    found = together.look([folder.path], [kept]).findings
    assert [(one.code, one.run_seq) for one in found] == [("missing", 3)]
    assert together.look([folder.path], []).limits == (together.NEWEST,)


def test_splice_another_runs_lines(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    one, two = (simple_log(folder, crew, clock).read_bytes() for _ in range(2))
    ours, theirs = (log.splitlines(keepends=True) for log in (one, two))
    for at in range(1, len(ours)):
        spliced = [*ours[:at], *theirs[at:]]
        assert said(b"".join(spliced), crew) == rejected("prev", spliced, at)
    # a signature given for the opening of another run
    forge, other = Forge(crew), Forge(crew)
    forge.add("open", forge.opening())
    other.add("open", other.opening(run="another-run"))
    forge.sign("open-sig", crew[0], 0, message=other.rows[0])
    assert said(forge.log, crew) == rejected("person-signature", forge.rows, 1)
    # the first run of a device begins at that device
    forge = Forge(crew, head="e" * 64).open()
    assert said(forge.log, crew) == rejected("prev", forge.rows, 0)


def test_roll_the_machine_back_or_fork_it(tmp_path: Path, crew: list[Person], clock: Clock) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    with LogFolder.open(tmp_path / "logs") as folder:
        first = simple_log(folder, crew, clock)
        (elsewhere / first.name).write_bytes(first.read_bytes())
        receipt = receipt_of(first)
        first.unlink()
        again = simple_log(folder, crew, clock)
    assert said(again, crew)[0] == "closed"
    assert codes(folder.path) == []
    together_now = together.look([folder.path, elsewhere], [])
    assert [(one.code, one.run_seq) for one in together_now.findings] == [("forked", 1)]
    by_receipt = together.look([folder.path], [receipt]).findings
    assert [(one.code, one.run_seq) for one in by_receipt] == [("receipt", 1)]


def test_move_the_clock(crew: list[Person]) -> None:
    clock = Clock()
    forge = Forge(crew, clock=clock).open()
    clock.wall += 3_600_000
    verdict = check(forge.add("event", event()).close().log, crew)
    assert (verdict.result, verdict.notes) == (
        "closed", ("clock moved once against boot time, first at line 3 by +3600.0 s",),
    )  # fmt: skip
    # the clock that counts from the boot cannot go back
    clock = Clock()
    forge = Forge(crew, clock=clock).open()
    clock.mono -= 5_000
    forge.add("event", event())
    assert said(forge.log, crew) == rejected("stamp", forge.rows, 3)


def test_swap_the_flow(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    name = folder.store_document(b"title: Before start\n")
    document = {"approval": None, "name": "before start", "sha256": name}
    log = simple_log(folder, crew, clock, documents=[document])
    assert said(log, crew)[0] == "closed"
    (folder.documents / name).write_bytes(b"title: After start\n")
    assert said(log, crew) == ("rejected", "document", 0, 0)
    # and in the opening itself: its bytes are what the crew signed
    rows = log.read_bytes().splitlines(keepends=True)
    rows[0] = rows[0].replace(name.encode(), b"1" * 64)
    assert said(b"".join(rows), crew) == rejected("signature", rows, 0)


def test_talk_the_format_down(crew: list[Person], monkeypatch: pytest.MonkeyPatch) -> None:
    for version in (0, 2, "1", True):
        forge = Forge(crew).open(format=version)
        assert said(forge.log, crew) == rejected("format", forge.rows, 0)
    forge = Forge(crew)
    forge.add("open", forge.opening())
    forge.sign("open-sig", crew[0], 0, namespace="open@latchword-v0")
    assert said(forge.log, crew) == rejected("sshsig", forge.rows, 1)
    with monkeypatch.context() as older:
        older.setattr("audit.line.DOMAIN", DOMAIN.replace(b"v1", b"v0"))
        forge = Forge(crew).open()
    assert said(forge.log, crew) == rejected("signature", forge.rows, 0)


def test_sign_for_the_other(crew: list[Person]) -> None:
    one, two = crew

    def opened() -> Forge:
        forge = Forge(crew)
        return forge.add("open", forge.opening())

    forge = opened().sign("open-sig", two, 0, name=one.name)
    assert said(forge.log, crew) == rejected("person-key", forge.rows, 1)
    forge = opened().sign("open-sig", one, 0).sign("open-sig", one, 0)
    assert said(forge.log, crew) == rejected("order", forge.rows, 2)
    forge = Forge(crew).open().add("close", {"acceptances": [], "count": 3})
    forge.sign("close-sig", two, 3).sign("close-sig", two, 3, next="")
    assert said(forge.log, crew) == rejected("order", forge.rows, 5)
    # one key for two roles
    twin = Person("Twin")
    twin.private, twin.key = one.private, one.key
    forge = Forge([one, twin]).open()
    assert said(forge.log, crew) == rejected("roster", forge.rows, 0)


def test_steal_a_key_later(
    folder: LogFolder, crew: list[Person], clock: Clock, tmp_path: Path
) -> None:
    """The thief sets the clock back; what no witness knew before the revocation does not count."""
    log = simple_log(folder, crew, clock)
    info = read_info(log)
    assert info is not None
    trust = tmp_path / "allowed_signers"
    trust.write_text("".join(allowed_line(one.name, one.key) for one in crew), "utf-8")
    assert verify(log, level="full", trust=Trust.read(trust)).result == "closed"
    revoke_key(trust, crew[0].name, "20270101000000Z")
    last = len(log.read_bytes().splitlines()) - 1
    found = verify(log, level="full", trust=Trust.read(trust))
    assert (found.result, found.code, found.line) == ("untrusted", "untrusted", last)
    assert found.offset == len(b"".join(log.read_bytes().splitlines(keepends=True)[:-1]))
    known = Trust.read(trust, [Witnessed(info.head, clock.wall)])
    assert verify(log, level="full", trust=known).result == "closed"
    # the keys of the lines are gone: only one made anew could sign, and nothing names it
    rows = log.read_bytes().splitlines(keepends=True)
    forge = Forge(crew, rows=rows[:4], clock=clock)
    forge.head = check(b"".join(rows[:4]), crew).head
    forge.add("event", event(99))
    assert said(forge.log, crew) == rejected("signature", forge.rows, 4)


def test_live_misuse_by_the_crew(crew: list[Person]) -> None:
    """The crew of the machine answers what is not so, and signs it: nothing can show that."""
    log = Forge(crew).open().add("event", event(outcome=["accepted"])).close().log
    assert check(log, crew).counts()
    assert "The crew misusing a run while it lasts cannot be prevented" in FORMAT


def test_the_table_has_these_attempts_and_no_others() -> None:
    table = FORMAT.partition("| attempt | what stops it | what is said |\n")[2].partition("\n\n")[0]
    attempts = [row.split("|")[1].strip() for row in table.splitlines()[1:]]
    names = {
        "test_" + re.sub(r"[^a-z]+", "_", attempt.lower().replace("'", "")) for attempt in attempts
    }
    made = {name for name in globals() if name.startswith("test_")}
    assert names == made - {"test_the_table_has_these_attempts_and_no_others"}
    assert len(attempts) == 12
    # the codes that it names are codes of the format
    known = set(re.findall(r"[a-z-]+", FORMAT.partition("\nCodes: ")[2].partition("\n\n")[0]))
    known |= set(re.findall(r"\n\| `([a-z]+)` \| ", FORMAT))
    known |= {"closed", "unclosed", "torn", "untrusted"}
    told = set(
        re.findall(r"`([a-z-]+)`", " ".join(row.split("|")[3] for row in table.splitlines()))
    )
    assert told <= known
    assert {"signature", "seq", "prev", "missing", "forked", "document", "format"} <= told
