"""Limits and answers that stand alone: what is just allowed, what is just not, and what is said.

They were found by moving each bound and taking each check away in turn (`mutants/`).
"""

from __future__ import annotations

import io
import os
import time
from pathlib import Path
from typing import Any

import orjson
import pytest

from audit import allowed, canonical, line, reader, shapes, sshsig, trust, verify
from audit.allowed import BadLine
from audit.checker import CLOCK_TOLERANCE_MS, Checker
from audit.course import ZERO
from audit.errors import Fault, TrustError
from audit.line import head_of
from audit.stamps import Stamp
from audit.trust import Allowed, Trust, Witnessed, revoke_key, trust_key
from tests.audit.helpers import (
    START_MS,
    Clock,
    Forge,
    Person,
    check,
    event,
    trust_in,
)

ONE = Person("Maren Holt")
KEY = ONE.public_line


def fault(code: str, call: Any, *arguments: Any, **more: Any) -> str:
    with pytest.raises(Fault) as caught:
        call(*arguments, **more)
    assert caught.value.code == code
    return caught.value.why


# lines


def framed(**changes: Any) -> bytes:
    body = {
        "boot": "b", "data": {}, "mono": 0, "next": "", "prev": "0" * 64, "seq": 0,
        "type": "event", "wall": "2026-11-24T21:50:03.412Z", **changes,
    }  # fmt: skip
    spelled = orjson.dumps(body, option=canonical.OPTIONS)
    return b'{"body":' + spelled + b',"sig":"' + b"A" * 86 + b'=="}\n'


@pytest.mark.parametrize("value", [1.5, "e\u0301", "\u202e", {"Upper": 1}, "\x7f"], ids=repr)
def test_what_a_line_says_is_inside_the_profile(value: Any) -> None:
    assert line.parse(framed(data={"a": "x"})).data == {"a": "x"}
    fault("profile", line.parse, framed(data={"a": value}))


def test_the_bounds_of_a_stamp_in_a_line() -> None:
    assert line.parse(framed(boot="x" * 64, mono=0)).stamp.boot == "x" * 64
    for changes in ({"boot": ""}, {"boot": "x" * 65}, {"boot": "é"}, {"mono": -1}):
        fault("stamp", line.parse, framed(**changes))


def test_the_longest_line_is_made_and_one_byte_more_is_not() -> None:
    def made(pad: int) -> line.Line:
        return line.build(
            ONE.private, seq=0, type="event", data={"pad": "x" * pad}, stamp=Stamp(0, 0, "b"),
            prev=ZERO, next="",
        )  # fmt: skip

    room = line.LONGEST - len(made(0).raw)
    assert len(made(room).raw) == line.LONGEST
    fault("length", made, room + 1)


def test_a_whole_line_is_found_behind_what_only_begins_as_one() -> None:
    whole = framed()
    assert line.looks_whole(whole)
    assert line.looks_whole(whole + b"x")
    assert line.looks_whole(b'{"body":' + whole)
    assert line.looks_whole(b'{"body":\n' + whole)
    assert not line.looks_whole(whole[:-1])
    assert not line.looks_whole(whole[:-1] + b'{"body":')
    assert not line.looks_whole(b"")


# reading


def test_pieces_end_at_a_line_feed_or_at_the_limit() -> None:
    longest = b"x" * (line.LONGEST - 1) + b"\n"
    assert [p.raw for p in reader.pieces(io.BytesIO(longest))] == [longest]
    over = [(p.offset, len(p.raw)) for p in reader.pieces(io.BytesIO(b"x" + longest))]
    assert over == [(0, line.LONGEST + 1)]
    assert reader.LIMIT == line.LONGEST + 1
    cut = [len(p.raw) for p in reader.pieces(io.BytesIO(b"xx" + longest))]
    assert cut == [line.LONGEST + 1, 1]


def test_how_far_is_told_now_and_then(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reader, "_BEAT_EVERY", 12)
    told: list[int] = []
    assert len(list(reader.pieces(io.BytesIO(b"12345\n" * 7), 0, told.append))) == 7
    assert told == [12, 24, 36]
    told.clear()
    assert len(list(reader.pieces(io.BytesIO(b"12345\n" * 5), 6, told.append))) == 4
    assert told == [18, 30]


def test_the_quick_look_takes_the_events_of_a_log(crew: list[Person]) -> None:
    forge = Forge(crew).open()
    for number in range(3):
        forge.add("event", event(number))
    end = len(forge.log)
    log = forge.close().log
    told: list[int] = []
    for level, heard in (("full", []), ("boundary", [end])):
        told.clear()
        found = verify.verify(io.BytesIO(log), level=level, trust=trust_in(crew), beat=told.append)
        assert (found.result, told) == ("closed", heard)


