"""Decodings are kept once, found by their sound and question, and survive an interruption."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("soundfile")

from runner.speech.heard import RATE, AnswerSet, Heard, Phrase, Ranked, Sort  # noqa: E402
from tests.bench.speech import decodings, sound  # noqa: E402
from tests.bench.speech.decodings import Store, decode  # noqa: E402
from tests.bench.speech.recordings import PROJECT  # noqa: E402
from tests.bench.speech.trials import Speech, Trial, at_levels, audio, spoken  # noqa: E402

if TYPE_CHECKING:
    from runner.speech.heard import Audio

SET = AnswerSet(0, (Phrase("ON", ("on",)), Phrase("OFF", ("off",))))


class Loudest:
    """A recogniser of this test: it answers by loudness."""

    name = "loudest"

    def __init__(self) -> None:
        self.asked = 0

    def decode(self, audio: Audio, answers: AnswerSet) -> Heard:
        self.asked += 1
        loud = float(np.abs(audio).max())
        ranked = (Ranked("ON", -loud, Sort.RESPONSE), Ranked("OFF", -1.5, Sort.RESPONSE))
        return Heard(self.name, ranked, "ö", -0.25)


@pytest.fixture
def trials(tmp_path: Path) -> list[Trial]:
    found = []
    for n in range(4):
        path = tmp_path / f"{n}.wav"
        t = np.arange(RATE // 2) / RATE
        sound.write(path, (0.1 * (n + 1) * np.sin(6.28 * 500 * t)).astype(np.float32))
        found.append(Trial("words", n, Speech("a", "on", None, (path,)), SET, "ON", None))
    return found


def test_each_is_decoded_once_and_found_again(tmp_path: Path, trials: list[Trial]) -> None:
    recogniser, store = Loudest(), Store("loudest", "s1", tmp_path)
    stops = iter([False, False, True])
    assert decode(trials, recogniser, store, tmp_path, lambda: next(stops)) == 2
    assert len(store) == 2
    again = Store("loudest", "s1", tmp_path)
    assert [again.get(trial) for trial in trials[:2]] == [store.get(t) for t in trials[:2]]
    assert decode([*trials, *trials], recogniser, again, tmp_path) == 2
    assert recogniser.asked == 4
    kept = again.get(trials[3])
    assert kept is not None
    assert kept.heard.ranked[0].score == pytest.approx(-0.4, abs=0.001)
    assert kept.heard.free == "ö"
    assert len(Store("loudest", "s2", tmp_path)) == 0


def test_a_torn_line_is_dropped_and_written_anew(tmp_path: Path, trials: list[Trial]) -> None:
    store = Store("loudest", "s", tmp_path)
    decode(trials, Loudest(), store, tmp_path)
    whole = store.path.read_bytes()
    store.path.write_bytes(whole[:-10])
    torn = Store("loudest", "s", tmp_path)
    assert len(torn) == 3
    assert decode(trials, Loudest(), torn, tmp_path, clock=lambda: 0.0) == 1
    assert len(Store("loudest", "s", tmp_path)) == 4


def test_another_sound_or_question_is_another_trial(trials: list[Trial]) -> None:
    one = trials[0]
    others = [
        one._replace(level=5.0),
        one._replace(group=3),
        one._replace(answers=SET._replace(critical=True)),
        one._replace(speech=one.speech._replace(trimmed=False)),
        trials[1],
    ]
    assert len({one.name, *(trial.name for trial in others)}) == 6
    assert len({trial.utterance for trial in at_levels([one])}) == 1


def test_recordings_are_joined_at_one_level_with_gaps(trials: list[Trial]) -> None:
    both = Speech("a", "", None, tuple(trial.speech.paths[0] for trial in trials[:2]))
    found = spoken(both)
    assert len(found) == 2 * (RATE // 2) + RATE // 10 + 2 * (RATE // 4)
    first, second = found[RATE // 4 : RATE * 3 // 4], found[-RATE * 3 // 4 : -RATE // 4]
    assert sound.speech_power(first) == pytest.approx(sound.speech_power(second), rel=0.01)
    bare = audio(trials[0]._replace(speech=trials[0].speech._replace(trimmed=False)), Path())
    assert len(bare) == RATE // 2


def test_the_state_of_the_code_follows_the_code(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "b.py").write_text("1", encoding="utf-8")
    first = decodings.state_of_code(tmp_path, ["a"])
    assert decodings.state_of_code(tmp_path, ["a"]) == first
    (tmp_path / "a" / "b.py").write_text("2", encoding="utf-8")
    assert decodings.state_of_code(tmp_path, ["a"]) != first


_NAMES = """
from tests.bench.speech.made import SET, case
lines = frozenset({"tick a", "tick b", "tick c", "tick d"})
print(case("on", "on", answers=SET._replace(critical_lines=lines)).trial.name)
"""


def test_a_trial_has_the_same_name_in_every_process() -> None:
    names = {
        subprocess.run(
            [sys.executable, "-c", _NAMES], cwd=PROJECT, check=True, capture_output=True,
            env={**os.environ, "PYTHONHASHSEED": str(seed)},
        ).stdout
        for seed in (0, 1)
    }  # fmt: skip
    assert len(names) == 1
