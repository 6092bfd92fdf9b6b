"""The bands that the screen itself puts up: where the keys go, who talks, whose keys these are.

Rules: each is reached as in a cockpit: the terminal reports that it lost the focus, a key of
talking is pressed, the file of one's own keys could not be read.
"""

from __future__ import annotations

from runner.terminal.keymap import NO_OWN_KEYS
from runner.terminal.voicekeys import TALK, TRANSMIT
from tests.gallery.scenes import Scene, at, keys
from tests.gallery.stage import Seat


def elsewhere(seat: Seat) -> None:
    """Another window has the keys now."""
    seat.looks_away()


def bad_file(seat: Seat) -> None:
    """The file of one's own keys was refused as a whole."""
    seat.given(NO_OWN_KEYS._replace(fault="line 3: no such key"))


def bands() -> tuple[Scene, ...]:
    """One scene for each band that is not of the run, and two of them at a limit not met."""
    throttle = at("before_start.throttle")
    gust = at("engage.wind_highest_gust")
    return (
        Scene("band-keys-elsewhere", "The keys go to another window", throttle, (elsewhere,)),
        Scene("band-transmit", "Somebody transmits", throttle, (keys(TRANSMIT),)),
        Scene("band-talk", "The microphone is open to the list", throttle, (keys(TALK),)),
        Scene("band-default-keys", "The file of one's own keys is bad", throttle, (bad_file,)),
        Scene(
            "bands-of-keys-at-limit",
            "A limit is not met, the keys go elsewhere and are the default ones",
            gust,
            ("copilot: 41", "affirm", bad_file, elsewhere),
        ),
    )
