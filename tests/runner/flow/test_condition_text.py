"""Conditions as they are written on paper: what the document says, exactly and in its own words."""

from __future__ import annotations

import re
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.engine.conditions import NameType, compile_condition, compile_formula
from runner.flow.condition_text import ConditionText, formula_text
from runner.flow.names import BUILT_IN

NAMES = {
    **BUILT_IN,
    "outcome": NameType("text", label="Outcome", allowed=("LEFT", "ONCE MORE", "STOPPED")),
    "smoke": NameType("text", label="Smoke", allowed=("CLEARS", "STAYS")),
    "strokes": NameType("number", label="Prime strokes"),
    "at_brief": NameType("number", label="Rotor turning at brief"),
    "air": NameType("number", 0, "°C", "Outside air"),
    "base": NameType("number", 0, "rpm", "Base"),
    "left": NameType("number", 0, "rpm", "RPM on left"),
    "hook": NameType("truth", label="Cargo hook"),
    "unnamed_time": NameType("number", 0, "min"),
}
TEXT = ConditionText({"strokes"}, {"hook"})


@pytest.mark.parametrize(
    ("source", "said"),
    [
        ('outcome == "STOPPED"', "Outcome answered STOPPED"),
        ('"STOPPED" == outcome', "Outcome answered STOPPED"),
        ('outcome != "STOPPED"', "Outcome answered other than STOPPED"),
        ('!(outcome == "STOPPED")', "Outcome answered other than STOPPED"),
        ('!(outcome != "STOPPED")', "Outcome answered STOPPED"),
        ('outcome == "LEFT" || outcome == "STOPPED"', "Outcome answered LEFT or STOPPED"),
        ('outcome in ["LEFT", "STOPPED"]', "Outcome answered LEFT or STOPPED"),
        ('!(outcome in ["LEFT", "STOPPED"])', "Outcome answered neither LEFT nor STOPPED"),
        ('outcome != "LEFT" && outcome != "STOPPED"', "Outcome answered neither LEFT nor STOPPED"),
        ('airborne && outcome in ["LEFT", "STOPPED"]',
         "airborne and Outcome answered either LEFT or STOPPED"),
        # Alternatives that are no answers to one question are not drawn together.
        ('outcome == "LEFT" || smoke == "STAYS"', "Outcome answered LEFT or Smoke answered STAYS"),
        ('outcome == "LEFT" || outcome != "STOPPED"',
         "Outcome answered LEFT or Outcome answered other than STOPPED"),
        ('outcome == "LEFT" && outcome != "STOPPED"',
         "Outcome answered LEFT and Outcome answered other than STOPPED"),
        ("strokes == 0.0", "no Prime strokes"),
        ("strokes < 1.0", "no Prime strokes"),
        ("strokes > 0.0", "Prime strokes 1 or more"),
        ("0.0 < strokes", "Prime strokes 1 or more"),
        ("!(strokes == 0.0)", "Prime strokes 1 or more"),
        ("strokes > 10.0", "Prime strokes more than 10"),
        ("!(strokes > 10.0)", "Prime strokes at most 10"),
        ("strokes == 3.0", "Prime strokes 3"),
        ("strokes != 3.0", "Prime strokes other than 3"),
        ("strokes < 0.5", "Prime strokes fewer than 0.5"),
        ("open_defects == 0.0 && open_snags == 0.0", "no open defects and no snags noted"),
        ("at_brief == 0.0", "Rotor turning at brief is 0"),
        ("at_brief != 1.0", "Rotor turning at brief is not 1"),
        ("air < 3.0", "Outside air below 3 °C"),
        ("3.0 > air", "Outside air below 3 °C"),
        ("air == 3.0", "Outside air is 3 °C"),
        ("stopped_minutes >= 30.0", "engine stopped for at least 30 min"),
        ("stopped_minutes < 30.0", "engine stopped for less than 30 min"),
        ("unnamed_time == 5.0", "unnamed time is 5 min"),
        ("base - left <= 50.0", "Base minus RPM on left at most 50 rpm"),
        ("first_flight", "first flight of the day"),
        ("!first_flight", "a later flight"),
        ("hook", "Cargo hook fitted"),
        ("!hook", "no Cargo hook"),
        ("airborne", "airborne"),
        ("!airborne", "on the ground"),
        # How far "and" and "or" reach is never left to the reader.
        ("hook && airborne && first_flight",
         "Cargo hook fitted and airborne and first flight of the day"),
        ("first_flight || (hook && airborne)",
         "first flight of the day, or Cargo hook fitted and airborne"),
        ("(hook && airborne) || (first_flight && at_brief == 0.0)",
         "Cargo hook fitted and airborne, or first flight of the day and Rotor turning at brief "
         "is 0"),
        ("air < 3.0 && (first_flight || hook)",
         "Outside air below 3 °C, and either first flight of the day or Cargo hook fitted"),
        ("!(first_flight || (hook && airborne))",
         "a later flight, and either no Cargo hook or on the ground"),
        ("hook || (airborne && (first_flight || air < 3.0))",
         "Cargo hook fitted, or (airborne and (first flight of the day or Outside air below "
         "3 °C))"),
        ("hook ? airborne : first_flight",
         "if Cargo hook, then airborne, otherwise first flight"),
        ("airborne && (hook ? airborne : first_flight)",
         "airborne and (if Cargo hook, then airborne, otherwise first flight)"),
    ],
)  # fmt: skip
def test_a_condition_says_what_it_is(source: str, said: str) -> None:
    assert TEXT.condition(compile_condition(source, NAMES)) == said


