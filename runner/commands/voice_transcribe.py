"""`voice transcribe`: what would have been heard of a recording at a step of a list, and why.

Rules: the set is that of the question as a run would ask it; the sound is cut, ranked and judged as
in a run, by a key that is held; it shows what each recogniser said and by which bars it was judged;
nothing is written.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

from runner.commands.signing import say
from runner.commands.voice import settings
from runner.commands.voice_ear import Taken, longest, utterances
from runner.commands.voice_lists import lists_of
from runner.commands.voice_person import Listener, listener, recognisers
from runner.engine.words import nearest
from runner.host.places import PlaceFault
from runner.host.questions import NoSuchStep, find_step, question_of
from runner.speech.agreement import kind_of
from runner.speech.answers import answer_set
from runner.speech.decision import REASONS, Decision, Verdict, sentence
from runner.speech.ears.files import SoundFileFault, read_sound
from runner.speech.heard import AnswerSet, Heard
from runner.speech.thresholds import Who

ROLES: Final = ("commander", "copilot", "ground")
MOST: Final = 5
"""Answers of each recogniser that are shown."""


def transcribe(
    flow: str, step: str, file: Path, role: str, name: str, *, as_json: bool
) -> int:  # fmt: skip
    """Tells it."""
    if role and role not in ROLES:
        near = nearest(role, ROLES)
        hint = f"; nearest: {near}" if near else ""
        raise PlaceFault(f"--role {role!r}{hint}; allowed: {', '.join(ROLES)}", 2)
    held = settings()
    who = listener(name)
    lists = lists_of(flow)
    try:
        found = find_step(lists.loaded, lists.flow, step)
        asked = question_of(lists.loaded.table, found)
    except NoSuchStep as fault:
        raise PlaceFault(str(fault), 2) from None
    if asked.listen.both and not role:
        role = ROLES[0]
        say("both pilots answer here, each with a key of their own; this is as the commander's")
    answers = answer_set(asked.listen, asked.view, who.language, role=role)
    taken = _taken(file)
    panel = recognisers(held)
    try:
        heard, decision = who.decided(panel, taken.samples, taken.ratio, answers)
    finally:
        panel.close()
    if as_json:
        print(json.dumps(_data(found.id, taken, answers, heard, decision), ensure_ascii=False))
        return 0
    critical = ", critical" if answers.critical else ""
    print(f"{found.id}: {found.challenge}{critical}; {_said(answers)}")
    above = "noise unknown" if taken.ratio is None else f"{taken.ratio:.0f} dB above the noise"
    print(f"{file}: speech from {taken.began:.2f} to {taken.ended:.2f} s, {above}, "
          f"so {decision.noise}")  # fmt: skip
    for one in heard:
        _tell(one)
    _judged(decision, answers, who, heard)
    return 0


def _taken(file: Path) -> Taken:
    """The utterance of a recording."""
    try:
        sound = read_sound(file)
    except SoundFileFault as fault:
        raise PlaceFault(str(fault)) from None
    found = utterances(sound)
    one = longest(found)
    if one is None:
        raise PlaceFault(f"{file}: no speech is found in it, so nothing would have been heard", 1)
    if len(found) > 1:
        say(f"{file}: {len(found)} utterances; this is the longest, from {one.began:.2f} s")
    return one


def _said(answers: AnswerSet) -> str:
    """What may be said, in short."""
    form = answers.number
    number = f", a number from {form.low} to {form.high} {form.unit}".rstrip() if form else ""
    return f"{len(answers.phrases)} answers may be said{number}"


def _tell(heard: Heard) -> None:
    print(f"{heard.recogniser}")
    for one in heard.ranked[:MOST]:
        against = "" if heard.free_score is None else f"  score {one.score - heard.free_score:7.2f}"
        behind = (
            f"  behind {heard.ranked[0].score - one.score:6.2f}" if one != heard.ranked[0] else ""
        )
        print(f"  {one.line.strip()[:40]:<40}{against}{behind}".rstrip())
    if not heard.ranked:
        print("  no answer")
    if heard.free:
        print(f"  wrote: {' '.join(heard.free.split())[:70]}")


def _judged(
    decision: Decision, answers: AnswerSet, who: Listener, heard: list[Heard]
) -> None:  # fmt: skip
    for line in _bars(decision, answers, who, heard):
        print(line)
    done = {
        Verdict.ACCEPT: "TAKEN",
        Verdict.READ_BACK: "READ BACK, AND AFFIRM ASKED",
        Verdict.SAY_AGAIN: "NOT TAKEN",
        Verdict.NOTHING: "NOTHING",
    }[decision.verdict]
    line = decision.line.strip() or sentence(decision)
    why = f" ({decision.why})" if decision.why else ""
    print(f"{done}: {line}{why}" if line else f"{done}{why}")


def _bars(decision: Decision, answers: AnswerSet, who: Listener, heard: list[Heard]) -> list[str]:
    """What was reached, and what is wanted of such an answer in such noise."""
    if not heard or not heard[0].ranked or decision.sort is not heard[0].ranked[0].sort:
        return []
    kind = kind_of(heard[0].ranked[0], answers, who.language)
    figures = (("score", decision.score), ("margin", decision.margin))
    reached = [f"{name} {value:.2f}" for name, value in figures if value is not None]
    found = [f"reached: {' '.join(reached) or 'no figures'}"]
    for company in Who:
        bar = who.bars.bar(decision.recogniser, decision.noise, kind, company)
        if bar is not None:
            score = "" if bar.score is None else f"score {bar.score:.2f} "
            found.append(
                f"wanted of {kind.value}, {decision.noise}, {company.value}: {score}"
                f"margin {bar.margin:.2f}"
            )
    if len(found) == 1:
        found.append(f"wanted of {kind.value}, {decision.noise}: never taken")
    return found


def _data(
    step: str, taken: Taken, answers: AnswerSet, heard: list[Heard], decision: Decision
) -> dict[str, Any]:  # fmt: skip
    """All of it, for a program."""
    form = answers.number
    return {
        "step": step, "critical": answers.critical,
        "speech": {
            "from": round(taken.began, 3), "to": round(taken.ended, 3), "above": taken.ratio,
        },
        "answers": [one.line for one in answers.phrases],
        "number": None if form is None else {
            "low": str(form.low), "high": str(form.high), "decimals": form.decimals,
            "unit": form.unit,
        },
        "heard": [
            {
                "recogniser": one.recogniser, "wrote": one.free, "free_score": one.free_score,
                "margin": one.margin,
                "ranked": [{"line": r.line, "score": r.score, "sort": r.sort.value}
                           for r in one.ranked],
            }
            for one in heard
        ],
        "verdict": decision.verdict.value, "line": decision.line, "why": decision.why,
        "told": REASONS[decision.why], "score": decision.score, "margin": decision.margin,
        "noise": decision.noise,
    }  # fmt: skip