# verdicts


@pytest.mark.parametrize(
    ("asked", "reached"), [("boundary", "boundary"), ("full", "full"), ("replayed", "full")]
)
def test_the_level_of_a_rejection_and_of_a_torn_log(asked: str, reached: str) -> None:
    for content, result in ((b"{}\n", "rejected"), (b"", "torn"), (b"{", "torn")):
        found = check(content, (), asked)
        assert (found.result, found.asked, found.level) == (result, asked, reached)
        assert (found.line, found.offset) == (0, 0)


def test_how_much_of_a_beginning_is_looked_at() -> None:
    for size in range(1, 9):
        assert check(b'{"body":'[:size]).result == "torn"
    assert check(b'{"body":x').result == "torn"
    assert check(b'{"body"x').code == "frame"
    assert check(b'{"bodyx').code == "frame"


def test_a_verdict_for_people_has_its_notes(crew: list[Person]) -> None:
    found = check(Forge(crew[:1], modes=["solo"]).open().close().log, crew)
    assert found.text("x").endswith("; not crew-verified: one person answered for every role")


@pytest.mark.parametrize("level", ["boundary", "full"])
def test_a_witness_of_an_event_proves_who_signed_before_it(crew: list[Person], level: str) -> None:
    forge = Forge(crew).open()
    for number in range(4):
        forge.add("event", event(number))
    gone = [Allowed(one.name, one.key, None, None, None, START_MS + 60_000) for one in crew]
    untrusted = f"not by trusted keys: {crew[0].name}, {crew[1].name}"
    for row, proven in ((2, True), (3, True), (4, True), (5, True), (1, False), (0, False)):
        witness = Witnessed(head_of(forge.rows[row]), START_MS + 59_999)
        found = verify.verify(io.BytesIO(forge.log), level=level, trust=Trust(gone, [witness]))
        assert found.result == "unclosed"
        assert (untrusted not in found.notes) is proven or row == 1
    nobody = verify.verify(io.BytesIO(forge.log), level=level, trust=Trust(gone))
    assert untrusted in nobody.notes


def test_a_log_is_opened_with_its_first_line(crew: list[Person]) -> None:
    checker = Checker(signatures=True)
    for row in Forge(crew).open().add("event", event()).rows:
        assert checker.feed(row, 0) is not None
        assert checker.opened_ms == Clock()().wall_ms


@pytest.mark.parametrize("by", [CLOCK_TOLERANCE_MS, -CLOCK_TOLERANCE_MS])
def test_the_clocks_may_part_by_five_seconds(crew: list[Person], by: int) -> None:
    assert CLOCK_TOLERANCE_MS == 5_000
    for more, said in ((0, False), (1 if by > 0 else -1, True)):
        forge = Forge(crew).open()
        now = forge.clock()
        forge.add("event", event(), stamp=now._replace(wall_ms=now.wall_ms + by + more))
        assert any("clock moved once" in one for one in check(forge.log, crew).notes) is said


# trust


def test_the_first_and_the_last_moment_of_a_key() -> None:
    rows = Trust([Allowed(ONE.name, ONE.key, None, START_MS, START_MS + 5)])
    for at, found in ((-1, False), (0, True), (5, True), (6, False)):
        assert (rows.find(ONE.name, ONE.key, sshsig.OPEN, START_MS + at) is not None) is found
    gone = Trust([Allowed(ONE.name, ONE.key, None, None, None, START_MS)])
    for at, found in ((0, True), (1, False)):
        one = gone.find(ONE.name, ONE.key, sshsig.OPEN, START_MS + at, witnessed_ms=START_MS - 1)
        assert (one is not None) is found


def test_a_principal_is_the_whole_name() -> None:
    rows = Trust([Allowed("Maren", ONE.key, None, None, None)])
    assert rows.find("Maren", ONE.key, sshsig.OPEN, START_MS) is not None
    assert rows.find("Maren Holt", ONE.key, sshsig.OPEN, START_MS) is None


def test_the_earliest_revocation_counts() -> None:
    lines = [Allowed("a", ONE.key, None, None, None, at) for at in (START_MS + 9, START_MS)]
    for rows in (lines, lines[::-1]):
        assert Trust(rows).revoked_ms(ONE.key) == START_MS


def test_as_many_faults_as_are_shown_are_all_of_them(tmp_path: Path) -> None:
    path = tmp_path / "allowed_signers"
    path.write_text("x\n" * 20, "utf-8")
    with pytest.raises(TrustError) as caught:
        Trust.read(path)
    assert len(str(caught.value).splitlines()) == 20
    assert "more lines" not in str(caught.value)


