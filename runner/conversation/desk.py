"""What the voice needs of a run, and what a shell needs of the voice: two small protocols.

Rules: the voice answers through `submit_heard` alone, with the question that stood when the speech
began, and never knows the engine's state; the desk may call back from any thread; a shell tells
keys and asks for bands, and none of its calls waits.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from runner.engine.effects import Effect, Listen, View, Voice


class Desk(Protocol):
    """A run, as the voice works it."""

    def now(self) -> int:
        """Run time in ms."""
        ...

    def view(self) -> View:
        """All that the crew may see."""
        ...

    def listen(self) -> Listen:
        """What may answer now."""
        ...

    def listen_to(self, step: str) -> Listen:
        """What may be the right version of the answer to this step."""
        ...

    def subscribe(self, heard: Callable[[tuple[Effect, ...]], None]) -> None:
        """`heard` gets the effects of every event from now on."""
        ...

    def submit_heard(self, line: str, ask: int, evidence: str) -> object:
        """A line that was heard, to question `ask`."""
        ...

    def ask_again(self, ask: int, evidence: str) -> object:
        """Question `ask` is called again, because what was said was not understood."""
        ...

    def announce(self, text: str, kind: Voice) -> None:
        """A sentence for the crew that is no event."""
        ...

    def keep_clip(self, content: bytes) -> str:
        """Keeps a spoken answer beside the log; a sentence where it cannot be."""
        ...
