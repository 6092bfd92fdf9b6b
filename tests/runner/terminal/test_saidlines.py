"""What a run says, and what of it plain mode leaves to the view that comes with it."""

from __future__ import annotations

from types import ModuleType

import pytest

from runner.engine.effects import Prompt, Say, Voice
from runner.terminal.saidlines import CORRECTED, LABELS, repeats, said_line


@pytest.mark.parametrize("kind", [kind for kind in Voice if kind is not Voice.CALL])
def test_every_kind_of_text_has_a_label(fakes: ModuleType, kind: Voice) -> None:
    said = said_line(Say("text of its own", kind), fakes.view(), "")
    label = CORRECTED if kind is Voice.READ_BACK else LABELS[kind]
    assert said == f"{label}: text of its own"


def test_a_correction_asks_nothing_and_is_labelled_as_what_it_is(fakes: ModuleType) -> None:
    said = Say("Engine RPM: WAS ONE FIVE ZERO ZERO, NOW ONE SIX ZERO ZERO", Voice.READ_BACK)
    assert said_line(said, fakes.view(), "correct 34 1600") == f"CORRECTED: {said.text}"


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        (Voice.TIMER, "IN TIME: Starter"),
        (Voice.STATUS, "NOT REQUIRED: Battery, Fire FIRE OUT"),
        (Voice.OUTCOME, "COMMANDER ACCEPTS: Head temperature, ONE SEVEN ONE, Needed for safety"),
        (Voice.DRILL, "DRILL ENDED: FIRE IN START, fire out"),
    ],
)
def test_a_text_that_begins_with_its_label_gets_no_other(
    fakes: ModuleType, kind: Voice, text: str
) -> None:
    assert said_line(Say(text, kind), fakes.view(), "") == text


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        (Voice.CALL, "ROTOR BRAKE?"),
        (Voice.STATUS, "LIST: BEFORE START"),
        (Voice.STATUS, "NOTED, SNAG: vibration"),
        (Voice.STATUS, "NOTED, DEFECT: lamp out"),
        (Voice.STATUS, "FLIGHT 2"),
        (Voice.OUTCOME, "PUT OFF: Cabin heater"),
        (Voice.OUTCOME, "MARK TAKE-OFF"),
        (Voice.TIMER, "CLOCK RUNS: Starter"),
        (Voice.TIMER, "WAIT RUNS: Clutch drains"),
    ],
)
def test_what_the_view_says_with_more_is_not_said_before_it(
    fakes: ModuleType, kind: Voice, text: str
) -> None:
    assert said_line(Say(text, kind), fakes.view(), "") == ""


def test_a_caution_is_said_by_its_call_and_aloud_where_no_call_has_it(fakes: ModuleType) -> None:
    caution = Say("CAUTION: Hard, never force", Voice.CAUTION)
    assert said_line(caution, fakes.view(prompt=Prompt.CAUTION), "") == ""
    assert said_line(caution, fakes.view(), "") == "CAUTION: Hard, never force"


def test_a_drill_and_a_flag_are_said_by_the_view_that_has_them(fakes: ModuleType) -> None:
    drill = Say("DRILL: BEFORE START", Voice.DRILL)
    assert said_line(drill, fakes.view(is_drill=True), "") == ""
    assert said_line(drill, fakes.view(), "") == "DRILL: BEFORE START"
    flag = Say("FLAGGED FOR THE COMMANDER: Start: Oil is 5", Voice.OUTCOME)
    assert said_line(flag, fakes.view(flags=("Start: Oil is 5",)), "") == ""
    assert said_line(flag, fakes.view(), "") == flag.text


def test_a_read_back_has_the_item_the_spoken_digits_and_the_unit(fakes: ModuleType) -> None:
    said = Say("Engine RPM: ONE FIVE ZERO ZERO. AFFIRM?", Voice.READ_BACK)
    after = fakes.view(prompt=Prompt.READ_BACK, gauge=fakes.GAUGE)
    assert said_line(said, after, "1500") == (
        "READ BACK: Engine RPM: ONE FIVE ZERO ZERO, 1500 rpm"
    )  # fmt: skip
    choice = Say("Needles: SPLIT. AFFIRM?", Voice.READ_BACK)
    assert said_line(choice, fakes.view(), "") == "READ BACK: Needles: SPLIT"


@pytest.mark.parametrize(
    ("echo", "typed", "same"),
    [
        ("RELEASED", "released", True),
        ("IN, BOTH SIDES", "ground: in,  both sides", True),
        ("ONE SIX ZERO ZERO", "1600", True),
        ("MINUS ONE DECIMAL FIVE", "copilot: -1.5", True),
        ("LANDING", "mark landing", True),
        ("NONE OPEN", "1", False),
        ("COMMANDER HAS LOOKED", "commander: valid", False),
        ("BELOW EIGHT ZERO", "below 80", False),
        ("SECURE, UNCHAFED", "tick plug leads", False),
        ("RELEASED", "off", False),
        ("RELEASED", "", False),
    ],
)
def test_an_echo_that_only_repeats_is_told_from_one_that_says_more(
    echo: str, typed: str, *, same: bool
) -> None:
    assert repeats(echo, typed) is same


def test_a_tick_is_said_by_its_item_on_a_station_and_aloud_elsewhere(fakes: ModuleType) -> None:
    echo = Say("SECURE, UNCHAFED", Voice.ECHO)
    typed = "copilot: tick plug leads"
    assert said_line(echo, fakes.view(prompt=Prompt.STATION), typed) == ""
    assert said_line(echo, fakes.view(), typed) == "HEARD: SECURE, UNCHAFED"


def test_a_number_is_heard_with_the_unit_that_was_asked_for(fakes: ModuleType) -> None:
    echo = Say("ONE SIX ZERO ZERO", Voice.ECHO)
    assert said_line(echo, fakes.view(), "copilot: 1600", "rpm") == "HEARD: 1600 rpm"
    assert said_line(echo, fakes.view(), "1600") == "HEARD: 1600"
    assert said_line(echo, fakes.view(), "one six zero zero", "rpm") == ""


def test_choices_have_lines_of_their_own_and_a_chosen_one_is_said_for_its_number(
    fakes: ModuleType,
) -> None:
    offered = Say("CHOOSE: DEFECT / GO BACK", Voice.OUTCOME)
    assert said_line(offered, fakes.view(prompt=Prompt.CHOOSING), "unable") == ""
    assert said_line(offered, fakes.view(), "unable") == offered.text
    chosen = Say("CHOSEN: GO BACK", Voice.ECHO)
    assert said_line(chosen, fakes.view(), "go back") == ""
    assert said_line(chosen, fakes.view(), "2") == "CHOSEN: GO BACK"
