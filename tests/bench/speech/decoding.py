"""Decodes what the parts try, by every recogniser that is there, in one process or several.

Rules: voices are rendered before anything is decoded; every process takes every n-th trial and
appends whole lines to the one store of its recogniser, so that stopping at any moment loses at most
what is being decoded; what must be worked out for a question before anybody speaks is not counted
into the time of a decoding; nothing is decoded after the time that was given.
"""

from __future__ import annotations

import multiprocessing
import time
from collections.abc import Callable
from pathlib import Path

from runner.speech.heard import Recogniser
from tests.bench.speech import decodings, voices
from tests.bench.speech.decodings import Store
from tests.bench.speech.trials import Trial

Maker = Callable[[], Recogniser]


def _closed_set() -> Recogniser:
    from runner.speech.recognisers.closed_set import ClosedSet

    return ClosedSet(threads=1)


def makers() -> dict[str, Maker]:
    """Every recogniser that is judged, by the name of its store."""
    return {"closed-set": _closed_set}


def render(trials: list[Trial]) -> int:
    """Renders what the voices of these trials say; the number of new files."""
    wanted: dict[voices.Voice, list[str]] = {}
    for trial in trials:
        if trial.speech.voice is not None:
            wanted.setdefault(trial.speech.voice, []).append(trial.speech.text)
    return sum(voices.render_all(voice, texts) for voice, texts in wanted.items())


def stores() -> dict[str, Store]:
    """What was decoded by the code as it is."""
    state = decodings.state_of_code()
    return {name: Store(name, state) for name in makers()}


def decode_all(trials: list[Trial], data: Path, jobs: int, seconds: float | None) -> None:
    """Decodes what is missing, by all recognisers in turn, within the seconds given for each."""
    for name, store in stores().items():
        missing = list(store.missing(trials))
        if not missing:
            continue
        print(f"{name}: {len(missing)} of {len(trials)} to decode", flush=True)
        if jobs <= 1:
            _share(name, missing, data, seconds)
            continue
        # Engines have threads of their own, and do not survive a fork.
        context = multiprocessing.get_context("spawn")
        children = [
            context.Process(target=_share, args=(name, missing[n::jobs], data, seconds))
            for n in range(jobs)
        ]
        for child in children:
            child.start()
        for child in children:
            child.join()
        failed = [child.exitcode for child in children if child.exitcode]
        if failed:
            raise RuntimeError(f"{name}: {len(failed)} of {jobs} processes failed")


def _share(name: str, trials: list[Trial], data: Path, seconds: float | None) -> None:
    recogniser = makers()[name]()
    began = time.monotonic()
    done = 0

    def over() -> bool:
        nonlocal done
        took = time.monotonic() - began
        if done and done % 500 == 0:
            left = took / done * (len(trials) - done) / 60
            print(f"  {name}: {done} of {len(trials)}, {left:.0f} min left", flush=True)
        done += 1
        return seconds is not None and took > seconds

    store = Store(name, decodings.state_of_code())
    decodings.decode(trials, recogniser, store, data, over)
