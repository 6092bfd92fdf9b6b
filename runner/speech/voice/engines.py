"""Engines that make sound of words; imported by the voice's own process alone.

Rules: the same text is the same sound (no random variation); an engine works on two threads at
most, because recognition needs the rest; what an engine fails at is one sentence. Speed 1 is the
pace of a calm crew, 1.5 half as fast again.
"""

from __future__ import annotations

import io
import json
import shutil
import subprocess
import wave
from typing import Any, Final, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from runner.speech.voice.installed import ESPEAK, NONE, packaged_voice

_WORDS_A_MINUTE: Final = 155
_SECONDS: Final = 20


class NoVoice(Exception):
    """Nothing can speak here, or a text could not be spoken: what, and what to do."""


class Rendered(NamedTuple):
    """A text as sound: 16-bit samples of one channel, and their rate."""

    samples: NDArray[np.int16]
    rate: int


class Engine(Protocol):
    """What speaks."""

    @property
    def name(self) -> str:
        """How people call it."""
        ...

    def render(self, text: str, speed: float) -> Rendered:
        """The sound of a text. `NoVoice` if it fails."""
        ...


class Piper:
    """The neural engine with its packaged voice."""

    name = "piper"

    def __init__(self) -> None:
        found = packaged_voice()
        if found is None:
            raise NoVoice(NONE)
        try:
            import onnxruntime
            from piper import PiperVoice
            from piper.config import PiperConfig

            options = onnxruntime.SessionOptions()
            options.intra_op_num_threads = 2
            options.inter_op_num_threads = 1
            # Kept for the next text, what the longest one took would stay: 355 MB, not 172.
            options.enable_cpu_mem_arena = False
            options.enable_mem_pattern = False
            session = onnxruntime.InferenceSession(
                str(found.model), sess_options=options, providers=["CPUExecutionProvider"]
            )
            config = PiperConfig.from_dict(json.loads(found.config.read_text("utf-8")))
            self._voice = PiperVoice(session=session, config=config)
        except Exception as fault:  # whatever a broken installation raises
            raise NoVoice(f"piper cannot be loaded ({fault})") from None

    def render(self, text: str, speed: float) -> Rendered:
        """All of it in one piece."""
        from piper import SynthesisConfig

        how = SynthesisConfig(length_scale=1 / speed, noise_scale=0.0, noise_w_scale=0.0)
        try:
            parts = list(self._voice.synthesize(text, how))
        except Exception as fault:  # an engine's own faults have no common kind
            raise NoVoice(f"piper could not say {text!r} ({fault})") from None
        if not parts:
            raise NoVoice(f"piper made no sound of {text!r}")
        joined: NDArray[np.int16] = np.concatenate([part.audio_int16_array for part in parts])
        return Rendered(joined, parts[0].sample_rate)


class Espeak:
    """The small engine that needs no package."""

    name = ESPEAK

    def __init__(self) -> None:
        found = shutil.which(ESPEAK)
        if found is None:
            raise NoVoice(NONE)
        self._program = found

    def render(self, text: str, speed: float) -> Rendered:
        """All of it in one piece."""
        pace = str(round(_WORDS_A_MINUTE * speed))
        command = [self._program, "-v", "en-gb", "-s", pace, "--stdin", "--stdout"]
        try:
            done = subprocess.run(
                command, input=text.encode(), capture_output=True, timeout=_SECONDS, check=True
            )
            with wave.Wave_read(io.BytesIO(done.stdout)) as sound:
                rate = sound.getframerate()
                samples = np.frombuffer(sound.readframes(1 << 28), "<i2").astype(np.int16)
        except (OSError, subprocess.SubprocessError, wave.Error, EOFError) as fault:
            raise NoVoice(f"{ESPEAK} could not say {text!r} ({fault})") from None
        if not len(samples):
            raise NoVoice(f"{ESPEAK} made no sound of {text!r}")
        return Rendered(samples, rate)


_ENGINES: Final[dict[str, Any]] = {"piper": Piper, ESPEAK: Espeak}


def first_engine(wanted: str = "") -> Engine:
    """The engine that is wanted, or the best that works. `NoVoice` says what to install."""
    if wanted and wanted not in _ENGINES:
        raise NoVoice(f"no voice {wanted!r}; allowed: {', '.join(_ENGINES)}")
    told = NONE
    for name in [wanted] if wanted else _ENGINES:
        try:
            engine: Engine = _ENGINES[name]()
        except NoVoice as fault:
            # A broken engine is worth more words than a missing one.
            told = str(fault) if str(fault) != NONE else told
        else:
            return engine
    raise NoVoice(told)
