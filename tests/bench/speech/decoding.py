"""Decodes what the parts try, by every recogniser that is there, in one process or several.

Rules: trials are taken in rounds in their order, so that whatever was reached when the time is over
is a fair beginning; of a round the voices are rendered first, then every recogniser decodes it,
question by question, and what was heard stands against its opposites; every process takes every
n-th round and appends whole lines to the one store of its recogniser, so that stopping at any
moment loses at most what is being decoded; what must be worked out for a question before anybody
speaks is not counted into the time of a decoding; nothing is decoded after the time that was given.
"""

from __future__ import annotations

import multiprocessing
import os
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final

from runner.speech.heard import Heard, Recogniser
from tests.bench.speech import decodings, voices
from tests.bench.speech.contests import all_contested, contested
from tests.bench.speech.deciding import panel
from tests.bench.speech.decodings import Store
from tests.bench.speech.trials import Trial

Maker = Callable[[], Recogniser]

VOSK_MODEL: Final = "LATCHWORD_VOSK_MODEL"
"""Names the folder of a model for `vosk`; without it there is none."""
ROUND: Final = 450
"""Trials of one round."""


def _closed_set() -> Recogniser:
    from runner.speech.recognisers.closed_set import ClosedSet

    return ClosedSet(threads=1)


def _sphinx() -> Recogniser:
    from runner.speech.recognisers.sphinx import Sphinx

    return Sphinx()


def _vosk() -> Recogniser:
    from runner.speech.recognisers.vosk import Vosk

    return Vosk(Path(os.environ[VOSK_MODEL]))


def makers() -> dict[str, Maker]:
    """Every recogniser that is judged, by the name of its store; the one that proposes first.

    What a model of `vosk` heard is kept apart from what another one heard.
    """
    found: dict[str, Maker] = {"closed-set": _closed_set, "sphinx": _sphinx}
    model = Path(os.environ.get(VOSK_MODEL, ""))
    if os.environ.get(VOSK_MODEL) and model.is_dir():
        found[f"vosk-{model.resolve().name}"] = _vosk
    return found


def render(trials: Iterable[Trial]) -> int:
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


def interleaved(parts: Sequence[Sequence[Trial]], step: int = 1) -> list[Trial]:
    """All of these in one row, each part spread evenly over it; `step` trials stay together."""
    places = sorted(
        ((start + step / 2) / len(part), number, start)
        for number, part in enumerate(parts)
        for start in range(0, len(part), step)
    )
    return [trial for _, number, start in places for trial in parts[number][start : start + step]]


def rounds(trials: Sequence[Trial]) -> list[Sequence[Trial]]:
    """The trials in their order, a round at a time."""
    return [trials[start : start + ROUND] for start in range(0, len(trials), ROUND)]


def decode_all(trials: Sequence[Trial], data: Path, jobs: int, seconds: float | None) -> None:
    """Decodes what is missing, round by round, within the seconds given."""
    if jobs <= 1:
        _share(list(trials), data, seconds)
        return
    # Engines have threads of their own, and do not survive a fork.
    context = multiprocessing.get_context("spawn")
    found = rounds(trials)
    children = [
        context.Process(
            target=_share, args=([t for one in found[n::jobs] for t in one], data, seconds)
        )
        for n in range(jobs)
    ]
    for child in children:
        child.start()
    for child in children:
        child.join()
    failed = [child.exitcode for child in children if child.exitcode]
    if failed:
        raise RuntimeError(f"{len(failed)} of {jobs} processes failed")


def _share(trials: list[Trial], data: Path, seconds: float | None) -> None:
    """What one process decodes."""
    began = time.monotonic()

    def over() -> bool:
        return seconds is not None and time.monotonic() - began > seconds

    kept = stores()
    missing = [t for t in trials if _lacks(t, kept)]
    made: dict[str, Recogniser] = {}
    done = 0
    for found in rounds(missing):
        if over():
            return
        render(found)
        for name, store in kept.items():
            if name not in made:
                made[name] = makers()[name]()
            decodings.decode(by_question(found), made[name], store, data, over)
        first = panel(kept)[0]
        contests = all_contested((t, heard) for t in found if (heard := _heard(t, kept)))
        decodings.decode(contests, made[first], kept[first], data, over)
        done += len(found)
        took = time.monotonic() - began
        left = took / done * (len(missing) - done) / 60
        print(f"  {done} of {len(missing)}, {took / 60:.1f} min, {left:.0f} min left", flush=True)


def _heard(trial: Trial, kept: Mapping[str, Store]) -> list[Heard]:
    """What the panel heard, the one that proposes first; empty if it was not decoded."""
    found = [one.heard for name in panel(kept) if (one := kept[name].get(trial)) is not None]
    return found if len(found) == len(panel(kept)) else []


def _lacks(trial: Trial, kept: Mapping[str, Store]) -> bool:
    """Whether a recogniser has not decoded it, or it did not stand against its opposites."""
    heard = _heard(trial, kept)
    if not heard or any(store.get(trial) is None for store in kept.values()):
        return True
    second = contested(trial, heard)
    return second is not None and kept[panel(kept)[0]].get(second) is None


def by_question(trials: Iterable[Trial]) -> Iterator[Trial]:
    """The trials with those of one question together: what a question wants is worked out once."""
    yield from sorted(trials, key=lambda trial: (trial.step, repr(trial.answers.phrases)))
