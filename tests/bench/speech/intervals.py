"""Bounds of a share that was counted: `count` of `trials`, one side, 95 % unless told otherwise.

Rules: the bound that a goal is held against is exact (Clopper and Pearson, Biometrika 26, 1934): it
covers with at least the stated confidence, for any share, also where nothing was counted. Wilson's
score bound stands beside it for the eye only. Trials are taken as independent; where several come
from one speaker that is too kind, so reports name the speakers' number beside the bound.
"""

from __future__ import annotations

import math
from statistics import NormalDist

CONFIDENCE = 0.95
_HALVINGS = 60
"""Of the interval 0 to 1: far below what a float tells apart."""


def upper(count: int, trials: int, confidence: float = CONFIDENCE) -> float:
    """The exact upper bound: the share under which `count` or fewer have chance 1 - confidence.

    1 where nothing was tried. ValueError for a count that is not within the trials.
    """
    _check(count, trials, confidence)
    if count == trials:
        return 1.0
    if count == 0:
        return -math.expm1(math.log1p(-confidence) / trials)
    low, high = count / trials, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if at_most(count, trials, middle) > 1 - confidence:
            low = middle
        else:
            high = middle
    return high


def lower(count: int, trials: int, confidence: float = CONFIDENCE) -> float:
    """The exact lower bound; 0 where nothing was tried."""
    _check(count, trials, confidence)
    return 1 - upper(trials - count, trials, confidence) if trials else 0.0


def wilson(count: int, trials: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Wilson's lower and upper bound, each of its own side (J. Am. Stat. Assoc. 22, 1927)."""
    _check(count, trials, confidence)
    if not trials:
        return 0.0, 1.0
    z = NormalDist().inv_cdf(confidence)
    share = count / trials
    middle = share + z * z / (2 * trials)
    reach = z * math.sqrt(share * (1 - share) / trials + (z / (2 * trials)) ** 2)
    scale = 1 + z * z / trials
    return max(0.0, (middle - reach) / scale), min(1.0, (middle + reach) / scale)


def at_most(count: int, trials: int, share: float) -> float:
    """The chance of `count` or fewer of `trials`, each with chance `share` (binomial)."""
    if share <= 0:
        return 1.0
    if share >= 1:
        return float(count >= trials)
    return math.fsum(_chance(k, trials, share) for k in range(count + 1))


def most_allowed(trials: int, bound: float, confidence: float = CONFIDENCE) -> int:
    """The greatest count whose upper bound keeps within `bound`; -1 if even none does not."""
    _check(0, trials, confidence)
    if bound >= 1:
        return trials
    count, chance = -1, 0.0
    while True:
        chance += _chance(count + 1, trials, bound)
        if chance > 1 - confidence:
            return count
        count += 1


def _chance(count: int, trials: int, share: float) -> float:
    ways = math.lgamma(trials + 1) - math.lgamma(count + 1) - math.lgamma(trials - count + 1)
    return math.exp(ways + count * math.log(share) + (trials - count) * math.log1p(-share))


def _check(count: int, trials: int, confidence: float) -> None:
    if not 0 <= count <= trials:
        raise ValueError(f"{count} of {trials} is no share")
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence of {confidence} is none")
