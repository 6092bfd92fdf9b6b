"""The canvas on an emulated terminal: what stands there, and how little is written for it."""

from __future__ import annotations

import io
from typing import Any, cast

import pytest
from prompt_toolkit.data_structures import Size as Cells
from prompt_toolkit.output.vt100 import Vt100_Output
from prompt_toolkit.styles import default_ui_style

from runner.terminal.aside import Size
from runner.terminal.canvas import Canvas
from runner.terminal.rows import Row, Rows, Span, Tone, filled
from runner.terminal.themes import DARK, DAY, NIGHT, PLAIN, Depth, Theme
from tests.terminal_paper import papers

pyte = pytest.importorskip("pyte")

WIDTH, HEIGHT = 20, 6


class Stage:
    """A canvas, the rows it is to show, and the terminal that shows them."""

    def __init__(
        self, depth: Depth = Depth.FULL, columns: int = WIDTH, lines: int = HEIGHT
    ) -> None:
        self.size = Cells(rows=lines, columns=columns)
        self.rows: Rows = ()
        self.theme: Theme = DAY
        self._sent = io.StringIO()
        self.screen = pyte.Screen(columns, lines)
        self._stream = pyte.Stream(self.screen)
        output = Vt100_Output(self._sent, lambda: self.size, term="xterm-256color")
        self.canvas = Canvas(self._draw, depth, default_ui_style(), output)

    def _draw(self, size: Size) -> tuple[Rows, Theme]:
        assert size == (self.size.columns, self.size.rows)
        return self.rows, self.theme

    def show(self, *texts: str | Row, is_done: bool = False) -> str:
        """Draws one row a text; what was written for it."""
        made: list[Row] = [(Span(text),) if isinstance(text, str) else text for text in texts]
        made += [()] * (self.size.rows - len(made))
        self.rows = tuple(filled(row, self.size.columns) for row in made)
        return self.draw(is_done=is_done)

    def draw(self, *, is_done: bool = False) -> str:
        """Draws the rows as they are; what was written for it."""
        self.take()
        self.canvas.render(cast(Any, None), cast(Any, None), is_done)
        return self.take()

    def take(self) -> str:
        """What was written since the last look, fed to the terminal."""
        sent = self._sent.getvalue()
        self._sent.seek(0)
        self._sent.truncate()
        self._stream.feed(sent)
        return sent

    @property
    def text(self) -> list[str]:
        """What stands on the terminal."""
        return [line.rstrip() for line in self.screen.display]


def test_what_is_drawn_stands_there() -> None:
    stage = Stage()
    stage.show("ONE", "", "THREE", "", "", "X" * WIDTH)
    assert stage.text == ["ONE", "", "THREE", "", "", "X" * WIDTH]


def test_only_rows_that_changed_are_written() -> None:
    stage = Stage()
    stage.show("ONE", "TWO", "THREE", "FOUR")
    sent = stage.show("ONE", "2", "THREE", "4")
    assert stage.text == ["ONE", "2", "THREE", "4", "", ""]
    assert "ONE" not in sent
    assert "THREE" not in sent
    assert "ONE" not in stage.draw()


def test_the_same_rows_in_another_theme_are_written_again() -> None:
    stage = Stage()
    stage.show("ONE")
    day = stage.screen.buffer[0][0].bg
    stage.theme = NIGHT
    assert "ONE" in stage.draw()
    assert stage.screen.buffer[0][0].bg != day
    assert stage.screen.buffer[HEIGHT - 1][WIDTH - 1].bg == stage.screen.buffer[0][0].bg


def test_a_tone_is_seen_in_one_bit_too() -> None:
    stage = Stage(Depth.ONE_BIT)
    stage.theme = PLAIN
    sent = stage.show((Span("A"), Span("B", Tone.BAND), Span("C", Tone.BIG)))
    cells = stage.screen.buffer[0]
    assert [cells[i].reverse for i in range(3)] == [False, True, False]
    assert [cells[i].bold for i in range(3)] == [False, False, True]
    assert "38;" not in sent
    assert "48;" not in sent


def test_another_size_is_drawn_whole_again() -> None:
    stage = Stage()
    stage.show("ONE", "TWO")
    stage.size = Cells(rows=4, columns=12)
    stage.screen.resize(4, 12)
    stage.canvas.erase(leave_alternate_screen=False)
    sent = stage.show("ONE", "TWO", "", "Y" * 12)
    assert "\x1b[?1049h" not in sent
    assert stage.text == ["ONE", "TWO", "", "Y" * 12]


