"""What is compared a million times, made once: a number for all that is equal, and what was lately
made of an object, found by the object itself.

Rules: two things have one number exactly if they are equal, in one `Numbers`; what is found in a
`Lately` was made of that very object, which is held as long as it can be found, so that nothing
else ever stands at its place; too many are all forgotten at once, and made again. Only what never
changes may be kept so. States that come from one another share most of their objects: a proof
lives from that.
"""

from __future__ import annotations

from collections.abc import Hashable
from typing import TypeVar

MOST_KEPT = 4000
Made = TypeVar("Made")


class Numbers(dict[Hashable, int]):
    """A number for each thing, the same for equal ones: a tuple of tuples is hashed whole each time
    that it is looked for, its number is not."""

    def of(self, thing: Hashable) -> int:
        """The number of this thing, a new one where nothing equal was seen before."""
        return self.setdefault(thing, len(self))


class Lately(dict[Hashable, tuple[object, Made]]):
    """By the identity of an object (and whatever else decides): the object, and what was made of
    it. Found with `get`, and with a second look at None only where nothing was kept."""

    def keep(self, place: Hashable, held: object, made: Made) -> Made:
        """Keeps what was made under this place, as long as `held`; gives it back."""
        if len(self) >= MOST_KEPT:
            self.clear()
        self[place] = (held, made)
        return made
