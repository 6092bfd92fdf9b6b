"""A keyboard at a screen, and every sheet of a page: how the tests turn what a crew would turn.

Rules: a key is pressed at what stands on the screen, as a shell does it: the cut of the page comes
from the same size; the clock stands where the test puts it.
"""

from __future__ import annotations

from typing import Any

from runner.engine.effects import Listen, Prompt, View
from runner.terminal.aside import Aside, Size
from runner.terminal.clock import Clock
from runner.terminal.keys import press, settle
from runner.terminal.keystate import Action, Do, KeyState
from runner.terminal.layout import cut_of, screen
from runner.terminal.rows import row_cells, text
from runner.terminal.shell import Document, Receipt

UTC_AT_ZERO = 1_767_253_200_000  # 2026-01-01 07:40:00 UTC
ROTOR_BRAKE = Listen(7, Prompt.ASKING, "before_start.rotor_brake", ("RELEASED",))


def every_sheet(one: View, size: Size, aside: Aside, now: int = 60_000) -> list[str]:
    """The words of every sheet that turning shows, in order; the keys' cut must say as many."""
    clock = Clock(UTC_AT_ZERO, now)
    out: list[str] = []
    while True:
        starts = cut_of(one, clock, size, aside).starts
        offset = starts[len(out)] if len(out) < len(starts) else 0
        beside = aside._replace(keys=aside.keys._replace(sheet=len(out), offset=offset))
        rows = screen(one, clock, size, beside)
        assert len(rows) == size.rows
        assert {row_cells(row) for row in rows} == {size.columns}
        out.append(" ".join(text(rows).split()))
        many = max(1, len(cut_of(one, clock, size, beside).picks))
        assert len(out) <= many
        if len(out) == many:
            return out


SMALL = Size(40, 12)


class Pad:
    """A keyboard at a screen of a size: every key is pressed a second after the one before, at
    what then stands on that screen. `sent` are the words that came of it."""

    def __init__(self, one: View, size: Size = SMALL, heard: Listen = ROTOR_BRAKE) -> None:
        self.view, self.size, self.listen = one, size, heard
        self.at = 0
        self.state = settle(KeyState(), one, 0)
        self.did: list[Action] = []
        self.documents: tuple[Document, ...] = ()
        self.receipt = Receipt()

    @property
    def aside(self) -> Aside:
        return Aside(
            keys=self.state,
            listen=self.listen,
            registration="G-TVSA",
            head_code="7K2M-QX4D",
            documents=self.documents,
            receipt=self.receipt,
        )

    @property
    def screen(self) -> str:
        rows = screen(self.view, Clock(UTC_AT_ZERO, self.at), self.size, self.aside)
        return " ".join(text(rows).split())

    @property
    def sent(self) -> list[str]:
        return [one.text for one in self.did if one.do is Do.SEND]

    def key(self, *names: str, after: int = 1_000) -> Pad:
        for name in names:
            self.at += after
            cut = cut_of(self.view, Clock(UTC_AT_ZERO, self.at), self.size, self.aside)
            keys = self.state._replace(cut=cut)
            self.state, action = press(keys, name, self.at, self.view, self.listen)
            if action is not None:
                self.did.append(action)
                self.ask()
        return self

    def ask(self, **changes: Any) -> Pad:
        """The view changes, and the keyboard hears of it."""
        self.view = self.view._replace(**changes)
        self.state = settle(self.state, self.view, self.at)
        return self
