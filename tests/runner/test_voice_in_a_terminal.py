"""By voice, at a real terminal and through a real sound device: one list, and what answers nothing.

A null sink of a sound server stands for loudspeaker and microphone; synthesised people speak into
it, in a helicopter's noise 15 dB under their words.
"""

from __future__ import annotations

import hashlib
import json
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

pytest.importorskip("numpy")

from runner.speech.voice import installed
from tests import voice_sounds
from tests.runner.speech.sound import (
    VirtualMicrophone,
    missing,
    until,
    virtual_microphone,
)
from tests.terminal_crew import REACTION_MS, work
from tests.terminal_day import (
    TO_THE_LISTS,
    demo,
    events,
    lines,
    met,
    only_log,
    outcomes,
    verified,
)
from tests.terminal_driver import Terminal
from tests.voice_crew import LISTENING, MOST, NO_MICROPHONE, TALK, VoiceCrew
from tests.voice_script import Replica, replica
from tests.voice_sounds import Throat, aloft, cockpit_noise

MUTE = installed.missing()
"""What the program lacks to speak itself; empty where it can."""
LACKING = missing() or voice_sounds.missing()
pytestmark = [
    pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there"),
    pytest.mark.skipif(bool(LACKING), reason=LACKING),
]

NOISE_DB = 15.0
NOISE_ALONE = 1
"""Sounds that play while nobody speaks."""
FUEL = (
    *TO_THE_LISTS, "copilot: 380", "copilot: 225", "copilot: 240", "copilot: agrees with gauges",
    "roger", "on both", "open, guard down", "closed",
)  # fmt: skip
SPOKEN = len(FUEL) - len(TO_THE_LISTS)
ASKS_AGAIN = ("say again", "confirm")
"""What a word may be taken for that passes nothing: the question is put once more."""
MOST_AGAIN = SPOKEN
"""Twice as often as it answers nobody would say it all again; a wrong build does not come through
with so few."""


@cache
def fuel() -> Replica:
    return replica(lines(*FUEL), "fuel")


@pytest.fixture(scope="module")
def server() -> Iterator[VirtualMicrophone]:
    with virtual_microphone() as device:
        yield device


@pytest.fixture
def device(
    server: VirtualMicrophone, monkeypatch: pytest.MonkeyPatch
) -> Iterator[VirtualMicrophone]:
    server.here(monkeypatch)
    server.plug_in()
    with aloft(server, cockpit_noise(NOISE_DB)):
        yield server


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


@pytest.fixture
def throat(tmp_path: Path) -> Throat:
    return Throat(tmp_path / "said")


def by_voice(logs: Path, *words: str) -> Terminal:
    return Terminal(demo(logs, "--only", "fuel", "--voice", *words))


def to_the_first_question(crew: VoiceCrew) -> None:
    crew.work(fuel().parts[: len(TO_THE_LISTS)])
    crew.screen.see_text("FUEL PLANNED")
    crew.ready()


def end_the_practice(screen: Terminal) -> None:
    """One list of the day is closed, and the day ended with the others not done."""
    screen.see_text("LISTS ENDED")
    screen.key("+", after_ms=1000)
    screen.see_text("END OF DAY?")
    screen.key("+", after_ms=1000)
    assert screen.wait() == 0
    assert b"Traceback" not in screen.output


def test_one_list_is_closed_by_voice_and_its_clips_are_kept(
    device: VirtualMicrophone, logs: Path, throat: Throat
) -> None:
    with by_voice(logs, "--keep-clips") as screen:
        crew = VoiceCrew(screen, device, logs, throat, reads=True)
        crew.work(fuel().parts)
        end_the_practice(screen)
    print(crew.tally)
    assert crew.tally.taken == SPOKEN
    assert len(crew.tally.again) <= MOST_AGAIN, crew.tally
    assert crew.tally.denied == 0
    assert crew.tally.refused <= 2, crew.tally
    assert verified(logs) == "closed"
    assert outcomes(logs, "met") == list(fuel().met)
    assert ("list closed", "fuel") in outcomes(logs)
    spoken = [row for row in events(logs) if row["event"].get("source") == "voice"]
    passing = [row for row in spoken if row["event"]["kind"] not in ASKS_AGAIN]
    assert len(passing) == SPOKEN + crew.tally.affirmed
    for row in spoken:
        assert "score" in row["heard"]
        assert "sphinx" in row["heard"]
    clips_are_named_with_their_hashes(logs, crew.tally.utterances)


def clips_are_named_with_their_hashes(logs: Path, most: int) -> None:
    with only_log(logs).open(encoding="utf-8") as stream:
        bodies = [json.loads(row)["body"] for row in stream]
    attached = [body["data"] for body in bodies if body["type"] == "attach"]
    found = {path.name: path for path in logs.glob("*.flac")}
    assert SPOKEN <= len(attached) <= most
    assert {one["name"] for one in attached} == set(found)
    for one in attached:
        content = found[one["name"]].read_bytes()
        assert content.startswith(b"fLaC")
        assert hashlib.sha256(content).hexdigest() == one["sha256"]


