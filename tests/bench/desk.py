"""The measured side of "key press to next challenge": a real run on a real terminal.

One job: open a run of a made-up aircraft with many plain challenges, on a durable log in the folder
named, with so many entries in it as asked for, and work it in the full screen. Its clock runs
`PACE` times as fast as the wall, so that the guards after each new challenge take so much less;
nothing else is different from `latchword run`.
"""

from __future__ import annotations

import sys
from pathlib import Path

from audit.folder import LogFolder
from audit.people import load_signer, new_key
from audit.stamps import Stamp
from runner.engine.effects import Prompt
from runner.flow.loader import Loaded, load_documents
from runner.host.clock import SystemClock
from runner.host.opening import Setup, start
from runner.host.run import Run
from runner.terminal.fullscreen import FullScreen

PACE = 20
LISTS = 40
STEPS = 10
NAME = "Bench Pilot"

AIRCRAFT = """\
aircraft: bench
title: Bench aircraft
operator: Nobody
revision: "1"
readings:
  oil_temp: {label: Oil temperature, unit: °C, plausible: {from: -40 °C, to: 150 °C}}
reasons: [one, two, three, four, five]
happenings: [refuelled]
day: [DAY]
drills: [d1, d2, d3]
discontinue: {airborne: l01, rotor: l01, engine: l01, nothing: l01}
"""


DRILLS = ("BENCH FIRE", "BENCH SMOKE", "BENCH SHAKES")
ITEMS = 4


def memory_item(drill: int, item: int) -> str:
    """The text of a memory item of a drill; no two share a word."""
    return f"MEMORY{drill}{item}"


def challenge(number: int) -> str:
    """The text of a challenge; no two share a word."""
    return f"Item{number:04d}"


def documents() -> dict[str, bytes]:
    """The documents of the made-up aircraft, by name."""
    names = [f"l{i + 1:02d}" for i in range(LISTS)]
    found = {"aircraft.yaml": AIRCRAFT.replace("DAY", ", ".join(names))}
    for i, name in enumerate(names):
        rows = [f"list: {name}", f"title: Part {i + 1}", "steps:"]
        for j in range(STEPS):
            rows.append(f"- {{challenge: {challenge(i * STEPS + j)}, answer: 'ON'}}")
        rows.append(f"- {{close: Part {i + 1}}}")
        found[f"lists/{name}.yaml"] = "\n".join(rows) + "\n"
    for i, title in enumerate(DRILLS):
        rows = [f"drill: d{i + 1}", f"title: {title}", "ends:"]
        rows += ["- {end: Over, leads to: continue here}", "steps:"]
        for j in range(ITEMS):
            rows.append(f"- {{challenge: {memory_item(i, j)}, answer: 'OFF', memory: true}}")
        rows.append(f"- {{close: {title}}}")
        found[f"drills/d{i + 1}.yaml"] = "\n".join(rows) + "\n"
    return {name: text.encode() for name, text in found.items()}


class FastClock(SystemClock):
    """The machine's clock at `PACE` times its speed."""

    def __init__(self) -> None:
        super().__init__()
        self._from = super().stamp()

    def stamp(self) -> Stamp:
        """Now, in fast time."""
        now = super().stamp()
        passed = (now.mono_ms - self._from.mono_ms) * PACE
        return Stamp(self._from.wall_ms + passed, self._from.mono_ms + passed, now.boot)


def fill(run: Run, entries: int) -> None:
    """Reads the first page, and notes a reading until the log has so many entries."""
    said, _ = run.say_line("page read")
    if said is None or run.state.question.prompt is Prompt.FIRST_PAGE:
        raise RuntimeError("the first page was not taken as read")
    for number in range(entries):
        if run.say_line(f"reading oil_temp {40 + number % 50}")[0] is None:
            raise RuntimeError("a reading was not noted")


def main(folder: Path, entries: int) -> None:
    """Works one run in `folder`."""
    loaded: Loaded = load_documents(documents())
    path = new_key(NAME, None, folder / "keys")
    with LogFolder.open(folder / "logs") as logs:
        setup = Setup(
            loaded, logs, "BENCH", ("solo",), (("commander", load_signer(path, None, NAME)),)
        )
        run = start(setup, FastClock())
        fill(run, entries)
        run.start_bell()
        try:
            FullScreen("day").run(run)
        finally:
            run.stop()


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
