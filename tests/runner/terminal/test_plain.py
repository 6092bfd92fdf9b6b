"""The plain mode through pipes: labelled lines, and one answer a question whatever is pasted."""

from __future__ import annotations

import io
import os
import queue
import threading
from collections.abc import Iterator
from types import ModuleType

import pytest

from runner.engine.effects import Prompt, Say, Show, Voice
from runner.terminal.calllines import call
from runner.terminal.clock import Clock
from runner.terminal.intake import LONGEST_LINE, Intake, Typed
from runner.terminal.lines import changed, opening, times_said
from runner.terminal.plain import CTRL_C, Plain
from runner.terminal.shell import Ended, How

DEADLINE_S = 20


class Sink(io.StringIO):
    """Written lines, and a way to wait for one."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: queue.Queue[str] = queue.Queue()

    def write(self, text: str) -> int:
        for line in text.splitlines():
            self.lines.put(line)
        return len(text)

    def until(self, start: str) -> list[str]:
        """All lines up to the first that starts so; fails after the deadline."""
        seen: list[str] = []
        while True:
            try:
                seen.append(self.lines.get(timeout=DEADLINE_S))
            except queue.Empty:
                raise AssertionError(f"no line {start!r} in {seen}") from None
            if seen[-1].startswith(start):
                return seen


class Station:
    """A plain shell in a thread of its own, its input a pipe, its clock set by hand."""

    def __init__(self, fakes: ModuleType) -> None:
        self.now = 0
        self.texts: list[str] = []
        self.desk = fakes.FakeDesk(lambda: self.now, self.texts.append)
        self.sink = Sink()
        reading, self.writing = os.pipe()
        self.source = os.fdopen(reading, encoding="utf-8")
        self.shell = Plain(self.source, self.sink)
        self.ended: list[Ended] = []
        self.thread = threading.Thread(target=self._run, daemon=True)
        self.thread.start()

    def _run(self) -> None:
        self.ended.append(self.shell.run(self.desk))

    def type(self, text: str | bytes, after: int = 1_000) -> None:
        self.now += after
        os.write(self.writing, text if isinstance(text, bytes) else text.encode())

    def finish(self) -> Ended:
        self.thread.join(DEADLINE_S)
        assert self.ended, "the shell did not end"
        return self.ended[0]


@pytest.fixture
def station(fakes: ModuleType) -> Iterator[Station]:
    one = Station(fakes)
    yield one
    if not one.ended:
        os.close(one.writing)
        one.finish()
    else:
        os.close(one.writing)
    one.source.close()


def test_a_run_from_the_first_line_to_the_code(station: Station) -> None:
    lines = station.sink.until("CALL")
    assert lines[0].startswith("MODE: plain lines")
    assert any(line.startswith("SAFETY: ") and "not approved data" in line for line in lines)
    assert "BAND: DEMONSTRATION" in lines
    assert (
        lines[-1] == "CALL 34 HANDLING (COMMANDER): Rotor brake; answer RELEASED"
        " (0 of 3 in this list)"
    )
    station.type("released\n")
    said = station.sink.until("CALL 35")
    assert "RESULT: ROTOR BRAKE RELEASED" in said
    assert "; limit 1550 TO 1650 RPM (1 of 3 in this list)" in said[-1]
    station.type("1500\n")
    station.sink.until("REFUSED: 1500 does not answer Engine RPM")
    station.type("1600\n")
    station.sink.until("CALL 36")
    station.type("PARKED\n")
    station.sink.until("CLOSED: no list is left, none open")
    station.type("end of day\n")
    station.sink.until("NOTE: the log shows what was answered, not that it was done")
    assert station.finish() == Ended(How.CLOSED, "the day is ended")
    assert station.texts == ["1|released", "2|1500", "2|1600", "3|PARKED", "4|end of day"]


def test_three_right_answers_pasted_answer_one_step(station: Station) -> None:
    station.sink.until("CALL 34")
    station.type("released\n1600\nparked\n")
    station.sink.until("REFUSED: stale: 1600")
    station.sink.until("REFUSED: stale: parked")
    assert station.desk.place == 1
    assert [t for t in station.texts if t.startswith("1|")] == station.texts


def test_lines_that_waited_before_the_first_call_answer_nothing(fakes: ModuleType) -> None:
    got: list[Typed] = []
    reading, writing = os.pipe()
    intake = Intake(reading, lambda: 5_000, got.append)
    os.write(writing, b"released\n")
    intake.new_ask(1)
    assert got == [Typed("released", -1)]
    os.close(writing)
    os.close(reading)


def test_a_line_too_soon_after_a_call_belongs_to_the_one_before(station: Station) -> None:
    station.sink.until("CALL 34")
    station.desk.new_ask()
    station.sink.until("STANDS: CALL 34")
    station.type("released\n", after=399)
    station.sink.until("REFUSED: stale: released")
    station.type("released\n", after=1)
    station.sink.until("CALL 35")


def test_free_words_count_whatever_call_stands(station: Station) -> None:
    station.sink.until("CALL 34")
    station.type("drill Fire in start\ndiscontinue\n")
    station.sink.until("RESULT: DISCONTINUED")
    assert station.desk.drill == "Fire in start"


def test_empty_long_binary_and_unended_lines_answer_nothing(station: Station) -> None:
    station.sink.until("CALL 34")
    station.type("\n")
    station.sink.until("EMPTY: an empty line answers nothing")
    station.type(b"x" * (LONGEST_LINE + 1) + b"\n")
    station.sink.until("REFUSED: a line of more than")
    station.type(b"\x00\x1b[31m\xff\xfe\n")
    station.sink.until("REFUSED: ")
    station.type("released")
    os.close(station.writing)
    assert station.finish().how is How.VANISHED
    station.writing = os.open(os.devnull, os.O_WRONLY)
    assert station.desk.place == 0


def test_a_megabyte_on_one_line_is_refused_once(station: Station) -> None:
    station.sink.until("CALL 34")
    station.now += 1_000
    for _ in range(16):
        os.write(station.writing, b"y" * 65_536)
    os.write(station.writing, b"\nsay again\n")
    station.sink.until("REFUSED: a line of more than")
    station.sink.until("REFUSED: say again")
    assert station.texts == ["1|say again"]


def test_end_of_input_ends_the_shell_and_not_the_run(station: Station) -> None:
    station.sink.until("CALL 34")
    os.close(station.writing)
    ended = station.finish()
    station.writing = os.open(os.devnull, os.O_WRONLY)
    assert ended.how is How.VANISHED
    assert "resumed" in ended.why


def test_leaving_needs_its_whole_words(station: Station) -> None:
    station.sink.until("CALL 34")
    station.type("leave\n")
    station.sink.until("REFUSED: leave")
    station.type("Leave  run open\n")
    assert station.finish().how is How.LEFT


def test_ctrl_c_is_told_and_ends_nothing(station: Station) -> None:
    station.sink.until("CALL 34")
    station.shell._signalled(False)
    assert CTRL_C in station.sink.until("KEYS:")[-1]
    station.type("released\n")
    station.sink.until("CALL 35")


def test_repeats_at_ten_and_thirty_seconds_then_waits(station: Station) -> None:
    station.sink.until("CALL 34")
    station.now = 9_999
    station.type("keys\n", after=0)
    assert not any("AGAIN" in line for line in station.sink.until("WORDS: a role"))
    station.now = 10_000
    station.sink.until("AGAIN, CALL 34")
    station.now = 30_000
    station.sink.until("AGAIN, CALL 34")
    station.sink.until("WAITING: ")
    station.now = 300_000
    station.type("keys\n", after=0)
    assert not any("AGAIN" in line for line in station.sink.until("WORDS: a role"))


def test_recording_lost_is_said_when_it_comes(station: Station) -> None:
    station.sink.until("CALL 34")
    station.desk.extra = ("RECORDING LOST, LIST CONTINUES",)
    station.sink.until("BAND: DEMONSTRATION; RECORDING LOST, LIST CONTINUES")


def test_nothing_is_rewritten(station: Station) -> None:
    lines = station.sink.until("CALL 34")
    assert not any(c in line for line in lines for c in "\r\x1b\x08")


@pytest.fixture
def clock(fakes: ModuleType) -> Clock:
    return Clock(fakes.UTC_AT_ZERO, 60_000)


@pytest.mark.parametrize("prompt", list(Prompt))
def test_every_prompt_is_said(fakes: ModuleType, clock: Clock, prompt: Prompt) -> None:
    view = fakes.view(
        prompt=prompt,
        items=fakes.STATION,
        memory=fakes.MEMORY,
        options=("WAIT ON", "DISCONTINUE"),
        standby_since=0,
        standby_place="Before start 34: Rotor brake",
        open_lines=fakes.KEPT["open_lines"][2:],
        unread=("copilot",),
    )
    said = call(view, fakes.listen(), clock)
    wanted = {
        Prompt.FIRST_PAGE: "PAGE: still to read it: copilot; answer each with their role:"
        " copilot: page read",
        Prompt.CLOSED: "CLOSED: no list is left, 2 open, 07:41 UTC",
        Prompt.STANDBY: "STANDBY: held at Before start 34: Rotor brake, since 07:40 UTC; answer"
        " continue",
        Prompt.MEMORY_ITEMS: "MEMORY ITEM 7: Rotor brake ON if turning",
        Prompt.STATION: "ITEM 2: Engine oil level; ABOVE MINIMUM",
        Prompt.READ_BACK: "CALL: affirm? answer affirm, not so, or the value again",
        Prompt.WAITING: "WAITING 34 Rotor brake: it ends by itself, nothing is asked"
        " (6 of 12 in this list)",
        Prompt.CAUTION: "CAUTION 34 HANDLING (COMMANDER): Rotor brake; answer RELEASED"
        " (6 of 12 in this list)",
        Prompt.CLOSING: "OPEN: BEFORE START, 1 OPEN: 35 Wheel brakes",
    }
    expected = wanted.get(
        prompt, "CALL 34 HANDLING (COMMANDER): Rotor brake; one of these (6 of 12 in this list)"
    )
    assert expected in said
    assert all(": " in line for line in said)


def test_what_changes_is_said_once(fakes: ModuleType, clock: Clock) -> None:
    old = fakes.view()
    new = fakes.view(
        ask=8,
        put_off=fakes.PUT_OFF,
        running=(fakes.LONG_WAIT, fakes.BY_TIME),
        snags=("vibration",),
        flags=("corrected behind a closed list",),
        marks=(("take-off", 0),),
        gauge=fakes.GAUGE,
        unmet_why="below 1550 rpm",
        accept_class="commander",
    )
    said = changed(old, new, fakes.number(thresholds=True), clock)
    for line in (
        "PUT OFF: 12 Right side fuel drain, back before Rotor engagement",
        "WAIT: Clutch oil drains, 1:23 left",
        "BY-TIME: Oil pressure after firing, 0:20 left",
        "SNAG: vibration",
        "FLAG: corrected behind a closed list",
        "MARK: take-off 07:40 UTC",
        "CALL 34 HANDLING (COMMANDER): Rotor brake; limit 1550 TO 1650 RPM (6 of 12 in this list)",
        "LAST VALUE: 1500 rpm, 50 rpm TOO LOW",
        "NOT MET: below 1550 rpm",
        'MAY BE ACCEPTED: commander; answer accept "REASON", one of these',
    ):
        assert said.count(line) == 1
    assert not any(line.startswith(("LIMIT", "INSTEAD OF")) for line in said)
    assert changed(new, new, fakes.number(), clock) == []


def test_lists_say_what_became_of_them(fakes: ModuleType, clock: Clock) -> None:
    said = changed(None, fakes.view(), fakes.listen(), clock)
    assert "LIST STATUS: Documents and release, DONE 07:40 UTC, STILL VALID" in said
    assert "LIST STATUS: Cargo hook, NOT REQUIRED: NO HOOK" in said


def test_times_are_said_at_whole_minutes_and_near_the_end(fakes: ModuleType) -> None:
    view = fakes.view(running=(fakes.LONG_WAIT,))

    def said(before: int, now: int) -> list[str]:
        return times_said(view, before, Clock(0, now))

    assert said(82_000, 83_000) == ["WAIT: Clutch oil drains, 1:00 left"]
    assert said(83_000, 84_000) == []
    assert said(132_900, 133_000) == ["WAIT: Clutch oil drains, 0:10 left"]


def test_opening_says_the_mode_first(fakes: ModuleType) -> None:
    lines = opening(fakes.view(), "G-TVSA")
    assert lines[0].startswith("MODE: plain")
    assert lines[1] == "AIRCRAFT: Corvane C-4 G-TVSA, Tarn Valley Survey, card revision 6"


def test_the_same_words_again_leave_a_line(station: Station) -> None:
    station.sink.until("CALL 34")
    desk = station.desk
    desk.submit_text = lambda text, ask: desk._tell(Show(desk.view()), desk.listen())
    station.type("released\n")
    assert station.sink.until("STANDS: ")[-1].startswith("STANDS: CALL 34 ")


def test_a_page_is_said_and_answers_nothing(station: Station) -> None:
    station.sink.until("CALL 34")
    station.type("Drills\n")
    station.sink.until("DRILL 1: Fire in start")
    station.sink.until("TO OPEN ONE: drill TITLE")
    station.type("documents\n")
    station.sink.until("DOCUMENTS: none is named by this run")
    assert station.texts == []


def test_an_echo_of_the_words_just_typed_is_not_said(station: Station) -> None:
    station.sink.until("CALL 34")
    desk = station.desk
    for typed, echo, heard in (
        ("Copilot: released", "RELEASED", ""),
        ("1600", "ONE SIX ZERO ZERO", "HEARD: 1600"),
        ("1", "NONE OPEN", "HEARD: NONE OPEN"),
    ):
        desk.submit_text = lambda text, ask, echo=echo: desk._tell(
            Say(echo, Voice.ECHO), Show(desk.view()), desk.listen()
        )
        station.type(f"{typed}\n")
        lines = station.sink.until(heard or "STANDS: ")
        assert [line for line in lines if line.startswith("HEARD")] == ([heard] if heard else [])


def test_opening_says_the_machine_and_the_documents(fakes: ModuleType) -> None:
    lines = opening(fakes.view(), "G-TVSA", fakes.DOCUMENTS, ("Battery 40 %, not charging",))
    assert "MACHINE: Battery 40 %, not charging" in lines
    assert lines.index("CHANGED FOR commander, copilot: 1 document, to be read:") + 1 == (
        lines.index("DOCUMENT: Corvane C-4, revision 6, code 0A1B 2C3D")
    )
    assert not any(line.startswith("LIST OF THE DAY") for line in lines)
    bare = opening(fakes.view(), "G-TVSA")
    assert "LIST OF THE DAY: Before start" in bare
    # However many documents there are, it stands where the first question is answered.
    for said in (lines, bare):
        assert [line.startswith("SAFETY: ") for line in said].index(True) == len(said) - 1


@pytest.mark.parametrize("who", ["", "copilot: "])
def test_an_item_is_ticked_or_a_fault_by_the_number_it_is_read_out_with(
    station: Station, fakes: ModuleType, who: str
) -> None:
    station.sink.until("CALL 34")
    desk = station.desk
    desk._ask += 1
    desk._view = fakes.view(prompt=Prompt.STATION, items=fakes.STATION, ask=desk._ask)
    desk._tell(Show(desk._view), desk.listen())
    station.sink.until("ITEM 5")
    for typed in ("tick 2", "Fault 5", "tick 0", "tick 99"):
        station.type(f"{who}{typed}\n")
        station.sink.until("REFUSED: ")
    said = (f"{who}tick Engine oil level", f"{who}Fault Nose wheel tyre",
            f"{who}tick 0", f"{who}tick 99")  # fmt: skip
    assert station.texts == [f"{desk._ask}|{text}" for text in said]
    # A number typed to the call before stands for nothing here.
    station.type(f"{who}tick 2\n", after=0)
    desk._ask += 1
    desk._view = desk._view._replace(ask=desk._ask)
    desk._tell(Show(desk._view), desk.listen())
    station.type(f"{who}tick 3\n", after=1)
    station.sink.until(f"REFUSED: stale: {who}tick 3")
