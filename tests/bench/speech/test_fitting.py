"""Where cases stand, the bars that are fitted to them, and who is judged by which."""

from __future__ import annotations

import json

import pytest

pytest.importorskip("numpy")
pytest.importorskip("soundfile")

from runner.speech.thresholds import Bar, Kind, Thresholds, Who, as_data, read_thresholds
from tests.bench.speech import crossing, deciding, fitting, judging, shipping
from tests.bench.speech.deciding import Case
from tests.bench.speech.fitting import Weights, fit
from tests.bench.speech.made import FRAME, SET, case
from tests.bench.speech.points import OPEN, points

PHRASES = ("closed-set", "quiet", Kind.PHRASES, Who.AGREED)

HEAVY = Weights(phrases=(40.0, 28.0, 14.0))


def right(n: int, *, score: float = 0.0, margin: float = 6.0, other: str = "released") -> Case:
    """One of a row of right ones, a little apart from each other."""
    return case(
        "released", "released", other, second="parked", score=score + 0.02 * (n % 10),
        margin=margin + 0.05 * (n % 10), group=n % 5, text=f"right {n} {score}",
    )  # fmt: skip


def wrong(n: int, *, score: float = -6.0, margin: float = 1.0, other: str = "released") -> Case:
    return case(
        "parked", "released", other, second="parked", score=score, margin=margin, group=n % 5,
        text=f"wrong {n} {score}",
    )  # fmt: skip


# points ----------------------------------------------------------------------------------------


def test_the_policy_itself_tells_which_bar_a_case_must_pass() -> None:
    agreed, alone, differs = points(
        [case("released", "released", other, second="parked") for other in
         ("released", "", "parked")], FRAME
    )  # fmt: skip
    assert agreed.take == PHRASES
    assert alone.take == (*PHRASES[:3], Who.ALONE)
    assert differs.take == (*PHRASES[:3], Who.DIFFER)
    assert {one.ask for one in (agreed, alone, differs)} == {(*PHRASES[:3], Who.ASK)}
    assert (agreed.score, agreed.margin, agreed.right, agreed.wrong) == (-0.5, 4.0, True, False)
    loud, number, nothing, away = points(
        [case("released", "released", "released", ratio=3.0), case("80", "80", "80", second="90"),
         case("released", ""), case(None, "discontinue")], FRAME
    )  # fmt: skip
    assert loud.take == ("closed-set", "loud", Kind.PHRASES, Who.AGREED)
    assert number.take == ("closed-set", "quiet", Kind.NUMBERS, Who.AGREED)
    assert (nothing.take, nothing.ask) == (None, None)
    assert away.take == ("closed-set", "quiet", Kind.AWAY, Who.ALONE)
    assert not away.wrong
    assert away.ask is None


def test_a_critical_step_is_never_read_back_and_wants_two() -> None:
    critical = SET._replace(critical=True, read_back=frozenset())
    agreed, alone, short = points(
        [case("brake released", "brake released", other, answers=critical)
         for other in ("brake released", "")]
        + [case("released", "released", "released", answers=critical)], FRAME
    )  # fmt: skip
    assert agreed.take == ("closed-set", "quiet", Kind.CRITICAL, Who.AGREED)
    assert [one.take for one in (alone, short)] == [None, None]
    assert {one.ask for one in (agreed, alone, short)} == {None}


def test_a_margin_that_is_wanted_higher_is_brought_to_the_common_scale() -> None:
    """`FRAME` doubles the margin wanted between answers that sound alike."""
    far, near, without = points(
        [case("on", "on", "on", second=second, margin=3.0)
         for second in ("released", "off", "")], FRAME
    )  # fmt: skip
    assert (far.margin, near.margin) == (3.0, 1.5)
    assert without.margin == float("inf")
    assert near.take is not None
    for margin, passes in ((1.5, True), (1.51, False)):
        bars = FRAME._replace(bars={near.take: Bar(None, margin)})
        taken = deciding.result(near.case, bars).what is judging.What.ACCEPTED
        assert taken is near.passes(Bar(None, margin)) is passes


