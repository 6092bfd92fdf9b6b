"""The pages of a day: lists, flights, end; nothing of them is lost at any size."""

from __future__ import annotations

from types import ModuleType

import pytest

from runner.engine.effects import Prompt
from runner.terminal.aside import Aside, Size
from runner.terminal.clock import Clock
from runner.terminal.keystate import KeyState, Page
from runner.terminal.pages_day import list_status

SIZES = [Size(40, 12), Size(80, 24), Size(120, 40)]


@pytest.fixture
def beside(fakes: ModuleType) -> Aside:
    return Aside(
        listen=fakes.listen(),
        registration="G-TVSA",
        head_code="7K2M-QX4D",
        documents=fakes.DOCUMENTS,
        machine=("Battery 41 %, not charging",),
    )


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_the_flights_of_the_day(fakes: ModuleType, beside: Aside, size: Size) -> None:
    page = beside._replace(keys=KeyState(page=Page.FLIGHTS))
    seen = " ".join(fakes.every_sheet(fakes.view(flights=fakes.FLIGHTS), size, page))
    undotted = " ".join(word for word in seen.split() if set(word) != {"."})
    for part in (
        "FLIGHT 2, BEGUN 08:00 UTC, NOW", "FLIGHT 1, BEGUN 07:40 UTC", "take-off 07:50 UTC",
        "landing 07:55 UTC", "FLIGHT 2, BEING DONE Before start HERE",
        "FLIGHT 2, DONE, STILL VALID UNTIL MAINTENANCE Documents and release 07:40 UTC",
        "STILL VALID UNTIL REFUELLED, OR STOPPED MORE THAN 30 MINUTES Outside inspection 07:55 UTC",
        "FLIGHT 2, NOT REQUIRED Cargo hook NO HOOK", "FLIGHT 2, NOT DONE After landing FLOWN ON",
        "FLIGHT 1, DONE, STILL VALID Documents and release 07:40 UTC",
        "FLIGHT 1, DONE Outside inspection 07:55 UTC", "FLIGHT 1, TO COME Start",
    ):  # fmt: skip
        assert part in undotted
    assert seen.index("FLIGHT 2, BEGUN") < seen.index("FLIGHT 1, BEGUN")


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_the_end_of_the_lists(fakes: ModuleType, beside: Aside, size: Size) -> None:
    view = fakes.view(prompt=Prompt.CLOSED, **{**fakes.KEPT, "open_lines": ()})
    sheets = fakes.every_sheet(view, size, beside)
    for part in (
        "LISTS CLOSED, NONE OPEN", "LOG SO FAR 7K2M-QX4D", "1 COPY PAGE",
        "2 SNAGS, DEFECTS", "3 FLIGHTS", "4 RECEIPT", "5 NEXT FLIGHT", "END OF DAY +",
    ):  # fmt: skip
        assert part in sheets[0]
    seen = " ".join(sheets)
    for part in (
        "SNAG: vibration, left pedal", "DEFECT: Landing lamp out", "take-off 07:50 UTC",
        "Shows what was answered, not that it was done.",
    ):  # fmt: skip
        assert part in seen


def test_status_of_a_list_in_words(fakes: ModuleType) -> None:
    clock = Clock(fakes.UTC_AT_ZERO, 0)
    said = [list_status(line, clock) for line in fakes.LISTS]
    assert said == [
        "DONE 07:40 UTC, STILL VALID", "DONE 07:55 UTC", "NOT REQUIRED: NO HOOK", "HERE",
        "TO COME", "TO COME",
    ]  # fmt: skip
