"""One spelling of a time, against the standard library's calendar."""

from datetime import UTC, datetime

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from audit.errors import Fault
from audit.stamps import LAST_WALL_MS, parse_wall, wall_text


@given(st.integers(0, LAST_WALL_MS))
@example(0)
@example(LAST_WALL_MS)
@example(951_782_400_000)  # 29 February 2000
def test_a_time_is_spelled_and_read_back(wall_ms: int) -> None:
    text = wall_text(wall_ms)
    assert parse_wall(text) == wall_ms
    moment = datetime.fromtimestamp(wall_ms // 1000, UTC)
    assert text == moment.strftime("%Y-%m-%dT%H:%M:%S") + f".{wall_ms % 1000:03d}Z"


@given(st.text(max_size=30) | st.from_regex(r"\A[0-9TZ:.\-]{24}\Z"))
def test_other_spellings_are_refused(text: str) -> None:
    try:
        wall_ms = parse_wall(text)
    except Fault:
        return
    assert wall_text(wall_ms) == text


@pytest.mark.parametrize(
    "text",
    [
        "2026-02-29T00:00:00.000Z",
        "2026-11-24T24:00:00.000Z",
        "2026-11-24T23:59:60.000Z",
        "2026-11-24T23:60:59.000Z",
        "1969-12-31T23:59:59.999Z",
        "2026-11-24T21:50:03.412z",
        "2026-11-24T21:50:03,412Z",
        "٢026-11-24T21:50:03.412Z",
        "0000-11-24T21:50:03.412Z",
    ],
)
def test_times_that_are_none(text: str) -> None:
    with pytest.raises(Fault):
        parse_wall(text)