def test_fewer_rows_than_the_terminal_has_leave_nothing_old() -> None:
    stage = Stage()
    stage.show("1", "2", "3", "4", "5", "6")
    stage.rows = ((Span("only"),),)
    stage.draw()
    assert [line.strip() for line in stage.text] == ["only", "", "", "", "", ""]


def test_no_control_character_reaches_the_terminal() -> None:
    stage = Stage()
    sent = stage.show((Span("A\x1b]0;x\x07B\nC\x9b1m"),), "NEXT")
    assert "\x1b]" not in sent
    assert "\x07" not in sent
    assert "\x9b" not in sent
    assert stage.text[:2] == ["A ]0;x B C 1m", "NEXT"]


def test_the_terminal_is_given_back() -> None:
    stage = Stage()
    sent = stage.show("ONE")
    assert sent.index("\x1b[?1049h") < sent.index("\x1b[?7l") < sent.index("ONE")
    assert "\x1b[?2004h" in sent
    assert "\x1b[?25l" in sent
    sent = stage.show("LAST", is_done=True)
    ends = [sent.index(code) for code in ("LAST", "\x1b[?7h", "\x1b[?2004l", "\x1b[?1049l")]
    assert ends == sorted(ends)
    assert "\x1b[?25h" in sent[ends[-1] :]
    # What comes after on the same terminal begins anew.
    assert "\x1b[?1049h" in stage.show("AGAIN")


def test_no_cell_is_ever_of_another_paper() -> None:
    """Day on a terminal that is dark, night on one that is white: from the first byte to the last,
    through another theme, another size and the end, each cell is of the theme that stands."""
    for theme, other in ((NIGHT, DARK), (DARK, NIGHT), (DAY, NIGHT)):
        stage = Stage()
        stage.theme = theme
        sent = stage.show("ONE", "TWO")
        stage.size = Cells(rows=HEIGHT + 2, columns=WIDTH + 4)
        stage.screen.resize(HEIGHT + 2, WIDTH + 4)
        stage.canvas.erase(leave_alternate_screen=False)
        sent += stage.take() + stage.show("ONE", "THREE")
        first = papers(sent)
        assert first.seen == {rgb(theme)}
        assert first.entered_in == [rgb(theme)]
        stage.theme = other
        sent += stage.show("LAST", is_done=True)
        whole = papers(sent)
        assert whole.seen == {rgb(theme), rgb(other)}
        assert whole.left_in == [rgb(other)]
        assert whole.paper == "default"
        # The page that is left is blank, in the theme's paper.
        assert not "".join(stage.text).strip()
        assert {cell.bg for row in stage.screen.buffer.values() for cell in row.values()} == {
            other.pens[Tone.TEXT].paper.removeprefix("#")
        }


def test_what_the_terminal_was_asked_for_is_taken_back() -> None:
    stage = Stage()
    before = set(stage.screen.mode)
    stage.show("ONE")
    assert set(stage.screen.mode) != before
    sent = stage.show("LAST", is_done=True)
    assert set(stage.screen.mode) == before
    for mode in (1000, 1003, 1004, 1006, 1015, 2004):
        assert f"\x1b[?{mode}l" in sent
    assert stage.show("AGAIN").count("\x1b[?2026h") == 1


def test_a_whole_page_is_seen_at_once() -> None:
    stage = Stage()
    sent = stage.show("ONE")
    assert sent.index("\x1b[?2026h") < sent.index("\x1b[?1049h") < sent.index("ONE")
    assert sent.endswith("\x1b[?2026l")
    assert "2026" not in stage.show("TWO")


def rgb(theme: Theme) -> str:
    paper = theme.pens[Tone.TEXT].paper
    return ",".join(str(int(paper[at : at + 2], 16)) for at in (1, 3, 5))


def test_a_wide_character_spoils_no_other_row() -> None:
    stage = Stage()
    stage.show("\u6a5f\u6a5f", "TWO")
    stage.show("\u6a5f", "TWO")
    assert stage.text[1] == "TWO"
    assert stage.screen.display[0].replace(" ", "") == "\u6a5f"
