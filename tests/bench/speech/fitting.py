"""The bars, fitted: how clear an answer must be so that right ones pass and wrong ones do not.

Rules: each cell (noise class, kind of answer, who heard it) gets the score and the margin at which
the right ones that pass, less a weight for each wrong one, are most. Where data are few a bar must
not lie just above the worst wrong one seen, so every wrong one is spread: it counts as if its score
might have been half a nat higher and its margin a third greater, and beside the wrong ones of the
cell stands a small share of those of all noises and hearers. A cell with too few right ones takes
the bar of all noises together; with too few there as well it gets none and nothing passes. What
takes away or does nothing (`BY_HAND`) keeps its bars by hand: too few were tried. Who has less
behind it never needs less, and louder noise never less margin; under the floors that stand here by
hand nothing is taken or read back. What is read back is fitted last, on what the other bars have
left. The same points give the same bars.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from statistics import NormalDist
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from runner.speech.thresholds import Bar, Kind, Thresholds, Who
from tests.bench.speech.points import Cell, Point

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Row = NDArray[np.float64]

LEAST: Final = 15
"""Right answers below which no bar is fitted."""
BY_HAND: Final = (Kind.AWAY, Kind.LIGHT)

_SCORE_SPREAD: Final = 0.6
_MARGIN_SPREAD: Final = 0.3
"""By how much a wrong one might have been clearer: the score's in nats, the margin's in natural
logarithms (a third greater), each a standard deviation."""
LOWEST: Final = (-5.0, -8.0, -12.0)
LOWEST_CRITICAL: Final = (-3.0, -4.0, -5.0)
"""By noise class, from the quietest on (the last holds for all louder ones): no answer is taken,
but of a person whose reading allows it, that lies farther below what would have been written
freely. Where few wrong ones were tried, that none was seen there says little, and in quiet what is
written freely is near to what was said."""
LOWEST_ASK: Final = -8.0
LEAST_MARGIN: Final = {Kind.PHRASES: 2.0, Kind.CRITICAL: 3.0}
LEAST_MARGIN_ASK: Final = 1.0
"""By hand too: an answer that hardly stands before the next one is not taken, nor read back."""
_PRIOR: Final = 0.5
"""How many wrong ones stand for what a cell has not seen."""
_STEPS: Final = 48
_BEHIND: Final = (Who.AGREED, Who.ALONE, Who.DIFFER)
_UNIT: Final = 100


class Weights(NamedTuple):
    """How many right ones a wrong one outweighs: by kind, in each noise class from the quietest on
    (the last holds for all louder ones), as the goals allow; `ask`: one that is read back."""

    words: tuple[float, ...] = (40.0, 40.0, 14.0)
    phrases: tuple[float, ...] = (12.0, 8.0, 5.0)
    numbers: tuple[float, ...] = (200.0, 150.0, 60.0)
    critical: tuple[float, ...] = (200.0, 140.0, 70.0)
    ask: float = 2.0

    def of(self, cell: Cell, frame: Thresholds) -> float:
        """The weight of a wrong one of a cell."""
        at = [name for name, _ in frame.noise].index(cell[1])
        weights: tuple[float, ...] = getattr(self, cell[2].value)
        return weights[min(at, len(weights) - 1)]

    def scaled(self, by: float) -> Weights:
        """All of them heavier or lighter, but for what is read back."""

        def turned(weights: tuple[float, ...]) -> tuple[float, ...]:
            return tuple(by * one for one in weights)

        return Weights(
            turned(self.words), turned(self.phrases), turned(self.numbers), turned(self.critical),
            self.ask,
        )  # fmt: skip


def fit(points: Iterable[Point], frame: Thresholds, weights: Weights) -> Thresholds:
    """The bars for these points, in the noise classes of `frame`, and those of it by hand or of
    recognisers that propose nothing here."""
    given = list(points)
    proposing = {one.case.heard[0].recogniser for one in given}
    bars = {
        cell: bar for cell, bar in frame.bars.items()
        if cell[2] in BY_HAND or cell[0] not in proposing
    }  # fmt: skip
    taken = by_cell(given)
    for cell in _every(taken, frame):
        bar = _bar(taken, cell, weights.of(cell, frame), _lowest(cell, frame))
        if bar is not None:
            least = bar._replace(margin=max(bar.margin, LEAST_MARGIN.get(cell[2], 0.0)))
            bars[cell] = _not_below(least, cell, bars)
    bars = _no_less_in_noise(bars, frame)
    left = [one for one in given if one.take is None or not one.passes(bars.get(one.take))]
    asked = by_cell(left, asked=True)
    for cell in _every(asked, frame):
        bar = _bar(asked, cell, weights.ask, LOWEST_ASK)
        if bar is not None:
            bars[cell] = bar._replace(margin=max(bar.margin, LEAST_MARGIN_ASK))
    return frame._replace(bars=bars, fit=None)


def _every(found: Iterable[Cell], frame: Thresholds) -> list[Cell]:
    """The cells of every noise, those with more behind them first."""
    fitted = [cell for cell in found if cell[2] not in BY_HAND]
    cells = {(cell[0], name, *cell[2:]) for cell in fitted for name, _ in frame.noise}
    return sorted(cells, key=_order)


def _lowest(cell: Cell, frame: Thresholds) -> float:
    at = [name for name, _ in frame.noise].index(cell[1])
    by_noise = LOWEST_CRITICAL if cell[2] is Kind.CRITICAL else LOWEST
    return by_noise[min(at, len(by_noise) - 1)]


def _bar(
    taken: Mapping[Cell, Sequence[Point]], cell: Cell, weight: float, lowest: float
) -> Bar | None:
    """The bar of a cell: by its own points, else by those of all noises."""
    like = [one for other, found in taken.items() if other[2] is cell[2] for one in found]
    own = taken.get(cell, ())
    if sum(one.right for one in own) < LEAST:
        own = [one for other, found in taken.items() if _but_noise(other) == _but_noise(cell)
               for one in found]  # fmt: skip
    # Of critical answers a wrong one tells of every noise: there are few, and none may pass.
    return best_bar(own, like, weight, lowest, whole=cell[2] is Kind.CRITICAL)


def _but_noise(cell: Cell) -> tuple[str, Kind, Who]:
    return cell[0], cell[2], cell[3]


def by_cell(points: Iterable[Point], *, asked: bool = False) -> dict[Cell, list[Point]]:
    """The points by the bar that takes them, or that has them read back."""
    found: dict[Cell, list[Point]] = {}
    for one in points:
        cell = one.ask if asked else one.take
        if cell is not None:
            found.setdefault(cell, []).append(one)
    return found


def best_bar(
    found: Sequence[Point], like: Sequence[Point], weight: float, lowest: float, *,
    whole: bool = False,
) -> Bar | None:  # fmt: skip
    """The bar of one cell, its score not under `lowest`; None where too few are right, or none is
    worth what it lets pass. The wrong ones of those `like` it stand for little, or each in full
    (`whole`)."""
    right = _clear(one for one in found if one.right)
    if len(right) < LEAST:
        return None
    scores, margins = _steps(right[:, 0]), _steps(right[:, 1], least=0.0)
    scores = np.unique(np.maximum(scores, lowest))
    passing = (right[:, 0] >= scores[:, None]).astype(float) @ (
        right[:, 1] >= margins[:, None]
    ).T.astype(float)
    wrong = _passing(_clear(one for one in found if one.costs), scores, margins)
    others = _clear(one for one in like if one.costs)
    share = 1.0 if whole else _PRIOR / max(1, len(others))
    worth = passing - weight * (wrong + share * _passing(others, scores, margins))
    at_score, at_margin = np.unravel_index(int(np.argmax(worth)), worth.shape)
    if worth[at_score, at_margin] <= 0:
        return None
    return Bar(_up(float(scores[at_score])), _up(float(margins[at_margin])))


def _clear(points: Iterable[Point]) -> Row:
    return np.array([(one.score, one.margin) for one in points], np.float64).reshape(-1, 2)


def _steps(values: Row, least: float | None = None) -> Row:
    """Where a bar may stand: at even shares of the right ones."""
    finite = values[np.isfinite(values)]
    if not len(finite):
        return np.array([0.0 if least is None else least])
    steps = np.quantile(finite, np.linspace(0, 0.98, _STEPS))
    return np.unique(steps if least is None else np.append(steps, least))


def _passing(wrong: Row, scores: Row, margins: Row) -> Row:
    """How many of the wrong ones pass each pair of bars, each spread as its figures are."""
    if not len(wrong):
        return np.zeros((len(scores), len(margins)))
    over_score = _share((wrong[:, 0] - scores[:, None]) / _SCORE_SPREAD)
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.log(np.maximum(wrong[:, 1], 0.0)), np.log(margins)
        # Without a second answer, or without a bar, nothing keeps it back.
        away = np.where(
            np.isneginf(logs[1])[:, None] | np.isposinf(logs[0]), np.inf, logs[0] - logs[1][:, None]
        )
    found: Row = over_score @ _share(away / _MARGIN_SPREAD).T
    return found


_GRID: Final = np.linspace(-6, 6, 1201)
_CDF: Final = np.array([NormalDist().cdf(float(place)) for place in _GRID])


def _share(places: Row) -> Row:
    """The normal distribution's share below each place."""
    found: Row = np.interp(places, _GRID, _CDF)
    return found


