"""Which calls are spoken: by who calls the list, by their kind, and how long after the take-off."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.conversation.calling import (
    CALLS,
    QUIET_MS,
    Caller,
    Moment,
    ahead,
    in_quiet,
    spoken,
)
from runner.conversation.microphone import BACK, NONE
from runner.engine.effects import Listen, Prompt, Say, Show, Sound, View, Voice
from tests.runner.conversation.desks import asked
from tests.runner.terminal.fakes import number, view

LIFTED_AT = 50_000
GROUND = view()
ALOFT = view(airborne=True, marks=(("take-off", LIFTED_AT),))
TEXTS = st.sampled_from([
    "ROTOR BRAKE?", "TAKE-OFF MARKED", "LANDING MARKED", "LIFTED, 2 OPEN: FUEL", "DONE",
    "RECORDING LOST, LIST CONTINUES", f"{NONE}: gone", BACK, "LIST: BEFORE START",
])  # fmt: skip
SAYS = st.builds(Say, TEXTS, st.sampled_from(Voice))
EFFECTS = st.lists(st.one_of(SAYS, st.just(Sound("caution")), st.just(Show(GROUND))), max_size=6)


def moment(
    shown: View = GROUND, caller: Caller = Caller.PROGRAM, before: Listen | None = None, at: int = 0
) -> Moment:
    return Moment(caller, shown, before or asked(), at)


def said(kind: Voice, text: str = "ROTOR BRAKE?", **given: object) -> bool:
    return bool(list(spoken([Say(text, kind)], moment(**given))))  # type: ignore[arg-type]


def test_the_program_that_calls_says_calls_cautions_and_remarks_and_the_copilot_reads_them() -> (
    None
):
    for kind in Voice:
        of_caller = kind in (Voice.CALL, Voice.CAUTION, Voice.REMARK)
        always = kind in (
            Voice.READ_BACK, Voice.REFUSED, Voice.OUTCOME, Voice.TIMER, Voice.DRILL,
        )  # fmt: skip
        assert said(kind) is (of_caller or always)
        assert said(kind, caller=Caller.COPILOT) is always


def test_values_are_echoed_and_words_are_not() -> None:
    assert said(Voice.ECHO, "ONE SIX ZERO ZERO", before=number())
    assert said(Voice.ECHO, "ONE SIX ZERO ZERO", before=number(), caller=Caller.COPILOT)
    assert not said(Voice.ECHO, "RELEASED")


def test_the_loss_of_recording_and_microphone_is_spoken_and_no_other_status() -> None:
    """Hands and eyes are busy: who talks to a program that is deaf must hear of it."""
    for text in ("RECORDING LOST, LIST CONTINUES", f"{NONE}: it is gone", BACK):
        assert said(Voice.STATUS, text)
        assert said(Voice.STATUS, text, caller=Caller.COPILOT)
        assert not said(Voice.STATUS, text, shown=ALOFT, at=LIFTED_AT)
    assert not said(Voice.STATUS, "LIST: BEFORE START")


def test_memory_items_stand_in_silence() -> None:
    memory = view(prompt=Prompt.MEMORY_ITEMS)
    for kind in (Voice.CALL, Voice.CAUTION, Voice.REMARK):
        assert not said(kind, shown=memory)
    assert said(Voice.DRILL, "DRILL: FIRE IN START", shown=memory)
    assert said(Voice.TIMER, "TEN SECONDS", shown=memory)


def test_for_two_minutes_after_the_take_off_only_marks_drills_and_times_are_said() -> None:
    assert QUIET_MS == 120_000
    for at, quiet in (
        (LIFTED_AT, True), (LIFTED_AT + QUIET_MS - 1, True), (LIFTED_AT + QUIET_MS, False),
    ):  # fmt: skip
        assert in_quiet(ALOFT, at) is quiet
        for kind in Voice:
            loud = kind in (Voice.DRILL, Voice.TIMER)
            assert said(kind, shown=ALOFT, at=at) is (loud if quiet else said(kind))
        assert said(Voice.OUTCOME, "TAKE-OFF MARKED", shown=ALOFT, at=at)
        assert said(Voice.OUTCOME, "LIFTED, 1 OPEN: FUEL", shown=ALOFT, at=at)


def test_it_is_quiet_only_in_the_air_and_by_the_newest_take_off() -> None:
    landed = view(airborne=False, marks=(("take-off", LIFTED_AT), ("landing", LIFTED_AT + 1)))
    assert not in_quiet(landed, LIFTED_AT + 2)
    assert not in_quiet(view(airborne=True, marks=()), 0)
    again = view(airborne=True, marks=(("take-off", 0), ("landing", 5), ("take-off", LIFTED_AT)))
    assert in_quiet(again, LIFTED_AT + QUIET_MS - 1)
    assert not in_quiet(again, LIFTED_AT + 10, quiet_ms=10)


@given(
    EFFECTS, st.sampled_from(Caller), st.sampled_from(Prompt), st.booleans(), st.booleans(),
    st.integers(0, 2 * QUIET_MS),
)  # fmt: skip
def test_what_is_spoken_is_some_of_what_was_called_in_its_order(
    effects: list[Say | Sound | Show], caller: Caller, prompt: Prompt, airborne: bool, value: bool,
    at: int,
) -> None:  # fmt: skip
    shown = view(prompt=prompt, airborne=airborne, marks=(("take-off", 0),))
    here = moment(shown, caller, number() if value else asked(), at)
    found = list(spoken(effects, here))
    rest = iter(effects)
    assert all(one in rest for one in found)
    # A drill and a mark of time are never kept back, and silence never says more.
    urgent = [
        one for one in effects if isinstance(one, Say) and one.kind in {Voice.DRILL, Voice.TIMER}
    ]
    assert [one for one in found if one.kind in {Voice.DRILL, Voice.TIMER}] == urgent
    aloud = [*spoken(effects, here._replace(caller=Caller.PROGRAM))]
    assert all(one in aloud for one in found)
    if caller is Caller.COPILOT or prompt is Prompt.MEMORY_ITEMS:
        assert not [one for one in found if one.kind in (Voice.CALL, Voice.CAUTION, Voice.REMARK)
                    and not one.text.startswith(("TAKE-OFF", "LANDING", "LIFTED"))]  # fmt: skip


def test_what_waits_for_an_answer_is_what_is_called_again() -> None:
    assert {Voice.CALL, Voice.CAUTION, Voice.READ_BACK} == CALLS


def test_what_comes_next_is_called_as_it_will_be() -> None:
    assert list(ahead(GROUND)) == ["WHEEL BRAKES?", "THROTTLE?", "MIXTURE?"]
    assert not list(ahead(view(after=())))


@pytest.mark.parametrize("caller", Caller)
def test_of_times_the_ends_and_the_marks_are_spoken(caller: Caller) -> None:
    for text in ("WAIT RUNS: Warm-up", "WAIT GOES ON: Warm-up", "CLOCK RUNS: Starter",
                 "IN TIME: Starter"):  # fmt: skip
        assert not said(Voice.TIMER, text, caller=caller)
    for text in ("TEN SECONDS: Starter", "WAIT OVER: Warm-up", "TIME IS OVER: Starter",
                 "CONDITION LOST, WAIT STARTS AGAIN: Warm-up"):  # fmt: skip
        assert said(Voice.TIMER, text, caller=caller)
