"""The gate, situation by situation."""

from __future__ import annotations

import pytest

from runner.speech.ears.gate import (
    AFTER,
    BEFORE,
    FRESH,
    LEAD,
    LONGEST,
    PAUSE,
    PRESSED_FOR,
    STUCK,
    TAIL,
    Asked,
    Mode,
    ModeSet,
    NoSound,
    OwnVoice,
    TalkKey,
    TransmitKey,
    Why,
    listening,
    occupied,
)
from runner.speech.heard import RATE
from tests.runner.speech.ears.told import FRAME, Told


def test_with_the_key_held_an_answer_is_taken_at_its_release() -> None:
    gate = Told()
    gate.answer()
    (one,) = gate.taken
    assert one.ask == 1
    assert (one.mode, one.cut) == (Mode.HELD, False)
    assert one.ended - one.began == pytest.approx(0.5 * RATE, abs=FRAME)
    assert one.began - one.first == pytest.approx(0.3 * RATE, abs=FRAME)
    assert one.first < one.began < one.ended < one.last
    assert not gate.dropped


def test_with_the_key_held_a_pause_ends_an_answer_before_its_release() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.2)
    gate.talk(0.5)
    assert occupied(gate.state)
    gate.silence(PAUSE / RATE + 0.1)
    assert len(gate.taken) == 1
    assert not occupied(gate.state)
    gate.talk(0.5)
    gate.key(down=False)
    assert [one.cut for one in gate.taken] == [False, True]


def test_with_the_key_up_nothing_is_taken() -> None:
    gate = Told()
    gate.talk(3)
    gate.silence(2)
    assert not gate.out
    assert not listening(gate.state)


def test_with_the_key_held_what_may_be_speech_is_enough() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.3)
    gate.whisper(0.5)
    gate.silence(0.3)
    gate.key(down=False)
    assert len(gate.taken) == 1


def test_with_an_open_microphone_it_is_not() -> None:
    gate = Told(Mode.OPEN)
    gate.whisper(0.5)
    gate.silence(1)
    assert not gate.out
    gate.talk(0.5)
    gate.silence(1)
    assert [one.mode for one in gate.taken] == [Mode.OPEN]


def test_a_knock_is_nothing() -> None:
    gate = Told()
    gate.key(down=True)
    gate.talk(0.064)
    gate.silence(1)
    gate.key(down=False)
    assert not gate.out


def test_what_began_before_the_key_is_dropped_whole_and_told_once() -> None:
    """ "Not … released": with the key pressed in between, the opposite would be taken."""
    gate = Told()
    gate.talk(0.3)
    gate.key(down=True)
    gate.talk(0.5)
    gate.silence(0.1)
    gate.talk(0.5)
    gate.key(down=False)
    assert not gate.taken
    assert gate.dropped == [Why.BEGAN_BEFORE]


def test_after_a_moment_of_silence_the_key_begins_something_new() -> None:
    gate = Told()
    gate.talk(0.3)
    gate.silence(FRESH / RATE + 0.04)
    gate.answer()
    assert len(gate.taken) == 1


def test_a_key_let_go_in_mid_word_says_so() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.2)
    gate.talk(0.4)
    gate.told(TalkKey(gate.at - 100, down=False))
    (one,) = gate.taken
    assert one.cut
    assert one.last == gate.at - 100


def test_a_pressed_key_opens_until_the_end_of_speech() -> None:
    gate = Told(Mode.PRESSED)
    assert not listening(gate.state)
    gate.key(down=True)
    assert listening(gate.state)
    gate.silence(0.5)
    gate.talk(0.6)
    gate.silence(0.7)
    assert len(gate.taken) == 1
    assert not listening(gate.state)
    gate.talk(0.6)
    gate.silence(1)
    assert len(gate.taken) == 1


