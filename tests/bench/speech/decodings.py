"""What the recognisers heard, kept: decoded once, fitted and judged as often as wanted.

Rules: one line of JSON a decoding, in a file for each recogniser and each state of its code, under
the cache folder; a line is whole or is not there (a torn last line is dropped), so that a run that
was interrupted goes on where it stopped; a decoding is found by the name of its trial, which stands
for sound and question, and by a hash of the code that made it.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Final, NamedTuple

from runner.speech.heard import Heard, Ranked, Recogniser, Sort
from tests.bench.speech.recordings import PROJECT
from tests.bench.speech.trials import Trial, audio
from tests.bench.speech.voices import cache

CODE: Final = ("runner/speech/recognisers", "runner/speech/heard.py", "runner/words/numbers.py",
               "runner/words/sayings.py", "runner/words/phonetics.py")  # fmt: skip
"""What a decoding depends on: the folders' modules and these."""

_MOST_RANKED = 12


class Kept(NamedTuple):
    """A decoding and the seconds it took; its ranks beyond the first dozen are not kept."""

    heard: Heard
    seconds: float


def state_of_code(project: Path = PROJECT, parts: Iterable[str] = CODE) -> str:
    """A hash of the modules that decode."""
    found = hashlib.sha256()
    for part in parts:
        place = project / part
        for path in sorted(place.rglob("*")) if place.is_dir() else [place]:
            if path.is_file() and path.suffix != ".pyc":
                found.update(str(path.relative_to(project)).encode() + b"\0")
                found.update(path.read_bytes())
    return found.hexdigest()[:12]


class Store:
    """The decodings of one recogniser in one state of the code."""

    def __init__(self, recogniser: str, state: str, place: Path | None = None) -> None:
        folder = (place or cache()) / "decodings"
        folder.mkdir(parents=True, exist_ok=True)
        self.path = folder / f"{recogniser}-{state}.jsonl"
        self._found: dict[str, Kept] = {}
        if self.path.exists():
            self._load()

    def _load(self) -> None:
        whole = 0
        with self.path.open("rb+") as file:
            for line in file:
                if not line.endswith(b"\n"):
                    break
                name, kept = _read(line)
                self._found[name] = kept
                whole += len(line)
            else:
                # Nothing torn: another process may have added to it by now.
                return
            file.truncate(whole)

    def __len__(self) -> int:
        return len(self._found)

    def get(self, trial: Trial) -> Kept | None:
        """The decoding of a trial, if it was made."""
        return self._found.get(trial.name)

    def missing(self, trials: Iterable[Trial]) -> Iterator[Trial]:
        """Those that were not decoded, each once."""
        seen = set()
        for trial in trials:
            name = trial.name
            if name not in self._found and name not in seen:
                seen.add(name)
                yield trial

    def add(self, trial: Trial, heard: Heard, seconds: float) -> None:
        """Keeps a decoding."""
        kept = Kept(heard._replace(ranked=heard.ranked[:_MOST_RANKED]), seconds)
        line = _line(trial.name, kept)
        with self.path.open("ab") as file:
            file.write(line)
        # As it will be read: judged now or after an interruption, the figures are the same.
        self._found[trial.name] = _read(line)[1]


def decode(
    trials: Iterable[Trial], recogniser: Recogniser, store: Store, data: Path,
    until: Callable[[], bool] = lambda: False, clock: Callable[[], float] = time.perf_counter,
) -> int:  # fmt: skip
    """Decodes what is missing, until told to stop; how many were decoded."""
    count = 0
    for trial in store.missing(trials):
        if until():
            break
        given = audio(trial, data)
        prepare = getattr(recogniser, "prepare", None)
        if prepare is not None:
            # The program does so when the question is asked, not when it was answered.
            prepare(trial.answers)
        began = clock()
        heard = recogniser.decode(given, trial.answers)
        store.add(trial, heard, clock() - began)
        count += 1
    return count


def _line(name: str, kept: Kept) -> bytes:
    heard = kept.heard
    row = [
        name, heard.recogniser, [[one.line, round(one.score, 4), one.sort.value]
                                 for one in heard.ranked],
        heard.free, heard.free_score, round(kept.seconds, 4),
    ]  # fmt: skip
    return json.dumps(row, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def _read(line: bytes) -> tuple[str, Kept]:
    name, recogniser, ranked, free, free_score, seconds = json.loads(line)
    found = tuple(Ranked(text, score, Sort(sort)) for text, score, sort in ranked)
    return name, Kept(Heard(recogniser, found, free, free_score), seconds)
