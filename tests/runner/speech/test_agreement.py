"""What is made of what was heard, rule by rule."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from runner.speech.agreement import LIGHT, decide, distance, kind_of
from runner.speech.decision import (
    Verdict,
    sentence,
)
from runner.speech.heard import AnswerSet, Heard, Phrase, Ranked, Sort
from runner.speech.lexicon import lexicon
from runner.speech.thresholds import Bar, Kind, Who
from tests.runner.speech.judging import (
    ACCEPT,
    AGAIN,
    ASKED,
    BARS,
    FORM,
    LIMITS,
    NOTHING,
    PHRASES,
    READ_BACK,
    SORTS,
    heard,
    judged,
    other,
)

# words -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("score", "margin", "second", "verdict"),
    [
        (-2.0, 1.0, "released", ACCEPT),
        (-2.1, 1.0, "released", READ_BACK),
        (-2.0, 0.9, "released", READ_BACK),
        (-2.0, 0.4, "released", AGAIN),
        (-4.1, 9.0, "released", AGAIN),
        (-1.0, 3.0, "", ACCEPT),
        (-1.1, 3.0, "", READ_BACK),
        (-1.0, 2.9, "", READ_BACK),
        (-0.5, 6.0, "parked", ACCEPT),
        (-0.5, 5.9, "parked", READ_BACK),
        (-0.6, 6.0, "parked", READ_BACK),
        (-4.1, 6.0, "parked", AGAIN),
    ],
)
def test_a_word_is_taken_by_score_margin_and_who_else_heard_it(
    score: float, margin: float, second: str, verdict: Verdict
) -> None:
    opinions = [other(second)] if second else []
    made = judged(heard("released", "parked", score=score, margin=margin), *opinions)
    assert made.verdict is verdict
    line = {ACCEPT: "released", READ_BACK: "unsure: released", AGAIN: ""}[verdict]
    assert (made.line, made.ask, made.sure) == (line, 7, verdict is ACCEPT)


def test_a_short_word_is_one_behind_the_address_too() -> None:
    short = ASKED._replace(phrases=(Phrase("on", ("list on",)), Phrase("off", ("list off",))))
    assert kind_of(Ranked("on", 0.0, Sort.RESPONSE), short) is Kind.WORDS


@pytest.mark.parametrize(("letters", "verdict"), [(10, READ_BACK), (20, ACCEPT), (19, READ_BACK),
                                                   (60, ACCEPT)])  # fmt: skip
def test_the_score_of_a_long_answer_counts_by_its_length(letters: int, verdict: Verdict) -> None:
    phrases = tuple(p._replace(ways=("on " + "a" * (letters - 2),)) if p.line == "released" else p
                    for p in PHRASES)  # fmt: skip
    best = heard("released", "parked", score=-4.0, margin=3.0)
    made = judged(best, other("released"), answers=ASKED._replace(phrases=phrases))
    assert made.verdict is verdict
    # Beyond twenty letters it counts no less: a wrong word weighs the same however long the rest.
    assert made.score == pytest.approx(-40 / min(letters, 20))
    # Nor is an answer longer by the address before it.
    addressed = tuple(p._replace(ways=tuple(f"list {w}" for w in p.ways)) for p in phrases)
    again = judged(best, other("released"), answers=ASKED._replace(phrases=addressed))
    assert again.score == made.score


def test_a_recogniser_that_rejects_neither_agrees_nor_differs() -> None:
    best = heard("released", "parked", margin=3.0)
    assert judged(best, Heard("two", ())).verdict is ACCEPT
    assert judged(best._replace(free_score=-8.9), Heard("two", ())).verdict is READ_BACK


def test_one_of_two_others_is_enough_for_a_word_and_not_for_a_number() -> None:
    word = heard("released", "parked", score=-2.0, margin=1.0)
    assert judged(word, other("released"), other("parked")).verdict is ACCEPT
    number = heard("29.9", "29.5", score=-0.1, margin=9.0)
    assert judged(number, other("29.9"), other("29.9")).verdict is ACCEPT
    assert judged(number, other("29.9"), other("29.5")).verdict is READ_BACK


def test_numbers_on_which_the_recognisers_differ_are_affirmed_however_clear() -> None:
    sure = heard("29.9", "29.5", score=5.0, margin=99.0)
    bars = LIMITS._replace(
        bars={**BARS, ("one", "quiet", Kind.NUMBERS, Who.DIFFER): Bar(-9.0, 0.0)}
    )
    made = decide([sure, other("29.5")], ASKED, bars, 20.0)
    assert (made.verdict, made.line) == (READ_BACK, "unsure: 29.9")
    assert decide([sure, other("29.9")], ASKED, bars, 20.0).verdict is ACCEPT


def test_in_more_noise_more_is_wanted_and_an_unknown_noise_is_the_loudest() -> None:
    best = heard("released", "parked", score=-2.0, margin=1.5)
    assert judged(best, other("released"), snr=10.0).verdict is ACCEPT
    for snr in (9.9, None):
        made = judged(best, other("released"), snr=snr)
        assert (made.verdict, made.noise) == (READ_BACK, "loud")


def test_two_answers_that_sound_alike_want_more_margin() -> None:
    near = heard("pump on", "pump off", score=-1.0, margin=1.9)
    assert judged(near, other("pump on")).verdict is READ_BACK
    far = heard("pump on", "released", score=-1.0, margin=1.9)
    assert judged(far, other("pump on")).verdict is ACCEPT
    assert judged(near._replace(ranked=heard("pump on", "pump off", margin=2.0).ranked),
                  other("pump on")).verdict is ACCEPT  # fmt: skip


def test_what_the_list_does_not_read_back_is_asked_again() -> None:
    weak = heard("released", "parked", score=-3.0, margin=2.0)
    assert judged(weak).verdict is READ_BACK
    assert judged(weak, answers=ASKED._replace(read_back=frozenset())).verdict is AGAIN
    assert judged(heard("tick a.hook", "released", score=-3.0)).verdict is AGAIN
    assert judged(heard("next flight", "released", score=-3.0)).verdict is AGAIN
    assert judged(heard("affirm", "negative", score=-3.0)).verdict is AGAIN


# numbers ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("score", "margin", "second", "verdict"),
    [
        (-2.0, 1.0, "29.90", ACCEPT),
        (-2.0, 0.9, "29.9", READ_BACK),
        (-1.0, 5.0, "", ACCEPT),
        (-1.0, 4.9, "", READ_BACK),
        (-0.1, 50.0, "29.5", READ_BACK),
        (-0.1, 50.0, "released", READ_BACK),
        (-4.1, 50.0, "29.9", AGAIN),
        (-2.0, 0.4, "29.9", AGAIN),
    ],
)
def test_a_number_is_sure_where_two_agree_on_its_value_or_one_is_very_clear(
    score: float, margin: float, second: str, verdict: Verdict
) -> None:
    opinions = [other(second)] if second else []
    made = judged(heard("29.9", "29.5", score=score, margin=margin), *opinions)
    assert made.verdict is verdict


@pytest.mark.parametrize("line", ["4.9", "60.1", "29.92", "drop 20", "below 2", "NaN", "1E+99",
                                  "-inf", "beside 20", "", "29,9", "9" * 60])  # fmt: skip
def test_no_number_is_taken_that_the_instrument_cannot_show(line: str) -> None:
    made = judged(heard(line, "29.5", margin=50.0), other(line))
    assert (made.verdict, made.why, made.line) == (AGAIN, "no number here", "")


def test_calls_are_taken_or_asked_again_and_drops_read_back() -> None:
    sure = heard("below 40", "above 40", margin=9.0, score=-0.1)
    assert judged(sure).line == "below 40"
    assert judged(heard("below 40", "above 40", score=-3.0)).verdict is AGAIN
    drops = ASKED._replace(number=FORM._replace(drops=True, low=Decimal(20)))
    assert judged(heard("drop 5", "drop 9", score=-3.0), answers=drops).line == "unsure: drop 5"
    no_calls = ASKED._replace(number=FORM._replace(thresholds=False))
    assert judged(sure, answers=no_calls).why == "no number here"
    assert judged(sure, answers=ASKED._replace(number=None)).why == "no number here"


def test_a_number_behind_an_order_to_correct_is_its_value() -> None:
    behind = ASKED._replace(read_back=frozenset())
    sure = heard("29.9", "29.5", margin=9.0, score=-0.1)
    assert judged(sure, answers=behind, opener="correct a.b ").line == "correct a.b 29.9"
    weak = heard("29.9", "29.5", score=-3.0)
    assert judged(weak, answers=behind, opener="correct a.b ").verdict is AGAIN


# critical --------------------------------------------------------------------------------------


def test_a_critical_step_wants_two_that_agree_and_a_clear_margin() -> None:
    critical = ASKED._replace(critical=True, read_back=frozenset())
    clear = heard("pump on", "released", score=-0.1, margin=9.0)
    assert judged(clear, other("pump on"), answers=critical).verdict is ACCEPT
    for opinions in ([], [other("released")], [Heard("two", ())]):
        made = judged(clear, *opinions, answers=critical)
        assert (made.verdict, made.why) == (AGAIN, "two must agree")
    split = judged(clear, other("pump on"), other("released"), answers=critical)
    assert split.why == "two must agree"
    weak = heard("pump on", "released", score=-1.6, margin=9.0)
    assert judged(weak, other("pump on"), answers=critical).verdict is AGAIN
    near = heard("pump on", "released", score=-0.1, margin=1.9)
    assert judged(near, other("pump on"), answers=critical).verdict is AGAIN


def test_a_critical_step_is_never_passed_by_one_word() -> None:
    critical = ASKED._replace(critical=True, read_back=frozenset())
    made = judged(heard("released", "parked", margin=50.0), other("released"), answers=critical)
    assert (made.verdict, made.why) == (AGAIN, "in full")


def test_an_item_of_a_station_is_critical_by_itself() -> None:
    some = ASKED._replace(critical_lines=frozenset({"tick a.hook"}))
    item = heard("tick a.hook", "released", margin=9.0)
    assert judged(item, answers=ASKED).verdict is ACCEPT
    assert judged(item, answers=some).why == "two must agree"
    assert judged(item, other("tick a.hook"), answers=some).verdict is ACCEPT
    assert judged(heard("released", "parked", margin=9.0), answers=some).verdict is ACCEPT


def test_what_a_critical_step_read_back_is_affirmed_by_two() -> None:
    critical = ASKED._replace(critical=True, read_back=frozenset())
    yes = heard("affirm", "negative", margin=9.0)
    assert judged(yes, answers=critical).why == "two must agree"
    assert judged(yes, other("affirm"), answers=critical).verdict is ACCEPT


# words that steer ------------------------------------------------------------------------------


@pytest.mark.parametrize("line", ["discontinue", "drill fire"])
def test_what_takes_away_wants_no_second_voice_but_a_clear_one(line: str) -> None:
    for answers in (ASKED, ASKED._replace(critical=True, read_back=frozenset())):
        assert judged(heard(line, "released", score=-1.0, margin=2.0), other("parked"),
                      answers=answers).line == line  # fmt: skip
        assert (
            judged(heard(line, "released", score=-1.1, margin=2.0), answers=answers).verdict
            is AGAIN
        )
        assert (
            judged(heard(line, "released", score=-1.0, margin=1.9), answers=answers).verdict
            is AGAIN
        )


def test_what_passes_nothing_needs_little() -> None:
    for line in ("say again", "negative"):
        assert judged(heard(line, "released", score=-3.0, margin=0.5), other("parked")).line == line
        assert judged(heard(line, "released", score=-3.1, margin=9)).verdict is AGAIN


@pytest.mark.parametrize(
    ("line", "kind"),
    [("discontinue", Kind.AWAY), ("drill fire", Kind.AWAY), ('answer "DISCONTINUE"', Kind.AWAY),
     ('answer "DRILL FIRE"', Kind.AWAY), ('answer "DISCONTINUE HERE"', Kind.WORDS),
     ("say again", Kind.LIGHT), ("snag ", Kind.LIGHT),
     ("affirm", Kind.PHRASES), ("next flight", Kind.PHRASES),
     ("released", Kind.PHRASES), ("29.9", Kind.NUMBERS)],
)  # fmt: skip
def test_an_answer_is_weighed_by_what_it_may_do(line: str, kind: Kind) -> None:
    sort = SORTS.get(line, Sort.NUMBER if line[0].isdigit() else Sort.RESPONSE)
    assert kind_of(Ranked(line, 0.0, sort), ASKED) is kind
    if kind in (Kind.WORDS, Kind.PHRASES, Kind.NUMBERS) and line != "next flight":
        critical = ASKED._replace(critical=True)
        assert kind_of(Ranked(line, 0.0, sort), critical) is Kind.CRITICAL
    assert set(lexicon().control) >= {line.strip() for line in LIGHT}


# the address -----------------------------------------------------------------------------------

OPEN = ASKED._replace(
    phrases=tuple(p._replace(ways=tuple(f"list {w}" for w in p.ways))
                  if p.line not in LIGHT and p.line not in ("discontinue", "drill fire") else p
                  for p in PHRASES),
    number=FORM._replace(before=("list",)),
)  # fmt: skip


@pytest.mark.parametrize("line", ["released", "29.9", "affirm", "correction ", "tick a.hook",
                                  "next flight"])  # fmt: skip
def test_an_open_microphone_passes_nothing_without_the_address(line: str) -> None:
    said = f"list {line}"
    sure = heard(line, "parked", margin=50.0, score=-0.1, free=said)
    assert judged(sure, other(line), answers=OPEN, open_=True).line == line
    for free in (line, "", f"the list {line}", f"enlist {line}"):
        made = judged(sure._replace(free=free), other(line), answers=OPEN, open_=True)
        assert (made.verdict, made.line, sentence(made)) == (NOTHING, "", "")


def test_an_open_microphone_keeps_silent_about_what_was_not_said_to_it() -> None:
    weak = heard("released", "parked", score=-9.0, free="passing four thousand")
    assert judged(weak, answers=OPEN, open_=True).verdict is NOTHING
    named = weak._replace(free="list passing four thousand")
    assert judged(named, answers=OPEN, open_=True).verdict is AGAIN
    for line in ("discontinue", "drill fire", "say again"):
        assert judged(heard(line, "parked", free=line), answers=OPEN, open_=True).line == line
        faint = heard(line, "parked", score=-9.0, free="something else")
        assert judged(faint, answers=OPEN, open_=True).verdict is NOTHING


# nothing, and anything -------------------------------------------------------------------------


def test_nothing_heard_is_nothing_and_something_else_is_asked_again() -> None:
    assert judged().verdict is NOTHING
    assert judged(Heard("one", (), " ...")).verdict is NOTHING
    assert judged(Heard("one", (), "cabbage")).why == "not of the list"
    assert judged(Heard("one", ()), other("released")).verdict is AGAIN


def test_a_line_that_is_not_of_the_set_is_never_taken() -> None:
    made = judged(Heard("one", (Ranked("accept 1", 0.0, Sort.CONTROL),), "", 0.0))
    assert (made.verdict, made.why, made.line) == (AGAIN, "not of the list", "")
    swapped = judged(Heard("one", (Ranked("released", 0.0, Sort.CONTROL),), "", 0.0))
    assert swapped.why == "not of the list"


def test_a_recogniser_without_a_bar_or_an_anti_model_takes_nothing() -> None:
    assert judged(heard("released", "parked", margin=50.0, by="unknown")).verdict is AGAIN
    no_free = heard("released", "parked", margin=50.0)._replace(free_score=None)
    assert judged(no_free, other("released")).verdict is AGAIN


@pytest.mark.parametrize(
    ("ways", "kind"),
    [(("off",), Kind.WORDS), (("set",), Kind.WORDS), (("closed",), Kind.PHRASES),
     (("pump on",), Kind.PHRASES), (("closed", "shut"), Kind.WORDS)],
)  # fmt: skip
def test_a_short_word_has_bars_of_its_own(ways: tuple[str, ...], kind: Kind) -> None:
    line = ways[0]
    answers = AnswerSet(1, (Phrase(line, ways), Phrase("go", ("go",), Sort.CONTROL)))
    assert kind_of(Ranked(line, 0.0, Sort.RESPONSE), answers) is kind
    assert kind_of(Ranked("go", 0.0, Sort.CONTROL), answers) is Kind.WORDS


def test_the_address_is_that_of_the_language_and_makes_no_word_longer() -> None:
    answers = AnswerSet(1, (Phrase("off", ("liste off",)),))
    off, french = Ranked("off", -4.0, Sort.RESPONSE), replace(lexicon(), address=("liste",))
    assert kind_of(off, answers) is Kind.PHRASES
    assert kind_of(off, answers, french) is Kind.WORDS
    # Fifteen letters, of which five are the address: what is left counts as it is.
    long = AnswerSet(1, (Phrase("off", ("liste checked off",)),))
    found = Heard("one", (off,), "", 0.0)
    assert distance(found, long) == pytest.approx(-4.0 * 10 / 15)
    assert distance(found, long, french) == -4.0
