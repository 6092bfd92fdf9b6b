"""The order of what is said: situations, and what must hold in any order of things."""

from __future__ import annotations

from typing import NamedTuple

from hypothesis import given
from hypothesis import strategies as st

from runner.engine.effects import Voice
from runner.speech.voice.lineup import MOST, URGENT, Hold, Lineup, Saying


def saying(number: int, kind: Voice = Voice.CALL, ask: int = 1) -> Saying:
    return Saying(number, f"text {number}", kind, ask)


def said(lineup: Lineup) -> list[int]:
    """Everything that is said, one after another."""
    found = []
    while (one := lineup.next()) is not None:
        found.append(one.number)
        lineup.ended(one.number)
    return found


def test_one_text_at_a_time_in_the_order_given() -> None:
    lineup = Lineup()
    for number in (1, 2, 3):
        assert not lineup.add(saying(number))
    first = lineup.next()
    assert first is not None
    assert first.number == 1
    assert lineup.next() is None
    lineup.ended(1)
    assert said(lineup) == [2, 3]


def test_the_echo_comes_before_the_next_call_and_a_status_last() -> None:
    lineup = Lineup()
    lineup.add(saying(1, Voice.STATUS))
    lineup.add(saying(2, Voice.CALL))
    lineup.add(saying(3, Voice.ECHO))
    lineup.add(saying(4, Voice.DRILL))
    assert said(lineup) == [4, 3, 2, 1]


def test_a_mark_of_time_breaks_in_and_what_it_broke_is_said_again() -> None:
    lineup = Lineup()
    lineup.add(saying(1))
    lineup.next()
    assert lineup.add(saying(2, Voice.TIMER))
    assert lineup.current is None
    lineup.ended(1)
    assert said(lineup) == [2, 1]


def test_a_drill_does_not_break_into_a_caution() -> None:
    lineup = Lineup()
    lineup.add(saying(1, Voice.CAUTION))
    lineup.next()
    assert not lineup.add(saying(2, Voice.DRILL))
    assert lineup.current is not None


def test_the_call_of_a_question_that_was_answered_is_not_said() -> None:
    lineup = Lineup()
    lineup.add(saying(1, Voice.CALL, 1))
    lineup.next()
    lineup.add(saying(2, Voice.READ_BACK, 1))
    lineup.add(saying(3, Voice.ECHO, 1))
    assert lineup.asked(2)
    assert not lineup.asked(2)
    lineup.add(saying(4, Voice.CALL, 2))
    lineup.add(saying(5, Voice.CALL, 1))
    assert said(lineup) == [3, 4]


def test_nothing_is_said_while_the_transmit_key_is_down() -> None:
    lineup = Lineup()
    lineup.add(saying(1))
    lineup.next()
    assert lineup.hold(Hold.TRANSMITTING)
    assert not lineup.add(saying(2, Voice.DRILL))
    assert said(lineup) == []
    lineup.release(Hold.TRANSMITTING)
    assert said(lineup) == [2, 1]


def test_while_the_crew_answers_only_what_is_urgent_is_said() -> None:
    lineup = Lineup()
    assert not lineup.hold(Hold.ANSWERING)
    lineup.add(saying(1))
    assert said(lineup) == []
    lineup.add(saying(2, Voice.TIMER))
    assert said(lineup) == [2]
    lineup.release(Hold.ANSWERING)
    assert said(lineup) == [1]


def test_the_talk_key_ends_what_is_said_and_clears_what_is_not_urgent() -> None:
    lineup = Lineup()
    for number, kind in enumerate((Voice.CALL, Voice.ECHO, Voice.STATUS, Voice.CAUTION), 1):
        lineup.add(saying(number, kind))
    first = lineup.next()
    assert first is not None
    assert first.kind is Voice.CAUTION
    lineup.add(saying(5, Voice.TIMER))
    assert lineup.barge_in()
    assert not lineup.barge_in()
    assert said(lineup) == [5]


def test_too_much_drops_the_last_of_the_least_important() -> None:
    lineup = Lineup()
    for number in range(MOST):
        lineup.add(saying(number, Voice.STATUS))
    lineup.add(saying(99, Voice.DRILL))
    assert [one.number for one in lineup.waiting] == [99, *range(MOST - 1)]


class Do(NamedTuple):
    """One thing that happens."""

    what: str
    kind: Voice
    ask: int


THINGS = st.lists(
    st.builds(
        Do,
        st.sampled_from(["add", "add", "add", "next", "next", "ended", "asked", "transmit",
                         "receive", "talk", "answered", "barge"]),
        st.sampled_from(Voice),
        st.integers(0, 5),
    ),
    max_size=60,
)  # fmt: skip


@given(THINGS)
def test_in_any_order_of_things_what_is_said_may_be(things: list[Do]) -> None:
    lineup, number, ask = Lineup(), 0, 0
    transmitting = answering = False
    ended: set[int] = set()
    for thing in things:
        playing = lineup.current
        stop = False
        if thing.what == "add":
            number += 1
            stop = lineup.add(saying(number, thing.kind, thing.ask))
        elif thing.what == "next":
            found = lineup.next()
            if found is not None:
                assert playing is None
                assert not transmitting
                assert not answering or found.kind in URGENT
                assert found.kind not in (Voice.CALL, Voice.READ_BACK) or found.ask >= ask
                assert found.number not in ended
                assert found not in lineup.waiting
        elif thing.what == "ended" and playing is not None:
            lineup.ended(playing.number)
            ended.add(playing.number)
        elif thing.what == "asked":
            stop, ask = lineup.asked(thing.ask), max(ask, thing.ask)
        elif thing.what in ("transmit", "talk"):
            why = Hold.TRANSMITTING if thing.what == "transmit" else Hold.ANSWERING
            stop = lineup.hold(why)
            transmitting = transmitting or why is Hold.TRANSMITTING
            answering = answering or why is Hold.ANSWERING
        elif thing.what == "receive":
            lineup.release(Hold.TRANSMITTING)
            transmitting = False
        elif thing.what == "answered":
            lineup.release(Hold.ANSWERING)
            answering = False
        elif thing.what == "barge":
            stop = lineup.barge_in()
        if stop:
            assert playing is not None
            assert lineup.current is None
        if transmitting:
            assert lineup.current is None
        numbers = [one.number for one in lineup.waiting]
        assert len(numbers) == len(set(numbers)) <= MOST
        assert not ended & set(numbers)


@given(st.lists(st.sampled_from(sorted(URGENT)), max_size=MOST - 1), st.booleans())
def test_what_is_urgent_is_never_lost(kinds: list[Voice], barged: bool) -> None:
    lineup = Lineup()
    lineup.add(saying(0, Voice.CALL))
    for number, kind in enumerate(kinds, 1):
        lineup.add(saying(number, kind))
    if barged:
        lineup.barge_in()
    assert sorted(set(said(lineup)) - {0}) == list(range(1, len(kinds) + 1))
