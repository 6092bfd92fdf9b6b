"""What verifying a log comes to, for programs and for people.

Rules: five results, no others; whether a log counts is decided here, in one place.
"""

from dataclasses import dataclass
from typing import Any

from audit.course import Person

COUNTING_MODES = frozenset({"crew", "single-pilot"})
RESULTS = ("closed", "unclosed", "torn", "rejected", "untrusted")


@dataclass(frozen=True)
class Verdict:
    """What came out of verifying one log.

    result: `closed`, `unclosed`, `torn`, `rejected` or `untrusted`.
    asked, level: the level asked for and the one reached.
    line, offset: the line (from 0) and byte where the fault stands; otherwise the last whole line.
    code, why: stable code and sentence; for `closed` the code is empty.
    modes: as the opening has them. labels: what keeps the log from counting by itself.
    notes: what a reader must know besides. opening: the data of line 0 (empty if there is none).
    people: everybody who was ever on the roster, in the order in which they came.
    lines: whole lines that hold. head: SHA-256 of the last of them. owed: who owes a signature.
    """

    result: str
    asked: str
    level: str
    line: int
    offset: int
    code: str
    why: str
    modes: tuple[str, ...]
    labels: tuple[str, ...]
    notes: tuple[str, ...]
    opening: dict[str, Any]
    people: tuple[Person, ...]
    lines: int
    head: str
    owed: tuple[str, ...]

    def counts(self, also: frozenset[str] | set[str] = frozenset()) -> bool:
        """True when a log may be relied upon: closed, trusted, at the level asked, and with no
        label except those in `also`."""
        return self.result == "closed" and self.level == self.asked and not set(self.labels) - also

    def as_dict(self) -> dict[str, Any]:
        """For JSON: everything but the opening, of which the run's identity is kept."""
        return {
            "result": self.result,
            "asked": self.asked,
            "level": self.level,
            "line": self.line,
            "offset": self.offset,
            "code": self.code,
            "why": self.why,
            "modes": list(self.modes),
            "labels": list(self.labels),
            "notes": list(self.notes),
            "lines": self.lines,
            "head": self.head,
            "owed": list(self.owed),
            "run": self.opening.get("run"),
            "run_seq": self.opening.get("run_seq"),
            "device": self.opening.get("device"),
        }

    def uncounted(self, also: frozenset[str] | set[str] = frozenset()) -> str:
        """Why a closed log does not count all the same, and what would count it; empty where it
        counts, and where the result itself says why."""
        if self.result != "closed" or self.counts(also):
            return ""
        reasons = []
        if self.level != self.asked:
            reasons.append(f"{self.asked} was asked and {self.level} is what was verified")
        alone = sorted(set(self.labels) - also)
        if alone:
            reasons.append(
                f"{' and '.join(alone)} must be named to count: --also {','.join(self.labels)}"
            )
        return f"DOES NOT COUNT: {'; '.join(reasons)}"

    def text(self, name: str, also: frozenset[str] | set[str] | None = None) -> str:
        """One line for people, the result word first; with `also`, it ends with why the log does
        not count, where it does not."""
        parts = [f"{self.result} {name}: {self.why}"]
        if self.labels:
            parts.append(f"labelled {', '.join(self.labels)}")
        parts.extend(self.notes)
        if also is not None and (why := self.uncounted(also)):
            parts.append(why)
        return "; ".join(parts)
