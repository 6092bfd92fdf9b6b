"""The demonstration day by voice, through a real sound device, in a helicopter's noise 15 dB under
the words.

Only what the list keeps on keys is pressed: the talk key, the first page, what both look at. The
crew's voices are clear ones, and among those on which the bars were fitted: how often anybody is
understood the bench tells, this shows that a day can be worked so. The microphone vanishes once,
before the second flight's fuel, and comes back after a step by keys.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

pytest.importorskip("numpy")

from tests import voice_sounds
from tests.runner.speech.sound import VirtualMicrophone, missing, virtual_microphone
from tests.terminal_crew import work
from tests.terminal_day import demo, end_the_day, events, outcomes, script, verified
from tests.terminal_driver import Terminal
from tests.voice_crew import FAULT, NO_MICROPHONE, VoiceCrew
from tests.voice_script import Part, replica
from tests.voice_sounds import Throat, aloft, cockpit_noise

LACKING = missing() or voice_sounds.missing()
pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there"),
    pytest.mark.skipif(bool(LACKING), reason=LACKING),
]

NOISE_DB = 15.0
"""Of a headset's microphone at the lips; what louder noise does to the answers, the bench tells."""
AGAIN_SHARE = 0.35
"""Of all utterances; more, and nobody would work a day so."""
GIVEN_UP = 16
"""Answers in a day (three in a hundred; 9 to 14 were seen) that were said five times in vain, and
pressed in the end: a made voice says a text the same way each time, and another way of saying it is
not always there."""


@pytest.fixture
def device(monkeypatch: pytest.MonkeyPatch) -> Iterator[VirtualMicrophone]:
    with virtual_microphone() as found:
        found.here(monkeypatch)
        yield found


def second_fuel(parts: tuple[Part, ...]) -> int:
    """The place of the second flight's first question on fuel."""
    return [n for n, part in enumerate(parts) if part.challenge == "fuel planned"][-1]


def test_the_day_is_worked_by_voice_with_the_microphone_gone_for_a_while(
    device: VirtualMicrophone, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    logs, day = tmp_path / "logs", replica(script("normal"))
    gone = second_fuel(day.parts)
    noise = cockpit_noise(NOISE_DB)
    throat = Throat(tmp_path / "said")
    throat.ahead(
        (part.role, ways[0], part.input.number) for part in day.parts for ways in part.said
    )
    with Terminal(demo(logs, "--voice")) as screen:
        crew = VoiceCrew(screen, device, logs, throat, gives_up=True)
        with aloft(device, noise):
            crew.work(day.parts[:gone])
            device.unplug()
        screen.see_text(NO_MICROPHONE)
        work(screen, [day.parts[gone].input])
        device.plug_in()
        with aloft(device, noise):
            crew.work(day.parts[gone + 1 :])
            end_the_day(screen, logs)
    print(crew.tally)
    assert verified(logs) == "closed"
    found = outcomes(logs, "met")
    assert [item[1] for item in found] == [item[1] for item in day.met]
    # A caution that was pressed in the end is answered by roger, whatever was to be said.
    other = [one for one, wanted in zip(found, day.met, strict=True) if one != wanted]
    assert len(other) <= len(crew.tally.given_up), other
    said = [row for row in events(logs) if row["event"].get("source") == "voice"]
    spoken = sum(len(part.said) > 0 for part in day.parts) - 1
    assert len(said) >= spoken - len(crew.tally.given_up)
    assert len(crew.tally.given_up) <= GIVEN_UP, crew.tally
    assert not [one for one in crew.tally.again if FAULT in one], crew.tally
    assert crew.tally.refused <= GIVEN_UP, crew.tally
    assert len(crew.tally.again) <= AGAIN_SHARE * crew.tally.utterances, crew.tally
    record_property("utterances of a day by voice", crew.tally.utterances)
    record_property("of them said again", len(crew.tally.again))
    record_property("answers given up and pressed", len(crew.tally.given_up))
    record_property("of them answers to a read-back", crew.tally.affirmed + crew.tally.denied)