def test_a_pressed_key_opens_for_five_seconds() -> None:
    gate = Told(Mode.PRESSED)
    gate.key(down=True)
    gate.silence(PRESSED_FOR / RATE - 0.1)
    assert listening(gate.state)
    gate.silence(0.2)
    assert not listening(gate.state)
    assert not gate.out


def test_five_seconds_after_a_pressed_key_what_is_being_said_is_cut() -> None:
    gate = Told(Mode.PRESSED)
    gate.key(down=True)
    gate.silence(4)
    gate.talk(2)
    assert [one.cut for one in gate.taken] == [True]


def test_pressed_again_it_begins_anew_but_not_while_somebody_speaks() -> None:
    gate = Told(Mode.PRESSED)
    gate.key(down=True)
    gate.silence(4)
    gate.key(down=True)
    gate.silence(4)
    assert listening(gate.state)
    gate.key(down=True)
    gate.talk(0.5)
    gate.key(down=True)
    gate.silence(0.7)
    assert len(gate.taken) == 1
    assert not listening(gate.state)


def test_a_pressed_key_that_is_told_to_come_up_ends_what_was_said() -> None:
    gate = Told(Mode.PRESSED)
    gate.key(down=True)
    gate.silence(0.4)
    gate.talk(0.5)
    gate.silence(0.2)
    gate.key(down=False)
    assert [one.cut for one in gate.taken] == [False]
    assert not listening(gate.state)
    gate.talk(0.5)
    gate.silence(0.8)
    assert len(gate.taken) == 1


def test_the_transmit_key_mutes_and_drops_what_it_fell_into() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.2)
    gate.talk(0.3)
    gate.told(TransmitKey(gate.at, down=True))
    gate.talk(0.5)
    assert not listening(gate.state)
    gate.told(TransmitKey(gate.at, down=False))
    gate.talk(0.3)
    gate.silence(0.5)
    assert not gate.taken
    assert gate.dropped == [Why.TRANSMITTING, Why.BEGAN_BEFORE]
    gate.talk(0.4)
    gate.key(down=False)
    assert len(gate.taken) == 1


def test_a_pressed_key_is_forgotten_by_the_transmit_key() -> None:
    gate = Told(Mode.PRESSED)
    gate.key(down=True)
    gate.told(TransmitKey(gate.at, down=True))
    gate.key(down=True)
    gate.told(TransmitKey(gate.at, down=False))
    gate.silence(0.3)
    assert not listening(gate.state)


@pytest.mark.parametrize("mode", Mode)
def test_its_own_voice_is_not_heard_nor_the_moment_after_it(mode: Mode) -> None:
    gate = Told(mode)
    gate.told(OwnVoice(gate.at, speaking=True))
    gate.key(down=True)
    gate.talk(1)
    assert not listening(gate.state)
    gate.told(OwnVoice(gate.at, speaking=False))
    gate.talk(TAIL / RATE)
    gate.silence(1)
    assert not gate.out
    assert listening(gate.state)
    gate.talk(0.5)
    gate.silence(1)
    assert len(gate.taken) == 1


def test_what_its_own_voice_falls_into_is_dropped() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.2)
    gate.talk(0.4)
    gate.told(OwnVoice(gate.at, speaking=True))
    assert gate.dropped == [Why.OWN_VOICE]
    gate.key(down=False)
    assert not gate.taken


def test_the_question_that_stood_when_speech_began_is_answered() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.3)
    gate.talk(0.3)
    gate.told(Asked(gate.at, 2))
    gate.talk(0.3)
    gate.told(Asked(gate.at, 3))
    gate.silence(1)
    assert [one.ask for one in gate.taken] == [1]
    gate.talk(0.3)
    gate.silence(1)
    assert [one.ask for one in gate.taken] == [1, 3]


def test_nobody_answers_a_question_within_the_time_of_a_glance() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.3)
    gate.told(Asked(gate.at, 2))
    gate.silence(LEAD / RATE - 0.05)
    gate.talk(0.3)
    gate.silence(1)
    assert [one.ask for one in gate.taken] == [1]


