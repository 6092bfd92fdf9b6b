"""The events that an alphabet is made of, each made once.

Rules: an event never changes, so one that is tried in many states is the same object in all of
them; it is found by its kind and everything that is said with it. What is rare is made where it is
tried.
"""

from __future__ import annotations

from runner.engine import events as ev
from runner.engine.table import Step


class Makers:
    """The events of one alphabet."""

    def __init__(self) -> None:
        self.made: dict[tuple[object, ...], ev.Event] = {}

    def now(self, kind: type[ev.Event], at: int) -> ev.Event:
        """An event of which nothing but its time is to be said."""
        place = (kind, at)
        made = self.made.get(place)
        if made is None:
            made = self.made[place] = kind(at)
        return made

    def said(self, kind: type[ev.Asked], at: int, ask: int, role: str) -> ev.Event:
        """An event to a question, without words of its own."""
        place = (kind, at, ask, role)
        made = self.made.get(place)
        if made is None:
            made = self.made[place] = kind(at, ask, role)
        return made

    def answer(self, at: int, ask: int, role: str, text: str) -> ev.Event:
        """An answer by a key."""
        place = (ev.Answer, at, ask, role, text)
        made = self.made.get(place)
        if made is None:
            made = self.made[place] = ev.Answer(at, ask, role, value=text)
        return made

    def accept(self, at: int, ask: int, role: str, reason: str, emergency: bool) -> ev.Event:
        """An acceptance with its reason."""
        place = (ev.Accept, at, ask, role, reason, emergency)
        made = self.made.get(place)
        if made is None:
            made = self.made[place] = ev.Accept(at, ask, role, reason=reason, emergency=emergency)
        return made

    def correct(self, at: int, step: Step, text: str) -> ev.Event:
        """Another value for a step."""
        place = (ev.Correct, at, step.id, text)
        made = self.made.get(place)
        if made is None:
            made = self.made[place] = ev.Correct(at, step=step.id, value=text)
        return made