def test_a_new_file_left_over_is_written_again(tmp_path: Path) -> None:
    path = tmp_path / "new" / "folder" / "allowed_signers"
    trust_key(path, ONE.name, KEY)
    path.with_name("allowed_signers.new").write_text("left over", "utf-8")
    assert [one.key for one in revoke_key(path, ONE.name, "20300101Z")] == [ONE.key]
    assert os.listdir(path.parent) == ["allowed_signers"]
    if os.name == "posix":
        assert path.stat().st_mode & 0o777 == 0o644
    with pytest.raises(TrustError, match=r"nearest: Maren Holt$"):
        revoke_key(path, "Maren Hold", "20300101Z")
    assert trust.allowed_line("x", ONE.key).count("  ") == 0


def test_a_line_without_options_and_the_names_in_one() -> None:
    assert allowed.line("x", ONE.key, namespaces=None) == f'"x" {KEY}\n'
    found = allowed.parse(f'"x,{allowed.DEMONSTRATION},y" {KEY}')
    assert found is not None
    assert (found.names, found.demonstration) == ("x,y", True)
    assert allowed.parse(f"{KEY[:0]}# {KEY}") is None
    assert allowed.parse(f"  # {KEY}") is None


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone of this system cannot be set")
def test_a_time_without_z_is_local(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "XST-3")  # three hours before UTC, POSIX.1-2017, 8.3
    time.tzset()
    try:
        utc, local = allowed.time_ms("20261124120000Z"), allowed.time_ms("20261124120000")
        assert utc - local == 3 * 3_600_000
    finally:
        monkeypatch.undo()
        time.tzset()


@pytest.mark.parametrize(
    ("options", "why", "hinted"),
    [
        ('name_spaces="x"', "nearest: namespaces", True),
        ('namespace="open@latchword-v1,close@latchword-v1"', "nearest: namespaces", True),
        ('namespaces="a",namespaces="b"', "once each$", False),
    ],
)
def test_an_option_that_is_none_has_its_nearest(options: str, why: str, *, hinted: bool) -> None:
    with pytest.raises(BadLine, match=why) as caught:
        allowed.parse(f"maren {options} {KEY}")
    assert ("nearest" in caught.value.why) is hinted


def test_dates_that_are_none_say_what_is_allowed() -> None:
    for text in ("soon Z", "soonZ", "20261124Zx", "20261124Z Z"):
        assert "allowed: 2026-11-24" in fault("trust", allowed.date_text, text)
    for text in ("20261124Zx", "2026112", "202611241"):
        fault("trust", allowed.time_ms, text)
    for word in ("revokedZ", "Revoked=20261124Z"):
        with pytest.raises(BadLine, match="a revoked key's comment reads"):
            allowed.parse(f"maren {KEY} {word}")


# fields


def test_the_longest_and_shortest_of_what_names() -> None:
    for good in ("ab", "a" * 64, "a-" + "b" * 62):
        shapes.run_id(good, "x")
    for bad in ("a", "a" * 65, "ab\n", "abC", "a-"):
        fault("shape", shapes.run_id, bad, "x")
    person = {"key": KEY, "name": ONE.name}
    for good in ("a", "a" * 31):
        shapes._person({**person, "role": good}, "x")
    for bad in ("", "a" * 32, "ab\n", "aB"):
        fault("shape", shapes._person, {**person, "role": bad}, "x")
    entry = {"length": 0, "sha256": "1" * 64}
    for good in ("a", "a" * 120):
        shapes.file_entry({**entry, "name": good}, "x")
    for bad in ("", "a" * 121, "a\n"):
        fault("shape", shapes.file_entry, {**entry, "name": bad}, "x")
    fault("shape", shapes.file_entry, {**entry, "name": "a", "length": -1}, "x")
    for good in ("ab", "a" * 60):
        sshsig.check_name(good)
    fault("name", sshsig.check_name, "a" * 61)
    assert canonical.is_hex64("a" * 64)
    assert not canonical.is_hex64("a" * 64 + "\n")


def test_the_longest_texts_of_an_opening(crew: list[Person]) -> None:
    forge = Forge(crew)

    def opened(name: str, origin: str, **more: Any) -> None:
        root = canonical.base64_text(bytes(32))
        point = {"origin": origin, "root": root, "size": 1}
        document = {"approval": None, "name": name, "sha256": "1" * 64}
        shapes.opening(forge.opening(documents=[document], checkpoint=point, **more))

    opened("a" * 200, "b" * 200)
    fault("shape", opened, "a" * 201, "b")
    fault("shape", opened, "", "b")
    fault("shape", opened, "a", "b" * 201)
    for more in ({"rules": 0}, {"run_seq": 0, "prev_run": "run-1"}):
        fault("shape", opened, "a", "b", **more)


