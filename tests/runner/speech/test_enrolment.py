"""What follows from a reading, whatever was heard: bounds that no reading gets over."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.speech.enrolment import (
    ABOVE,
    GUARD,
    LEAST_RIGHT,
    LEVEL_DB,
    PEAK_DB,
    Read,
    enrolment,
    own_ways,
)
from runner.speech.heard import Heard, Ranked, Sort
from runner.speech.thresholds import (
    MOST_GAIN_DB,
    MOST_RAISED,
    MOST_SHIFT,
    Bar,
    Kind,
    Person,
    Thresholds,
    Who,
    of_person,
    person_data,
    read_person,
    thresholds,
)

ONE_BAR = Thresholds(
    (("any", -100.0),), 1.0,
    {("closed-set", "any", kind, who): Bar(-2.0, 1.5) for kind in Kind for who in Who},
)  # fmt: skip


def read(
    line: str, best: str, score: float, margin: float = 3.0, *, other: str | None = None,
    free: str = "", kind: Kind = Kind.WORDS, noise: str = "any", level: float = -23.0,
    peak: float = -9.0,
) -> Read:  # fmt: skip
    """One sentence: `best` was heard, `score` from the free writing, `margin` before another."""
    ranked = (
        Ranked(best, score - 50, Sort.RESPONSE),
        Ranked("something else", score - 50 - margin, Sort.RESPONSE),
    )
    heard = [Heard("closed-set", ranked if best else (), free, -50.0)]
    if other is not None:
        heard.append(Heard("sphinx", (Ranked(other, -1.0, Sort.RESPONSE),)))
    over = score if best else None
    return Read(line, line, kind, tuple(heard), over, noise, level, peak)


def right(score: float, **more: float) -> Read:
    return read("gills open", "gills open", score, **more)  # type: ignore[arg-type]


_LINES = st.sampled_from(["gills open", "gills shut", "brake parked", ""])
_READS = st.lists(
    st.builds(
        read,
        st.sampled_from(["gills open", "gills shut", "brake parked"]), _LINES,
        st.floats(-12, 4), st.floats(0, 12), other=st.none() | _LINES,
        kind=st.sampled_from(Kind), noise=st.sampled_from(["clean", "moderate", "loud"]),
        level=st.floats(-90, 0), peak=st.floats(-60, 0),
        free=st.sampled_from(["", "Gills open.", "Gels open", "Break parked!", "uh"]),
    ),
    max_size=40,
)  # fmt: skip


def passes(read: Read, bars: Thresholds) -> bool:
    """Whether the bars of the answer's company let it pass."""
    bar = bars.bar("closed-set", read.noise, read.kind, read.who)
    if bar is None or not read.best:
        return False
    heard = read.heard[0]
    assert heard.free_score is not None
    assert heard.margin is not None
    enough = bar.score is None or heard.ranked[0].score - heard.free_score >= bar.score
    return enough and heard.margin >= bar.margin


@given(_READS)
def test_no_reading_gets_over_the_bounds(reads: list[Read]) -> None:
    found = enrolment("Tom Aske", reads, thresholds(), ["gills", "open", "brake"])
    person = found.person
    assert person == read_person(_written(person), "tom-aske.json")
    assert all(-MOST_SHIFT <= shift < 0 for shift in person.shifts.values())
    assert 1.0 <= person.raised <= MOST_RAISED
    assert abs(person.gain_db) <= MOST_GAIN_DB
    if reads and person.gain_db > 0:
        assert person.gain_db + max(one.peak_db for one in reads) <= PEAK_DB + 0.01
    bars = of_person(thresholds(), person)
    for key, bar in thresholds().bars.items():
        assert bars.bars[key].margin >= bar.margin
        if bar.score is not None:
            assert (bars.bars[key].score or 0.0) >= bar.score - MOST_SHIFT


@given(_READS)
def test_no_wrong_answer_of_a_reading_passes_for_it(reads: list[Read]) -> None:
    """With the person's bars no answer that was heard wrong passes, or it is told as a doubt."""
    found = enrolment("Tom Aske", reads, thresholds(), [])
    bars = of_person(thresholds(), found.person)
    for one in reads:
        if one.best and not one.right and passes(one, bars):
            assert found.person.raised == MOST_RAISED
            assert any(doubt.startswith(one.words.upper()) for doubt in found.doubts)
            assert passes(one, thresholds())


@given(_READS, st.permutations(range(40)))
def test_the_order_of_the_sentences_is_nothing(reads: list[Read], order: list[int]) -> None:
    shuffled = [reads[at] for at in order if at < len(reads)]
    one = enrolment("Tom Aske", reads, thresholds(), [])
    other = enrolment("Tom Aske", shuffled, thresholds(), [])
    assert one.person == other.person
    assert one.measured["above_the_score_wanted"] == other.measured["above_the_score_wanted"]


def _written(person: Person) -> bytes:
    import json

    return json.dumps(person_data(person)).encode()


def test_nine_of_ten_right_answers_reach_the_score_wanted() -> None:
    scores = [-3.0 + 0.1 * n for n in range(20)]  # one to -1.1; the bar is -2
    found = enrolment("Tom Aske", [right(score) for score in scores], ONE_BAR, [])
    # The third lowest of twenty is the first that must pass: -2.8.
    assert found.person.shifts == {"closed-set": pytest.approx(-0.8, abs=0.011)}
    bar = of_person(ONE_BAR, found.person).bar("closed-set", "any", Kind.WORDS, Who.ALONE)
    assert bar is not None
    assert bar.score is not None
    assert sum(score >= bar.score for score in scores) >= 18


