"""The quick look of the boundary level takes nothing that the whole look would not take."""

from __future__ import annotations

import io
import random
from pathlib import Path
from typing import Any

import pytest

from audit import canonical
from audit.line import LONGEST, head_of, parse
from audit.skim import MOST, skim
from tests.audit.helpers import Forge, Person, check, event


def reader(rows: list[bytes]) -> io.BytesIO:
    return io.BytesIO(b"".join(rows))


@pytest.fixture
def rows(crew: list[Person]) -> list[bytes]:
    """Event lines 3 to 7 of a log, and what stands before and behind them."""
    forge = Forge(crew).open()
    for number in range(5):
        forge.add("event", event(number, heard="naïve “quotes”"))
    return forge.close().rows


def test_a_run_of_events_is_taken_and_the_line_behind_is_handed_on(rows: list[bytes]) -> None:
    stream = reader(rows[4:])
    run = skim(rows[3], stream.readline, 3, head_of(rows[2]))
    assert run.taken == 5
    assert run.length == sum(map(len, rows[3:8]))
    assert run.last == len(rows[7])
    assert run.head == head_of(rows[7])
    assert run.rest == rows[8]
    assert stream.readline() == rows[9]


def test_a_run_ends_with_the_file_and_at_the_most(rows: list[bytes]) -> None:
    stream = reader(rows[4:8])
    run = skim(rows[3], stream.readline, 3, head_of(rows[2]))
    assert (run.taken, run.rest, run.head) == (5, b"", head_of(rows[7]))
    run = skim(rows[3], reader(rows[4:]).readline, 3, head_of(rows[2]), 2)
    assert (run.taken, run.rest, run.head) == (2, rows[5], head_of(rows[4]))
    assert MOST > 2


@pytest.mark.parametrize("number", [0, 1, 2, 8, 9, 10])
def test_only_events_are_taken(rows: list[bytes], number: int) -> None:
    before = head_of(rows[number - 1]) if number else "d" * 64
    run = skim(rows[number], reader([]).readline, number, before)
    assert (run.taken, run.length, run.head, run.rest) == (0, 0, before, rows[number])


def test_every_changed_byte_of_an_event_is_left_to_the_whole_look_or_changes_its_head(
    rows: list[bytes],
) -> None:
    raw, before = rows[3], head_of(rows[2])
    chance = random.Random(7)
    for at in range(len(raw)):
        for byte in chance.sample(range(256), 6):
            if raw[at] == byte:
                continue
            changed = raw[:at] + bytes([byte]) + raw[at + 1 :]
            run = skim(changed, reader([]).readline, 3, before)
            if run.taken:
                # what is taken is spelled canonically, and the line behind no longer follows it
                body = changed[8 : -(8 + 88 + 3)]
                assert canonical.spell(canonical.read(body)) == body
                assert run.head == head_of(changed) != head_of(raw)


def test_every_byte_of_the_frame_is_looked_at(rows: list[bytes]) -> None:
    raw, before = rows[3], head_of(rows[2])
    tail = len(raw) - 3
    middle = tail - 88 - 8
    for at in (*range(8), *range(middle, middle + 8), *range(tail, len(raw))):
        for byte in range(256):
            changed = raw[:at] + bytes([byte]) + raw[at + 1 :]
            taken = skim(changed, reader([]).readline, 3, before).taken
            assert taken == (1 if changed == raw else 0), (at, byte)


@pytest.mark.parametrize(
    "changes",
    [
        {"seq": 3.0}, {"seq": "3"}, {"seq": True}, {"seq": 4}, {"prev": "0" * 64}, {"prev": None},
        {"type": "close"}, {"type": "x"}, {"next": ""}, {"more": 1},
        {"data": event(0, crew_change={})}, {"data": 5}, {"data": None},
    ],
)  # fmt: skip
def test_an_event_out_of_its_place_is_left_to_the_whole_look(
    crew: list[Person], changes: dict[str, Any]
) -> None:
    forge = Forge(crew).open()
    before = forge.head
    fields = {
        "boot": "b", "data": event(), "mono": 9_000, "next": "A" * 44, "prev": before, "seq": 3,
        "type": "event", "wall": "2026-11-24T21:50:03.412Z", **changes,
    }  # fmt: skip
    forge.put(canonical.spell(fields), forge.key)
    assert skim(forge.rows[-1], reader([]).readline, 3, before).taken == 0


def test_a_line_that_is_one_byte_too_long_is_rejected_at_every_level(crew: list[Person]) -> None:
    forge = Forge(crew).open()
    forge.add("event", event(0, outcome=[""]))
    short = len(forge.rows.pop())
    forge.head = head_of(forge.rows[-1])
    forge = Forge(crew).open()
    for more, result in ((LONGEST - short, "unclosed"), (LONGEST - short + 1, "rejected")):
        again = Forge(crew).open()
        again.add("event", event(0, outcome=["x" * more]))
        assert len(again.rows[-1]) == short + more
        for level in ("boundary", "full"):
            verdict = check(again.log, crew, level)
            assert verdict.result == result, level
            assert verdict.code == ("length" if result == "rejected" else "open")


def test_what_the_quick_look_took_counts_as_if_it_had_been_read(
    whole: tuple[Path, list[Person]],
) -> None:
    log, people = whole
    raw = log.read_bytes()
    for number, row in enumerate(raw.splitlines(keepends=True)):
        at = raw.index(row)
        for content in (raw[:at], raw[: at + 9], raw[:at] + b"x" + raw[at:]):
            quick, full = check(content, people, "boundary"), check(content, people)
            assert (quick.result, quick.line, quick.offset, quick.code, quick.head) == (
                full.result, full.line, full.offset, full.code, full.head,
            ), number  # fmt: skip
        assert parse(row).seq == number
