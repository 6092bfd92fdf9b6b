"""A scripted crew from the command line: lines of a file, or recordings, on a simulated clock.

Rules: all that is played is read before a run is begun; a script that ends with no list open closes
the log, any other leaves the run open; nothing is asked of anybody.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from audit.people import Signer
from runner.commands.signing import close, keyring

if TYPE_CHECKING:
    from runner.commands.recorded import Recorded
    from runner.commands.running import Options
    from runner.host.clock import SimulatedClock
    from runner.host.run import Run
    from runner.host.scripted import Input

    Inputs = list[Input] | Recorded
    """What is played: lines of a script, or recordings."""

CLOSED, LEFT_OPEN = 0, 75


def inputs_of(options: Options) -> Inputs:
    """The script, read before anything is begun: a file that is not there must leave no run."""
    if options.hear is not None:
        from runner.commands.recorded import read_recordings

        return read_recordings(options.hear)
    if options.answers is None:
        return []
    from runner.host.scripted import read_script

    return read_script(options.answers)


def scripted(
    begun: Run,
    clock: SimulatedClock,
    inputs: Inputs,
    options: Options,
    signers: list[Signer],
) -> int:
    from runner.host.scripted import Printer, may_close, play

    try:
        printer = Printer(sys.stdout, begun, as_json=options.as_json)
        if begun.recorder.writer.phase == "running":
            if isinstance(inputs, list):
                play(begun, clock, inputs, printer)
            else:
                from runner.commands.recorded import play_recordings

                play_recordings(begun, clock, inputs, printer, keep_clips=options.keep_clips)
        if not may_close(begun):
            printer.line("left open", "the script ended here; resume goes on")
            return LEFT_OPEN
        if begun.recorder.lost:
            printer.line("left open", f"the recording was lost: {begun.recorder.lost}")
            return LEFT_OPEN
        trouble = close(begun, signers, keyring(options.environment))
        printer.line("closed" if not trouble else "unclosed", trouble or f"head {begun.head_code}")
        return LEFT_OPEN if trouble else CLOSED
    finally:
        begun.stop()
