"""The full screen: draws rows, reads keys, and keeps the terminal honest.

Rules: the application lives on the main thread and the desk may call from any thread, through
`call_soon_threadsafe`; the terminal's waiting input is thrown away at every new question; nothing
but these rows reaches the terminal while it stands (standard error goes to a file of its own and
is printed after); Ctrl-C and signals of the keyboard end nothing; a terminal that goes away ends
the shell with a reason, never the run.
"""

from __future__ import annotations

import asyncio
import contextlib
import gc
import sys
from typing import Any

from prompt_toolkit.application import Application, application
from prompt_toolkit.input import Input
from prompt_toolkit.layout import FormattedTextControl, Layout, Window
from prompt_toolkit.output import Output
from prompt_toolkit.styles import Style

from runner.engine.effects import Effect, Listen, Say, Show, Sound, Voice
from runner.terminal.aside import Aside, Message, Size
from runner.terminal.attention import calls_due
from runner.terminal.bare import drawn, our_fault
from runner.terminal.canvas import DEPTHS, Canvas
from runner.terminal.clock import Clock
from runner.terminal.ending import GONE, signals
from runner.terminal.keymap import NO_OWN_KEYS, Keymap
from runner.terminal.keynames import reduced
from runner.terminal.keys import press, settle
from runner.terminal.keystate import Action, Cut, Do, KeyState, Page
from runner.terminal.layout import cut_of
from runner.terminal.messages import only_calls
from runner.terminal.pointing import Point, Pointer, point_at
from runner.terminal.rows import Rows, clean
from runner.terminal.shell import Desk, Ear, Ended, How, Receipt
from runner.terminal.strays import errors_aside
from runner.terminal.terminal_input import (
    Ears,
    answers_of_terminal,
    bindings,
    reports,
    throw_away_waiting,
)
from runner.terminal.themes import (
    DAY,
    THEMES,
    Depth,
    Theme,
    find_theme,
    next_theme,
)
from runner.terminal.voicekeys import TALK, tell, voice_words

AWAY, BAD_KEYS = "KEYS GO ELSEWHERE", "DEFAULT KEYS: FILE BAD"
"""Bands of the keys, beside those of talking."""
_TICK_S = 0.25
_MOST_FAULTS = 8
"""So many faults with no screen drawn between them, two seconds of ticks, end the shell."""
_LOOKS = (700, 10, 10)
"""Looks for garbage, often and short: the interpreter's own numbers, whatever the start had."""


