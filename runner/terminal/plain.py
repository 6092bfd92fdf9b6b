"""The plain linear mode: labelled lines out, typed words in, nothing rewritten, no box.

Rules: the first line says the mode; every line read is bound to a question by `intake`, so that a
paste answers at most one; free words (discontinue, a drill) always count; an empty line answers
nothing; Ctrl-C ends nothing; the end of the input ends the shell, never the run. A call that comes
again says only what has changed of it, and whatever was typed leaves at least one line. What is
printed while somebody types has lines of its own, and the typed text comes once more behind them.
"""

from __future__ import annotations

import queue
import re
import sys
from collections.abc import Sequence
from typing import IO

from runner.engine.effects import Effect, Listen, Prompt, Say, Show, Sound, View, Voice
from runner.terminal.attention import calls_due
from runner.terminal.calllines import call
from runner.terminal.clock import Clock
from runner.terminal.commands import local
from runner.terminal.ending import GONE, signals
from runner.terminal.intake import LONGEST_LINE, Intake, Typed
from runner.terminal.keys import takes_number
from runner.terminal.lines import HELP, bands_line, changed, heading, opening, place, times_said
from runner.terminal.rows import clean
from runner.terminal.saidlines import ENTERED, said_line
from runner.terminal.shell import Desk, Ear, Ended, How
from runner.terminal.typedline import TypedLine, at_terminal
from runner.terminal.wordpages import page_lines

_POLL_S = 0.25
_REPEATED = ("CALL", "CAUTION", "WAITING", "LAST VALUE", "CHOICE")
"""What of a call is said again at 10 s and 30 s."""
CTRL_C = "Ctrl-C does not end a run; type: leave run open"
_ITEM = re.compile(r"((?:[a-z]+ *[:,] *)?(?:tick|fault) )([1-9][0-9]?)", re.IGNORECASE)
"""A command to an item of a station by its number, perhaps behind whoever says it."""
_Item = tuple[Effect, ...] | Typed | Ended | str


