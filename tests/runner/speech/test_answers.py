"""Every phrase of an answer set is a line that the list reads as the event meant, and every answer
of a scripted day is in the set of the question at which it is said."""

from __future__ import annotations

import unicodedata
from collections import Counter
from decimal import Decimal
from itertools import chain

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.engine import events as ev
from runner.engine.answers import normal
from runner.engine.cells import CELLS
from runner.engine.corrections import CORRECTABLE
from runner.engine.effects import Listen, Prompt
from runner.engine.listening import listen_to
from runner.engine.session import transition
from runner.engine.wire import write_event
from runner.speech.answers import UNADDRESSED, answer_set, correction_set, line_of
from runner.speech.controls import correctable, corrected_step, follow
from runner.speech.heard import AnswerSet, Phrase, Sort
from runner.speech.lexicon import lexicon
from runner.words.numbers import read_number
from runner.words.spoken import LEADING, SIMPLE
from tests.runner.engine.generator import aircraft
from tests.runner.speech.day import Said, day, questions

# Many runs of what other tests go through too: traced they would take three times as long.
pytestmark = pytest.mark.no_cover

SCRIPTS = ("normal.txt", "drill_fire_in_start.txt", "drill_head_hot.txt")
BARE = frozenset({"say again", "confirm", "stand by", "disregard", "negative", "discontinue"})


def same(one: ev.Event, other: ev.Event) -> bool:
    """Whether two events are one but for who spoke, by what."""
    return write_event(one.but(role="", source="key")) == write_event(
        other.but(role="", source="key")
    )


def in_set(said: Said, answers: AnswerSet) -> bool:
    """Whether what was said can be heard: as a phrase, or as a number within the form."""
    if any(not follow(p.line) and same(said.read(p.line), said.event) for p in answers.phrases):
        return True
    form = answers.number
    if form is None or not isinstance(said.event, ev.Answer):
        return False
    word, _, rest = said.event.value.rpartition(" ")
    value = Decimal(rest)
    if word:
        return {"drop": form.drops, "below": form.thresholds, "above": form.thresholds}[word]
    return form.low <= value <= form.high and value == round(value, form.decimals)


@pytest.mark.parametrize("script", SCRIPTS)
def test_every_line_of_a_scripted_day_can_be_said(script: str) -> None:
    kinds: Counter[str] = Counter()
    for said in day(script):
        answers = said.set(said.role)
        if isinstance(said.event, ev.Correct):
            opener = f"correct {said.event.step} " if said.event.step else "correction "
            assert opener in [p.line for p in answers.phrases]
            step = corrected_step(opener, said.view)
            behind = correction_set(opener, listen_to(said.table, said.state, step))
            assert behind.number is not None
            assert same(said.read(opener + said.event.value), said.event)
        elif isinstance(said.event, ev.Snag):
            assert "snag " in [p.line for p in answers.phrases]
        else:
            assert in_set(said, answers), said.line
        kinds[said.event.wire] += 1
    assert kinds["answer"] > 150


def test_the_day_has_all_that_a_day_by_voice_wants() -> None:
    kinds = {said.event.wire for said in day()}
    assert kinds >= {
        "answer", "page read", "put off", "turn to", "standby", "continue", "correct", "mark",
        "snag", "happened", "next flight", "affirm", "say again",
    }  # fmt: skip


@pytest.mark.parametrize("name", ["tiny", "probe", "corvane_c4", "tern_t2"])
def test_every_phrase_is_the_event_meant(name: str) -> None:
    prompts = set()
    for said in questions(name):
        answers = said.set("commander")
        asked = said.listen
        prompts.add(asked.prompt)
        assert answers.ask == said.state.ask
        texts = {normal(text) for text in asked.responses}
        meant: Counter[str] = Counter()
        for phrase in answers.phrases:
            if follow(phrase.line):
                continue
            event = said.read(phrase.line)
            meant[str(write_event(event))] += 1
            if phrase.sort is Sort.RESPONSE:
                assert isinstance(event, ev.Answer)
                assert normal(event.value) in texts
                assert not event.item
            elif phrase.sort is Sort.ITEM:
                assert isinstance(event, ev.Answer | ev.NotSo)
                assert event.item
            else:
                assert isinstance(event, ev.Answer) == (
                    phrase.line in ("roger", "wilco", "end of day")
                )
            assert getattr(event, "source", "voice") == "voice"
            assert getattr(event, "ask", answers.ask) == answers.ask
        assert set(meant.values()) <= {1}
    assert len(prompts) >= 7


@pytest.mark.parametrize("name", ["tiny", "probe", "corvane_c4"])
def test_what_is_said_is_taken_as_an_answer_by_the_list_itself(name: str) -> None:
    """No phrase of an answer is refused as no answer to this question."""
    wrong = {"not an answer", "caution", "roger", "choose", "not a number", "empty"}
    for said in questions(name):
        for phrase in said.set("commander").phrases:
            if phrase.sort in (Sort.RESPONSE, Sort.ITEM):
                event = said.read(phrase.line)
                outcome = transition(said.table, said.state, event)[1]
                refused = [item[1] for item in outcome if item[0] == "refused"]
                assert not wrong & set(refused), (phrase, refused)


