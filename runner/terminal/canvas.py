"""Rows onto the terminal: only those that changed, each written whole.

Rules: prompt-toolkit goes on owning the terminal (its modes, its size, its colours), and this takes
the place of its renderer, which looks at every cell of every screen; nothing is known of what the
terminal shows but what was written here since the last `reset`; a row is written from its first
column on, so that a terminal with other widths for a character spoils no other row; a control
character reaches no terminal. No cell is ever of another paper than the theme's, from the first
byte to the last: the colour stands before the page is entered and until it is left, and a page is
made blank by spaces, since not every terminal erases in a colour.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

from prompt_toolkit.application import Application
from prompt_toolkit.layout import Layout
from prompt_toolkit.output import ColorDepth, Output
from prompt_toolkit.output.vt100 import Vt100_Output
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
_HOLD, _SHOW = "\x1b[?2026h", "\x1b[?2026l"
"""Synchronized output (DEC private mode 2026): what stands between is seen at once; a terminal that
does not know the mode passes over it."""

_FOCUS_OFF = "\x1b[?1004l"


class Canvas(Renderer):
    """Draws what `draw` gives for a size; `look` and `output` are those of the application, and
    `reports` what asks the terminal for its reports."""

    _up = False
    _drawn: Rows = ()
    _as: tuple[Size, Theme] | None = None

    def __init__(
        self,
        draw: Draw,
        depth: Depth,
        look: BaseStyle,
        output: Output,
        reports: str = "",
    ) -> None:
        self._draw = draw
        self._depth = depth
        self._reports = reports
        self._attrs = lru_cache(maxsize=None)(self._attributes)
        super().__init__(look, output, full_screen=True)

    @property
    def shown(self) -> Rows:
        """The rows that stand on the terminal."""
        return self._drawn

    def reset(self, _scroll: bool = False, leave_alternate_screen: bool = True) -> None:
        """Forgets what was drawn; gives the terminal back unless told to stay on its page."""
        shown = self._as
        self._drawn, self._as = (), None
        if self._up and leave_alternate_screen:
            self._up = False
            output = self.output
            if shown is not None:
                self._blank(shown[1])
            output.enable_autowrap()
            output.disable_bracketed_paste()
            # All that there is, whether asked for or left behind by another program.
            output.disable_mouse_support()
            self._raw(_FOCUS_OFF)
            output.quit_alternate_screen()
            output.reset_attributes()
            # A drawing that failed half way would leave the terminal waiting for the rest.
            self._raw(_SHOW)
        super().reset(_scroll, leave_alternate_screen)

    def erase(self, leave_alternate_screen: bool = True) -> None:
        """Forgets what was drawn, and leaves it standing until the next rows are written over it:
        to erase is to show the terminal's own page for a moment."""
        self.reset(leave_alternate_screen=leave_alternate_screen)

    def render(self, app: Application[Any], layout: Layout, is_done: bool = False) -> None:
        """Brings the terminal to the rows of this moment."""
        output = self.output
        cells = output.get_size()
        size = Size(cells.columns, cells.rows)
        rows, theme = self._draw(size)
        anew = self._as != (size, theme)
        if anew:
            self._raw(_HOLD)
            self._paper(theme)
        if not self._up:
            self._up = True
            output.enter_alternate_screen()
            output.enable_bracketed_paste()
            output.reset_cursor_key_mode()
            self._raw(self._reports)
        output.hide_cursor()
        if anew:
            output.disable_autowrap()
            self._blank(theme)
            self._as, self._drawn = (size, theme), ((),) * size.rows
        blank: Row = (Span(" " * size.columns),)
        rows = (*rows[: size.rows], *(blank,) * (size.rows - len(rows)))
        at = 0
        for number, (row, drawn) in enumerate(zip(rows, self._drawn, strict=True)):
            if row != drawn:
                output.cursor_down(number - at)
                self._write(row, theme)
                at = number
        # What the terminal fills in by itself, when its window grows, is of the paper that stands.
        self._paper(theme)
        output.cursor_up(at)
        if anew:
            self._raw(_SHOW)
        output.flush()
        self._drawn = rows
        if is_done:
            self.reset()

    def _raw(self, sequence: str) -> None:
        """A sequence that only a terminal of the VT family may be sent."""
        if isinstance(self.output, Vt100_Output):
            self.output.write_raw(sequence)

    def _paper(self, theme: Theme) -> None:
        self.output.set_attributes(self._attrs(theme.name, Tone.TEXT), DEPTHS[self._depth])

    def _blank(self, theme: Theme) -> None:
        output, size = self.output, self.output.get_size()
        self._paper(theme)
        output.write_raw("\r")
        for number in range(size.rows):
            output.cursor_down(min(number, 1))
            output.write_raw(" " * size.columns + "\r")
        output.cursor_up(size.rows - 1)

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
