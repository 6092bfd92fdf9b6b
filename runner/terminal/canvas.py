"""Rows onto the terminal: only those that changed, each written whole.

Rules: prompt-toolkit goes on owning the terminal (its modes, its size, its colours), and this takes
the place of its renderer, which looks at every cell of every screen; nothing is known of what the
terminal shows but what was written here since the last `reset`; a row is written from its first
column on, so that a terminal with other widths for a character spoils no other row; a control
character reaches no terminal.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

from prompt_toolkit.application import Application
from prompt_toolkit.layout import Layout
from prompt_toolkit.output import ColorDepth, Output
from prompt_toolkit.renderer import Renderer
from prompt_toolkit.styles import Attrs, BaseStyle

from runner.terminal.aside import Size
from runner.terminal.rows import Row, Rows, Span, Tone, clean
from runner.terminal.themes import THEMES, Depth, Theme, pen, style

DEPTHS = {
    Depth.ONE_BIT: ColorDepth.DEPTH_1_BIT,
    Depth.SIXTEEN: ColorDepth.DEPTH_4_BIT,
    Depth.INDEXED: ColorDepth.DEPTH_8_BIT,
    Depth.FULL: ColorDepth.DEPTH_24_BIT,
}
Draw = Callable[[Size], tuple[Rows, Theme]]


class Canvas(Renderer):
    """Draws what `draw` gives for a size; `look` and `output` are those of the application."""

    _up = False
    _drawn: Rows = ()
    _as: tuple[Size, Theme] | None = None

    def __init__(self, draw: Draw, depth: Depth, look: BaseStyle, output: Output) -> None:
        self._draw = draw
        self._depth = depth
        self._attrs = lru_cache(maxsize=None)(self._attributes)
        super().__init__(look, output, full_screen=True)

    def reset(self, _scroll: bool = False, leave_alternate_screen: bool = True) -> None:
        """Forgets what was drawn; gives the terminal back unless told to stay on its page."""
        self._drawn, self._as = (), None
        if self._up and leave_alternate_screen:
            self._up = False
            self.output.reset_attributes()
            self.output.enable_autowrap()
            self.output.disable_bracketed_paste()
            self.output.quit_alternate_screen()
        super().reset(_scroll, leave_alternate_screen)

    def render(self, app: Application[Any], layout: Layout, is_done: bool = False) -> None:
        """Brings the terminal to the rows of this moment."""
        output = self.output
        cells = output.get_size()
        size = Size(cells.columns, cells.rows)
        rows, theme = self._draw(size)
        if not self._up:
            self._up = True
            output.enter_alternate_screen()
            output.enable_bracketed_paste()
            output.reset_cursor_key_mode()
        output.hide_cursor()
        if self._as != (size, theme):
            output.reset_attributes()
            output.disable_autowrap()
            output.write_raw("\r")
            output.erase_down()
            self._as, self._drawn = (size, theme), ((),) * size.rows
        blank: Row = (Span(" " * size.columns),)
        rows = (*rows[: size.rows], *(blank,) * (size.rows - len(rows)))
        at = 0
        for number, (row, drawn) in enumerate(zip(rows, self._drawn, strict=True)):
            if row != drawn:
                output.cursor_down(number - at)
                self._write(row, theme)
                at = number
        output.reset_attributes()
        output.cursor_up(at)
        output.flush()
        self._drawn = rows
        if is_done:
            self.reset()

    def _write(self, row: Row, theme: Theme) -> None:
        output = self.output
        last: Attrs | None = None
        for text, tone, _ in row:
            attrs = self._attrs(theme.name, tone)
            if attrs != last:
                output.set_attributes(attrs, DEPTHS[self._depth])
                last = attrs
            output.write(text if text.isprintable() else clean(text))
        output.write_raw("\r")

    def _attributes(self, theme: str, tone: Tone) -> Attrs:
        words = style(pen(THEMES[theme], tone, self._depth), self._depth)
        return self.style.get_attrs_for_style_str(words)
