"""The demonstration day as a crew works it: a real pseudo-terminal, the real program, by keys and
by words, read from the screen.

The crew is that of the scripts beside the documents; where a script says `1400`, these tests look
for the question on the screen and press the keys that it offers. The clock is told (see
`terminal_program`), so a day of two flights takes as long as its screens take to draw.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable, Iterator
from itertools import takewhile
from pathlib import Path

import pytest

from runner.host.scripted import Input
from tests import terminal_typist
from tests.terminal_crew import work
from tests.terminal_day import (
    DOCUMENTS,
    TO_THE_LISTS,
    demo,
    end_the_day,
    lines,
    met,
    only_log,
    outcomes,
    script,
    verified,
)
from tests.terminal_driver import Terminal
from tests.terminal_eye import Eye
from tests.terminal_pages import COPY_AT_THE_END, open_page, put_away, read_through

DRILLS = sorted(path.stem for path in (DOCUMENTS / "answers").glob("drill_*.txt"))
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


def whole_day(logs: Path, size: tuple[int, int]) -> Eye:
    """The two flights of the script, and the figures of both on the copy page before the end."""
    eye = Eye()
    with Terminal(demo(logs), *size) as screen:
        assert work(screen, script("normal"), eye) > 590
        open_page(screen, COPY_AT_THE_END, "COPY PAGE")
        copied = read_through(screen)
        put_away(screen)
        end_the_day(screen, logs)
    came_to_the_log(logs)
    copied_from_the_log(logs, copied)
    assert verified(logs) == "closed"
    return eye


COPIED = {
    "Take-off": "take-off", "Landing": "landing", "Rotor start": "rotor start",
    "Rotor stop": "rotor stop", "Engine start": "engine start", "Engine stop": "engine stop",
}  # fmt: skip
"""The times of the copy page, and the marks of the log that they are."""


def copied_from_the_log(logs: Path, copied: str) -> None:
    """The copy page shows, a flight after the other, the times at which the log has the marks."""
    with only_log(logs).open(encoding="utf-8") as stream:
        bodies = [json.loads(row)["body"] for row in stream]
    at: dict[str, list[str]] = {}
    for body in bodies:
        for kind, *rest in body["data"].get("outcome", []):
            if kind == "marked":
                at.setdefault(rest[0], []).append(body["wall"][11:16])
    for label, mark in COPIED.items():
        assert re.findall(rf"{label} \.+ (\d\d:\d\d) UTC", copied) == at[mark], label
        assert len(at[mark]) == 2
    assert re.findall(r"Landings \.+ (\d+)", copied) == ["1", "1"]
    assert re.findall(r"Hour meter \.+ ([\d.]+) h", copied) == ["4127.6", "4128.1"]
    snags = re.findall(r"Snags \.+ (vibration left pedal|NONE)", copied)
    assert snags == ["vibration left pedal", "NONE"]


KITS, METER, OIL = "cabin.first_aid_kit", "warm_up.hour_meter", "warm_up.oil_temperature"
HEAD = "shutdown.cut_off_head"
CAME = [
    ("put off", KITS), ("back", KITS), ("standby",), ("resumed",),
    ("marked", "engine start"), ("put off", METER), ("corrected", OIL), ("back", METER),
    ("marked", "rotor start"), ("marked", "take-off"), ("lifted", "1"), ("noted", "snag"),
    ("marked", "landing"), ("marked", "rotor stop"), ("read back", HEAD), ("unmet", HEAD),
    ("unmet", HEAD), ("marked", "engine stop"),
    ("happened", "passengers changed"), ("lapsed", "passengers"), ("flight", "2"),
    ("happened", "flight"),
    ("marked", "engine start"), ("marked", "rotor start"), ("marked", "take-off"),
    ("lifted", "1"), ("marked", "landing"), ("marked", "rotor stop"), ("marked", "engine stop"),
    ("day closed",),
]  # fmt: skip
"""What the script puts between the plain answers of the two flights, as its log must hold it."""
PLAIN_PROGRESS = {
    "opened", "page read", "entered", "met", "one of two", "not required", "computed",
    "list closed", "turned", "said", "wait started", "wait kept", "wait done", "timer started",
    "timer met",
}  # fmt: skip


def came_to_the_log(logs: Path) -> None:
    """Nothing but progress and what the script put in between, in its order."""
    between = [item for item in outcomes(logs) if item[0] not in PLAIN_PROGRESS]
    assert [item[:2] for item in between] == CAME
    assert ("corrected", OIL, "64", "46") in between
    assert ("noted", "snag", "vibration left pedal") in between
    assert len(met(logs)) > 500


def test_the_whole_day_by_keys(logs: Path) -> None:
    assert len(whole_day(logs, (80, 24)).questions) > 300


def test_the_whole_day_in_plain_lines(logs: Path) -> None:
    with Terminal(demo(logs, "--plain"), columns=100) as terminal:
        assert terminal_typist.work(terminal, script("normal")) > 590
        terminal.see(lambda: "CALL: end of day?" in terminal.output.decode(), "the end of the day")
        terminal.passes(1000)
        terminal.type("end of day\r")
        assert terminal.wait() == 0
    assert b"the log is closed, head" in terminal.output
    assert b"\x1b[" not in terminal.output
    assert verified(logs) == "closed"


def first_flight() -> Iterator[Input]:
    return takewhile(lambda one: one.text != "happened passengers changed", script("normal"))


def test_a_flight_in_one_bit_colour(logs: Path) -> None:
    eye, colours, marked = Eye(), set[str](), 0

    def look(screen: Terminal) -> None:
        nonlocal marked
        eye(screen)
        colours.update(screen.colours())
        marked += screen.marked(0)

    with Terminal(demo(logs), environment={"NO_COLOR": "1"}) as screen:
        given = work(screen, first_flight(), look)
        screen.key("/", "0", "9", after_ms=100)
        screen.see_text("LEAVE THE RUN OPEN?")
        screen.key("+", after_ms=500)
        assert screen.wait() == 75
    assert given > 330
    assert len(eye.questions) > 250
    assert colours == {"default"}
    assert marked == given
    assert verified(logs) == "unclosed"


@pytest.mark.parametrize("term", ["vt100", "xterm-mono"])
def test_a_terminal_that_knows_no_colour_gets_none(logs: Path, term: str) -> None:
    with Terminal(demo(logs), environment={"TERM": term}) as screen:
        work(screen, lines(*TO_THE_LISTS), Eye())
        screen.see_text("MAINTENANCE RELEASE")
        assert screen.colours() == {"default"}


def test_lists_a_drill_and_the_way_home_at_the_cockpit_size(logs: Path) -> None:
    eye = Eye()
    with Terminal(demo(logs), 40, 12) as screen:
        work(screen, script("drill_generator_failure"), eye)
        end_the_day(screen, logs)
    assert eye.drills == {"GENERATOR FAILURE"}
    assert len(eye.questions) > 130
    assert verified(logs) == "closed"


@pytest.mark.long
@pytest.mark.parametrize("name", DRILLS)
@pytest.mark.parametrize("size", [(80, 24), (40, 12)], ids=["80x24", "40x12"])
def test_every_drill_by_keys(
    logs: Path, name: str, size: tuple[int, int], record_property: Callable[[str, object], None]
) -> None:
    eye = Eye()
    with Terminal(demo(logs), *size) as screen:
        work(screen, script(name), eye)
        end_the_day(screen, logs)
    assert eye.drills
    assert verified(logs) == "closed"
    record_property("days with a drill, by keys alone", 1)


@pytest.mark.long
@pytest.mark.parametrize("size", [(40, 12), (132, 40)], ids=["40x12", "132x40"])
def test_the_whole_day_at_other_sizes(logs: Path, size: tuple[int, int]) -> None:
    assert len(whole_day(logs, size).questions) > 300