def test_without_a_question_nothing_is_taken() -> None:
    gate = Told(ask=None)
    gate.answer()
    assert not gate.taken
    assert not listening(gate.state)


def test_where_the_question_came_with_the_word_it_is_dropped() -> None:
    gate = Told(ask=None)
    gate.key(down=True)
    gate.silence(0.3)
    gate.told(Asked(gate.at, 1))
    gate.silence(0.1)
    gate.talk(0.5)
    assert gate.dropped == [Why.NO_QUESTION]
    gate.silence(0.5)
    gate.talk(0.5)
    gate.key(down=False)
    assert [one.ask for one in gate.taken] == [1]


def test_missing_sound_drops_what_it_is_missing_from_and_needs_a_pause() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.3)
    gate.talk(0.3)
    gate.told(NoSound(gate.at))
    assert not listening(gate.state)
    gate.talk(0.3)
    assert gate.dropped == [Why.SOUND_LOST, Why.BEGAN_BEFORE]
    gate.silence(PAUSE / RATE + 0.1)
    gate.talk(0.3)
    gate.key(down=False)
    assert len(gate.taken) == 1


def test_it_listens_only_while_sound_arrives() -> None:
    gate = Told(Mode.OPEN)
    assert listening(gate.state)
    gate.told(NoSound(gate.at))
    assert not listening(gate.state)
    gate.silence(0.1)
    assert listening(gate.state)


def test_a_question_that_comes_while_no_sound_does_makes_it_listen_to_nothing() -> None:
    gate = Told(Mode.OPEN)
    gate.told(NoSound(gate.at))
    gate.told(Asked(gate.at, 2))
    assert not listening(gate.state)


def test_a_pressed_key_is_forgotten_where_sound_stops() -> None:
    gate = Told(Mode.PRESSED)
    gate.key(down=True)
    gate.told(NoSound(gate.at))
    gate.silence(0.1)
    assert not listening(gate.state)


def test_of_two_questions_that_come_at_once_speech_still_answers_the_one_before() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.3)
    gate.told(Asked(gate.at, 2))
    gate.silence(0.1)
    gate.told(Asked(gate.at, 3))
    gate.silence(0.1)
    gate.talk(0.3)
    gate.silence(1)
    assert [one.ask for one in gate.taken] == [1]


def test_what_is_taken_around_two_utterances_fits_into_the_pause_between_them() -> None:
    assert AFTER + BEFORE <= PAUSE


def test_talk_without_an_end_is_no_answer() -> None:
    gate = Told(Mode.OPEN)
    gate.talk(LONGEST / RATE + 3)
    gate.silence(0.3)
    gate.talk(0.4)
    gate.silence(0.8)
    assert not gate.taken
    assert gate.dropped == [Why.TOO_LONG]
    gate.talk(0.4)
    gate.silence(0.8)
    assert len(gate.taken) == 1


def test_a_key_whose_release_was_lost_is_let_go() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(STUCK / RATE + 0.1)
    assert gate.dropped == [Why.KEY_STUCK]
    assert not listening(gate.state)
    gate.talk(0.5)
    gate.silence(1)
    assert not gate.taken


def test_set_another_way_what_is_being_said_is_dropped() -> None:
    gate = Told(Mode.OPEN)
    gate.talk(0.5)
    gate.told(ModeSet(gate.at, Mode.HELD))
    assert gate.dropped == [Why.MODE_CHANGED]
    assert not listening(gate.state)
    gate.told(ModeSet(gate.at, Mode.OPEN))
    gate.silence(1)
    assert listening(gate.state)


def test_the_padding_never_reaches_before_the_key() -> None:
    gate = Told()
    pressed = gate.at
    gate.key(down=True)
    gate.silence(0.1)
    gate.talk(0.5)
    gate.key(down=False)
    (one,) = gate.taken
    assert one.first == pressed > one.began - BEFORE
