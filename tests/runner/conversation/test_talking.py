"""What is said to a question answers that question, or nothing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

np = pytest.importorskip("numpy")

from runner.conversation.answering import TOO_LATE  # noqa: E402
from runner.conversation.calling import Caller  # noqa: E402
from runner.conversation.conversation import LISTENING  # noqa: E402
from runner.conversation.microphone import NONE, NOTHING  # noqa: E402
from runner.engine.effects import Prompt  # noqa: E402
from runner.speech.ears.gate import Mode  # noqa: E402
from runner.speech.heard import Heard, Sort  # noqa: E402
from runner.speech.voice.lineup import Hold  # noqa: E402
from tests.runner.conversation.desks import only_written, surely  # noqa: E402
from tests.runner.conversation.sounds import SPEECH, mark_of  # noqa: E402
from tests.runner.conversation.talk import CLOSING, READ, STATION, TO_BRAKE, Talk  # noqa: E402
from tests.runner.host.support import lines_of  # noqa: E402
from tests.runner.speech.sound import until  # noqa: E402

Make = Callable[..., Talk]


def test_an_answer_is_a_line_of_its_own_question_with_its_grounds(talk: Talk) -> None:
    ask = talk.run.view().ask
    assert (talk.run.view().prompt, ask) == (Prompt.CLOSING, CLOSING)
    talk.says(surely("closed"))
    talk.judged()
    (event,) = talk.events()
    assert (event["event"]["ask"], talk.run.view().ask) == (ask, ask + 1)
    assert event["heard"].startswith("closed; one score 0.00 margin 38.00")
    assert talk.panel.asked[-1][1].ask == ask


def test_the_same_is_true_of_the_next_one_and_the_program_calls_between(talk: Talk) -> None:
    talk.says(surely("closed"))
    talk.judged()
    talk.says(surely("roger"))
    talk.judged()
    assert [one["event"]["ask"] for one in talk.events()] == [CLOSING, CLOSING + 1]
    assert "ROTOR BRAKE?" in talk.voice.texts
    assert talk.voice.texts.index("OUTSIDE LIST CLOSED, NONE OPEN") < talk.voice.texts.index(
        "ROTOR BRAKE?"
    )


def test_said_too_late_answers_nothing(talk: Talk) -> None:
    mark = talk.will_hear(surely("closed"))
    talk.opened()
    talk.hears(0.4, SPEECH, mark)
    talk.keys("closed")
    talk.hears(1.0)
    talk.said(TOO_LATE)
    talk.judged()
    assert talk.events() == []
    assert talk.run.view().prompt is Prompt.CAUTION


def test_answered_by_a_key_while_it_was_judged_it_answers_nothing(talk: Talk) -> None:
    talk.panel.goes_on.clear()
    talk.says(surely("roger"))
    assert talk.panel.began.wait(30)
    talk.keys("closed")
    talk.panel.goes_on.set()
    talk.said(TOO_LATE)
    talk.judged()
    assert talk.events() == []
    assert talk.run.view().prompt is Prompt.CAUTION


def test_two_utterances_in_a_row_answer_one_question(make: Make) -> None:
    """The first passes the question, the second was said to it too."""
    talk = make(lines=STATION, mode=Mode.OPEN).start()
    talk.panel.goes_on.clear()
    # Both would pass what they are heard against.
    for line in ("closed", "roger"):
        talk.says(surely(line, free=f"list {line}"))
    assert talk.panel.began.wait(30)
    talk.panel.goes_on.set()
    talk.judged()
    until(lambda: len(talk.panel.asked) >= 1 and not talk.conversation._judging, "the judging")
    assert [one["event"]["ask"] for one in talk.events()] == [CLOSING]
    assert talk.run.view().prompt is Prompt.CAUTION
    # An open microphone does not speak about what was perhaps not said to it.
    assert TOO_LATE not in talk.ear.texts


def test_what_was_worked_out_ahead_serves_the_very_same_utterance(talk: Talk) -> None:
    mark = talk.will_hear(surely("closed"))
    talk.opened()
    talk.hears(0.4, SPEECH, mark)
    for _ in range(14):
        talk.hears(0.032)
    until(lambda: talk.panel.asked, "the judging ahead")
    assert talk.events() == []
    talk.hears(0.6)
    until(talk.events, "the answer")
    assert len(talk.panel.asked) == 1


def test_what_was_worked_out_ahead_serves_no_other(talk: Talk) -> None:
    """Whoever goes on after a breath has said something else."""
    first, second = talk.will_hear(surely("closed")), talk.will_hear(only_written("not closed"))
    talk.opened()
    talk.hears(0.4, SPEECH, first)
    for _ in range(14):
        talk.hears(0.032)
    until(lambda: talk.panel.asked, "the judging ahead")
    talk.judged()
    talk.hears(0.4, SPEECH, second)
    talk.hears(1.0)
    talk.said("SAY AGAIN")
    talk.judged()
    assert talk.events() == []
    assert talk.run.view().prompt is Prompt.CLOSING


def test_what_was_worked_out_before_the_key_cut_it_is_judged_anew(talk: Talk) -> None:
    mark = talk.will_hear(surely("closed"))
    talk.opened()
    talk.hears(0.5, SPEECH, mark)
    talk.conversation.talk()
    talk.hears(0.1, SPEECH, mark)
    talk.said("SAY AGAIN: THE KEY ENDED IT")
    talk.judged()
    assert talk.events() == []


def test_a_say_again_is_logged_and_calls_the_question_once_more(make: Make) -> None:
    talk = make(lines=TO_BRAKE).start()
    before = len(talk.ear.texts)
    talk.says(only_written("brakes"))
    talk.said("SAY AGAIN")
    talk.judged()
    assert talk.ear.texts[before:] == ["SAY AGAIN: NOT AN ANSWER HERE", "ROTOR BRAKE?"]
    (event,) = talk.events("host")
    assert event["heard"] == (
        "no answer (say again, not of the list); one loud; two: no answer; wrote: brakes"
    )
    assert talk.events() == []


def test_silence_at_the_key_is_told_and_logged_by_nothing(talk: Talk) -> None:
    talk.says([Heard("one", ()), Heard("two", ())])
    talk.said(NOTHING)
    talk.judged()
    assert talk.events() + talk.events("host") == []


def test_an_order_waits_for_its_words_and_is_one_line(talk: Talk) -> None:
    talk.says(surely("snag ", Sort.CONTROL))
    talk.said("SNAG: SAY WHAT")
    talk.judged()
    assert talk.events() == []
    assert "SNAG" in talk.conversation.bands()
    talk.conversation.call_again()
    assert talk.ear.texts.count("SNAG: SAY WHAT, OR DISREGARD") == 2
    talk.says(only_written("Smell of oil."))
    talk.said("NOTED, SNAG: smell of oil")
    talk.judged()
    assert "SNAG" not in talk.conversation.bands()
    talk.says(only_written("and more"))
    talk.said("SAY AGAIN: NOT AN ANSWER HERE")
    assert [one["event"].get("text") for one in talk.events()] == ["smell of oil"]


def test_an_order_is_broken_off(talk: Talk) -> None:
    talk.says(surely("snag ", Sort.CONTROL))
    talk.said("SNAG: SAY WHAT")
    talk.judged()
    talk.says(surely("disregard", Sort.CONTROL, free="disregard"))
    talk.said("DISREGARDED")
    talk.judged()
    talk.says(surely("closed"))
    until(talk.events, "the answer")
    assert talk.run.view().prompt is Prompt.CAUTION


def test_an_order_does_not_outlive_its_question(talk: Talk) -> None:
    talk.says(surely("snag ", Sort.CONTROL))
    talk.said("SNAG: SAY WHAT")
    talk.judged()
    talk.keys("closed")
    talk.says(only_written("smell of oil"))
    talk.said("SAY AGAIN: NOT AN ANSWER HERE")
    talk.judged()
    assert talk.events() == []
    assert talk.run.view().snags == ()


def test_a_correction_is_of_the_item_that_was_latest_when_it_was_ordered(
    make: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where a key answers another item at the very moment in which the value is given: the
    list takes corrections whatever it asks."""
    talk = make(lines=(*READ, "tick hook", "tick tie-downs")).start()
    taken = talk.run.submit_heard

    def beside_a_key(line: str, ask: int, evidence: str) -> Any:
        talk.keys("tick nose cowl latches")
        return taken(line, ask, evidence)

    talk.says(surely("correction ", Sort.CONTROL))
    talk.said("CORRECTION, TIE-DOWNS: SAY WHAT IS RIGHT")
    talk.judged()
    monkeypatch.setattr(talk.run, "submit_heard", beside_a_key)
    talk.says(surely("correct outside.tie_downs not so"))
    until(talk.events, "the correction")
    (event,) = [one["event"] for one in talk.events()]
    assert (event["step"], event["value"]) == ("outside.tie_downs", "NOT SO")


