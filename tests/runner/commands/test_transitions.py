"""The documentation's transition table is the code's."""

from __future__ import annotations

from pathlib import Path

from runner.commands.transitions import page
from runner.engine.effects import Prompt
from runner.engine.events import ALL

ROOT = Path(__file__).resolve().parents[3]


def test_the_page_says_what_the_table_says() -> None:
    assert (ROOT / "docs" / "transitions.md").read_text("utf-8") == page()


def test_the_page_has_every_event_and_every_state() -> None:
    lines = page().splitlines()
    header = next(line for line in lines if line.startswith("| event |"))
    assert all(f"| {prompt.value} " in header for prompt in Prompt)
    assert all(any(line.startswith(f"| {event.wire} |") for line in lines) for event in ALL)