def test_what_the_aircraft_does_not_count_or_have_fitted_is_not_told_so() -> None:
    plain = ConditionText((), ())
    said = [plain.condition(compile_condition(one, NAMES)) for one in ("strokes > 0.0", "hook")]
    assert said == ["Prime strokes above 0", "Cargo hook"]


@pytest.mark.parametrize(
    ("source", "said"),
    [
        ("base - left", "= Base minus RPM on left"),
        ("engine_running && rotor_turning ? 1.0 : 0.0",
         "= 1 if engine running and rotor turning, otherwise 0"),
        ("(hook ? base : left) - base", "= (Base if Cargo hook, otherwise RPM on left) minus Base"),
    ],
)  # fmt: skip
def test_a_formula_says_what_it_gives(source: str, said: str) -> None:
    assert formula_text(compile_formula(source, NAMES, 0)) == said


ANSWERED = re.compile(
    r"Outcome answered (?:neither (?P<none>[A-Z]+(?: nor [A-Z]+\b)+)|other than (?P<other>[A-Z]+\b)"
    r"|(?:either )?(?P<some>[A-Z]+\b(?: or [A-Z]+\b)*))"
)
ATOMS = {
    "airborne": ("airborne", True), "on the ground": ("airborne", False),
    "Cargo hook fitted": ("hook", True), "no Cargo hook": ("hook", False),
    "first flight of the day": ("first_flight", True), "a later flight": ("first_flight", False),
}  # fmt: skip


def split(text: str, joint: str) -> list[str]:
    """The parts of a text between the joints that stand in no brackets."""
    parts, depth, begin, at = [], 0, 0, 0
    while at < len(text):
        depth += {"(": 1, ")": -1}.get(text[at], 0)
        if depth == 0 and text.startswith(joint, at):
            parts.append(text[begin:at])
            begin = at = at + len(joint)
        else:
            at += 1
    return [*parts, text[begin:]]


def understood(text: str, facts: dict[str, bool | str]) -> bool:
    """A sentence as a reader takes it: commas part first, then "either", "and", "or"."""
    for joint, judge in ((", or ", any), (", and ", all)):
        if len(parts := split(text, joint)) > 1:
            return judge([understood(part, facts) for part in parts])
    if text.startswith("either "):
        return any(understood(part, facts) for part in split(text[7:], " or "))
    joined = [split(text, " and "), split(text, " or ")]
    assert min(map(len, joined)) == 1, f"and, or: which first? {text}"
    for parts, judge in zip(joined, (all, any), strict=True):
        if len(parts) > 1:
            return judge([understood(part, facts) for part in parts])
    if text.startswith("("):
        assert text.endswith(")")
        return understood(text[1:-1], facts)
    if text.startswith("["):
        listed, is_so = text[2:-1].split("/"), text[1] == "="
        return (facts["outcome"] in listed) is is_so
    name, is_so = ATOMS[text]
    return facts[name] is is_so


def marked(text: str) -> str:
    """The answers within a sentence, whose own "or" joins no statements, as marks."""

    def mark(found: re.Match[str]) -> str:
        if found["some"]:
            return f"[={'/'.join(found['some'].split(' or '))}]"
        return f"[!{'/'.join((found['none'] or found['other']).split(' nor '))}]"

    return ANSWERED.sub(mark, text)


def conditions() -> st.SearchStrategy[str]:
    atoms = st.sampled_from([
        "airborne", "hook", "first_flight", *(f'outcome {how} "{answer}"' for how in ("==", "!=")
                                              for answer in ("LEFT", "STOPPED", "HELD")),
        'outcome in ["LEFT", "HELD"]',
    ])  # fmt: skip
    return st.recursive(
        atoms,
        lambda inner: st.one_of(
            inner.map(lambda one: f"!({one})"),
            st.tuples(inner, st.sampled_from(["&&", "||"]), inner).map(
                lambda three: f"({three[0]}) {three[1]} ({three[2]})"
            ),
        ),
        max_leaves=16,
    )


@settings(max_examples=500)
@given(source=conditions())
def test_whoever_reads_it_decides_as_the_program_does(source: str) -> None:
    names = {**NAMES, "outcome": NameType("text", label="Outcome",
                                          allowed=("LEFT", "STOPPED", "HELD"))}  # fmt: skip
    condition = compile_condition(source, names)
    text = marked(TEXT.condition(condition))
    truths = (True, False)
    for outcome, airborne, hook, first in product(("LEFT", "STOPPED", "HELD"), *(truths,) * 3):
        facts: dict[str, bool | str] = {
            "outcome": outcome, "airborne": airborne, "hook": hook, "first_flight": first,
        }  # fmt: skip
        assert understood(text, facts) is condition.decide(facts), text