def test_a_microphone_that_vanishes_is_told_and_answers_again_when_it_is_back(
    device: VirtualMicrophone, logs: Path, throat: Throat
) -> None:
    with by_voice(logs) as screen:
        crew = VoiceCrew(screen, device, logs, throat)
        to_the_first_question(crew)
        planned, forward, aft = fuel().parts[len(TO_THE_LISTS) :][:3]
        crew.give(planned)
        stood = len(events(logs))
        screen.key(TALK, after_ms=REACTION_MS)
        screen.see_text(LISTENING)
        with device.playing(throat.said("copilot", "two two five")):
            until(lambda: device.sounds() > NOISE_ALONE, "somebody speaking")
            device.unplug()
        screen.see_text(NO_MICROPHONE)
        assert LISTENING not in screen.text()
        assert len(events(logs)) == stood, "half an answer was taken"
        screen.key("\t", after_ms=1000)
        work(screen, [forward.input])
        assert met(logs)[-1] == "fuel.forward_tank"
        assert NO_MICROPHONE in screen.text()
        device.plug_in()
        with aloft(device, cockpit_noise()):
            crew.ready()
            crew.give(aft)
        assert [row["event"].get("source") for row in events(logs)][-1] == "voice"
    assert met(logs) == [item[1] for item in fuel().met[:3]]


def test_with_the_talk_key_up_nothing_answers(
    device: VirtualMicrophone, logs: Path, throat: Throat
) -> None:
    with by_voice(logs) as screen:
        crew = VoiceCrew(screen, device, logs, throat)
        to_the_first_question(crew)
        stood = len(events(logs))
        for role, text in (
            ("copilot", "three eight zero"), ("commander", "affirm"), ("commander", "discontinue"),
            ("ground", "drill fire in start"), ("copilot", "three hundred and eighty"),
        ):  # fmt: skip
            crew.play(throat.said(role, text))
        # What was said would have been judged by now: the answer that follows is.
        crew.give(fuel().parts[len(TO_THE_LISTS)])
        since = events(logs)[stood:]
    kinds = [row["event"]["kind"] for row in since if row["event"].get("source") == "voice"]
    assert kinds in (["answer"], ["answer", "affirm"])
    assert met(logs) == ["fuel.fuel_planned"]


def test_one_utterance_answers_one_step_at_most(
    device: VirtualMicrophone, logs: Path, throat: Throat
) -> None:
    """The answers of two steps in one breath."""
    with by_voice(logs) as screen:
        crew = VoiceCrew(screen, device, logs, throat)
        to_the_first_question(crew)
        work(screen, lines(*FUEL[len(TO_THE_LISTS) : -3]))
        screen.see_text("FUEL SELECTOR")
        stood = len(met(logs))
        came = crew.say("commander", ("on both", "open guard down"))
        crew.play(throat.said("commander", "open guard down"))
        assert len(met(logs)) <= stood + 1
        assert sum(row["event"].get("source") == "voice" for row in came) <= 1
        # It goes on as if nothing had been: the same question or the next one is answered.
        at = len(met(logs)) - stood
        for part in fuel().parts[-3 + at : -1]:
            crew.give(part)
        assert met(logs)[-1] == "fuel.fire_shut_off"


@pytest.mark.skipif(bool(MUTE), reason=MUTE)
def test_its_own_voice_answers_nothing(
    device: VirtualMicrophone, logs: Path, throat: Throat
) -> None:
    """What it says comes out where the microphone hears it, and has the word that would answer;
    the talk key is pressed while it speaks, and when it has ended by itself."""
    with by_voice(logs, "--caller", "program") as screen:
        crew = VoiceCrew(screen, device, logs, throat)
        to_the_first_question(crew)
        quiet = device.sounds
        until(lambda: quiet() == NOISE_ALONE, "the end of the first call")
        work(screen, lines("copilot: 140"))
        screen.see_text("READ BACK: 140")
        stood = len(events(logs))
        for turn in range(2):
            until(lambda: quiet() > NOISE_ALONE, "a value that is read back aloud")
            if turn == 1:
                until(lambda: quiet() == NOISE_ALONE, "its end")
            screen.key(TALK, after_ms=REACTION_MS)
            screen.see_text(LISTENING)
            screen.see(lambda: LISTENING not in screen.text(), "five seconds of nothing")
            written = len(events(logs))
            screen.key("f2", after_ms=REACTION_MS)
            until(lambda before=written: len(events(logs)) > before, "the call once more")  # type: ignore[misc]
        since = [row["event"] for row in events(logs)[stood:]]
        assert [(one["kind"], one.get("source")) for one in since] == [("say again", None)] * 2
        assert "READ BACK: 140" in screen.text()
        # The same word, said by somebody, is taken.
        until(lambda: quiet() == NOISE_ALONE, "the end of the last call")
        for turn in range(MOST):
            came = crew.say("commander", (("affirm", "affirmative")[turn % 2],), turn)
            if any(row["event"]["kind"] == "affirm" for row in came):
                break
        assert events(logs)[-1]["event"]["kind"] == "affirm"