def test_while_somebody_answers_the_program_is_held_until_it_was_judged(talk: Talk) -> None:
    assert talk.voice.holds == set()
    talk.opened()
    until(lambda: Hold.ANSWERING in talk.voice.holds, "the hold")
    talk.panel.goes_on.clear()
    talk.hears(0.4, SPEECH, talk.will_hear(surely("closed")))
    talk.hears(1.0)
    assert talk.panel.began.wait(30)
    assert LISTENING not in talk.conversation.bands()
    assert Hold.ANSWERING in talk.voice.holds
    talk.panel.goes_on.set()
    until(lambda: Hold.ANSWERING not in talk.voice.holds, "its end")


def test_an_open_microphone_does_not_silence_the_program(make: Make) -> None:
    """It listens always: held for that, the program would never call."""
    talk = make(lines=STATION, mode=Mode.OPEN).start()
    assert LISTENING in talk.conversation.bands()
    talk.hears(0.3, SPEECH, talk.will_hear([Heard("one", ())]))
    until(lambda: Hold.ANSWERING in talk.voice.holds, "the hold of somebody who speaks")
    talk.hears(1.0)
    until(lambda: Hold.ANSWERING not in talk.voice.holds, "its end")
    assert LISTENING in talk.conversation.bands()


def test_the_talk_key_barges_in(talk: Talk) -> None:
    talk.conversation.talk()
    assert ("barge in",) in talk.voice.told
    talk.voice.told.clear()
    talk.conversation.hold(True)
    talk.conversation.hold(False)
    assert [one for one in talk.voice.told if one == ("barge in",)] == [("barge in",)]