def test_modes_are_of_the_known_ones() -> None:
    for crew_mode in shapes.CREW_MODES:
        for more in ([], *([one] for one in ("demonstration", "draft", "rehearsal", "scripted"))):
            shapes._modes(sorted([crew_mode, *more]))
    shapes._modes(sorted(["crew", "demonstration", "draft", "rehearsal", "scripted"]))
    for bad in (["crew", 1], [], ["draft"], ["crew", "solo"], ["crew", "other"], ["draft", "crew"]):
        fault("shape", shapes._modes, bad)


def test_the_least_numbers_of_lines() -> None:
    sig = canonical.base64_text(b"x")
    shapes.person_signature({"line": 0, "name": "a", "sig": sig})
    fault("shape", shapes.person_signature, {"line": -1, "name": "a", "sig": sig})
    resume = {
        "gap": 0, "head": "1" * 64, "key0": canonical.base64_text(ONE.key), "line": 0,
        "residue": [],
    }  # fmt: skip
    shapes.resume(resume)
    for field in ("gap", "line"):
        fault("shape", shapes.resume, {**resume, field: -1})
    shapes.close({"acceptances": [1], "count": 1})
    for acceptances, count in (([0], 1), ([0, 1], 3), ([], 0), ([2, 1], 3), ([1, 1], 3)):
        fault("shape", shapes.close, {"acceptances": acceptances, "count": count})


def test_the_largest_numbers() -> None:
    for good in (canonical.LARGEST_INTEGER, -canonical.LARGEST_INTEGER):
        canonical.check(good)
        fault("profile", canonical.check, good + (1 if good > 0 else -1))
    assert canonical.LARGEST_INTEGER == 2**53 - 1
    assert canonical.HEARD_LIMIT == 200
    assert len(ZERO) == 64


def test_keys_that_were_looked_at_are_kept_up_to_a_number(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(canonical, "_KEYS", set())
    monkeypatch.setattr(canonical, "_MOST_KEYS", 3)
    for key in ("a", "b" * 65, "c" * 64, "d", "e"):
        canonical.check({key: 1})
    assert {"a", "c" * 64, "d"} == canonical._KEYS


def test_every_refusal_of_a_signature_has_one_code() -> None:
    blob = ONE.sign(sshsig.OPEN, b"m")
    kind, magic = sshsig.string(b"ssh-ed25519"), b"SSHSIG\x00\x00\x00\x01"
    key, open_ = sshsig.string(sshsig.key_blob(ONE.key)), sshsig.string(b"open@latchword-v1")
    sha = sshsig.string(b"sha512")
    value = sshsig.string(kind + sshsig.string(bytes(64)))
    assert sshsig.parse(magic + key + open_ + sshsig.string(b"") + sha + value).key == ONE.key
    short = sshsig.string(kind + sshsig.string(bytes(63)))
    other = sshsig.string(sshsig.string(b"ssh-rsa") + sshsig.string(bytes(64)))
    for bad in (
        blob.replace(b"SSHSIG", b"SSHSIH", 1),
        magic + key + open_ + sshsig.string(b"x") + sha + value,
        magic + key + open_ + sshsig.string(b"") + sha + short,
        magic + key + open_ + sshsig.string(b"") + sha + other,
    ):
        fault("sshsig", sshsig.parse, bad)
    fault("sshsig", sshsig.parse_key_blob, sshsig.string(b"ssh-rsa") + sshsig.string(ONE.key))
    parts = sshsig.string(b"none") * 2 + sshsig.string(b"")
    good = b"openssh-key-v1\x00" + parts + b"\x00\x00\x00\x01" + key
    assert sshsig.public_key_of_private_file(good) == ONE.key
    read = sshsig.public_key_of_private_file
    assert "not an openssh-key-v1" in fault("sshsig", read, b"openssh-key-v2" + good[14:])
    assert "one key" in fault(
        "sshsig", read, good.replace(b"\x00\x00\x00\x01", b"\x00\x00\x00\x02")
    )
    ends = "-----{} SSH SIGNATURE-----"
    assert sshsig.dearmor(f"{ends.format('BEGIN')}\nAAAA\n{ends.format('END')}") == bytes(3)
    fault("sshsig", sshsig.dearmor, f"{ends.format('BEGIN')}\n{ends.format('END')}")