@pytest.mark.parametrize("name", ["tiny", "probe", "corvane_c4", "tern_t2"])
def test_no_way_of_saying_belongs_to_two_phrases(name: str) -> None:
    for said in questions(name):
        for role in ("", "commander"):
            answers = said.set(role)
            times = Counter(way for phrase in answers.phrases for way in phrase.ways)
            assert set(times.values()) <= {1}
            assert all(phrase.ways for phrase in answers.phrases)


@pytest.mark.parametrize("name", ["tiny", "probe", "corvane_c4", "tern_t2"])
def test_a_critical_step_is_answered_by_two_words_or_more(name: str) -> None:
    critical = 0
    for said in questions(name):
        answers = said.set("commander")
        if not answers.critical:
            continue
        assert answers.read_back == frozenset()
        for phrase in answers.phrases:
            if phrase.sort in (Sort.RESPONSE, Sort.ITEM):
                critical += 1
                assert all(" " in way for way in phrase.ways), phrase
    assert critical


def test_a_critical_answer_of_one_word_is_said_with_its_item() -> None:
    asked = Listen(
        1, Prompt.ASKING, "a.b", ("RELEASED", "OFF AND STOWED"), critical=True,
        meanings=(("RELEASED",), ("OFF AND STOWED",)),
    )  # fmt: skip
    said = questions("corvane_c4")[0]
    view = said.view._replace(challenge="Rotor brake")
    together = asked._replace(meanings=(("RELEASED", "OFF AND STOWED"),))
    one = [p.ways for p in answer_set(together, view).phrases if p.sort is Sort.RESPONSE]
    assert one == [("off and stowed", "rotor brake released")]
    found = {p.line: p.ways for p in answer_set(asked, view).phrases if p.sort is Sort.RESPONSE}
    assert found == {
        "released": ("rotor brake released",), "off and stowed": ("off and stowed",)
    }  # fmt: skip


def test_what_both_must_look_at_is_no_voices_unless_it_is_known_whose() -> None:
    both = [said for said in day() if said.listen.both]
    assert both
    for said in both:
        assert not [p for p in said.set().phrases if p.sort is not Sort.CONTROL]
        assert said.set().number is None
        named = said.set(said.role)
        assert named.number or [p for p in named.phrases if p.sort is not Sort.CONTROL]


@pytest.mark.parametrize("prompt", Prompt)
def test_the_words_of_radiotelephony_are_in_every_set(prompt: Prompt) -> None:
    drawn = (s for name in ("tiny", "probe", "corvane_c4") for s in questions(name))
    found = [s for s in chain(drawn, day()) if s.listen.prompt is prompt]
    assert found
    for said in found:
        lines = {phrase.line for phrase in said.set().phrases}
        assert {way for phrase in said.set().phrases for way in phrase.ways} >= {
            "affirm", "negative", "unable", "disregard", "confirm", "say again", "stand by",
            "correction", "roger", "wilco", "discontinue",
        }  # fmt: skip
        assert {f"drill {key}" for key, _ in said.view.drills} <= lines
        if prompt is Prompt.STANDBY:
            assert "continue" in lines
        if prompt is Prompt.MEMORY_ITEMS:
            assert "memory items done" in lines
        if prompt is Prompt.FIRST_PAGE:
            assert {"page read", "wrong aircraft"} <= lines


def test_nothing_is_accepted_by_a_word() -> None:
    """Accepting an unmet limit is a key's: no phrase of any set becomes it."""
    for name in ("tiny", "probe", "corvane_c4"):
        for said in questions(name):
            for phrase in said.set("commander").phrases:
                assert not phrase.line.startswith("accept")
    assert all(ev.Accept in row for row in CELLS.values())


def test_with_an_open_microphone_what_passes_anything_begins_with_the_address() -> None:
    assert UNADDRESSED == BARE
    for said in day()[:200]:
        answers = answer_set(said.listen, said.view, role=said.role, open_microphone=True)
        for phrase in answers.phrases:
            free = phrase.line in BARE or phrase.line.startswith("drill ")
            assert all(way.startswith("list ") is not free for way in phrase.ways), phrase
        assert answers.number is None or answers.number.before == ("list",)


def test_texts_that_mean_the_same_are_one_phrase_and_ambiguous_ways_are_nobodys() -> None:
    asked = Listen(
        1, Prompt.ASKING, "a.b", ("ON", "OPEN / ON", "OFF", "OPEN ON", "AFFIRMATIVE"),
        meanings=(("ON", "OPEN / ON"), ("OFF", "OPEN ON"), ("AFFIRMATIVE",)),
        controls=("affirm",),
    )  # fmt: skip
    found = {p.line: p.ways for p in answer_set(asked).phrases}
    assert found["on"] == ("on",)
    assert found["off"] == ("off",)
    assert "affirmative" not in found
    assert found["affirm"] == ("affirm",)


