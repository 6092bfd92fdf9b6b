"""The report of a run: for people as Markdown, for programs as JSON, from one and the same outcome.

Rules: every figure stands with its count and its bounds, also a bad one; what was assumed, what was
left out and how the bars were fitted is said beside the figures; nothing in it tells on which
machine it was made but for its kind.
"""

from __future__ import annotations

import platform
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from tests.bench.speech import ceilings, day, intervals, judging, noise, outcome, shipping
from tests.bench.speech.fitting import Weights
from tests.bench.speech.judging import Bound, Figure, level_name
from tests.bench.speech.outcome import Curve, Outcome
from tests.bench.speech.timing import Times


class Made(NamedTuple):
    """What a report is made of, beside the outcome: when, of what, with which weights, what was
    tried and left out, what the reader must know, and the times if they were measured."""

    date: str
    state: str
    panel: Sequence[str]
    weights: Weights
    tried: Sequence[str]
    notes: Sequence[str]
    times: Times | None


def as_json(made: Made, found: Outcome) -> dict[str, Any]:
    """The report for programs."""
    return {
        "date": made.date, "recognisers": list(made.panel), "code": made.state,
        "weights": made.weights._asdict(), "tried": list(made.tried), "notes": list(made.notes),
        "goals": [shipping.row(one) for one in found.figures],
        "beside": [_plain(one) for one in found.beside],
        "day": _day(found.day), "day at the upper bounds": _day(found.worst),
        "no day": found.why_no_day,
        "curve": [_curve(one) for one in found.curve],
        "guesses": [one._asdict() for one in found.ceilings],
        "times": made.times._asdict() if made.times is not None else None,
        "python": platform.python_version(), "machine": platform.machine(),
    }  # fmt: skip


def _plain(one: Figure) -> dict[str, Any]:
    whole = shipping.row(one)
    return {key: whole[key] for key in ("goal", "level", "count", "of", "share", "from", "to")}


def _day(one: day.Day | None) -> dict[str, float] | None:
    return {key: round(value, 4) for key, value in one._asdict().items()} if one else None


def _curve(one: Curve) -> dict[str, Any]:
    return {
        "scale": one.scale,
        "goals": [_plain(figure) for figure in one.figures],
        "day": _day(one.day),
    }


def as_text(made: Made, found: Outcome) -> str:
    """The report for people."""
    lines = [
        "# What the speech bench found",
        "",
        f"{made.date}. Recognisers: {', '.join(made.panel)} (state of their code {made.state}).",
        "Made by `python tests/bench/speech/run.py`; `report.json` holds the same.",
        "",
        "Every trial was decided by the program's own policy with bars that were fitted on other"
        " groups of speakers and other noise clips than its own, in turns, so that each was judged"
        " once. Brackets hold exact 95 % bounds, each of its own side (Clopper and Pearson); trials"
        " of one speaker are taken as independent, which is a little too kind.",
        "",
        "## What was tried",
        "",
        *(f"- {row}" for row in made.tried),
        *(f"- {row}" for row in made.notes),
        "",
        "## Goals",
        "",
        *_fenced(judging.table(found.figures)),
        "",
        "A number that the list reads back by itself (out of its limits, near one, deciding a"
        " branch) is not accepted without *affirm*. By the hearing alone, and what else was made:",
        "",
        *_fenced(_rows(found.beside)),
        "",
        "## The day",
        "",
        *(_fenced(day.told(found.day, found.worst)) if found.day and found.worst
          else [f"Not reckoned: {found.why_no_day}."]),
        "",
        "## The trade-off",
        "",
        "How heavy wrong ones weigh, against the shipped weights (1), and what comes of it: wrong"
        f" ones and the share of right ones, at {', '.join(map(level_name, noise.LEVELS))}.",
        "",
        *_trade(found.curve),
        "",
        f"Weights at 1, in right ones for a wrong one: {_weights(made.weights)}.",
        "",
        "## Why an aim is not reached",
        "",
        "Nothing is taken rightly more often than the first recogniser guesses it. Where the second"
        " one does not share the guess, right guesses and wrong ones stand together, as counted"
        " here, and to the wrong ones comes what was guessed of utterances that answer nothing."
        " What is known of a guess (its distance to the free writing, its margin) does not part"
        " them: the curve above shows what each bar lets in with more of the right ones.",
        "",
        *_fenced(ceilings.table(found.ceilings)),
        "",
        "## By part and sort",
        "",
        *_fenced(judging.breakdown(found.results)),
        "",
        "Numbers by the way they were said:",
        "",
        *_fenced(outcome.shares_of_numbers(found.results)),
        "",
        "## Times",
        "",
        *_times(made.times),
    ]  # fmt: skip
    return "\n".join(lines) + "\n"


