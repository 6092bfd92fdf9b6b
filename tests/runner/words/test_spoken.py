"""One line of words is one event or a clear fault, never anything else."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.engine import events as ev
from runner.engine.state import State, initial
from runner.engine.table import Kind, Table
from runner.flow.loader import load_aircraft
from runner.host.places import shipped
from runner.host.stepping import step
from runner.words.naming import Context, WordFault
from runner.words.spoken import LEADING, LONGEST_LINE, SIMPLE, read, split
from tests.audit.helpers import Person
from tests.runner.engine.generator import aircraft
from tests.runner.host.support import FakeClock, begin, say, table, work_day
from tests.runner.words.test_spelling import AT, context, state


def heard(line: str, **more: Any) -> ev.Event:
    return read(line, context(**more))


@pytest.mark.parametrize(
    ("line", "event"),
    [
        ("released", ev.Answer(AT, 3, "", "script", True, "RELEASED")),
        ("  off   and stowed ", ev.Answer(AT, 3, "", "script", True, "OFF AND STOWED")),
        ("one six zero zero", ev.Answer(AT, 3, "", "script", True, "1600")),
        ("below eighty", ev.Answer(AT, 3, "", "script", True, "below 80")),
        ("drop eighty", ev.Answer(AT, 3, "", "script", True, "drop 80")),
        ("commander: released", ev.Answer(AT, 3, "commander", "script", True, "RELEASED")),
        ("Copilot : Ask 7 : released", ev.Answer(AT, 7, "copilot", "script", True, "RELEASED")),
        ("ask 7: unsure: ground: 16", ev.Answer(AT, 7, "ground", "script", False, "16")),
        ("Say again.", ev.SayAgain(AT, "", "script")),
        ("STANDBY", ev.Standby(AT, "", "script")),
        ("negative", ev.NotSo(AT, 3, "", "script")),
        ("wilco", ev.Answer(AT, 3, "", "script", True, "WILCO")),
        ("accept 2", ev.Accept(AT, 3, "commander", "script", True,
                               "Within the manual's tolerance")),
        ('accept "2"', ev.Accept(AT, 3, "commander", "script", True, "2")),
        ("accept emergency 5", ev.Accept(AT, 3, "commander", "script", True, "Needed for safety",
                                         True)),
        ("accept emergencylike", ev.Accept(AT, 3, "commander", "script", True, "emergencylike")),
        ("accept", ev.Accept(AT, 3, "commander", "script")),
        ("copilot: accept 1", ev.Accept(AT, 3, "copilot", "script", True,
                                        "Checked by another instrument")),
        ("drill fire in start", ev.OpenDrill(AT, "", "script", "start_fire")),
        ("drill 2", ev.OpenDrill(AT, "", "script", "oil_low")),
        ("mark take off", ev.Mark(AT, "", "script", "take-off", AT)),
        ("mark landing 2 S ago", ev.Mark(AT, "", "script", "landing", AT - 2000)),
        ("mark landing 2 seconds ago", ev.Mark(AT, "", "script", "landing", AT - 2000)),
        ("mark landing 2 MIN ago", ev.Mark(AT, "", "script", "landing", AT - 120_000)),
        ("timer Oil pressure after firing", ev.StartTimer(AT, "", "script", "oil_rise")),
        ("reading head temperature one four zero",
         ev.ReadingSeen(AT, "", "script", "head_temp", "140")),
        ("snag vibration, left pedal", ev.Snag(AT, "", "script", "vibration, left pedal")),
        ('snag "two  spaces"', ev.Snag(AT, "", "script", "two  spaces")),
        ("snag cafe\u0301 smell", ev.Snag(AT, "", "script", "caf\u00e9 smell")),
        ("on paper 31 to 47, card revision 6", ev.OnPaper(AT, "", "script", 31, 47, "6")),
        ("crew copilot: R Byrne", ev.CrewChange(AT, "", "script", "copilot", "R Byrne")),
        ("happened Refuelled", ev.Happened(AT, "", "script", "refuelled")),
        ('maintenance "latch renewed"',
         ev.Happened(AT, "", "script", "maintenance", "latch renewed")),
        ("turn to outside", ev.TurnTo(AT, "", "script", "outside")),
        ("tick tie downs", ev.Answer(AT, 3, "", "script", True, "REMOVED", "TIE-DOWNS")),
        ("tick 2", ev.Answer(AT, 3, "", "script", True, "REMOVED", "TIE-DOWNS")),
        ("fault hook", ev.NotSo(AT, 3, "", "script", True, "HOOK")),
        ("correction 54", ev.Correct(AT, "", "script", "", "54")),
        ("correct start.oil_pressure 54", ev.Correct(AT, "", "script", "start.oil_pressure", "54")),
        ("correct 54", ev.Correct(AT, "", "script", "", "54")),
        ("correct below forty", ev.Correct(AT, "", "script", "", "below 40")),
        ('answer "snag"', ev.Answer(AT, 3, "", "script", True, "snag")),
        ("end of day", ev.Answer(AT, 3, "", "script", True, "END OF DAY")),
    ],
)  # fmt: skip
def test_a_line_is_this_event(line: str, event: ev.Event) -> None:
    assert heard(line, ask=3) == event


def test_without_a_question_the_one_that_stands_is_meant() -> None:
    event = heard("released")
    assert isinstance(event, ev.Answer)
    assert event.ask == state().ask


@pytest.mark.parametrize(
    ("line", "what", "near"),
    [
        ("", "empty", ""), ("  \t ", "empty", ""), ("commander:", "empty", ""),
        ("drill fire in strat", "no drill", "Fire in start"),
        ("drill", "no drill", ""), ("drill ²", "no drill", ""), ("drill 99", "no drill", ""),
        ("timer oil pressure", "no by-time", "Oil pressure after firing"),
        ("reading head temprature 140", "a reading", "Head temperature"),
        ("reading", "a reading", ""), ("snag", "a snag", ""), ("mark", "mark", ""),
        ("mark take-off 20 min ago", "had not begun", ""), ("correction", "a correction", ""),
        ("correct rotor break released", "nothing was answered", ""),
        ("on paper 3", "on paper", ""), ("on paper ² to ² revision 1", "on paper", ""),
        ("crew purser: X", "crew", ""), ("crew", "crew", ""),
        ("happened refueled", "no happening", "refuelled"),
        ("turn to shutdown", "no open list", "Outside"),
        ("tick nose cowl latch", "no open station item", "Nose cowl latches"),
        ("tick ²", "no open station item", ""), ("fault", "no open station item", ""),
        ("x" * (LONGEST_LINE + 1), f"{LONGEST_LINE + 1} characters", ""),
        ("x" * 201, "201 characters", ""), ("snag \x00", "control character", ""),
        ("released\u202e", "control character", ""),
        ('snag "\\ud800"', "control character", ""),
    ],
)  # fmt: skip
def test_what_is_no_event_is_a_fault_with_the_nearest_name(line: str, what: str, near: str) -> None:
    with pytest.raises(WordFault) as fault:
        heard(line)
    assert what in str(fault.value)
    if near:
        assert fault.value.close == near


JUNK = st.one_of(
    st.text(max_size=1200),
    st.binary(max_size=400).map(lambda raw: raw.decode("utf-8", "replace")),
    st.text(alphabet=st.characters(), max_size=30),
    st.sampled_from(("1" * 1000, "9" * 300, '"' * 900, "²", "٣", "\ud800", "\x00" * 9, "٣٣ to ٣")),
)


@given(word=st.sampled_from(("", *SIMPLE, *LEADING, "ask 1:", "commander:", "unsure:")), rest=JUNK)
def test_junk_is_an_event_or_a_fault_and_nothing_else(word: str, rest: str) -> None:
    for line in (f"{word} {rest}", f'{word} "{rest}"'):
        try:
            assert isinstance(heard(line), ev.Event)
        except WordFault:
            continue


def test_a_megabyte_is_refused_at_once() -> None:
    for word in ("", "snag ", "tick ", "correct ", "commander: " * 3):
        with pytest.raises(WordFault, match="characters"):
            heard(word + "x" * 1_000_000)


@given(st.text(max_size=200))
def test_prefixes_come_off_once_and_the_rest_stays(text: str) -> None:
    speech = split(f"unsure: commander: ask 12: {text}")
    assert (speech.role, speech.ask, speech.sure) == ("commander", 12, False)
    again = split(f"x {text}")
    assert (again.role, again.ask, again.sure, again.text) == ("", None, True, f"x {text}".strip())


@pytest.mark.parametrize("aircraft", ["corvane_c4", "tiny"])
def test_no_answer_of_the_documents_is_heard_as_an_order(aircraft: str) -> None:
    own: Table = table() if aircraft == "tiny" else load_aircraft(shipped() / aircraft).table
    against = Context(own, state(), AT)
    for one in own.steps.values():
        texts = [one.response, *one.variants, *one.key_words]
        texts += [t for c in one.choices for t in (c.text, *c.variants)]
        for text in filter(None, texts):
            event = read(text.lower(), against)
            if text == "ROGER" or one.kind is Kind.CLOSING:
                continue
            assert isinstance(event, ev.Answer), f"{one.id}: {text}"


# -- what the words do in each state of the question ------------------------------------------


def _asked(*lines: str) -> State:
    """The state after a crew of two has said these lines from the opening on."""
    after = state()
    for number, line in enumerate(lines, 1):
        at = 10_000 * number
        event = read(line, Context(table(), after, at, "script"))
        after, outcome = step(table(), after, event)
        assert outcome[0][0] != "refused", (line, outcome)
    return after


OUTSIDE = ("tick nose cowl latches", "tick tie-downs", "tick hook", "closed")
CASES = {
    "station": (),
    "closing": OUTSIDE[:3],
    "caution": OUTSIDE,
    "asking": (*OUTSIDE, "roger"),
    "standby": (*OUTSIDE, "roger", "stand by"),
    "choosing": (*OUTSIDE, "roger", "unable"),
    "memory items": (*OUTSIDE, "drill oil_low"),
}  # fmt: skip

#  word           station                closing                caution               asking
#                 standby                choosing               memory items
ANSWERED = {
    "roger": ("refused roger", "refused roger", "met", "refused roger",
              "refused standing by", "refused choose", "refused memory items"),
    "wilco": ("refused not an answer", "refused not an answer", "refused caution",
              "refused not an answer", "refused standing by", "refused choose",
              "refused memory items"),
    "affirm": ("refused nothing to affirm", "refused nothing to affirm",
               "refused nothing to affirm", "refused nothing to affirm", "refused standing by",
               "refused choose", "memory done"),
    "negative": ("unmet", "refused not so here", "refused not so here", "unmet",
                 "refused standing by", "dropped", "refused memory items"),
    "disregard": ("refused nothing to drop", "refused nothing to drop", "refused nothing to drop",
                  "refused nothing to drop", "refused standing by", "dropped",
                  "refused memory items"),
    "confirm": ("said",) * 7,
    "say again": ("said",) * 7,
    "stand by": ("standby", "standby", "standby", "standby", "refused standing by", "standby",
                 "standby"),
}  # fmt: skip


@pytest.mark.parametrize("word", sorted(ANSWERED))
@pytest.mark.parametrize("case", sorted(CASES))
def test_radiotelephony_words_do_what_the_table_says(word: str, case: str) -> None:
    before = _asked(*CASES[case])
    event = read(word, Context(table(), before, 900_000, "script"))
    after, outcome = step(table(), before, event)
    told = " ".join(outcome[0][: 2 if outcome[0][0] == "refused" else 1])
    wanted = ANSWERED[word][list(CASES).index(case)]
    assert told == wanted
    if told.startswith("refused") or told == "said":
        assert after == before


def test_a_tick_that_is_none_is_near_only_to_what_its_own_station_has() -> None:
    documents = aircraft("probe")
    state, _ = step(documents, initial(), ev.Opened(0, ("solo",), (("commander", "A Holt"),)))
    state, _ = step(documents, state, ev.PageRead(1))
    for flow, near in (("nose", ""), ("tail", "Tail light")):
        state, _ = step(documents, state, ev.TurnTo(2, flow=flow))
        with pytest.raises(WordFault) as fault:
            read("tick tail lights", Context(documents, state, 3))
        assert fault.value.close == near or (not near and "tail" not in fault.value.close.lower())


def test_a_correction_means_what_was_answered_last_under_that_name(tmp_path: Any) -> None:
    from audit.folder import LogFolder

    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, (("commander", Person("A Holt")),))
        say(run, clock, "page read", "tick nose cowl latches", "tick tie-downs", "tick hook",
            "closed", "roger", "released", "engaged", "firing", "60", "1200")  # fmt: skip
        for _ in range(5):
            clock.go(30_000)
            run.run_due(run.now())
            say(run, clock, "locked", "1200")
        say(run, clock, "1120")
        # Both magnetos are read again behind the left one, and are now the later reading.
        say(run, clock, "correct both magnetos 1210", "affirm")
        event = read("correct engine rpm 1205", Context(run.table, run.state, run.now()))
        assert isinstance(event, ev.Correct)
        assert event.step == "start.both_magnetos"
        say(run, clock, "correct left magneto 1125")
        work_day(run, clock)
        against = Context(run.table, run.state, run.now())
        # Both magnetos, left and the wait are all "Engine RPM"; the left one was read last.
        event = read("correct engine rpm 1130", against)
        assert isinstance(event, ev.Correct)
        assert event.step == "start.left_magneto"
        event = read("correct both magnetos 1210", against)
        assert isinstance(event, ev.Correct)
        assert (event.step, event.value) == ("start.both_magnetos", "1210")
        with pytest.raises(WordFault) as fault:
            read("correct both magnetoes 1210", against)
        assert fault.value.close == "Both magnetos"
        run.stop()