class FullScreen:
    """The full screen shell. `source` and `sink` stand in for the terminal in tests."""

    def __init__(
        self,
        theme: str = "day",
        depth: Depth = Depth.FULL,
        source: Input | None = None,
        sink: Output | None = None,
        keymap: Keymap = NO_OWN_KEYS,
        ear: Ear | None = None,
    ) -> None:
        self._theme: Theme = find_theme(theme) or DAY
        self._depth = depth
        self._source = source
        self._sink = sink
        self._keymap = keymap.for_voice() if ear is not None else keymap
        self._ear = ear
        self._keys = KeyState()
        self._pointer = Pointer()
        self._away = False
        self._bell_owed = False
        self._messages: tuple[Message, ...] = ()
        self._calls = 1
        self._blocks = sink is not None or _is_unicode()
        self._ended: Ended | None = None
        self._faults = 0

    def run(self, desk: Desk) -> Ended:
        """Works the run until it is closed, left or the terminal is gone."""
        self._desk = desk
        self._view, self._listen = desk.view(), desk.listen()
        # What stands now stays: no key waits while it is looked through for garbage.
        gc.freeze()
        gc.set_threshold(*_LOOKS)
        with errors_aside(), signals(self._signalled):
            try:
                asyncio.run(self._work())
            except (EOFError, OSError):
                return self._ended or Ended(How.VANISHED, GONE)
            except Exception:
                # What failed while it was drawn fails once more in the last drawing of all.
                if self._ended is None:
                    raise
        return self._ended or Ended(How.VANISHED, GONE)

    async def _work(self) -> None:
        self._app: Application[None] = self._application()
        self._loop = asyncio.get_running_loop()
        self._loop.set_exception_handler(self._fault)
        self._desk.subscribe(self._heard)
        # Seen after subscribing, so that no event can fall between the two.
        self._view, self._listen = self._desk.view(), self._desk.listen()
        self._keys = settle(self._keys, self._view, self._desk.now())
        ticking = asyncio.create_task(self._tick())
        try:
            await self._app.run_async(handle_sigint=False, set_exception_handler=False)
        finally:
            ticking.cancel()

    def _application(self) -> Application[None]:
        # The library's editing keys act in a field of text, and there is none here; to make its six
        # hundred bindings takes as long as to read all the documents.
        application.load_key_bindings = answers_of_terminal  # type: ignore[attr-defined]
        app: Application[None] = Application(
            # Somebody must have the focus; what is seen is the canvas's.
            layout=Layout(Window(FormattedTextControl(focusable=True))),
            key_bindings=bindings(self._keymap, Ears(self._key, self._point, self._focus)),
            full_screen=True,
            mouse_support=False,
            color_depth=DEPTHS[self._depth],
            input=self._source,
            output=self._sink,
            enable_page_navigation_bindings=False,
        )
        app.renderer = self._canvas = Canvas(
            self._draw, self._depth, Style([]), app.output, reports(self._keymap.mouse)
        )
        app.after_render += self._rendered
        app.ttimeoutlen = 0.05
        app.timeoutlen = 0.05
        return app

    def _size(self) -> Size:
        size = self._app.output.get_size()
        return Size(size.columns, size.rows)

    def _draw(self, size: Size) -> tuple[Rows, Theme]:
        desk, now = self._desk, self._desk.now()
        clock = Clock(desk.utc_at_zero, now)
        return drawn(self._view, clock, size, self._aside(now)), self._theme

    def _aside(self, now: int) -> Aside:
        desk = self._desk
        return Aside(
            keys=self._keys,
            listen=self._listen,
            bands=(*desk.bands(), *self._own_bands(now)),
            registration=desk.registration,
            head_code=desk.head_code,
            messages=self._messages,
            waited=now - self._keys.asked_at,
            calls=self._calls,
            theme=self._theme.name,
            blocks=self._blocks,
            keymap=self._keymap,
            documents=desk.documents(),
            machine=desk.machine(),
            receipt=desk.receipt() if self._keys.page is Page.RECEIPT else Receipt(),
            owed=desk.owed() if self._keys.page is Page.CREW else (),
            voice=self._ear is not None,
        )

    def _own_bands(self, now: int) -> tuple[str, ...]:
        """What is so of the keys for as long as it is so."""
        away = (AWAY,) if self._away else ()
        bad = (BAD_KEYS,) if self._keymap.fault else ()
        return (*self._voice_bands(now), *away, *bad)

    def _voice_bands(self, now: int) -> tuple[str, ...]:
        """With the voice what it really does; without it what the keys ask for."""
        if self._ear is None or self._keys.transmit:
            return voice_words(self._keys, now)
        return self._ear.bands()

    def _key(self, name: str) -> None:
        """A key of the terminal, by its name."""
        in_words = self._keys.line is not None and self._keys.page is Page.NONE
        meant = self._keymap.means(name, in_words)
        if meant:
            self._pressed(reduced(meant))

    def _point(self, point: Point) -> None:
        shown = self._canvas.shown
        now = self._desk.now()
        self._pointer, key = point_at(self._pointer, point, shown, self._keys.ask, now, self._away)
        if key:
            self._pressed(key)

    def _focus(self, here: bool) -> None:
        if here:
            self._pointer = self._pointer._replace(back_at=self._desk.now())
        elif not self._away:
            self._bell()
        self._away = not here
        self._app.invalidate()

    def _pressed(self, key: str) -> None:
        now = self._desk.now()
        clock = Clock(self._desk.utc_at_zero, now)
        cut = Cut()  # one sheet, where the page cannot be drawn
        with contextlib.suppress(Exception):
            cut = cut_of(self._view, clock, self._size(), self._aside(now))
        keys = self._keys._replace(cut=cut)
        note = tell(self._ear, key, keys, now) if self._ear is not None else ""
        self._keys, action = press(keys, key, now, self._view, self._listen)
        if action is not None:
            self._do(action)
        if note:
            self._keys = self._keys._replace(note=note)
        if self._bell_owed and not self._keys.transmit:
            self._bell()
        self._app.invalidate()

    def _do(self, action: Action) -> None:
        if action.do is Do.SEND:
            self._desk.submit_text(action.text, action.ask)
            # Behind whatever it brought: the keyboard must not wait for effects that never come.
            self._heard(())
        elif action.do is Do.THEME:
            wanted = find_theme(action.text) if action.text else next_theme(self._theme)
            if wanted is None:
                note = f"NO SUCH THEME: {', '.join(THEMES)}"
                self._keys = self._keys._replace(note=note)
            else:
                self._theme = wanted
                note = f"{wanted.name} theme: {wanted.note}".upper()
                self._keys = self._keys._replace(note=note)
        else:
            self._end(Ended(How.LEFT, "the run was left open and can be resumed"))

    def _heard(self, effects: tuple[Effect, ...]) -> None:
        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(self._take, effects)

    def _take(self, effects: tuple[Effect, ...]) -> None:
        """Only what was taken here is on the screen: keys are bound to that question."""
        for effect in effects:
            if isinstance(effect, Show):
                self._view = effect.view
            elif isinstance(effect, Listen):
                self._listen = effect
        fresh = self._view.ask != self._keys.ask
        self._keys = settle(self._keys, self._view, self._desk.now())
        if self._ear is not None and self._keys.begins:
            self._ear.cover(covered=True)  # not only when it is drawn, which a terminal may delay
        if fresh:
            self._messages, self._calls = (), 1
            if self._source is None:
                throw_away_waiting()
        warning = any(isinstance(e, Sound) and e.attention == "warning" for e in effects)
        said = [e for e in effects if isinstance(e, Say) and not only_calls(e, self._view)]
        if said:
            self._messages = tuple(
                Message(e.text, e.kind, warning and e.kind is Voice.TIMER, self._desk.now())
                for e in said[-4:]
            )
        if any(isinstance(e, Sound) for e in effects):
            self._bell()
        self._app.invalidate()
        if self._desk.finished:
            self._end(Ended(How.CLOSED, "the day is ended"))

    def _bell(self) -> None:
        """The bell; while somebody transmits, once after it."""
        self._bell_owed = self._keys.transmit
        if self._bell_owed:
            return
        self._app.output.bell()
        self._app.output.flush()

    async def _tick(self) -> None:
        while True:
            await asyncio.sleep(_TICK_S)
            due = calls_due(self._view, self._keys.asked_at, self._desk.now())
            if due > self._calls and not self._keys.transmit:
                self._calls = due
                self._bell()
                if self._ear is not None:
                    self._ear.call_again()
            self._app.invalidate()

    def _signalled(self, gone: bool) -> None:
        with contextlib.suppress(RuntimeError, AttributeError):
            if gone:
                self._loop.call_soon_threadsafe(self._end, Ended(How.VANISHED, GONE))
            else:
                self._loop.call_soon_threadsafe(self._key, "ctrl")

    def _end(self, ended: Ended) -> None:
        if self._ended is None:
            self._ended = ended
            with contextlib.suppress(Exception):
                self._app.exit()

    def _rendered(self, _: object) -> None:
        self._faults = 0
        if self._ear is not None:
            self._ear.cover(covered=self._keys.begins)
            self._ear.start(self._uncover)

    def _uncover(self) -> None:
        """The pedal puts away what the talk key does; called by its thread."""

        def put_away() -> None:
            if self._keys.begins:
                self._pressed(TALK)

        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(put_away)

    def _fault(self, loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
        fault = context.get("exception")
        if isinstance(fault, OSError | EOFError):
            self._end(Ended(How.VANISHED, GONE))
            return
        self._messages = (Message(our_fault(fault), Voice.REFUSED),)
        # Drawn at the next tick, not at once: what fails while it is drawn would fail for ever.
        self._faults += 1
        if self._faults > _MOST_FAULTS:
            why = clean(f"{type(fault).__name__}: {fault}" if fault else context["message"])
            self._end(Ended(How.LEFT, f"the screen failed ({why}); the run stays open"))


def _is_unicode() -> bool:
    """Whether the terminal's encoding can show half cells."""
    return (getattr(sys.stdout, "encoding", "") or "").lower().replace("-", "") == "utf8"
