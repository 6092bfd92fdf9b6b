"""A call that waits: how long, how to stand by, and nothing of it beside what is typed."""

from __future__ import annotations

from types import ModuleType
from typing import Any

import pytest

from runner.terminal.aside import Aside, Size
from runner.terminal.clock import Clock
from runner.terminal.keystate import KeyState
from runner.terminal.layout import screen
from runner.terminal.rows import Rows, text

SMALL, WIDE = Size(40, 12), Size(80, 24)
HOUR = 3_600_000


@pytest.fixture
def drawn(fakes: ModuleType) -> Any:
    def draw(size: Size, waited: int, calls: int = 3, **typed: Any) -> Rows:
        aside = Aside(listen=fakes.listen(), waited=waited, calls=calls, keys=KeyState(**typed))
        return screen(fakes.view(), Clock(fakes.UTC_AT_ZERO, waited), size, aside)

    return draw


@pytest.mark.parametrize("size", [SMALL, WIDE])
def test_more_than_an_hour_is_read_as_hours(drawn: Any, size: Size) -> None:
    assert "WAITING 1:08:50" in text(drawn(size, HOUR + 530_000))
    assert "68:50" not in text(drawn(size, HOUR + 530_000))


@pytest.mark.parametrize("size", [SMALL, WIDE])
def test_after_two_minutes_to_stand_by_is_offered(drawn: Any, size: Size) -> None:
    assert "CALLED 3 TIMES, WAITING 1:59" in text(drawn(size, 119_999))
    assert "STAND BY" not in text(drawn(size, 119_999))
    rows = drawn(size, 120_000)
    assert "WAITING 2:00   STAND BY F3" in text(rows)
    assert [span.key for row in rows for span in row if span.text == "STAND BY F3"] == ["f3"]


def test_a_wide_screen_has_it_in_the_row_of_keys(drawn: Any) -> None:
    assert "STAND BY F3" in text(drawn(WIDE, HOUR)[-1:])
    assert "STAND BY F3" not in text(drawn(WIDE, 119_999)[-1:])


@pytest.mark.parametrize("typed", [{"typed": "12"}, {"line": "snag rattle"}])
@pytest.mark.parametrize("size", [SMALL, WIDE])
def test_nothing_counts_while_something_is_typed(
    drawn: Any, size: Size, typed: dict[str, Any]
) -> None:
    assert "WAITING" not in text(drawn(size, HOUR, **typed))
