"""What the recognisers guess before any bar."""

from __future__ import annotations

import pytest

pytest.importorskip("numpy")
pytest.importorskip("soundfile")

from tests.bench.speech.ceilings import Ceiling, ceilings, table
from tests.bench.speech.made import case


def test_guesses_are_counted_by_part_and_level_of_what_was_said() -> None:
    given = [
        case("parked", "parked", "parked", level=5.0),
        case("released", "released", "released"),
        case("released", "released", "parked"),
        case("released", "parked", "released"),
        case("released", "parked", ""),
        case("released", "parked", "parked"),
        case(None, "released", "released"),
        case("80", "80.0", "80", part="numbers"),
    ]
    found = ceilings(given)
    assert found == [
        Ceiling("phrases", None, 5, 2, 2, 1, 1, 2),
        Ceiling("phrases", 5.0, 1, 1, 1, 1, 0, 0),
        Ceiling("numbers", None, 1, 1, 1, 1, 0, 0),
    ]
    rows = table(found)
    assert rows[1].split() == [
        "phrases", "clean", "0.400", "0.400", "0.200", "right", "1,", "wrong", "2",
    ]  # fmt: skip
