"""From decodings to results, by the program's policy and the engine's own rule of reading back."""

from __future__ import annotations

from pathlib import Path

import pytest

pytest.importorskip("numpy")
pytest.importorskip("soundfile")

from runner.speech.heard import AnswerSet, Heard, Phrase, Sort
from runner.speech.thresholds import Bar, Kind, Thresholds, Who
from tests.bench.speech import asked, deciding
from tests.bench.speech.decodings import Store
from tests.bench.speech.judging import Result, What
from tests.bench.speech.made import FRAME, case
from tests.bench.speech.trials import Speech, Trial

BARS = FRAME._replace(bars={
    **{("closed-set", "quiet", kind, Who.AGREED): Bar(-2.0, 1.0)
       for kind in (Kind.WORDS, Kind.PHRASES, Kind.NUMBERS)},
    **{("closed-set", "quiet", kind, Who.ASK): Bar(-4.0, 0.5)
       for kind in (Kind.WORDS, Kind.PHRASES, Kind.NUMBERS)},
    ("closed-set", "quiet", Kind.LIGHT, Who.ALONE): Bar(-2.0, 0.0),
})  # fmt: skip


def test_what_the_program_decides_is_what_is_counted() -> None:
    taken = deciding.result(case("released", "released", "released", second="parked"), BARS)
    assert (taken.what, taken.line, taken.accepted_right) == (What.ACCEPTED, "released", True)
    wrong = deciding.result(case("parked", "released", "released", second="parked"), BARS)
    assert wrong.accepted_wrong
    asked_for = deciding.result(case("released", "released", second="parked"), BARS)
    assert (asked_for.what, asked_for.line, asked_for.right) == (What.AFFIRM, "released", True)
    weak = deciding.result(case("released", "released", second="parked", score=-9.0), BARS)
    assert weak.what is What.AGAIN
    assert deciding.result(case("released", ""), BARS).what is What.AGAIN
    # In the loud class there is no bar, and so nothing passes.
    loud = case("released", "released", "released", second="parked", ratio=None)
    assert deciding.result(loud, BARS).what is What.AGAIN


def test_a_control_word_passes_nothing_but_affirm_where_a_value_was_read_back() -> None:
    steers = deciding.result(case(None, "say again"), BARS)
    assert (steers.what, steers.control, steers.accepted_wrong) == (What.ACCEPTED, True, False)
    asked_back = AnswerSet(0, tuple(
        Phrase(line, (line,), Sort.CONTROL) for line in ("affirm", "negative")
    ))  # fmt: skip
    passes = deciding.result(
        case(None, "affirm", "affirm", second="negative", answers=asked_back), BARS
    )
    assert (passes.what, passes.control, passes.accepted_wrong) == (What.ACCEPTED, False, True)


def test_the_named_model_stands_before_the_light_recogniser() -> None:
    assert deciding.panel(["closed-set", "sphinx"]) == ("closed-set", "sphinx")
    assert deciding.panel(["closed-set", "sphinx", "vosk-en"]) == ("closed-set", "vosk-en")


def test_a_trial_that_one_has_not_decoded_is_no_case(tmp_path: Path) -> None:
    stores = {name: Store(name, "s", tmp_path) for name in ("closed-set", "sphinx")}
    trials = [case("parked", "parked", text=text).trial for text in ("one", "two")]
    for trial in trials:
        stores["closed-set"].add(trial, Heard("closed-set", ()), 0.25)
    stores["sphinx"].add(trials[1], Heard("sphinx", ()), 0.5)
    (found,) = deciding.cases(trials, stores, lambda _: 7.5)
    assert (found.trial, found.ratio, found.seconds) == (trials[1], 7.5, 0.75)
    assert [one.recogniser for one in found.heard] == ["closed-set", "sphinx"]


def numbers(step: str, line: str, what: What = What.ACCEPTED) -> Result:
    one = next(o for o in asked.answered() if o.listen.step == step and o.answers.number)
    trial = Trial("numbers", 0, Speech("a", "b"), one.answers, line, None, step, "radio")
    return Result(trial, what, line)


def test_the_list_reads_back_by_the_engines_own_rule() -> None:
    by_list = deciding.ByTheList(o for o in asked.answered() if o.answers.number is not None)
    day = [one for one in asked.answered() if one.sort is asked.Sort.NUMBER]
    inside = next(one for one in day if not asked.read_back(one, one.line))
    step, form = inside.listen.step, inside.answers.number
    assert form is not None
    assert by_list(numbers(step, inside.line)).what is What.ACCEPTED
    # The day's own values are within limits; from the ends of a scale some are not.
    ends = {by_list(numbers(o.listen.step, f"{o.answers.number.high:f}")).what
            for o in day if o.answers.number is not None}  # fmt: skip
    assert What.AFFIRM in ends
    assert by_list(numbers(step, inside.line, What.AGAIN)).what is What.AGAIN
    stranger = numbers(step, "5")
    with pytest.raises(ValueError, match=r"nowhere\.step"):
        by_list(stranger._replace(trial=stranger.trial._replace(step="nowhere.step")))


def test_every_store_has_a_maker_and_a_model_that_is_named_is_one(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    from tests.bench.speech import decoding

    monkeypatch.delenv(decoding.VOSK_MODEL, raising=False)
    assert list(decoding.makers()) == ["closed-set", "sphinx"]
    model = tmp_path / "small-english"
    monkeypatch.setenv(decoding.VOSK_MODEL, str(model))
    assert list(decoding.makers()) == ["closed-set", "sphinx"]
    model.mkdir()
    assert list(decoding.makers()) == ["closed-set", "sphinx", "vosk-small-english"]


def test_parts_are_spread_evenly_and_an_utterance_stays_together() -> None:
    from tests.bench.speech import decoding

    many = [case("parked", "parked", text=f"m{n}").trial for n in range(12)]
    few = [case("parked", "parked", text=f"f{n}").trial for n in range(4)]
    row = decoding.interleaved([many, few], 2)
    assert sorted(trial.speech.text for trial in row) == sorted(
        trial.speech.text for trial in many + few
    )
    assert [trial.speech.text[0] for trial in row] == list("mmmmffmmmmmmffmm")
    assert [t for t in row if t in many] == many
    assert sum(map(len, decoding.rounds(row))) == len(row)


def test_thresholds_without_bars_take_nothing() -> None:
    bare: Thresholds = FRAME
    one = case("released", "released", "released", second="parked", score=9.0, margin=99.0)
    assert deciding.result(one, bare).what is What.AGAIN