def test_where_a_point_stands_is_what_the_policy_decides() -> None:
    """For every bar: the point passes it exactly where the program takes the case."""
    cases = [right(n) for n in range(9)] + [wrong(n, score=-n / 2.0) for n in range(9)]
    for one in points(cases, FRAME):
        for score in (None, -3.0, -1.0, 0.1):
            for margin in (0.0, 1.0, 6.2):
                bar = Bar(score, margin)
                made = deciding.result(one.case, FRAME._replace(bars={PHRASES: bar}))
                assert one.passes(bar) is (made.what is judging.What.ACCEPTED)
    assert OPEN.margin == 0


# bars ------------------------------------------------------------------------------------------


def fitted(cases: list[Case], weights: Weights | None = None) -> Thresholds:
    return fit(points(cases, FRAME), FRAME, weights or HEAVY)


def taken(cases: list[Case], bars: Thresholds) -> int:
    return sum(deciding.result(one, bars).what is judging.What.ACCEPTED for one in cases)


def test_a_bar_takes_the_right_ones_and_keeps_its_distance_from_the_wrong_ones() -> None:
    rights, wrongs = [right(n) for n in range(100)], [wrong(n) for n in range(20)]
    bars = fitted([*rights, *wrongs])
    assert taken(rights, bars) >= 90
    assert taken(wrongs, bars) == 0
    bar = bars.bars[PHRASES]
    assert bar.score is not None
    # The wrong ones lie at -6 and 1: a bar just above them would keep them out as well.
    assert bar.score > -4 or bar.margin > 2


def test_heavier_wrong_ones_raise_the_bar_and_a_heavy_enough_one_shuts_it() -> None:
    mixed = [right(n, score=n / 25) for n in range(100)]
    mixed += [wrong(n, score=1.0, margin=6.2) for n in range(5)]
    counts = [taken(mixed, fitted(mixed, HEAVY.scaled(by))) for by in (0.01, 1, 1000)]
    assert counts[0] == 105 > counts[1] > counts[2]
    hopeless = [right(n) for n in range(60)] + [wrong(n, score=5.0, margin=60.0) for n in range(9)]
    assert PHRASES not in fitted(hopeless).bars


def test_few_right_ones_make_no_bar() -> None:
    few = [right(n) for n in range(fitting.LEAST - 1)]
    assert PHRASES not in fitted(few).bars
    assert PHRASES in fitted([*few, right(fitting.LEAST)]).bars


def test_what_is_by_hand_stays_and_nothing_else_does() -> None:
    by_hand = {("closed-set", "quiet", Kind.AWAY, Who.ALONE): Bar(-1.5, 3.0)}
    old = {PHRASES: Bar(-9.0, 0.0), ("sphinx", "loud", Kind.LIGHT, Who.ALONE): Bar(None, 0.0)}
    frame = FRAME._replace(bars={**by_hand, **old})
    # Enough right ones that a bar could be fitted.
    said = [case("discontinue", "discontinue", text=f"{n}") for n in range(50)]
    given = points([*said, case(None, "discontinue", text="not said")], frame)
    assert sum(one.right for one in given) > fitting.LEAST
    found = fit(given, frame, Weights())
    assert dict(found.bars) == {key: bar for key, bar in frame.bars.items() if key != PHRASES}


def test_who_has_less_behind_it_never_needs_less() -> None:
    agreed = [right(n, score=1.0) for n in range(60)]
    agreed += [wrong(n, score=0.5, margin=5.0) for n in range(20)]
    alone = [right(n, score=-3.0, margin=2.0, other="") for n in range(60)]
    bars = fitted([*agreed, *alone]).bars
    first, second = bars[PHRASES], bars[*PHRASES[:3], Who.ALONE]
    assert first.score is not None
    assert second.score is not None
    assert second.score >= first.score
    assert second.margin >= first.margin


def test_what_is_read_back_is_fitted_on_what_was_not_taken() -> None:
    clear = [right(n, other="") for n in range(40)]
    weak = [right(n, score=-3.0, margin=2.0, other="") for n in range(40)]
    wrongs = [wrong(n, score=-2.9, margin=2.2, other="") for n in range(6)]
    bars = fitted([*clear, *weak, *wrongs])
    assert taken([*weak, *wrongs], bars) == 0
    asked = [deciding.result(one, bars).what for one in weak]
    assert asked.count(judging.What.AFFIRM) > 30
    assert (*PHRASES[:3], Who.ASK) in bars.bars


