"""What the program says, from which moment on, and when it keeps its mouth shut."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from runner.conversation.calling import QUIET_MS, Caller
from runner.conversation.mouth import Mouth
from runner.engine.effects import Effect, Prompt, Say, View, Voice
from runner.speech.voice.lineup import Hold
from tests.runner.conversation.desks import NotingDesk, asked
from tests.runner.conversation.voices import NotedVoice
from tests.runner.terminal.fakes import number, view

if TYPE_CHECKING:
    from runner.speech.voice.speaking import Speaking

CALL = Say("ENGINE RPM?", Voice.CALL)
NEXT = view(ask=8, challenge="Engine RPM")


class Spoken:
    """A mouth over a voice that notes."""

    def __init__(self, caller: Caller = Caller.PROGRAM, shown: View | None = None) -> None:
        self.desk = NotingDesk(shown or view())
        self.mouth = Mouth(self.desk, caller)
        self.voice = NotedVoice()

    def given(self) -> Spoken:
        speaking: Speaking = self.voice  # type: ignore[assignment]
        self.mouth.given(speaking)
        return self

    def hears(self, *effects: Effect, shown: View = NEXT) -> None:
        self.mouth.heard(effects, shown, asked())


def test_a_voice_that_comes_late_begins_with_the_call_that_stands() -> None:
    assert Spoken().given().voice.told[0] == ("asked", 7)
    assert Spoken().given().voice.texts == ["ROTOR BRAKE?"]
    assert Spoken(Caller.COPILOT).given().voice.texts == []
    for prompt in (Prompt.FIRST_PAGE, Prompt.CLOSED, Prompt.STANDBY, Prompt.MEMORY_ITEMS):
        assert Spoken(shown=view(prompt=prompt)).given().voice.texts == []


def test_what_happened_before_there_was_a_voice_is_not_said_but_its_call_is() -> None:
    here = Spoken()
    here.hears(Say("ONE SIX", Voice.OUTCOME), CALL)
    here.given()
    assert here.voice.told[:2] == [("asked", 8), ("say", "ENGINE RPM?", 8)]
    assert here.voice.texts == ["ENGINE RPM?"]


def test_of_what_happened_before_it_heard_of_the_run_the_call_is_made_anew() -> None:
    here = Spoken()
    here.mouth.stands(NEXT, asked())
    assert here.given().voice.texts == ["ENGINE RPM?"]


def test_the_voice_knows_the_question_before_anything_of_it_is_said() -> None:
    here = Spoken().given()
    here.hears(Say("ROTOR BRAKE: NOT MET", Voice.OUTCOME), CALL)
    assert here.voice.told[-3:] == [
        ("asked", 8), ("say", "ROTOR BRAKE: NOT MET", 8), ("say", "ENGINE RPM?", 8),
    ]  # fmt: skip


def test_the_call_that_waits_is_repeated_and_no_other() -> None:
    here = Spoken().given()
    here.hears(CALL)
    # What was corrected is read back, and no call that waits.
    here.hears(Say("OIL: WAS FOUR FIVE, NOW FIVE FOUR", Voice.READ_BACK))
    here.voice.told.clear()
    here.mouth.call_again()
    assert here.voice.texts == ["ENGINE RPM?"]
    here.hears(shown=view(ask=9, prompt=Prompt.WAITING))
    here.voice.told.clear()
    here.mouth.call_again()
    assert here.voice.texts == []


def test_a_value_that_is_read_back_waits_for_its_affirm() -> None:
    here = Spoken(Caller.COPILOT).given()
    here.hears(Say("ENGINE RPM: NINE. AFFIRM?", Voice.READ_BACK),
               shown=view(ask=8, prompt=Prompt.READ_BACK))  # fmt: skip
    here.mouth.call_again()
    assert here.voice.texts == ["ENGINE RPM: NINE. AFFIRM?"] * 2


def test_a_call_is_repeated_only_where_it_would_be_said() -> None:
    quiet = Spoken().given()
    quiet.hears(CALL, shown=NEXT._replace(airborne=True, marks=(("take-off", 0),)))
    quiet.mouth.call_again()
    assert quiet.voice.texts == ["ROTOR BRAKE?"]
    quiet.desk.at = QUIET_MS
    quiet.mouth.call_again()
    assert quiet.voice.texts == ["ROTOR BRAKE?", "ENGINE RPM?"]
    copilot = Spoken(Caller.COPILOT).given()
    copilot.hears(CALL)
    copilot.mouth.call_again()
    assert copilot.voice.texts == []


def test_who_takes_over_calling_begins_with_the_call_that_stands() -> None:
    here = Spoken(Caller.COPILOT).given()
    here.hears(CALL)
    assert here.mouth.swap() == "program calls"
    assert here.voice.texts == ["ENGINE RPM?"]
    assert here.mouth.swap() == "copilot reads"
    here.hears(Say("FUEL?", Voice.CALL), shown=view(ask=9))
    assert here.voice.texts == ["ENGINE RPM?"]


def test_texts_are_rendered_ahead_once() -> None:
    here = Spoken().given()
    here.hears(CALL)
    here.hears(CALL, shown=view(ask=9, after=NEXT.after[1:]))
    assert here.voice.prepared == ["WHEEL BRAKES?", "THROTTLE?", "MIXTURE?"]


def test_keys_that_were_pressed_before_hold_for_the_voice_too() -> None:
    here = Spoken()
    here.mouth.hold(Hold.TRANSMITTING, holding=True)
    here.mouth.hold(Hold.ANSWERING, holding=True)
    here.mouth.hold(Hold.ANSWERING, holding=False)
    here.given()
    assert here.voice.holds == {Hold.TRANSMITTING}
    assert [one[0] for one in here.voice.told] == ["hold", "asked", "say"]
    here.mouth.hold(Hold.TRANSMITTING, holding=False)
    here.mouth.hold(Hold.TRANSMITTING, holding=False)
    assert here.voice.told[3:] == [("hold", Hold.TRANSMITTING, False)]
    here.mouth.barge_in()
    assert here.voice.told[-1] == ("barge in",)


def test_what_ends_the_voice_is_said_once() -> None:
    here = Spoken()
    assert here.mouth.trouble() == ""
    here.given()
    assert here.mouth.trouble() == ""
    here.voice.fault = "the voice has ended"
    assert [here.mouth.trouble() for _ in range(3)] == ["the voice has ended", "", ""]
    here.voice.fault = ""
    assert here.mouth.trouble() == ""
    here.voice.fault = "no sound device"
    assert here.mouth.trouble() == "no sound device"


def test_a_voice_that_fails_costs_the_run_nothing_and_is_said() -> None:
    here = Spoken().given()
    here.voice.fails = RuntimeError("no")
    here.hears(CALL)
    assert here.mouth.trouble() == "the voice has failed (RuntimeError)"
    here.voice.fails = None
    here.hears(Say("FUEL?", Voice.CALL), shown=view(ask=9))
    assert here.voice.texts[-1] == "FUEL?"


def test_closed_it_is_silent_and_lets_a_voice_go_that_comes_too_late() -> None:
    here = Spoken().given()
    here.mouth.close()
    assert here.voice.closed == 1
    here.hears(CALL)
    here.mouth.barge_in()
    here.mouth.call_again()
    assert here.voice.texts == ["ROTOR BRAKE?"]
    late = Spoken()
    late.mouth.close()
    late.given()
    assert (late.voice.closed, late.voice.told) == (1, [])


@pytest.mark.parametrize(("before", "echoed"), [(number(), True), (asked(), False)])
def test_a_value_is_echoed_by_what_was_asked_before(before: object, echoed: bool) -> None:
    here = Spoken().given()
    here.mouth.heard((Say("ONE SIX", Voice.ECHO),), NEXT, before)  # type: ignore[arg-type]
    assert ("ONE SIX" in here.voice.texts) is echoed
