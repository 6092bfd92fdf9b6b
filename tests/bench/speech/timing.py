"""How long a decision takes after the end of speech, in a process of its own: times and memory.

Rules: the recognisers are those of the program, on as many threads; what is worked out for a
question while nobody has spoken yet is not counted, as in a run; the contest against the opposites
is; the times hold for the machine as it was, whose load is told beside them. Run as a module with
the number of utterances: one line of JSON.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from typing import NamedTuple

from runner.speech.ears.gate import AFTER, PAUSE
from runner.speech.heard import RATE
from tests.bench.speech.recordings import PROJECT


class Times(NamedTuple):
    """Of so many utterances of `sound_s` seconds in all: the decision's 50th and 95th percentile in
    ms, counted from when its whole sound was there, seconds of work for each of sound, memory in MB
    at most, load of the machine before."""

    utterances: int
    sound_s: float
    p50_ms: float
    p95_ms: float
    factor: float
    memory_mb: float
    load: float

    def late_ms(self, taken_ms: float) -> float:
        """What is left of a decision when the pause is over that tells the end of an utterance: a
        run begins with it as soon as all of its sound is there."""
        return max(0.0, taken_ms - 1000 * (PAUSE - AFTER) / RATE)


def measure(count: int) -> Times:
    """The same, in a fresh process. RuntimeError if it fails."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.speech.timing", str(count)],
        cwd=PROJECT, capture_output=True, check=False, timeout=600,
    )  # fmt: skip
    if done.returncode:
        raise RuntimeError(f"times were not measured: {done.stderr.decode()[-300:]}")
    return Times(*json.loads(done.stdout.splitlines()[-1]))


def _measured(count: int) -> Times:
    import resource
    from functools import partial

    from runner.speech.agreement import decide
    from runner.speech.lexicon import lexicon
    from runner.speech.opposites import against
    from runner.speech.panel import panel
    from runner.speech.thresholds import thresholds
    from tests.bench.figures import at
    from tests.bench.speech import parts, recordings
    from tests.bench.speech.trials import audio

    data = recordings.folder()
    trials = [
        trial._replace(level=10.0)
        for part in parts.NAMES
        for trial in parts.build(part, data, count // len(parts.NAMES))
    ]
    sounds = [audio(trial, data) for trial in trials]
    load = os.getloadavg()[0]
    together, bars = panel(), thresholds()
    took = []
    for trial, sound in zip(trials, sounds, strict=True):
        together.prepare(trial.answers)
        began = time.perf_counter()
        made = decide(together.heard(sound, trial.answers), trial.answers, bars, 10.0)
        against(made, trial.answers, lexicon(), partial(together.first, sound))
        took.append(time.perf_counter() - began)
    together.close()
    seconds = sum(len(sound) for sound in sounds) / RATE
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return Times(
        len(took), round(seconds, 1), round(1000 * at(took, 0.5)),
        round(1000 * at(took, 0.95)), round(sum(took) / seconds, 3), round(memory),
        round(load, 2),
    )  # fmt: skip


if __name__ == "__main__":
    print(json.dumps(_measured(int(sys.argv[1]))))
