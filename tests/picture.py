"""The picture of the screen in the README, drawn by the program: `python tests/picture.py`.

Rules: the demonstration day is played by its script up to the shutdown, where the crew reads a head
temperature that is still too high; what then stands on the screen is the picture. The clock is
fixed, so that the same program always draws the same bytes.
"""

from __future__ import annotations

import io
import sys
import tempfile
from itertools import takewhile
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[1]
if __name__ == "__main__":
    sys.path.insert(0, str(PROJECT))

from audit.folder import LogFolder  # noqa: E402
from audit.people import load_signer, new_key  # noqa: E402
from runner.flow.loader import load_aircraft  # noqa: E402
from runner.host.clock import SimulatedClock  # noqa: E402
from runner.host.opening import Setup, start  # noqa: E402
from runner.host.run import Run  # noqa: E402
from runner.host.scripted import Printer, play, read_script  # noqa: E402
from runner.terminal.aside import Aside, Size  # noqa: E402
from runner.terminal.clock import Clock  # noqa: E402
from runner.terminal.layout import screen  # noqa: E402
from runner.terminal.picture import svg  # noqa: E402

PICTURE = PROJECT / "docs" / "screen.svg"
AIRCRAFT = PROJECT / "flows" / "corvane_c4"
CREW = (("commander", "Ines Marlow"), ("copilot", "Tom Aske"), ("ground", "Per Lund"))
DAWN_MS = 1_790_835_000_000  # 2026-10-01 05:30 UTC
STEP = "shutdown.cut_off_head"
TOO_HOT = ("copilot: 171", "affirm")
SIZE = Size(80, 24)


def at_the_step(folder: Path) -> Run:
    """The demonstration day, played up to `STEP`, with a value out of its limit."""
    loaded = load_aircraft(AIRCRAFT)
    people = []
    for role, name in CREW:
        people.append((role, load_signer(new_key(name, None, folder / "keys"), None, name)))
    clock = SimulatedClock(DAWN_MS)
    with LogFolder.open(folder / "logs") as logs:
        modes = ("crew", "demonstration", "scripted")
        setup = Setup(
            loaded, logs, "TV-C41", modes, tuple(people), tuple(loaded.table.fit), source="script"
        )
        run = start(setup, clock, patient=True)
        printer = Printer(io.StringIO(), run, as_json=False)
        script = read_script(AIRCRAFT / "answers" / "normal.txt")
        play(run, clock, takewhile(lambda _: run.listen().step != STEP, script), printer)
        for words in TOO_HOT:
            clock.pass_ms(4000)
            run.say_line(words)
        run.stop()
    return run


def draw() -> str:
    """The picture, as an SVG document."""
    with tempfile.TemporaryDirectory() as folder:
        run = at_the_step(Path(folder))
    view = run.view()
    aside = Aside(
        listen=run.listen(), registration=run.registration, messages=(), waited=0, blocks=True
    )
    rows = screen(view, Clock(run.utc_at_zero, run.now()), SIZE, aside)
    return svg(rows, title="Latchword at a limit that is not met")


if __name__ == "__main__":
    PICTURE.write_text(draw(), encoding="utf-8", newline="\n")
