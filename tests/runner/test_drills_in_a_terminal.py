"""At a real terminal, key by key: every end that the author of a drill wrote, from the page of
drills to what the list does after it."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.terminal_crew import work
from tests.terminal_day import (
    TO_THE_LISTS,
    demo,
    events,
    lines,
    met,
    outcomes,
    verified,
)
from tests.terminal_drills import ENDS, Way, kind, take
from tests.terminal_driver import Terminal
from tests.terminal_eye import Eye, table

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")

BEFORE = ["documents.maintenance_release"]
COCKPIT, WIDE = (40, 12), (80, 24)
QUICK = [way for way in ENDS if way.drill in ("Magneto out of limits", "Generator failure")]


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


def name(way: Way) -> str:
    return f"{way.drill}: {way.end}"


def to_its_end(logs: Path, way: Way, size: tuple[int, int]) -> None:
    """Opens a drill at the second question of the day and answers it to an end."""
    eye = Eye()
    with Terminal(demo(logs), *size) as screen:
        work(screen, lines(*TO_THE_LISTS, "commander: signed, in date"), eye)
        if way.airborne:
            work(screen, lines("mark take-off"))
            screen.see_text("IN FLIGHT")
        work(screen, lines(f"drill {way.drill.lower()}"), eye)
        take(screen, way)
        screen.see_text(f"DRILL ENDED: {way.drill.upper()}, {way.end}")
        after(screen, logs, way)
    assert verified(logs) == "unclosed"


def after(screen: Terminal, logs: Path, way: Way) -> None:
    """What the log and the screen must say behind an end."""
    flow = next(f for f in table().flows.values() if f.drill and f.title == way.drill)
    end = next(end for end in flow.ends if end.label == way.end)
    assert outcomes(logs, "drill in", "drill out") == [
        ("drill in", flow.id), ("drill out", flow.id, end.kind.value, end.label),
    ]  # fmt: skip
    assert met(logs)[:1] == BEFORE
    ended = next(n for n, data in enumerate(events(logs)) if "drill out" in str(data["outcome"]))
    came = [tuple(item) for data in events(logs)[ended:] for item in data["outcome"]]
    entered = [item[1] for item in came if item[0] == "entered"]
    defects = [item[2] for item in came if item[:2] == ("noted", "defect")]
    assert defects == ([end.defect] if end.defect else [])
    match kind(way):
        case "continue here":
            assert entered == []
            screen.see_text("2 HOURS TO NEXT INSPECTION")
        case "restart":
            # A list that was never closed lies before the one to begin again: it comes first.
            assert entered == ["documents"]
            screen.see_text("1 MAINTENANCE RELEASE")
            screen.see_text("0 OF 10")
        case "discontinue" | "unserviceable":
            assert entered == (["landing"] if way.airborne else ["switches"])
            screen.see_text("FUEL SELECTOR" if way.airborne else "RADIOS AND TRANSPONDER")
        case other:
            raise AssertionError(f"an end of another kind: {other}")
    if end.defect:
        screen.key("/", "0", "0", "0", "3", after_ms=1000)
        screen.see_text("DEFECT")
        kept = end.defect.upper()[:20]
        screen.see(lambda: kept in screen.text().upper(), end.defect)


def test_every_end_of_every_drill_has_its_way() -> None:
    written = {(f.title, e.label) for f in table().flows.values() if f.drill for e in f.ends}
    assert sorted((way.drill, way.end) for way in ENDS) == sorted(written)
    assert {kind(way) for way in QUICK} == {kind(way) for way in ENDS}


@pytest.mark.parametrize("way", QUICK, ids=name)
def test_a_drill_with_each_of_its_ends(logs: Path, way: Way) -> None:
    to_its_end(logs, way, WIDE)


@pytest.mark.long
@pytest.mark.parametrize("way", ENDS, ids=name)
def test_every_end_at_the_cockpit_size(
    logs: Path, way: Way, record_property: Callable[[str, object], None]
) -> None:
    to_its_end(logs, way, COCKPIT)
    record_property("drills to each of their ends", 1)


def test_a_drill_shows_all_its_memory_items_at_once_and_begins_a_list_again(logs: Path) -> None:
    drained = next(way for way in ENDS if way.end == "Drained, turns free")
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_THE_LISTS, "drill hydraulic lock felt"))
        screen.see_text("1 Starter or crank: LET GO")
        screen.see_text("2 Magneto selector: MAGNETOS OFF")
        assert outcomes(logs, "drill in") == [("drill in", "hydraulic_lock")]
        take(screen, drained)
        # What stood open before the drill is open: the list that is begun again lets nothing by.
        screen.see_text("1 MAINTENANCE RELEASE")
        screen.see_text("0 OF 10")
        screen.see(lambda: "DRILLS *" in screen.hint(), "the screen to its last row")
        assert "LIST CLOSED" not in screen.text()
    assert ("drill out", "hydraulic_lock", "restart", "Drained, turns free") in outcomes(logs)
    assert outcomes(logs, "list closed") == []
    assert verified(logs) == "unclosed"


def test_a_drill_in_a_drill_takes_its_place(logs: Path) -> None:
    """Two drills after each other, the second one by the key and from inside the first: it alone
    has an end, and the list stands where it stood."""
    charging = next(way for way in ENDS if way.end == "Charging again")
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_THE_LISTS, "commander: signed, in date"))
        work(screen, lines("drill magneto out of limits", "memory items done"))
        screen.see_text("481 MAGNETO SELECTOR")
        work(screen, lines("drill generator failure"))
        take(screen, charging)
        screen.see_text("2 HOURS TO NEXT INSPECTION")
    told = outcomes(logs, "drill in", "drill out")
    assert [item[:2] for item in told] == [
        ("drill in", "magneto_fault"),
        ("drill in", "generator_failure"), ("drill out", "generator_failure"),
    ]  # fmt: skip
    assert verified(logs) == "unclosed"