class Plain:
    """The plain linear shell. `source` is read by its descriptor, `sink` gets lines."""

    def __init__(
        self, source: IO[str] | None = None, sink: IO[str] | None = None, ear: Ear | None = None
    ) -> None:
        self._ear = ear
        self._source = source if source is not None else sys.stdin
        self._sink = sink if sink is not None else sys.stdout
        self._queue: queue.SimpleQueue[_Item] = queue.SimpleQueue()
        self._view: View | None = None
        self._bands: tuple[str, ...] | None = None
        self._asked_at = 0
        self._calls = 1
        self._looked = 0
        self._line: TypedLine | None = None
        self._typed_text = ""
        self._owed = False
        self._entered = ""
        self._lines = 0
        self._stands: tuple[tuple[object, ...], frozenset[str]] = ((), frozenset())

    def run(self, desk: Desk) -> Ended:
        """Works the run until it is closed, left or the terminal is gone."""
        self._desk = desk
        try:
            descriptor = self._source.fileno()
            self._line = at_terminal(descriptor, self._write, LONGEST_LINE)
            self._intake = Intake(descriptor, desk.now, self._queue.put, self._line)
        except (OSError, ValueError):
            return Ended(How.VANISHED, GONE)
        with signals(self._signalled):
            try:
                return self._work()
            except OSError:
                return Ended(How.VANISHED, GONE)
            finally:
                self._intake.stop()
                if self._line is not None:
                    self._line.end()

    def _signalled(self, gone: bool) -> None:
        self._queue.put(Ended(How.VANISHED, GONE) if gone else CTRL_C)

    def _work(self) -> Ended:
        desk = self._desk
        desk.subscribe(self._queue.put)
        self._listen = desk.listen()
        first = desk.view()
        mode, *rest = opening(first, desk.registration, desk.documents(), desk.machine())
        self._print(mode)
        self._say_bands(first)
        self._print_all(rest)
        self._show(first)
        self._intake.start()
        if self._ear is not None:
            self._ear.start(lambda: None)
        while not desk.finished:
            try:
                item = self._queue.get(timeout=_POLL_S)
            except queue.Empty:
                item = None
            ended = self._handle(item) if item is not None else None
            if ended is not None:
                return ended
            self._time()
            if self._line is not None:
                self._line.keep()
                self._line.again()
        self._drain()
        self._print("NOTE: the log shows what was answered, not that it was done")
        return Ended(How.CLOSED, "the day is ended")

    def _drain(self) -> None:
        """Says what was still to be said when the day ended."""
        while not self._queue.empty():
            item = self._queue.get()
            if not isinstance(item, Ended | Typed | str):
                self._take(item)

    def _handle(self, item: _Item) -> Ended | None:
        if isinstance(item, Ended):
            return item
        if isinstance(item, str):
            self._print(f"KEYS: {item}")
            return None
        if isinstance(item, Typed):
            return self._typed(item)
        self._take(item)
        return None

    def _take(self, effects: tuple[Effect, ...]) -> None:
        shown: View | None = None
        for effect in effects:
            if isinstance(effect, Show):
                shown = effect.view
            elif isinstance(effect, Listen):
                self._listen = effect
        after = shown or self._view
        said = [effect for effect in effects if isinstance(effect, Say)]
        self._lines = 0
        if after is not None:
            self._say(said, after)
        for effect in effects:
            if isinstance(effect, Sound) and effect.attention in ("caution", "warning"):
                self._print(f"ATTENTION: {effect.attention}")
        if shown is not None:
            again = self._view is not None and self._view.ask == shown.ask
            if again and any(one.kind is Voice.CALL for one in said):
                # Said again: nothing changed, so no other line would tell it.
                self._print_all(call(shown, self._listen, self._clock()))
            self._show(shown, tuple(one.text for one in said))
        if self._owed and not self._lines and self._view is not None:
            lines = call(self._view, self._listen, self._clock())
            self._print(f"STANDS: {_call_line(lines)}")
        self._owed = False

    def _say(self, said: list[Say], after: View) -> None:
        """What was said. What is said of a list that is entered follows its heading."""
        asked = self._view.gauge if self._view is not None else None
        unit = asked.unit if asked is not None and asked.unit != "count" else ""
        for one in said:
            if one.text == f"{ENTERED}{after.title.upper()}" and self._entered != heading(after):
                self._entered = heading(after)
                self._print(self._entered)
            line = said_line(one, after, self._typed_text, unit)
            if line:
                self._print(line)

    def _show(self, view: View, told: tuple[str, ...] = ()) -> None:
        old = self._view
        if old is None or old.ask != view.ask:
            self._intake.new_ask(view.ask)
            self._asked_at, self._calls = self._desk.now(), 1
        self._say_bands(view)
        here = place(view)
        before, stood = self._stands
        asked = frozenset(call(view, self._listen, self._clock()))
        called = False
        for line in changed(old, view, self._listen, self._clock(), told):
            known = before == here and line in asked and line in stood
            if line != self._entered and not known:
                self._print(line)
                called = called or line in asked
        if old is not None and old.ask != view.ask and not (called or self._owed):
            # Another question in the same words, asked by itself: what is being typed is late.
            self._print(f"STANDS: {_call_line(call(view, self._listen, self._clock()))}")
        self._entered = ""
        self._stands = (here, asked)
        self._view = view

    def _clock(self) -> Clock:
        return Clock(self._desk.utc_at_zero, self._desk.now())

    def _say_bands(self, view: View) -> None:
        bands = (bands_line(view, self._desk.bands()),)
        if bands != self._bands:
            self._bands = bands
            self._print(bands[0])

    def _typed(self, typed: Typed) -> Ended | None:
        view = self._view
        if typed.gone or view is None:
            return Ended(How.VANISHED, GONE)
        if typed.long:
            self._print(f"REFUSED: a line of more than {LONGEST_LINE} bytes answers nothing")
            return None
        text = " ".join(clean(typed.text).split())
        if not text:
            self._print("EMPTY: an empty line answers nothing")
            return None
        own = local(text)
        if own == "leave":
            return Ended(How.LEFT, "the run was left open and can be resumed")
        if own == "keys":
            self._print_all(HELP)
        elif own:
            self._print("REFUSED: plain lines have no theme")
        elif (page := page_lines(text, view, self._clock(), self._desk)) is not None:
            self._print_all(page)
        else:
            self._typed_text, self._owed = text, True
            self._desk.submit_text(self._numbered(text, typed.ask, view), typed.ask)
        return None

    def _numbered(self, text: str, ask: int, view: View) -> str:
        """What the number that was typed stands for: a choice, where numbers are not values, or
        an item of the station behind its command."""
        if ask != view.ask:
            return text
        item = _ITEM.fullmatch(text) if view.prompt is Prompt.STATION else None
        if item is not None and int(item[2]) <= len(view.items):
            return item[1] + view.items[int(item[2]) - 1].challenge
        if takes_number(view, self._listen):
            return text
        if text in "123456789" and int(text) <= len(view.options):
            return view.options[int(text) - 1]
        return text

    def _time(self) -> None:
        view, now = self._view, self._desk.now()
        if view is None:
            return
        clock = Clock(self._desk.utc_at_zero, now)
        self._say_bands(view)
        for line in times_said(view, self._looked, clock):
            self._print(line)
        self._looked = now
        due = calls_due(view, self._asked_at, now)
        if due > self._calls:
            self._calls = due
            for line in call(view, self._listen, clock):
                if line.startswith(_REPEATED):
                    self._print(f"AGAIN, {line}")
            if due == 3:
                self._print("WAITING: the call stands until it is answered")

    def _print_all(self, lines: Sequence[str]) -> None:
        for line in lines:
            self._print(line)

    def _print(self, line: str) -> None:
        self._lines += 1
        if self._line is None:
            self._write(clean(line) + "\n")
            return
        with self._line.lock:
            self._line.aside()
            self._write(clean(line) + "\n")

    def _write(self, text: str) -> None:
        self._sink.write(text)
        self._sink.flush()


def _call_line(lines: list[str]) -> str:
    """The line of a call that names what is asked."""
    return next((line for line in lines if line.startswith(_REPEATED)), lines[0])
