"""The engine's own errors: an event that cannot exist, and a refusal.

Rules: `BadEvent` is the caller's fault and raised when the event is made; `Refused` never leaves
the engine, it becomes the outcome of the event and the state stays as it was.
"""

from __future__ import annotations


class BadEvent(ValueError):
    """An event that would not be well formed; the message says what was found and allowed."""


class Refused(Exception):
    """This event cannot be taken now. `code` is one of the closed list in `outcomes.py`."""

    def __init__(self, code: str, *details: str) -> None:
        super().__init__(code, *details)
        self.code = code
        self.details = details
