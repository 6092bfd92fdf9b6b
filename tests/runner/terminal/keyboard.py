"""A keyboard over one view, for the tests of what keys mean."""

from __future__ import annotations

from runner.engine.effects import Listen, View
from runner.terminal.keys import press, settle
from runner.terminal.keystate import Action, Do, KeyState

LATER = 1_000


class Keyboard:
    """A keyboard over one view; `at` is run time, each key a second after the one before."""

    def __init__(self, view: View, listen: Listen, asked_at: int = 0) -> None:
        self.view, self.listen = view, listen
        self.state = settle(KeyState(), view, asked_at)
        self.at = asked_at
        self.did: list[Action] = []

    def key(self, *names: str, after: int = LATER) -> Keyboard:
        for name in names:
            self.at += after
            self.state, action = press(self.state, name, self.at, self.view, self.listen)
            if action is not None:
                self.did.append(action)
                self.state = settle(self.state, self.view, self.at)
        return self

    @property
    def sent(self) -> list[str]:
        return [one.text for one in self.did if one.do is Do.SEND]
