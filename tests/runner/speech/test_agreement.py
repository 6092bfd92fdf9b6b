"""What is made of what was heard: rule by rule, and of anything at all."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.engine import events as ev
from runner.engine.session import transition
from runner.speech.agreement import LIGHT, decide, kind_of
from runner.speech.decision import (
    LONGEST_EVIDENCE,
    REASONS,
    UNSURE,
    Decision,
    Verdict,
    evidence,
    sentence,
)
from runner.speech.heard import AnswerSet, Heard, NumberForm, Phrase, Ranked, Sort
from runner.speech.lexicon import lexicon
from runner.speech.thresholds import Bar, Kind, Thresholds, Who
from tests.runner.speech.day import day

ACCEPT, READ_BACK, AGAIN, NOTHING = Verdict
NOISE = (("quiet", 10.0), ("loud", -math.inf))
WORDS = {
    Who.AGREED: Bar(-2.0, 1.0), Who.ALONE: Bar(-1.0, 3.0), Who.DIFFER: Bar(-0.5, 6.0),
    Who.ASK: Bar(-4.0, 0.5),
}  # fmt: skip
NUMBERS = {Who.AGREED: Bar(-2.0, 1.0), Who.ALONE: Bar(-1.0, 5.0), Who.ASK: Bar(-4.0, 0.5)}
BARS = {
    **{("one", n, Kind.WORDS, who): bar for n, _ in NOISE for who, bar in WORDS.items()},
    **{("one", n, Kind.NUMBERS, who): bar for n, _ in NOISE for who, bar in NUMBERS.items()},
    **{("one", n, Kind.CRITICAL, Who.AGREED): Bar(-1.5, 2.0) for n, _ in NOISE},
    **{("one", n, Kind.AWAY, Who.ALONE): Bar(-1.0, 2.0) for n, _ in NOISE},
    **{("one", n, Kind.LIGHT, Who.ALONE): Bar(-3.0, 0.5) for n, _ in NOISE},
    ("one", "loud", Kind.WORDS, Who.AGREED): Bar(-2.0, 2.0),
}
LIMITS = Thresholds(NOISE, 2.0, BARS)

PHRASES = (
    Phrase("released", ("released",)),
    Phrase("parked", ("parked",)),
    Phrase("pump on", ("pump on",)),
    Phrase("pump off", ("pump off",)),
    Phrase("no fire seen", ("no fire seen",)),
    Phrase("tick a.hook", ("hook latched", "tick hook"), Sort.ITEM),
    Phrase("affirm", ("affirm",), Sort.CONTROL),
    Phrase("negative", ("negative",), Sort.CONTROL),
    Phrase("say again", ("say again",), Sort.CONTROL),
    Phrase("discontinue", ("discontinue",), Sort.CONTROL),
    Phrase("drill fire", ("drill fire in start",), Sort.CONTROL),
    Phrase("correction ", ("correction",), Sort.CONTROL),
    Phrase("next flight", ("next flight",), Sort.CONTROL),
)
FORM = NumberForm(1, Decimal(5), Decimal(60), "inHg", thresholds=True)
BOTH = frozenset({Sort.RESPONSE, Sort.NUMBER})
ASKED = AnswerSet(7, PHRASES, FORM, read_back=BOTH)
SORTS = {phrase.line: phrase.sort for phrase in PHRASES}


def heard(
    *lines: str, score: float = -0.5, margin: float = 4.0, free: str = "", by: str = "one"
) -> Heard:
    """What a recogniser heard: the lines, each so far behind the one before; `score` is the
    distance of the best to the free writing."""
    ranked = tuple(
        Ranked(line, -10.0 - number * margin, SORTS.get(line, Sort.NUMBER))
        for number, line in enumerate(lines)
    )
    return Heard(by, ranked, free, -10.0 - score if by == "one" else None)


def other(line: str) -> Heard:
    return heard(line, by="two")


def judged(
    *given_heard: Heard, answers: AnswerSet = ASKED, snr: float | None = 20.0, open_: bool = False,
    opener: str = "",
) -> Decision:  # fmt: skip
    return decide(given_heard, answers, LIMITS, snr, open_microphone=open_, opener=opener)


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
     ("say again", Kind.LIGHT), ("affirm", Kind.WORDS), ("next flight", Kind.WORDS),
     ("released", Kind.WORDS), ("29.9", Kind.NUMBERS)],
)  # fmt: skip
def test_an_answer_is_weighed_by_what_it_may_do(line: str, kind: Kind) -> None:
    sort = SORTS.get(line, Sort.NUMBER if line[0].isdigit() else Sort.RESPONSE)
    assert kind_of(Ranked(line, 0.0, sort), ASKED) is kind
    if kind in (Kind.WORDS, Kind.NUMBERS) and line != "next flight":
        critical = ASKED._replace(critical=True)
        assert kind_of(Ranked(line, 0.0, sort), critical) is Kind.CRITICAL
    assert set(lexicon().control) >= LIGHT


# what was said beside it -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "free", "why"),
    [
        ("released", "Not released.", "denied"),
        ("released", "Released, no wait", "denied"),
        ("released", "It isn’t released", "denied"),
        ("released", "Knot released", ""),
        ("no fire seen", "No fire seen.", ""),
        ("no fire seen", "not no fire seen", "denied"),
        ("affirm", "negative affirm", "denied"),
        ("29.9", "not 29.9", "denied"),
        ("next flight", "not next flight", ""),
        ("released", "parked correction", "repaired"),
        ("next flight", "released, correction, next flight", "repaired"),
        ("correction ", "Correction.", ""),
        ("correction ", "Correction five four", "correction alone"),
    ],
)
def test_what_was_said_beside_the_answer_forbids_to_take_it(line: str, free: str, why: str) -> None:
    made = judged(heard(line, "parked", margin=50.0, free=free), other(line))
    assert made.why == why
    assert made.verdict is (AGAIN if why else ACCEPT)


def test_what_corrected_itself_is_read_back_in_its_last_form() -> None:
    made = judged(heard("parked", "released", margin=50.0, free="Parked. Correction, released."))
    assert (made.verdict, made.line, made.best) == (READ_BACK, "unsure: released", "released")
    number = judged(
        heard("17", "16", margin=50.0, free="one seven correction one six decimal five")
    )
    assert (number.verdict, number.line) == (READ_BACK, "unsure: 16.5")
    for free in ("17 correction 99", "17 correction 16.55", "17 correction blue", "17 correction"):
        again = judged(heard("17", "16", margin=50.0, free=free))
        assert (again.verdict, again.why, again.line) == (AGAIN, "repaired", "")
    critical = ASKED._replace(critical=True, read_back=frozenset())
    made = judged(heard("parked", margin=50.0, free="parked correction pump on"), other("parked"),
                  answers=critical)  # fmt: skip
    assert made.verdict is AGAIN


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


LINES = st.sampled_from([*SORTS, "29.9", "below 40", "drop 3", "70", "accept 1", "off"])
HEARD = st.builds(
    Heard, st.sampled_from(("one", "two", "three")),
    st.lists(st.builds(Ranked, LINES, st.floats(-40, 0), st.sampled_from(Sort)), max_size=5).map(
        lambda rows: tuple(sorted(rows, key=lambda r: -r.score))
    ),
    st.sampled_from(("", "released", "list released", "not released", "correction 20", "¿")),
    st.none() | st.floats(-40, 0),
)  # fmt: skip


@given(st.lists(HEARD, max_size=3), st.booleans(), st.booleans(), st.none() | st.floats(-20, 40))
def test_whatever_was_heard_only_answers_of_the_set_are_taken(
    given_heard: list[Heard], critical: bool, open_: bool, snr: float | None
) -> None:
    answers = ASKED._replace(critical=critical, read_back=frozenset() if critical else BOTH)
    made = decide(given_heard, answers, LIMITS, snr, open_microphone=open_)
    assert made.ask == 7
    assert made.why in REASONS
    assert (made.line != "") is (made.verdict in (ACCEPT, READ_BACK))
    if made.line:
        line = made.line.removeprefix(UNSURE)
        assert line in SORTS or (FORM.low <= Decimal(line.split()[-1]) <= FORM.high)
        assert made.line.startswith(UNSURE) is (made.verdict is READ_BACK)
    passes = made.verdict is ACCEPT and line not in LIGHT and kind_of(
        Ranked(line, 0.0, made.sort), answers) is not Kind.AWAY if made.line else False  # fmt: skip
    if critical and passes and made.sort is not Sort.CONTROL:
        agreeing = [one for one in given_heard[1:] if one.ranked and one.ranked[0].line == line]
        assert agreeing
        assert " " in line or made.sort is Sort.NUMBER
    if critical:
        assert made.verdict is not READ_BACK
    if open_ and passes:
        assert given_heard[0].free.startswith("list")
    text = evidence(made)
    assert len(text) <= LONGEST_EVIDENCE
    assert not text or ev.Snag(1, text=text)
    said = sentence(made)
    assert (said != "") is (made.verdict is AGAIN)
    assert "{" not in said


@given(st.floats(-6, 0), st.floats(0, 9), st.floats(0, 3), st.floats(0, 3))
def test_what_is_heard_more_clearly_is_never_taken_less(
    score: float, margin: float, better: float, further: float
) -> None:
    order = [AGAIN, READ_BACK, ACCEPT]
    for opinions in ([], [other("released")], [other("parked")]):
        before = judged(heard("released", "parked", score=score, margin=margin), *opinions)
        after = judged(
            heard("released", "parked", score=score + better, margin=margin + further), *opinions
        )
        assert order.index(after.verdict) >= order.index(before.verdict)


# evidence and sentences ------------------------------------------------------------------------


def test_the_log_keeps_on_what_grounds_it_was_taken() -> None:
    made = judged(
        heard("released", "parked", "pump on", margin=3.1, score=-0.42, free="Released."),
        other("released"),
    )
    assert evidence(made) == (
        "released; one score -0.42 margin 3.10 quiet; two: released; "
        "next: parked -3.10, pump on -6.20; wrote: Released."
    )
    unsure = judged(heard("29.9", "29.5", score=-3.0, margin=1.0), Heard("two", ()))
    assert evidence(unsure) == (
        "29.9 (read back, not clear); one score -3.00 margin 1.00 quiet; two: no answer; "
        "next: 29.5 -1.00"
    )
    assert evidence(judged()) == "nothing heard"


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (judged(heard("released", "parked", score=-9.0)), "SAY AGAIN: NOT CLEAR"),
        (judged(heard("released", "parked", score=-1.0, margin=0.2)),
         "SAY AGAIN: RELEASED OR PARKED?"),
        (judged(heard("tick a.hook", "parked", score=-1.0, margin=0.2)),
         "SAY AGAIN: HOOK LATCHED OR PARKED?"),
        (judged(heard("29.9", "29.5", score=-1.0, margin=0.2)),
         "SAY AGAIN: TWO NINE DECIMAL NINE OR TWO NINE DECIMAL FIVE?"),
        (judged(heard("released", "parked", score=-4.5), other("parked")),
         "SAY AGAIN: HEARD IN TWO WAYS"),
        (judged(heard("released", "parked", free="not released")),
         "SAY AGAIN: HEARD NOT, NOT TAKEN"),
        (judged(heard("released", "parked", margin=9.0)), ""),
        (judged(), ""),
    ],
)  # fmt: skip
def test_what_was_not_taken_says_why_and_what_to_do(made: Decision, said: str) -> None:
    assert sentence(made) == said


def test_a_decision_about_a_real_question_is_taken_by_the_list() -> None:
    """Every answer of the day that two recognisers heard clearly is taken by the engine, and what
    was read back by hearing is asked *affirm* by it, once."""
    taken = read = 0
    for said in day():
        answers = said.set(said.role)
        best = next((p for p in answers.phrases if p.sort is Sort.RESPONSE
                     and isinstance(said.event, ev.Answer) and not said.event.item
                     and said.read(p.line).but(role="") == said.event.but(role="", source="voice")),
                    None)  # fmt: skip
        if best is None:
            continue
        ranked = (Ranked(best.line, -1.0, best.sort), Ranked("wilco", -9.0, Sort.CONTROL))
        for free_score in (-0.9, 1.5):
            one = Heard("one", ranked, "", free_score)
            opinions = [other(best.line)._replace(ranked=ranked)] if free_score < 0 else []
            made = decide([one, *opinions], answers, LIMITS, 20.0)
            if not made.line:
                assert free_score > 0
                assert not answers.read_back
                continue
            event = said.read(made.line).but(role=said.role)
            kinds = [item[0] for item in transition(said.table, said.state, event)[1]]
            assert "refused" not in kinds
            assert made.verdict is (ACCEPT if free_score < 0 else READ_BACK)
            if made.verdict is READ_BACK:
                assert kinds.count("read back") == 1
                read += 1
            else:
                taken += 1
    assert taken > 300
    assert read > 100
