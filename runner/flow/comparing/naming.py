"""Which names of the older documents and of the newer ones stand for the same thing.

Rules: a name stands for itself unless something that was matched goes by another name now; then a
reference that merely follows is no difference of its own. A name with several new ones is the same
as each of them. In a condition names are followed, and a text in quotes where it is the answer of a
choice that was matched; nothing else in it is ever taken for the same.
"""

from __future__ import annotations

import re
from collections import defaultdict
from typing import Any, Final, Literal

from runner.flow.comparing import values
from runner.flow.comparing.told import Told

Realm = Literal["flow", "step", "reading", "timer", "value", "moment", "counter", "answer"]

_TOKEN: Final = re.compile(r'"(?:[^"\\]|\\.)*"|\'(?:[^\'\\]|\\.)*\'|[A-Za-z_]\w*|[\d.]+|\S')


class Names:
    """The names that were matched, realm by realm; `step` names are whole (`list.step`).

    `told` are the words of the older and of the newer side, None where names are told as they are.
    """

    def __init__(self, told: tuple[Told, Told] | None = None) -> None:
        self.told = told
        self._new: dict[Realm, dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))

    def text(
        self, side: Literal[0, 1], key: str, value: Any, *, time: bool = False, here: str = ""
    ) -> str:
        """What stands at a key, as this comparison tells it; `here` is the list it stands in."""
        if self.told is None:
            return values.text(value, time=time)
        return self.told[side].text(key, value, time=time, here=here)

    def match(self, realm: Realm, old: str, new: str) -> None:
        """Note that `old` is `new` now."""
        if old and new:
            self._new[realm][old].add(new)

    def same(self, realm: Realm, old: str | None, new: str | None) -> bool:
        """Whether two names of one realm stand for the same thing."""
        if old is None or new is None:
            return old is new
        return new in self._new[realm].get(old, {old})

    def same_sets(self, realm: Realm, old: list[str], new: list[str]) -> bool:
        """Whether two sets of names stand for the same things."""
        left = list(new)
        for one in old:
            found = next((other for other in left if self.same(realm, one, other)), None)
            if found is None:
                return False
            left.remove(found)
        return not left

    def same_expression(self, old: str | None, new: str | None) -> bool:
        """Whether two conditions or formulas say the same."""
        if old is None or new is None:
            return old is new
        before, after = _TOKEN.findall(old), _TOKEN.findall(new)
        return len(before) == len(after) and all(map(self._same_token, before, after))

    def _same_token(self, old: str, new: str) -> bool:
        if old[0] in "\"'" and new[0] in "\"'":
            a, b = old[1:-1], new[1:-1]
            return a == b or b in self._new["answer"].get(a, ())
        if old[0].isalpha() or old[0] == "_":
            realms: tuple[Realm, ...] = ("value", "reading", "counter")
            known = [realm for realm in realms if old in self._new[realm]]
            if known:
                return any(self.same(realm, old, new) for realm in known)
        return old == new