def _not_below(bar: Bar, cell: Cell, bars: dict[Cell, Bar]) -> Bar:
    """The bar, no lower than that of the same with more behind it."""
    at = _BEHIND.index(cell[3]) if cell[3] in _BEHIND else 0
    for who in _BEHIND[:at]:
        before = bars.get((*cell[:3], who))
        if before is not None:
            scores = [one for one in (bar.score, before.score) if one is not None]
            bar = Bar(max(scores, default=None), max(bar.margin, before.margin))
    return bar


def _no_less_in_noise(bars: Mapping[Cell, Bar], frame: Thresholds) -> dict[Cell, Bar]:
    """The bars, in louder noise with no less margin than in quiet."""
    found = dict(bars)
    names = [name for name, _ in frame.noise]
    for before, name in pairwise(names):
        for cell, bar in list(found.items()):
            quieter = found.get((cell[0], before, *cell[2:]))
            if cell[1] == name and quieter is not None and cell[2] not in BY_HAND:
                found[cell] = bar._replace(margin=max(bar.margin, quieter.margin))
    return found


def _order(cell: Cell) -> tuple[str, str, str, int]:
    return cell[0], cell[1], cell[2].value, list(Who).index(cell[3])


def _up(value: float) -> float:
    return math.ceil(round(value * _UNIT, 6)) / _UNIT
