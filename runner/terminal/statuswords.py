"""How a step stands, in the words that the crew reads beside it, on the screen and in plain lines.

Rules: one word for one status everywhere; no word here answers a step, so that none can be taken
for the position of a lever or a switch ("open" can: gills and valves are asked for OPEN); the
status of a `Line` keeps its code name, this is for people; what is said in capitals keeps the case
of its units.
"""

from __future__ import annotations

PASSED = ("answered", "on paper", "accepted", "not required")
"""Statuses behind which the list goes on."""
_SHOWN = {
    "open": "NOT ANSWERED",
    "answered": "ANSWERED",
    "unmet": "NOT MET",
    "put off": "PUT OFF",
    "accepted": "COMMANDER ACCEPTS",
    "on paper": "ON PAPER",
    "not required": "NOT REQUIRED",
    "not done": "NOT DONE",
}
_ON_STATION = {"answered": "TICKED", "unmet": "FAULT"}
"""The items of a station are ticked, and what is wrong there is a fault."""
LATE = "late"
_WHY = {LATE: "too late", "unmet": "not met"}
_UNITS = frozenset(
    ("s", "min", "h", "psi", "bar", "inHg", "hPa", "°C", "°F", "kt", "ft", "m", "kg", "lb", "L",
     "V", "A")
)  # fmt: skip


def capitals(text: str) -> str:
    """A reason in capitals; a unit behind a number keeps its case: BELOW 30 min, AT LEAST 3 °C."""
    words = text.split(" ")
    return " ".join(
        word if word.rstrip(",;.") in _UNITS and before[-1:].isdigit() else word.upper()
        for before, word in zip(["", *words], words, strict=False)
    )


def shown(status: str, *, station: bool = False) -> str:
    """The word for a status; on a station its own where it has one."""
    word = _ON_STATION.get(status, "") if station else ""
    return word or _SHOWN.get(status, status.upper())


def reason(why: str) -> str:
    """Why a step stands so, for people: a code of the engine's own in words, else as it is."""
    return _WHY.get(why, why)