def test_below_a_page_that_nobody_asked_for_nothing_is_heard_by_a_pedal(make: Make) -> None:
    talk = make(lines=STATION)
    put_away: list[bool] = []
    talk.conversation.start(lambda: put_away.append(True))
    talk.begun()
    talk.conversation.cover(covered=True)
    talk.hears(1.0)
    talk.conversation.hold(True)
    talk.hears(0.3)
    assert (LISTENING in talk.conversation.bands(), put_away) == (False, [True])
    # The page is away and the pedal still down: the question is seen first.
    talk.conversation.cover(covered=False)
    talk.hears(0.5)
    assert LISTENING not in talk.conversation.bands()
    talk.hears(0.4, SPEECH, talk.will_hear(surely("closed")))
    talk.hears(1.0)
    talk.conversation.hold(False)
    talk.judged()
    assert talk.events() == []
    talk.conversation.hold(True)
    talk.hears(0.3)
    talk.hears(0.4, SPEECH, talk.will_hear(surely("closed")))
    talk.hears(1.0)
    talk.judged()
    assert [one["event"]["ask"] for one in talk.events()] == [CLOSING]
    assert put_away == [True]


def test_a_talk_key_that_was_open_when_a_page_came_opens_nothing_when_it_is_gone(
    talk: Talk,
) -> None:
    talk.opened()
    talk.conversation.cover(covered=True)
    talk.hears(20.0)
    talk.conversation.cover(covered=False)
    talk.hears(0.5)
    assert LISTENING not in talk.conversation.bands()
    talk.opened()


