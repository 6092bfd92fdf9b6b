"""The command's own part: what it asks for, what it leaves out, and the report that it writes."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest

pytest.importorskip("numpy")
pytest.importorskip("soundfile")

from tests.bench.speech import day, judging, outcome, recordings, reporting, run, voices
from tests.bench.speech.deciding import Case
from tests.bench.speech.fitting import Weights
from tests.bench.speech.judging import Result, What
from tests.bench.speech.made import FRAME, SET, case
from tests.bench.speech.noise import LEVELS
from tests.bench.speech.outcome import Outcome
from tests.bench.speech.points import points
from tests.bench.speech.timing import Times

WORDS: day.Kind = ("words", False)
INPUTS = Counter({(WORDS, False): 90, (WORDS, True): 10})
ASKED = Counter({(WORDS, False): 2})


def cases() -> list[Case]:
    """Right ones, strays that are heard as nothing, and one wrong one in each group."""
    found = []
    for level in LEVELS:
        for n in range(60):
            found.append(
                case("released", "released", "released", second="parked", margin=6 + n / 20,
                     score=n / 30, group=n % 5, level=level, text=f"{level} {n}")
            )  # fmt: skip
            found.append(case(None, "", group=n % 5, level=level, text=f"stray {level} {n}",
                              sort="other phrase", answers=SET))  # fmt: skip
        found += [
            case("parked", "released", second="parked", margin=1.0, score=-5.0, group=n,
                 level=level, text=f"wrong {level} {n}") for n in range(5)
        ]  # fmt: skip
    return found


def same(result: Result) -> Result:
    return result


@pytest.fixture(scope="module")
def found() -> Outcome:
    given = points(cases(), FRAME)
    return outcome.found(given, FRAME, Weights(), same, INPUTS, ASKED, (1.0, 50.0))


def test_the_outcome_judges_every_trial_once_and_reckons_the_day(found: Outcome) -> None:
    assert len(found.results) == len(cases())
    phrases = [one for one in found.figures if one.goal.name.startswith("phrases")]
    assert all(one.trials == 65 and one.hits > 50 for one in phrases)
    assert not any(one.accepted_wrong for one in found.results)
    assert found.day is not None
    assert found.worst is not None
    assert found.day.inputs == 100
    assert found.day.wrong == 0 < found.worst.wrong
    assert found.why_no_day == ""
    # What the list asks by itself is an affirm of the day, however clearly it was heard.
    assert found.day.by_list == pytest.approx(2, abs=0.3)
    assert found.day.affirms >= found.day.by_list


def test_the_curve_goes_from_what_is_shipped_to_heavier_wrong_ones(found: Outcome) -> None:
    light, heavy = found.curve
    assert (light.scale, heavy.scale) == (1, 50)
    assert [f.hits for f in light.figures] == [f.hits for f in found.figures]
    phrases = [[f.hits for f in one.figures if f.goal.name.startswith("phrases")]
               for one in (light, heavy)]  # fmt: skip
    assert sum(phrases[0]) >= sum(phrases[1])


def test_a_kind_that_was_not_tried_leaves_the_day_open() -> None:
    given = points(cases(), FRAME)
    more = Counter({**INPUTS, (("item", True), True): 1})
    bare = outcome.found(given, FRAME, Weights(), same, more, ASKED, ())
    assert bare.day is None
    assert "item" in bare.why_no_day
    made = reporting.Made("2026-11-26", "abc", ("a",), Weights(), (), (), None)
    assert "Not reckoned: nothing was judged of item" in reporting.as_text(made, bare)
    assert reporting.as_json(made, bare)["day"] is None


def test_the_report_shows_every_figure_and_what_was_left_out(
    found: Outcome, tmp_path: Path
) -> None:
    trials = [one.trial for one in cases()]
    tried = outcome.counts(trials, trials[:10])
    assert tried == [
        f"phrases: 10 of {len(trials)} trials (10 clean, 0 10 dB, 0 5 dB), 5 speakers in 5 groups;"
        f" left out, not decoded: {len(trials) - 10}"
    ]
    times = Times(120, 180.5, 140, 260, 0.15, 480, 0.5)
    made = reporting.Made(
        "2026-11-26", "abc", ("closed-set", "sphinx"), Weights(), tried, ("a note",), times
    )
    reporting.write(tmp_path, made, found)
    text = (tmp_path / "report.md").read_text(encoding="utf-8")
    for goal in judging.GOALS:
        assert goal.name in text
    # Begun 0.3 s before the pause is over, nothing of 260 ms is left then, of 360 ms a sixth.
    assert (times.late_ms(260), times.late_ms(360)) == (0, 60)
    for part in (
        "p95 260 ms",
        "p95 0 ms; goal",
        "a note",
        "left out",
        "goal: at most 12",
        "NOT TRIED",
    ):
        assert part in text
    data = json.loads((tmp_path / "report.json").read_text(encoding="utf-8"))
    assert len(data["goals"]) == 3 * len(judging.GOALS)
    assert {row["level"] for row in data["goals"]} == {"clean", "10 dB", "5 dB"}
    assert data["times"]["p95_ms"] == 260
    assert [one["scale"] for one in data["curve"]] == [1, 50]
    assert data["day"]["inputs"] == 100


def test_numbers_are_told_by_the_way_they_were_said() -> None:
    radio = [case("80", "80", part="numbers", sort="radio", text=f"{n}").trial for n in range(4)]
    results = [
        Result(radio[0], What.ACCEPTED, "80"), Result(radio[1], What.AFFIRM, "80"),
        Result(radio[2], What.ACCEPTED, "90"), Result(radio[3], What.AGAIN),
    ]  # fmt: skip
    assert outcome.shares_of_numbers(results) == ["radio        0.500 right, 1 of 4 wrong"]


def test_what_is_asked_for_is_checked(capsys: pytest.CaptureFixture[str]) -> None:
    for words in (["--count", "numbers"], ["--count", "letters=5"], ["--count", "words=0"],
                  ["--part", "letters"]):  # fmt: skip
        with pytest.raises(SystemExit) as left:
            run.main(words)
        assert left.value.code == 2
    assert "PART=N" in capsys.readouterr().err


def test_without_recordings_or_voices_nothing_is_tried(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("LATCHWORD_SPEECH_DATA", str(tmp_path))
    assert run.main([]) == 2
    assert "LATCHWORD_SPEECH_DATA" in capsys.readouterr().err
    monkeypatch.setattr(recordings, "missing", lambda: "")
    monkeypatch.setattr(voices, "present", list)
    assert run.main(["--part", "numbers"]) == 2
    assert "0 voices are installed, 12 are needed" in capsys.readouterr().err
