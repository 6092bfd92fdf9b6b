"""Hand-made views and a desk of three steps, for the tests; run as a program it is a small run.

`python fakes.py full|onebit|plain LOG PACE` works a shell on the terminal; every text submitted
goes to LOG; the desk's clock runs PACE times as fast as the wall's, so that tests need not wait.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

from runner.engine.effects import (
    Effect,
    Gauge,
    Line,
    Listen,
    Prompt,
    Running,
    Say,
    Show,
    View,
    Voice,
)
from runner.terminal.shell import Document, Owed, Receipt
from tests.runner.terminal.day import (
    CARD,
    DOCUMENTS,
    DRILLS,
    FIGURES,
    FLIGHTS,
    KEPT,
    LISTS,
    MEMORY,
    PUT_OFF,
    REASONS,
    STATION,
)
from tests.runner.terminal.pad import ROTOR_BRAKE, UTC_AT_ZERO, Pad, every_sheet

__all__ = [
    "CARD",
    "DOCUMENTS",
    "DRILLS",
    "FIGURES",
    "FLIGHTS",
    "KEPT",
    "LISTS",
    "MEMORY",
    "PUT_OFF",
    "REASONS",
    "STATION",
    "UTC_AT_ZERO",
    "Pad",
    "every_sheet",
]
CREW = (("commander", "J Hale"), ("copilot", "R Byrne"))


def view(**changes: Any) -> View:
    """A view in the middle of a list, with what is given changed."""
    base = View(
        at=0,
        ask=7,
        prompt=Prompt.ASKING,
        aircraft="Corvane C-4",
        operator="Tarn Valley Survey",
        revision="6",
        modes=("demonstration",),
        crew=CREW,
        handling="commander",
        flight=1,
        airborne=False,
        engine_running=False,
        rotor_turning=False,
        title="Before start",
        flow="before_start",
        is_drill=False,
        section="Levers and brakes",
        number=34,
        done=6,
        required=12,
        challenge="Rotor brake",
        response="RELEASED",
        who="handling",
        waiting_for=(),
        critical=False,
        gauge=None,
        unmet_why="",
        may_put_off=True,
        accept_class="",
        reasons=REASONS,
        options=(),
        read_back="",
        blocked="",
        before=(
            Line(31, "Seats and harness", "SECURE", "SECURE", "answered"),
            Line(32, "Cargo hook", "SAFE", "", "not required", "no hook"),
            Line(33, "Fuel selector", "BOTH", "BOTH", "answered"),
        ),
        after=(
            Line(35, "Wheel brakes", "PARKED", "", "open"),
            Line(36, "Throttle", "CLOSED", "", "open"),
            Line(37, "Mixture", "IDLE CUT-OFF", "", "open"),
        ),
        items=(),
        memory=(),
        put_off=(),
        open_lines=(),
        running=(),
        standby_since=None,
        standby_place="",
        lists=LISTS,
        drills=DRILLS,
        timers=(("oil_pressure", "Oil pressure after firing"), ("starter", "Starter")),
        snags=(),
        defects=(),
        flags=(),
        drill_hint="",
        unread=(),
        marks=(),
        may_begin_next=True,
    )
    return base._replace(**changes)


def listen(**changes: Any) -> Listen:
    """What answers `view()`, with what is given changed."""
    return ROTOR_BRAKE._replace(**changes)


def number(**changes: Any) -> Listen:
    """A reading is listened for."""
    base = listen(responses=(), number=True, unit="rpm", low=Decimal(0), high=Decimal(3200))
    return base._replace(**changes)


GAUGE = Gauge(
    "Engine RPM",
    "rpm",
    0,
    "1550 TO 1650 RPM",
    "1500",
    Decimal(1550),
    Decimal(1650),
    "50",
)
LONG_WAIT = Running("Clutch oil drains", 0, 143_000, False, key="drain")
BY_TIME = Running("Oil pressure after firing", 50_000, 80_000, True, key="oil_pressure")


class FakeDesk:
    """Three steps and a closing; `clock` gives run time in ms, `log` gets every submitted text."""

    STEPS = (
        ("Rotor brake", "RELEASED", False),
        ("Engine RPM", "", True),
        ("Wheel brakes", "PARKED", False),
    )

    def __init__(self, clock: Callable[[], int], log: Callable[[str], None]) -> None:
        self._clock = clock
        self._log = log
        self._heard: list[Callable[[tuple[Effect, ...]], None]] = []
        self.utc_at_zero = UTC_AT_ZERO
        self.registration = "G-TVSA"
        self.head_code = "7K2M-QX4D"
        self.extra: tuple[str, ...] = ()
        self.finished = False
        self.place = 0
        self.drill = ""
        self.standing_by = False
        self._ask = 1
        self._make()

    def now(self) -> int:
        return self._clock()

    def view(self) -> View:
        return self._view

    def listen(self) -> Listen:
        return self._listen

    def documents(self) -> tuple[Document, ...]:
        return ()

    def machine(self) -> tuple[str, ...]:
        return ()

    def owed(self) -> tuple[Owed, ...]:
        return ()

    def receipt(self) -> Receipt:
        return Receipt()

    def bands(self) -> tuple[str, ...]:
        return self.extra

    def subscribe(self, heard: Callable[[tuple[Effect, ...]], None]) -> None:
        self._heard.append(heard)

    def submit_text(self, text: str, ask: int) -> None:
        self._log(f"{ask}|{text}")
        said = text.casefold()
        if said == "end of day":
            self.finished = self.place == len(self.STEPS)
            self._tell(Say("END OF DAY", Voice.STATUS))
            return
        if said == "discontinue":
            self._tell(Say("DISCONTINUED", Voice.OUTCOME))
            return
        if said.startswith("drill "):
            self.drill = text[6:]
            self._next(f"DRILL {self.drill.upper()}")
            return
        if said in ("stand by", "continue"):
            self.standing_by = said == "stand by"
            self._next(said.upper())
            return
        if ask != self._ask:
            self._tell(Say(f"stale: {text} was to an earlier call", Voice.REFUSED))
            return
        if self.drill and said == "memory items done":
            self.drill = ""
            self._next("DRILL ENDED")
            return
        challenge, response, numeric = self.STEPS[self.place]
        good = (
            text.isdecimal() and 1550 <= int(text) <= 1650
            if numeric
            else said in (response.casefold(),)
        )
        if not good:
            self._tell(Say(f"{text} does not answer {challenge}", Voice.REFUSED))
            return
        self.place += 1
        self._next(f"{challenge.upper()} {text.upper()}")

    def new_ask(self) -> None:
        """The question changes by itself, as when a wait ends."""
        self._next("THE QUESTION CHANGED")

    def _next(self, said: str) -> None:
        self._ask += 1
        self._make()
        self._tell(Say(said, Voice.OUTCOME), Show(self._view), self._listen)

    def _tell(self, *effects: Effect) -> None:
        for heard in self._heard:
            heard(effects)

    def _make(self) -> None:
        common: dict[str, Any] = {"ask": self._ask, "before": (), "after": (), "section": ""}
        if self.place >= len(self.STEPS):
            self._view = view(prompt=Prompt.CLOSED, done=3, required=3, **common)
            self._listen = Listen(self._ask, Prompt.CLOSED)
            return
        challenge, response, numeric = self.STEPS[self.place]
        prompt = Prompt.ASKING
        if self.standing_by:
            prompt = Prompt.STANDBY
            common["standby_since"] = self.now()
        if self.drill:
            prompt = Prompt.MEMORY_ITEMS
            common |= {"memory": MEMORY, "is_drill": True, "title": self.drill}
        self._view = view(
            prompt=prompt,
            number=34 + self.place,
            challenge=challenge,
            response=response,
            done=self.place,
            required=3,
            gauge=GAUGE._replace(value="", distance="") if numeric else None,
            **common,
        )
        self._listen = Listen(
            self._ask,
            prompt,
            responses=(response,) if response else (),
            number=numeric,
            unit="rpm" if numeric else "",
        )


def main(kind: str, log: Path, pace: int) -> int:
    """Runs one shell on this terminal."""
    began = time.monotonic()
    out = log.open("a", encoding="utf-8", buffering=1)
    desk = FakeDesk(
        lambda: int((time.monotonic() - began) * 1000 * pace), lambda text: print(text, file=out)
    )
    if kind == "plain":
        from runner.terminal.plain import Plain

        ended = Plain().run(desk)
    else:
        from runner.terminal.fullscreen import FullScreen
        from runner.terminal.themes import Depth

        ended = FullScreen("day", Depth.ONE_BIT if kind == "onebit" else Depth.FULL).run(desk)
    print(f"ENDED {ended.how.value}", file=out)
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1], Path(sys.argv[2]), int(sys.argv[3])))
