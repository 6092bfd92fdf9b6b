"""Any rate at 16 kHz: tones against what theory says of them, and pieces against the whole."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

np = pytest.importorskip("numpy")

from runner.speech.ears.resample import HIGHEST, LOWEST, Resampler, resampled  # noqa: E402
from runner.speech.heard import RATE  # noqa: E402

if TYPE_CHECKING:
    from runner.speech.heard import Audio

RATES = (8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 96_000, 192_000)


def tone(hertz: float, rate: int, seconds: float = 0.5) -> Audio:
    made: Audio = np.sin(2 * np.pi * hertz * np.arange(int(seconds * rate)) / rate)
    return made.astype(np.float32)


def middle(samples: Audio) -> Audio:
    """Without the ends, where silence meets the tone."""
    return samples[800:-800]


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("hertz", [60, 300, 1000, 3400])
def test_a_tone_comes_out_as_the_same_tone_in_its_place(rate: int, hertz: int) -> None:
    found = resampled(tone(hertz, rate), rate)
    assert len(found) == RATE // 2
    assert np.abs(middle(found - tone(hertz, RATE))).max() < 1e-3


@pytest.mark.parametrize("rate", [rate for rate in RATES if rate > RATE])
def test_what_the_recognisers_rate_can_hold_is_kept_up_to_seven_kilohertz(rate: int) -> None:
    found = resampled(tone(7000, rate), rate)
    assert np.abs(middle(found - tone(7000, RATE))).max() < 2e-3


@pytest.mark.parametrize("rate", [rate for rate in RATES if rate > RATE])
@pytest.mark.parametrize("hertz", [8_050, 9_000, 10_500])
def test_nothing_above_is_folded_back(rate: int, hertz: int) -> None:
    """9 kHz taken at 16 kHz without a filter would come back as 7 kHz at full level."""
    assert hertz < rate / 2
    folded = resampled(tone(hertz, rate), rate)
    assert np.abs(middle(folded)).max() < 10 ** (-70 / 20)


def test_what_is_brought_up_gets_no_mirror() -> None:
    """1 kHz at 8 kHz has an image at 7 kHz: it must not be heard."""
    spectrum = np.abs(np.fft.rfft(middle(resampled(tone(1000, 8000, 1.1), 8000))[:16000]))
    assert spectrum[1000] == pytest.approx(8000, rel=1e-3)
    assert spectrum[6900:7101].max() < 8000 * 10 ** (-70 / 20)


def test_a_click_stays_where_it_was() -> None:
    clicked = np.zeros(48_000, np.float32)
    clicked[24_000] = 1
    assert int(np.argmax(resampled(clicked, 48_000))) == 8_000


def test_a_constant_stays_what_it_is() -> None:
    found = resampled(np.full(44_100, 0.5, np.float32), 44_100)
    assert middle(found) == pytest.approx(np.full(len(found) - 1600, 0.5), abs=1e-6)


@settings(max_examples=30)
@given(
    rate=st.sampled_from(RATES),
    length=st.integers(0, 4000),
    cuts=st.lists(st.integers(0, 4000), max_size=8),
    seed=st.integers(0, 99),
)
def test_however_it_is_cut_the_sound_is_the_same(
    rate: int, length: int, cuts: list[int], seed: int
) -> None:
    samples = np.random.default_rng(seed).uniform(-1, 1, length).astype(np.float32)
    places = [0, *sorted(min(cut, length) for cut in cuts), length]
    stream = Resampler(rate)
    pieces = [stream.feed(samples[a:b]) for a, b in itertools.pairwise(places)]
    whole = resampled(samples, rate)
    joined = np.concatenate([*pieces, stream.flush()])
    assert len(joined) == len(whole) == -(-length * RATE // rate)
    assert np.array_equal(joined, whole)


@settings(max_examples=20)
@given(rate=st.integers(LOWEST, 50_000))
def test_odd_rates_too(rate: int) -> None:
    found = resampled(tone(500, rate, 0.2), rate)
    assert np.abs((found - tone(500, RATE, 0.3)[: len(found)])[400:-400]).max() < 1e-3


@pytest.mark.parametrize(("rate", "to"), [(22_050, 48_000), (22_050, 44_100), (48_000, 22_050)])
def test_to_another_rate_than_the_recognisers(rate: int, to: int) -> None:
    found = resampled(tone(1000, rate), rate, to)
    assert len(found) == to // 2
    assert np.abs((found - tone(1000, to))[2400:-2400]).max() < 1e-3


@pytest.mark.parametrize("rate", [0, -16_000, LOWEST - 1, HIGHEST + 1])
def test_a_rate_that_no_device_has_is_refused(rate: int) -> None:
    with pytest.raises(ValueError, match="allowed: 4000 to 384000"):
        Resampler(rate)