def _fenced(rows: Iterable[str]) -> list[str]:
    return ["```", *rows, "```"]


def _rows(figures: Iterable[Figure]) -> list[str]:
    rows, before = [], ""
    for one in figures:
        if one.goal.name != before:
            before = one.goal.name
            rows.append(before)
        low, high = intervals.lower(one.hits, one.trials), intervals.upper(one.hits, one.trials)
        rows.append(
            f"  {level_name(one.level):<6} {one.hits:>6} of {one.trials:<6}"
            f" {one.share:7.4f}  [{low:.4f}, {high:.4f}]"
        )
    return rows


def _trade(curve: Iterable[Curve]) -> list[str]:
    goals = judging.GOALS
    rows = ["| weight | " + " | ".join(goal.name for goal in goals) + " | wrong in 100 days |"
            " say-agains | affirms |",
            "| --- |" + " --- |" * (len(goals) + 3)]  # fmt: skip
    for one in curve:
        cells = [
            " ".join(
                f"{f.share:.3f}" if goal.bound is Bound.AIM else f"{f.hits}"
                for f in one.figures if f.goal is goal
            )
            for goal in goals
        ]  # fmt: skip
        today = one.day
        cells += (
            [f"{day.DAYS * today.wrong:.1f}", f"{today.again:.0f}", f"{today.affirms:.0f}"]
            if today else ["", "", ""]
        )  # fmt: skip
        rows.append(f"| {one.scale:g} | " + " | ".join(cells) + " |")
    return rows


def _weights(weights: Weights) -> str:
    rows = []
    for name, value in weights._asdict().items():
        each = value if isinstance(value, tuple) else (value,)
        rows.append(f"{name} {'/'.join(f'{one:g}' for one in each)}")
    return ", ".join(rows)


def _times(times: Times | None) -> list[str]:
    if times is None:
        return ["Not measured."]
    return _fenced([
        f"{times.utterances} utterances of {times.sound_s:g} s in all, at 10 dB; the machine's load"
        f" before was {times.load:g}",
        f"  decision after the whole sound of an utterance is there (0.3 s behind its last word),"
        f" contest included: p50 {times.p50_ms:g} ms, p95 {times.p95_ms:g} ms",
        "  decision after the end of speech, told by a pause of 0.6 s in which a run begins it:"
        f" p50 {times.late_ms(times.p50_ms):g} ms, p95 {times.late_ms(times.p95_ms):g} ms; goal: at"
        " most 300 (p95) on two cores",
        f"  real-time factor: {times.factor:g}; goal: at most 0.3",
        f"  memory: {times.memory_mb:g} MB, that of the bench itself in it; goal: under 600",
    ])  # fmt: skip


def write(folder: Path, made: Made, found: Outcome) -> None:
    """Both files."""
    import json

    folder.mkdir(parents=True, exist_ok=True)
    (folder / "report.md").write_text(as_text(made, found), encoding="utf-8")
    text = json.dumps(as_json(made, found), indent=1, ensure_ascii=False)
    (folder / "report.json").write_text(text + "\n", encoding="utf-8")