def test_a_pedal_that_was_down_when_a_page_came_is_pressed_once_more(talk: Talk) -> None:
    talk.conversation.hold(True)
    talk.hears(0.3)
    assert LISTENING in talk.conversation.bands()
    talk.conversation.cover(covered=True)
    talk.hears(0.3)
    talk.conversation.cover(covered=False)
    talk.hears(0.3)
    assert LISTENING not in talk.conversation.bands()
    talk.conversation.hold(False)
    talk.conversation.hold(True)
    talk.hears(0.3)
    assert LISTENING in talk.conversation.bands()


@pytest.mark.parametrize("mode", [Mode.PRESSED, Mode.OPEN])
def test_the_release_of_a_pedal_that_put_a_page_away_cuts_no_answer(make: Make, mode: Mode) -> None:
    talk = make(lines=STATION, mode=mode).start()
    talk.conversation.cover(covered=True)
    talk.hears(0.3)
    talk.conversation.hold(True)
    talk.conversation.cover(covered=False)
    talk.hears(1.0)
    mark = talk.will_hear(surely("closed"))
    if mode is Mode.PRESSED:
        talk.opened()
        talk.hears(0.3)
    talk.hears(0.2, SPEECH, mark)
    talk.conversation.hold(False)
    talk.hears(0.2, SPEECH, mark)
    talk.hears(1.0)
    talk.judged()
    ((_, answers),) = talk.panel.asked
    assert answers.ask == CLOSING
    assert [one["event"]["ask"] for one in talk.events()] == [CLOSING] * (mode is Mode.PRESSED)


def test_below_a_page_that_nobody_asked_for_an_open_microphone_is_shut(make: Make) -> None:
    talk = make(lines=STATION, mode=Mode.OPEN)
    talk.conversation.cover(covered=True)  # told before there is a microphone
    talk.start()
    assert LISTENING not in talk.conversation.bands()
    talk.says(surely("closed"))
    talk.keys("closed")  # another question, below the same page
    talk.says(surely("roger"))
    talk.judged()
    assert talk.events() == []
    assert talk.panel.asked == []
    talk.conversation.cover(covered=False)
    talk.hears(1.0)
    assert LISTENING in talk.conversation.bands()


def test_a_caller_that_is_changed_reads_or_calls(make: Make) -> None:
    talk = make(lines=STATION, caller=Caller.COPILOT).start()
    assert "OUTSIDE?" not in talk.voice.texts
    talk.keys("closed")
    assert not [t for t in talk.voice.texts if str(t).startswith("CAUTION")]
    assert talk.conversation.swap_caller() == "program calls"
    assert [t for t in talk.voice.texts if str(t).startswith("CAUTION")]
    assert talk.conversation.swap_caller() == "copilot reads"


def test_a_microphone_that_is_lost_is_shown_and_said(
    talk: Talk, monkeypatch: pytest.MonkeyPatch
) -> None:
    talk.device.lose("it is gone")
    talk.said(f"{NONE}: it is gone")
    assert talk.conversation.bands() == (NONE,)
    assert f"{NONE}: it is gone" in talk.voice.texts
    talk.keys("closed")
    assert talk.run.view().prompt is Prompt.CAUTION


def test_a_fault_of_the_judging_is_said_and_the_next_one_is_judged(talk: Talk) -> None:
    talk.panel.fails = RuntimeError("no")
    talk.says(surely("closed"))
    talk.said("A FAULT OF THE VOICE (RuntimeError): SAY AGAIN, OR USE THE KEYS")
    talk.judged()
    talk.panel.fails = None
    talk.says(surely("closed"))
    until(talk.events, "the answer")


def test_clips_are_kept_behind_their_lines(make: Make) -> None:
    talk = make(lines=STATION, clipper=lambda samples: samples.tobytes()).start()
    talk.says(surely("closed"))
    talk.judged()
    path = talk.folder.path_of(talk.run.recorder.writer.run)
    attached = [line for line in lines_of(path) if line.type == "attach"]
    assert len(attached) == 1
    spoken = [line for line in lines_of(path) if line.data.get("heard", "").startswith("closed")]
    assert attached[0].seq == spoken[0].seq + 1
    clip = (path.parent / attached[0].data["name"]).read_bytes()
    assert mark_of(np.frombuffer(clip, np.float32)) == talk.marks
