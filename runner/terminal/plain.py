"""The plain linear mode: labelled lines out, typed words in, nothing rewritten, no box.

Rules: the first line says the mode; every line read is bound to a question by `intake`, so that a
paste answers at most one; free words (discontinue, a drill) always count; an empty line answers
nothing; Ctrl-C ends nothing; the end of the input ends the shell, never the run.
"""

from __future__ import annotations

import queue
import sys
from typing import IO

from runner.engine.effects import Effect, Listen, Say, Show, Sound, View, Voice
from runner.terminal.attention import calls_due
from runner.terminal.clock import Clock
from runner.terminal.commands import local
from runner.terminal.ending import GONE, signals
from runner.terminal.intake import LONGEST_LINE, Intake, Typed
from runner.terminal.keys import takes_number
from runner.terminal.lines import HELP, LABELS, bands_line, call, changed, opening, times_said
from runner.terminal.messages import labelled
from runner.terminal.rows import clean
from runner.terminal.shell import Desk, Ended, How

_POLL_S = 0.25
CTRL_C = "Ctrl-C does not end a run; type: leave run open"
_Item = tuple[Effect, ...] | Typed | Ended | str


class Plain:
    """The plain linear shell. `source` is read by its descriptor, `sink` gets lines."""

    def __init__(self, source: IO[str] | None = None, sink: IO[str] | None = None) -> None:
        self._source = source if source is not None else sys.stdin
        self._sink = sink if sink is not None else sys.stdout
        self._queue: queue.SimpleQueue[_Item] = queue.SimpleQueue()
        self._view: View | None = None
        self._bands: tuple[str, ...] | None = None
        self._asked_at = 0
        self._calls = 1
        self._looked = 0

    def run(self, desk: Desk) -> Ended:
        """Works the run until it is closed, left or the terminal is gone."""
        self._desk = desk
        try:
            self._intake = Intake(self._source.fileno(), desk.now, self._queue.put)
        except (OSError, ValueError):
            return Ended(How.VANISHED, GONE)
        with signals(self._signalled):
            try:
                return self._work()
            except OSError:
                return Ended(How.VANISHED, GONE)
            finally:
                self._intake.stop()

    def _signalled(self, gone: bool) -> None:
        self._queue.put(Ended(How.VANISHED, GONE) if gone else CTRL_C)

    def _work(self) -> Ended:
        desk = self._desk
        desk.subscribe(self._queue.put)
        self._listen = desk.listen()
        first = desk.view()
        for line in opening(first, desk.registration):
            self._print(line)
        self._show(first)
        self._intake.start()
        while not desk.finished:
            try:
                item = self._queue.get(timeout=_POLL_S)
            except queue.Empty:
                self._time()
                continue
            ended = self._handle(item)
            if ended is not None:
                return ended
            self._time()
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
        called = False
        for effect in effects:
            if isinstance(effect, Say):
                if effect.kind is Voice.CALL:
                    called = True
                if effect.kind is not Voice.CALL and not _told_by_view(effect):
                    self._print(labelled(LABELS.get(effect.kind, "STATE"), effect.text))
            elif isinstance(effect, Show):
                shown = effect.view
            elif isinstance(effect, Listen):
                self._listen = effect
            elif isinstance(effect, Sound) and effect.attention in ("caution", "warning"):
                self._print(f"ATTENTION: {effect.attention}")
        if shown is not None:
            if called and self._view is not None and self._view.ask == shown.ask:
                # Said again: nothing changed, so no other line would tell it.
                clock = Clock(self._desk.utc_at_zero, self._desk.now())
                for line in call(shown, self._listen, clock):
                    self._print(line)
            self._show(shown)

    def _show(self, view: View) -> None:
        desk, old, now = self._desk, self._view, self._desk.now()
        if old is None or old.ask != view.ask:
            self._intake.new_ask(view.ask)
            self._asked_at, self._calls = now, 1
        clock = Clock(desk.utc_at_zero, now)
        self._say_bands(view)
        for line in changed(old, view, self._listen, clock):
            self._print(line)
        self._view = view

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
            for line in HELP:
                self._print(line)
        elif own:
            self._print("REFUSED: plain lines have no theme")
        else:
            self._desk.submit_text(self._numbered(text, typed.ask, view), typed.ask)
        return None

    def _numbered(self, text: str, ask: int, view: View) -> str:
        """The choice whose number was typed, where numbers are not values."""
        chooses = ask == view.ask and not takes_number(view, self._listen)
        if chooses and text in "123456789" and int(text) <= len(view.options):
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
                self._print(f"AGAIN, {line}")
            if due == 3:
                self._print("WAITING: the call stands until it is answered")

    def _print(self, line: str) -> None:
        self._sink.write(clean(line) + "\n")
        self._sink.flush()


def _told_by_view(said: Say) -> bool:
    """A list that is entered has a line of its own, with the number of its steps."""
    return said.kind is Voice.STATUS and said.text.startswith("LIST: ")
