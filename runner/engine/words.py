"""Finding names as people say them: titles, ids, and the nearest one to a word that is none.

Rules: matching ignores case and treats spaces, hyphens and underscores alike; a name is found
only if it is the only one that matches; the nearest match is for messages, never acted upon.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable


def plain(text: str) -> str:
    """Lower case, single spaces, hyphens and underscores as spaces."""
    return " ".join(text.lower().replace("_", " ").replace("-", " ").split())


def nearest(word: str, known: Iterable[str]) -> str:
    """The known name that looks most like `word`, or an empty text."""
    names = {plain(name): name for name in known}
    close = difflib.get_close_matches(plain(word), names, n=1, cutoff=0.3)
    return names[close[0]] if close else ""


def find(word: str, named: Iterable[tuple[str, str]]) -> str | None:
    """The id among (id, title) pairs whose id or title is `word`; None if none or several."""
    wanted = plain(word)
    found = {key for key, title in named if wanted in (plain(key), plain(title))}
    return found.pop() if len(found) == 1 else None
