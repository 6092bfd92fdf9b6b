"""Logs whose every signature is right, and whose lists would not have allowed them.

Rules: each forgery changes the lines of a real closed day in one way and tells the place of the
event at which it must be found; what is written is signed by the crew of that day.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from pathlib import Path
from typing import Any

from audit.folder import LogFolder
from audit.line import Line
from audit.stamps import Stamp
from audit.writer import LogWriter
from runner.engine.state import initial
from runner.engine.wire import read_event
from runner.host.stepping import as_data, step
from tests.audit.helpers import Person
from tests.runner.host.support import lines_of, tiny

Crew = tuple[tuple[str, Person], ...]


class Forger:
    """Takes the lines of a real log and writes a run with other content, every signature right."""

    def __init__(self, folder: LogFolder, crew: Crew, real: Path) -> None:
        self.folder = folder
        self.crew = crew
        lines = list(lines_of(real))
        self.opened: Line = lines[0]
        self.events: list[tuple[dict[str, Any], Stamp]] = [
            (copy.deepcopy(line.data), line.stamp) for line in lines if line.type == "event"
        ]
        close = next((line for line in lines if line.type == "close"), None)
        self.acceptances: list[int] = list(close.data["acceptances"]) if close else []
        self.closes = True
        self.opening: dict[str, Any] = {
            name: copy.deepcopy(self.opened.data[name])
            for name in ("modes", "documents", "lexicon", "rules", "carried", "roster")
        }

    def find(self, kind: str, **fields: Any) -> int:
        """The place of an event."""
        for place, (data, _) in enumerate(self.events):
            event = data["event"]
            if event["kind"] == kind and all(event.get(k) == v for k, v in fields.items()):
                return place
        raise AssertionError(f"no {kind} {fields}")

    def answers(self, step_id: str, how: str = "met") -> int:
        """The place of the event that answered a step."""
        for place, (data, _) in enumerate(self.events):
            if any(item[:2] == [how, step_id] for item in data["outcome"]):
                return place
        raise AssertionError(step_id)

    def follow(self) -> None:
        """Makes outcomes and digests consistent with the lists again, whatever the events are."""
        state = initial()
        for place, (data, stamp) in enumerate(self.events):
            event = read_event(data["event"])
            state, outcome = step(tiny().table, state, event)
            self.events[place] = (as_data(event, outcome, state), stamp)

    def write(self) -> Path:
        writer = LogWriter.create(
            self.folder, self.opening, [p for _, p in self.crew], self.opened.stamp
        )
        stamp = self.opened.stamp
        for data, stamp in self.events:
            writer.event(data, stamp)
        if self.closes:
            writer.close(self.acceptances, [p for _, p in self.crew], stamp)
        writer.stop()
        return self.folder.path_of(writer.run)


def out_of_limits_as_met(forger: Forger) -> int:
    place = forger.answers("shutdown.head_temperature")
    forger.events[place][0]["event"]["value"] = "160"
    return place


def _skipped(forger: Forger) -> int:
    place = forger.answers("start.rotor_brake")
    del forger.events[place]
    return place


def _skipped_and_made_to_follow(forger: Forger) -> int:
    del forger.events[forger.answers("start.rotor_brake")]
    forger.follow()
    return -1


def _early_close(forger: Forger) -> int:
    del forger.events[forger.answers("shutdown.mixture") :]
    return -1


def digest(forger: Forger) -> int:
    forger.events[7][0]["state"] = "0" * 64
    return 7


def long_outcome(forger: Forger) -> int:
    forger.events[7][0]["outcome"] += [["noted", "x" * 200], ["noted", "more"]]
    return 7


def outcome(forger: Forger) -> int:
    forger.events[7][0]["outcome"] = [["met", "start.rotor_brake", "RELEASED"]]
    return 7


def _wait_cut_short(forger: Forger) -> int:
    """The clock of the lists runs ahead, the clock of the lines does not."""
    place = forger.answers("start.warm_up", "wait started")
    for data, _ in forger.events[place + 1 :]:
        data["event"]["at"] += 500_000
        if "when" in data["event"]:
            data["event"]["when"] += 500_000
    forger.follow()
    return place + 1


def _another_crew(forger: Forger) -> int:
    forger.events[0][0]["event"]["crew"][1][1] = "Tor Brand"
    forger.follow()
    return 0


def _other_modes(forger: Forger) -> int:
    forger.events[0][0]["event"]["modes"] = ["crew", "rehearsal"]
    forger.follow()
    return 0


def _carried(forger: Forger) -> int:
    forger.opening["carried"]["items"] = [["defect:start", "Fire in start"]]
    return 0


def _uncarried(forger: Forger) -> int:
    forger.events[0][0]["event"]["carried"] = [["counter:start_attempts", "3"]]
    forger.follow()
    return 0


def _other_fit(forger: Forger) -> int:
    forger.opening["carried"]["fit"] = []
    return 0


def _only(forger: Forger) -> int:
    forger.opening["carried"]["only"] = "start"
    return 0


def _no_opening(forger: Forger) -> int:
    del forger.events[0]
    return 0


def _opened_twice(forger: Forger) -> int:
    forger.events.insert(1, copy.deepcopy(forger.events[0]))
    return 1


def _no_such_event(forger: Forger) -> int:
    forger.events[4][0]["event"]["kind"] = "wish"
    return 4


def _impossible_field(forger: Forger) -> int:
    forger.events[4][0]["event"]["at"] = -1
    return 4


def _stop_that_was_not(forger: Forger) -> int:
    place = forger.answers("start.oil_pressure") + 1
    at = forger.events[place - 1][0]["event"]["at"]
    forger.events.insert(
        place, ({"event": {"kind": "recovered", "at": at, "gap": 999_000}, "outcome": [],
                 "state": "0" * 64}, forger.events[place - 1][1]),
    )  # fmt: skip
    return place


FORGERIES: list[tuple[str, Callable[[Forger], int]]] = [
    ("replay-outcome", out_of_limits_as_met), ("replay-outcome", _skipped),
    ("replay-close", _skipped_and_made_to_follow), ("replay-close", _early_close),
    ("replay-outcome", digest), ("replay-outcome", outcome),
    ("replay-outcome", long_outcome), ("replay-clock", _wait_cut_short),
    ("replay-opening", _another_crew), ("replay-opening", _other_modes),
    ("replay-opening", _carried), ("replay-opening", _uncarried), ("replay-opening", _other_fit),
    ("replay-opening", _only), ("replay-opening", _no_opening), ("replay-outcome", _opened_twice),
    ("replay-event", _no_such_event), ("replay-event", _impossible_field),
    ("replay-clock", _stop_that_was_not),
]  # fmt: skip