def test_an_option_that_the_list_offers_is_meant_before_a_word_that_steers() -> None:
    asked = Listen(
        4, Prompt.CHOOSING, responses=("WAIT ON", "DRILL HEAD HOT", "DISCONTINUE"),
        meanings=(("WAIT ON",), ("DRILL HEAD HOT",), ("DISCONTINUE",)), controls=("discontinue",),
    )  # fmt: skip
    lines = [p.line for p in answer_set(asked).phrases]
    assert lines[:3] == ["wait on", 'answer "DRILL HEAD HOT"', 'answer "DISCONTINUE"']
    assert "discontinue" not in lines


def test_an_option_that_opens_a_drill_is_the_order_that_can_be_undone() -> None:
    offered = [s for s in day("drill_head_hot.txt") if "DISCONTINUE" in s.listen.responses]
    assert offered
    for said in offered:
        meant = {way: p.line for p in said.set().phrases for way in p.ways}
        titles = [r.removeprefix("DRILL ") for r in said.listen.responses if r.startswith("DRILL ")]
        assert titles
        for title in titles:
            (key,) = [k for k, name in said.view.drills if name.upper() == title]
            assert meant[f"drill {title.lower()}"] == f"drill {key}"


TEXTS = st.one_of(
    st.text(max_size=40).filter(lambda t: t.isprintable() and bool(t.strip()) and '"' not in t),
    st.sampled_from([*SIMPLE, *LEADING, "below 80", "drop 80", "1.50", "one two", "ask 7: off",
                     "unsure: on", "commander: on", "snag this", "next flight.", "8", "-5", "+5"]),
)  # fmt: skip


@settings(max_examples=300)
@given(TEXTS)
def test_the_line_of_any_text_answers_with_this_text(text: str) -> None:
    said = QUESTION
    text = unicodedata.normalize("NFC", text)
    if any(unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") for c in text):
        return
    event = said.read(line_of(text))
    assert isinstance(event, ev.Answer)
    assert normal(event.value) == normal(text)


QUESTION = questions("tiny")[0]


@pytest.mark.parametrize("script", SCRIPTS[:1])
def test_every_item_that_was_answered_can_be_corrected_in_its_own_words(script: str) -> None:
    tried = 0
    for said in day(script)[::7]:
        for line in correctable(said.view):
            opener = f"correct {line.key} "
            phrase = next((p for p in said.set().phrases if p.line == opener), None)
            if phrase is None:
                continue
            behind = correction_set(opener, listen_to(said.table, said.state, line.key))
            assert behind.ask == said.state.ask
            assert behind.read_back == frozenset()
            values = [p.line for p in behind.phrases if p.sort is Sort.RESPONSE]
            values += [f"{opener}{behind.number.low}"] if behind.number is not None else []
            if not values:
                assert said.table.steps[line.key].kind not in CORRECTABLE
            for value in values:
                event = said.read(value)
                assert isinstance(event, ev.Correct)
                assert event.step == line.key
                outcome = transition(said.table, said.state, event)[1]
                codes = {item[1] for item in outcome if item[0] == "refused"}
                leads = any(
                    c.back_to or c.drill
                    for c in said.table.steps[line.key].choices
                    if normal(c.text) == event.value
                )
                # What leads elsewhere is heard as itself, and refused by the list.
                assert not codes & {"not a number", "unknown step"}, value
                assert ("not an answer" in codes) is leads, (value, outcome)
                tried += 1
    assert tried > 100


def test_orders_that_want_more_say_so() -> None:
    assert (follow("snag "), follow("correction "), follow("correct a.b ")) == (
        "snag", "correct", "correct"
    )  # fmt: skip
    assert follow("say again") == follow("correct") == ""


def test_the_form_of_a_number_is_the_instruments() -> None:
    table = aircraft("corvane_c4")
    forms = {}
    for said in day():
        form = said.set(said.role).number
        step = table.steps.get(said.listen.step)
        if form is not None and step is not None and step.reading:
            reading = table.readings[step.reading]
            assert (form.low, form.high, form.decimals, form.unit) == (
                reading.low, reading.high, reading.decimals, reading.unit
            )  # fmt: skip
            assert form.thresholds is (step.limit is not None)
            assert form.drops is bool(step.drop_from)
            forms[step.id] = form
    assert len(forms) > 30
    assert {True, False} == {f.drops for f in forms.values()}


def test_ways_are_words_alone() -> None:
    for name in ("corvane_c4", "tern_t2"):
        for said in questions(name):
            for phrase in said.set("commander").phrases:
                for way in phrase.ways:
                    assert way.replace(" ", "").replace("'", "").isalpha(), phrase
                    assert way == way.lower()


def test_a_phrase_is_plain_data() -> None:
    assert Phrase("a", ("a",)).sort is Sort.RESPONSE
    assert read_number(lexicon().digits[9]) == 9
