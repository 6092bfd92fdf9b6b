"""The keys of talking: talk to the list, and transmit on the radio.

Rules: a plain terminal reports no release of a key, so a press of *transmit* begins it and the next
press ends it, and *talk* opens the microphone until it is pressed again or for 5 s; the repeats of
a key that is held are no further presses, and keep *talk* open; while *transmit* is down the
microphone is ignored, no call is repeated and no bell rings. *Talk* puts away what a flight skips,
which lies over the question that is to be answered. Neither key answers anything, or is looked at
where a held key or a burst is told from deliberate ones. Times are run time in milliseconds.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from runner.terminal.keystate import HELD_MS, KeyState, shut

if TYPE_CHECKING:
    from runner.terminal.shell import Ear

TALK, TRANSMIT, CALLER = "talk", "transmit", "caller"
VOICE_KEYS = (TALK, TRANSMIT)
TALK_MS = 5_000


def voice_key(keys: KeyState, key: str, now: int) -> KeyState:
    """The state after a press, or a repeat, of *talk* or *transmit*."""
    if key == TRANSMIT:
        repeats = now - keys.transmit_at < HELD_MS
        down = keys.transmit if repeats else not keys.transmit
        # Who transmits does not talk to the list, also not when the transmission has ended.
        return keys._replace(transmit=down, transmit_at=now, talk_until=min(keys.talk_until, now))
    if keys.transmit:
        return keys._replace(talk_at=now)
    repeats = now - keys.talk_at < HELD_MS
    closes = now < keys.talk_until and not repeats
    # The repeats of the press that closed it must not open it again.
    stays_shut = repeats and now >= keys.talk_until
    until = now if closes or stays_shut else now + TALK_MS
    if keys.begins and not repeats:
        # The question is seen first: nothing is heard yet, and a key at once after it is no answer.
        return shut(keys)._replace(talk_at=now, talk_until=now, answer_at=now)
    return keys._replace(talk_at=now, talk_until=until)


def presses(keys: KeyState, now: int) -> bool:
    """Whether *talk* coming now opens or shuts the microphone: no repeat of a key that is held, nor
    the press that puts a page away."""
    return now - keys.talk_at >= HELD_MS and not keys.transmit and not keys.begins


def swaps(keys: KeyState, now: int) -> bool:
    """Whether the key of the caller coming now is a press of its own: held, it would change who
    calls with every repeat."""
    return now - keys.caller_at >= HELD_MS


def tell(ear: Ear, key: str, keys: KeyState, now: int) -> str:
    """Tells the voice of a key that comes now, in the state before it; a note for the crew."""
    if key == TALK and presses(keys, now):
        ear.talk()
    elif key == TRANSMIT:
        down = voice_key(keys, key, now).transmit
        if down != keys.transmit:
            ear.transmit(down=down)
    elif key == CALLER and swaps(keys, now):
        return ear.swap_caller().upper()
    return ""


def talking(keys: KeyState, now: int) -> bool:
    """Whether the microphone is open to the list."""
    return now < keys.talk_until and not keys.transmit


def voice_words(keys: KeyState, now: int) -> tuple[str, ...]:
    """What the screen says of it, as long as it is so."""
    if keys.transmit:
        return ("TRANSMIT",)
    return ("TALK",) if talking(keys, now) else ()
