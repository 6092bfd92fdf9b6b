"""The documentation's table of keys says what the keys do."""

from __future__ import annotations

from runner.engine.effects import Prompt
from runner.terminal.keytable import answering, commands, markdown


def test_every_prompt_has_its_row_and_no_cell_is_empty() -> None:
    rows = answering()
    assert [row[0] for row in rows] == [prompt.value for prompt in Prompt]
    assert all(cell for row in rows for cell in row)


def test_every_command_is_reached_from_the_pad() -> None:
    rows = commands()
    assert len({pad for _, pad, _, _ in rows}) == len(rows) == 32
    by_name = {name: (key, pad) for key, pad, name, _ in rows}
    assert by_name["DISCONTINUE"] == ("F9", "/ 9")
    assert by_name["LEAVE OPEN"] == ("", "/ 0 9")
    assert by_name["NEXT FLIGHT"] == ("", "/ 0 0 1")
    assert by_name["COPY PAGE"] == ("", "/ 0 0 0 4")
    assert all(meaning for _, _, _, meaning in rows)


def test_markdown_has_a_line_for_each() -> None:
    assert markdown().count("\n") == 2 + len(Prompt) + 1 + 2 + 32
