"""The measured side of "key press to next challenge": a real run on a real terminal.

One job: open a run of a made-up aircraft with many plain challenges, on a durable log in the folder
named, and work it in the full screen. Its clock runs `PACE` times as fast as the wall, so that the
guard of 0.4 s after each new challenge takes 0.4 s / PACE; nothing else is different from
`latchword run`.
"""

from __future__ import annotations

import sys
from pathlib import Path

from audit.folder import LogFolder
from audit.people import load_signer, new_key
from audit.stamps import Stamp
from runner.flow.loader import Loaded, load_documents
from runner.host.clock import SystemClock
from runner.host.opening import Setup, start
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
readings: {}
reasons: [one, two, three, four, five]
happenings: [refuelled]
day: [DAY]
drills: []
discontinue: {airborne: l01, rotor: l01, engine: l01, nothing: l01}
"""


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


def main(folder: Path) -> None:
    """Works one run in `folder`."""
    loaded: Loaded = load_documents(documents())
    path = new_key(NAME, None, folder / "keys")
    with LogFolder.open(folder / "logs") as logs:
        setup = Setup(
            loaded, logs, "BENCH", ("solo",), (("commander", load_signer(path, None, NAME)),)
        )
        run = start(setup, FastClock())
        run.start_bell()
        try:
            FullScreen("day").run(run)
        finally:
            run.stop()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