def test_who_is_heard_well_is_heard_as_everybody() -> None:
    found = enrolment("Tom Aske", [right(0.5)] * 30, ONE_BAR, [])
    assert found.person == Person("Tom Aske")
    assert found.doubts == ()


def test_of_few_right_answers_nothing_follows_for_the_score() -> None:
    few = [right(-3.5)] * (LEAST_RIGHT - 1)
    assert enrolment("Tom Aske", few, ONE_BAR, []).person.shifts == {}
    enough = [right(-3.5)] * LEAST_RIGHT
    assert enrolment("Tom Aske", enough, ONE_BAR, []).person.shifts == {"closed-set": -MOST_SHIFT}


def test_in_noise_nothing_is_learnt_of_the_scores() -> None:
    reads = [read("gills open", "gills open", -6.0, noise="loud")] * 30
    assert enrolment("Tom Aske", reads, thresholds(), []).person.shifts == {}
    quiet = [one._replace(noise="clean") for one in reads[:LEAST_RIGHT]]
    found = enrolment("Tom Aske", [*reads, *quiet], thresholds(), [])
    assert found.person.shifts == {"closed-set": -MOST_SHIFT}
    assert len(found.measured["above_the_score_wanted"]) == LEAST_RIGHT


def test_of_a_critical_step_no_reading_lowers_anything() -> None:
    found = enrolment("Tom Aske", [right(-3.0)] * 30, ONE_BAR, [])
    bars = of_person(ONE_BAR, found.person).bars
    assert bars["closed-set", "any", Kind.WORDS, Who.ALONE].score == pytest.approx(-3.0)
    assert bars["closed-set", "any", Kind.CRITICAL, Who.AGREED].score == -2.0


def test_a_wrong_answer_keeps_the_score_from_falling_to_it() -> None:
    wrong = read("gills open", "gills shut", -2.5)
    found = enrolment("Tom Aske", [right(-3.2)] * 20 + [wrong], ONE_BAR, [])
    assert found.person.shifts == {"closed-set": pytest.approx(-0.5 + GUARD, abs=0.011)}
    assert found.person.raised == 1.0
    assert found.measured["wrong"] == [{"read": "gills open", "heard": "gills shut"}]


def test_a_wrong_answer_that_would_have_passed_raises_the_margin_above_it() -> None:
    wrong = read("gills open", "gills shut", 0.0, margin=2.4)
    found = enrolment("Tom Aske", [right(0.0)] * 20 + [wrong], ONE_BAR, [])
    assert found.person.raised == pytest.approx(2.4 / 1.5 * ABOVE, abs=0.011)
    assert not passes(wrong, of_person(ONE_BAR, found.person))
    assert found.doubts == ()


def test_a_wrong_answer_beyond_every_margin_is_told() -> None:
    wrong = read("gills open", "gills shut", 0.0, margin=40)
    found = enrolment("Tom Aske", [right(0.0)] * 20 + [wrong], ONE_BAR, [])
    assert found.person.raised == MOST_RAISED
    assert found.doubts == (
        "GILLS OPEN was clearly heard as GILLS SHUT: if it was read as it stood there, answer it "
        "by the key",
    )


@pytest.mark.parametrize(
    ("level", "peak", "gain"),
    [(-43.0, -30.0, 20.0), (-43.0, -11.0, 10.0), (LEVEL_DB + 0.5, -9.0, 0.0), (-13.0, -3.0, -10.0),
     (-90.0, -80.0, MOST_GAIN_DB)],
)  # fmt: skip
def test_the_gain_aims_at_a_level_and_clips_nothing(
    level: float, peak: float, gain: float
) -> None:  # fmt: skip
    reads = [right(0.0, level=level, peak=peak)] * 3
    assert enrolment("Tom Aske", reads, ONE_BAR, []).person.gain_db == pytest.approx(gain)


WORDS = frozenset({"gills", "open", "shut", "brake", "parked", "bleed"})


def ways(*pairs: tuple[str, str]) -> dict[str, tuple[str, ...]]:
    return own_ways([read(said, said, 0.0, free=free) for said, free in pairs], WORDS)


def test_a_word_written_otherwise_twice_is_a_way_of_saying_it() -> None:
    assert ways(("gills open", "Jewels open."), ("gills shut", "Jewels shut")) == {
        "gills": ("jewels",)
    }
    assert ways(("gills open", "Jewels open.")) == {}


def test_a_way_is_more_frequent_than_the_right_writing() -> None:
    twice = [("gills open", "jewels open"), ("gills shut", "jewels shut")]
    assert ways(*twice, ("gills open", "gills open")) != {}
    assert ways(*twice, ("gills open", "gills open"), ("gills open", "gills open")) == {}


@pytest.mark.parametrize("written", ["parked", "break", "barked"])
def test_a_way_is_no_other_word_and_sounds_like_none(written: str) -> None:
    """*Break* sounds as brake does, *barked* nearly as parked."""
    assert ways(("gills open", f"{written} open"), ("gills shut", f"{written} shut")) == {}


def test_in_noise_no_way_is_learnt() -> None:
    def of(noise: str) -> Person:
        one = read("gills open", "gills open", 0.0, free="jewels open", noise=noise)
        return enrolment("Tom Aske", [one, one], thresholds(), WORDS).person

    assert of("clean").ways == {"gills": ("jewels",)}
    assert of("loud").ways == of("moderate").ways == {}


def test_numbers_give_no_ways() -> None:
    one = read("two five", "25", 0.0, free="to fife", kind=Kind.NUMBERS)
    assert own_ways([one, one], WORDS) == {}


def test_of_nothing_nothing_follows() -> None:
    assert enrolment("Tom Aske", [], thresholds(), []).person == Person("Tom Aske")