def test_louder_noise_eases_what_is_wanted() -> None:
    weights = Weights(phrases=(40.0, 20.0))
    loud = ("closed-set", "loud", *PHRASES[2:])
    assert [weights.of(cell, FRAME) for cell in (PHRASES, loud)] == [40, 20]
    assert weights.scaled(2).of(loud, FRAME) == 40
    assert weights.scaled(2).ask == weights.ask


# in turns --------------------------------------------------------------------------------------


def test_a_group_is_judged_by_bars_that_have_not_seen_it() -> None:
    """One speaker's wrong ones are as clear as anybody's right ones: only the others' bars take
    them, and theirs alone are shut."""
    rights = [right(n) for n in range(100)]
    bad = [case("parked", "released", "released", second="parked", score=1.0, margin=9.0,
                group=3, text=f"bad {n}") for n in range(9)]  # fmt: skip
    given = points([*rights, *bad], FRAME)
    turns = crossing.turns(given, FRAME, Weights())
    assert sorted(turns) == [0, 1, 2, 3, 4]
    assert PHRASES in turns[3].bars
    assert all(PHRASES not in turns[group].bars for group in (0, 1, 2, 4))
    results = crossing.judged(given, turns)
    assert [one.trial for one in results] == [one.case.trial for one in given]
    assert sum(one.accepted_wrong for one in results) == 9
    assert {one.trial.group for one in results if one.accepted_right} == {3}
    with pytest.raises(ValueError, match="may not judge itself"):
        crossing.turns([one for one in given if one.case.trial.group == 1], FRAME, Weights())


# what is shipped -------------------------------------------------------------------------------


def test_what_is_shipped_reads_back_and_tells_how_it_was_fitted() -> None:
    cases = [right(n) for n in range(60)] + [wrong(n) for n in range(10)]
    given = points(cases, FRAME)
    bars, weights = fit(given, FRAME, Weights()), Weights()
    results = crossing.judged(given, crossing.turns(given, FRAME, weights))
    fit_report = shipping.report(
        given, bars, weights, judging.figures(results), "2026-11-26", "abc"
    )
    text = json.dumps(as_data(bars._replace(fit=fit_report)))
    back = read_thresholds(text.encode(), "x.json")
    assert back.bars == bars.bars
    assert back.fit is not None
    assert back.fit["cells"]["closed-set/quiet/phrases/agreed"] == {
        "right": 60, "wrong": 10, "right passing": taken(cases[:60], bars), "wrong passing": 0,
    }  # fmt: skip
    assert back.fit["trials"] == {"phrases": 70}
    assert "do not judge" in back.fit["note"]
    assert len(back.fit["cross-judged"]) == 3 * len(judging.GOALS)


def test_nothing_far_from_the_free_writing_is_taken_and_in_quiet_least() -> None:
    spread = [right(n, score=-0.3 * n, margin=0.1) for n in range(80)]
    loud = [one._replace(ratio=3.0) for one in spread]
    clear = [right(n, score=-0.3 * n) for n in range(80)]
    bars = fitted([*spread, *loud, *clear, *(one._replace(ratio=3.0) for one in clear)]).bars
    for at, name in enumerate(("quiet", "loud")):
        bar = bars["closed-set", name, Kind.PHRASES, Who.AGREED]
        assert bar.score is not None
        assert bar.score >= fitting.LOWEST[at]
        assert bar.margin >= fitting.LEAST_MARGIN[Kind.PHRASES]
    asked = bars["closed-set", "quiet", Kind.PHRASES, Who.ASK]
    assert asked.score is not None
    assert asked.score >= fitting.LOWEST_ASK
    assert asked.margin >= fitting.LEAST_MARGIN_ASK


def test_louder_noise_wants_no_less_margin() -> None:
    quiet = [right(n, margin=30.0) for n in range(60)]
    quiet += [wrong(n, score=1.0, margin=8.0) for n in range(3)]
    loud = [right(n, margin=3.0)._replace(ratio=3.0) for n in range(60)]
    bars = fitted([*quiet, *loud]).bars
    least = bars["closed-set", "quiet", Kind.PHRASES, Who.AGREED].margin
    assert least > 6.0
    assert bars["closed-set", "loud", Kind.PHRASES, Who.AGREED].margin >= least
