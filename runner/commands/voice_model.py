"""`voice model`: a folder of vosk looked at, loaded, named in the settings, and what it lacks.

Rules: only a folder that could be loaded here is stored; which words of the lists it does not know
is told with their places and does not keep it from being stored, since an answer with such a word
is then merely heard by the other recogniser alone; nothing is fetched.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from runner.commands.signing import say
from runner.commands.voice import settings
from runner.commands.voice_lists import lists_here, lists_of
from runner.host.places import PlaceFault
from runner.host.vocabulary import words_of
from runner.host.voicing import write_settings
from runner.speech.panel import INSTALL

if TYPE_CHECKING:
    from runner.speech.recognisers.vosk import Vosk

FIRST: Final = 20
"""Words that are told before the rest is counted."""
_FORGET: Final = "none"


def model(path: str | None, flows: Sequence[str], *, every: bool) -> int:
    """Checks and stores a model's folder, or forgets it, or tells which is named."""
    held = settings()
    if path is None:
        print(held.model or "no model is named; the light recogniser is second opinion")
        return 0
    if path == _FORGET and not flows:
        write_settings(held._replace(model=None, fault=""))
        say("no model is named any more" if held.model else "no model was named")
        return 0
    asked = [lists_of(text) for text in flows] or lists_here()
    folder = Path(path).expanduser().absolute()
    loaded = _loaded(folder)
    words: dict[str, list[str]] = {}
    for one in asked:
        for word, places in words_of(*one).items():
            known = words.setdefault(word, [])
            known += [place for place in places if place not in known]
    lacking = loaded.lacking(words)
    where = write_settings(held._replace(model=folder, fault=""))
    say(f"{folder} is the second opinion from now on ({where})")
    _tell(lacking, words, len(lacking) if every else FIRST)
    return 0


def _loaded(folder: Path) -> Vosk:
    try:
        from runner.speech.recognisers.vosk import NoModel, Vosk
    except (ImportError, OSError) as fault:
        raise PlaceFault(f"vosk is not installed ({fault}): {INSTALL}") from None
    try:
        return Vosk(folder)
    except NoModel as fault:
        raise PlaceFault(f"{fault}; nothing is changed") from None


def _tell(lacking: Sequence[str], words: dict[str, list[str]], most: int) -> None:
    for word in lacking[:most]:
        first, *others = words[word]
        more = f", and {len(others)} more" if others else ""
        print(f"{word:<16} {first}{more}")
    if len(lacking) > most:
        say(f"and {len(lacking) - most} more words: --all")
    if not lacking:
        say(f"it knows all {len(words)} words of the lists and of the control words")
        return
    say(
        f"it lacks {len(lacking)} of {len(words)} words: an answer with one of them has no second "
        "opinion, and is not taken where two must agree (critical steps)"
    )
    if len(lacking) * 2 > len(words):
        say("so it is hardly of the language of these lists: latchword voice model none")
