"""`demo`, `run` and `resume`: from the arguments to a run, its shell, and its end.

Rules: an interactive run wants a terminal; the log folder is held for as long as the run lasts; a
run that is not closed is left open and said to be resumable (exit 75); passphrases are asked for
before the first list and after the last, never between.
"""

from __future__ import annotations

import getpass
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

from audit.errors import AuditError, WrongPassphrase
from audit.folder import LogFolder
from audit.people import Signer
from runner.flow.loader import Loaded, load_aircraft
from runner.host import crew as people
from runner.host import places
from runner.host.clock import Clock, SimulatedClock, SystemClock
from runner.host.opening import Setup, resume, start
from runner.host.places import PlaceFault
from runner.host.run import Run

CLOSED, LEFT_OPEN, USAGE = 0, 75, 2
TRIES = 3
DEMO_REGISTRATION = "TV-C41"
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Options:
    """What the command line asks of a run."""

    crew: str = ""
    solo: bool = False
    single: bool = False
    only: str = ""
    plain: bool = False
    theme: str = "day"
    log_dir: Path | None = None
    answers: Path | None = None
    as_json: bool = False
    environment: dict[str, str] = field(default_factory=dict)


def say(text: str) -> None:
    """A message for a person, on standard error."""
    print(text, file=sys.stderr)


def ask_passphrase(name: str) -> str:
    """A passphrase from the terminal; nothing is echoed."""
    return getpass.getpass(f"Passphrase of {name}: ")


def need_terminal(options: Options) -> None:
    """Refuses an interactive run without a terminal: an empty pipe must never count as a word."""
    from runner.terminal.shell import is_terminal

    if options.answers is None and not is_terminal(sys.stdin, sys.stdout):
        raise PlaceFault(
            "this needs a terminal, and standard input or output is none; "
            "a scripted run is asked for by name: --answers FILE",
            USAGE,
        )


def demo(options: Options) -> int:
    """The demonstration day."""
    need_terminal(options)
    if options.crew:
        raise PlaceFault("the demonstration has a crew of its own; leave --crew out", USAGE)
    loaded = load_aircraft(places.shipped() / "corvane_c4")
    mode = "solo" if options.solo else "single-pilot" if options.single else "crew"
    modes = [mode, "demonstration", *(["scripted"] if options.answers else [])]
    aboard = people.demo_people(solo=options.solo, single=options.single)
    folder = options.log_dir or people.demo_folder() / "logs"
    return _run(
        options, loaded, folder, DEMO_REGISTRATION, tuple(modes), aboard, tuple(loaded.table.fit),
        people.demo_key_of,
    )  # fmt: skip


def run(name: str, options: Options) -> int:
    """A run of an enrolled aircraft."""
    aircraft = places.find(name)
    need_terminal(options)
    if options.only and not options.solo:
        raise PlaceFault("--only is for practice: with --solo, or with the demo", USAGE)
    loaded = load_aircraft(aircraft.documents)
    folder = options.log_dir or aircraft.logs
    key_of = people.key_of
    if options.answers:
        mode = "solo" if options.solo else "single-pilot" if options.single else "crew"
        modes: tuple[str, ...] = (mode, "scripted")
        aboard = people.demo_people(solo=options.solo, single=options.single)
        key_of = people.demo_key_of
    else:
        named = people.parse_crew(options.crew)
        modes, aboard = people.aboard(
            named, solo=options.solo, single=options.single, ask=ask_passphrase
        )
    return _run(options, loaded, folder, aircraft.registration, modes, aboard, aircraft.fit, key_of)


def _run(
    options: Options, loaded: Loaded, path: Path, registration: str, modes: tuple[str, ...],
    aboard: tuple[tuple[str, Signer], ...], fit: tuple[str, ...], key_of: Callable[[str], str],
) -> int:  # fmt: skip
    only = _list_id(loaded, options.only)
    with LogFolder.open(path) as folder:
        before = folder.open_run()
        if before is not None:
            if options.answers is None and _wants_resume(before):
                return _resume_in(folder, before, registration, options)
            say(f"{before} was left open; it is left so for good")
        setup = Setup(
            loaded, folder, registration, modes, aboard, fit, only,
            "script" if options.answers else "key",
        )  # fmt: skip
        clock: Clock = SystemClock()
        if options.answers is not None:
            inputs_clock = SimulatedClock(time.time_ns() // 1_000_000)
            begun = start(setup, inputs_clock, patient=True, key_of=key_of)
            return _scripted(begun, inputs_clock, options, [p for _, p in aboard])
        begun = start(setup, clock, key_of=key_of)
        return _interactive(begun, options, [p for _, p in aboard])


def _list_id(loaded: Loaded, name: str) -> str:
    if not name:
        return ""
    from runner.engine.words import find, nearest

    lists = [(f, loaded.table.flows[f].title) for f in loaded.table.order]
    found = find(name, lists)
    if found is None:
        close = nearest(name, [title for _, title in lists] + [key for key, _ in lists])
        hint = f"; nearest: {close}" if close else ""
        raise PlaceFault(f"--only {name!r}: there is no such list{hint}; lists: "
                         + ", ".join(key for key, _ in lists), USAGE)  # fmt: skip
    return found


def _wants_resume(run_id: str) -> bool:
    while True:
        try:
            text = input(
                f"{run_id} was left open. Take it up again (r), or leave it for good (l)? "
            )
        except EOFError:
            raise PlaceFault("nothing was started; the open run stays as it is", 130) from None
        except KeyboardInterrupt:
            continue
        if text.strip().lower() in ("r", "l"):
            return text.strip().lower() == "r"


def _scripted(begun: Run, clock: SimulatedClock, options: Options, signers: list[Signer]) -> int:
    from runner.host.scripted import Printer, may_close, play, read_script

    if options.answers is None:
        raise PlaceFault("no script was named", USAGE)
    try:
        inputs = read_script(options.answers)
        printer = Printer(sys.stdout, begun, as_json=options.as_json)
        play(begun, clock, inputs, printer)
        if not may_close(begun):
            printer.line("left open", "the script ended here; resume goes on")
            return LEFT_OPEN
        newcomers = [people.demo_signer(name) for _, name in begun.state.crew]
        trouble = begun.close(_once([*signers, *newcomers]))
        printer.line("closed" if not trouble else "unclosed", trouble or f"head {begun.head_code}")
        return LEFT_OPEN if trouble else CLOSED
    finally:
        begun.stop()


def _once(signers: list[Signer]) -> list[Signer]:
    return list({person.name: person for person in signers}.values())


def _interactive(begun: Run, options: Options, signers: list[Signer]) -> int:
    from runner.terminal.shell import How, Shell

    shell: Shell
    if options.plain:
        from runner.terminal.plain import Plain

        shell = Plain()
    else:
        from runner.terminal.fullscreen import FullScreen
        from runner.terminal.themes import depth_of

        shell = FullScreen(options.theme, depth_of(options.environment))
    begun.start_bell()
    try:
        ended = shell.run(begun)
        if begun.recorder.lost:
            say(f"the recording was lost ({begun.recorder.lost}); the log is left unclosed")
        if ended.how is not How.CLOSED or begun.recorder.lost:
            say(f"{ended.why}. Take it up again: latchword resume {begun.recorder.writer.run}")
            return LEFT_OPEN
        return _close(begun, signers)
    finally:
        begun.stop()


def _close(begun: Run, signers: list[Signer]) -> int:
    """Closes the log, each person signing for themselves; who cannot goes on owing."""
    writer = begun.recorder.writer
    everybody = _once([*signers, *_newcomers(begun, signers)])
    for person in everybody:
        if writer.phase == "running" and person.name in writer.owed():
            _tried(partial(_vouch, begun, person), person)
    if writer.phase == "running":
        trouble = begun.close([])
        if trouble and writer.phase == "running":
            say(trouble)
            return LEFT_OPEN
    for person in everybody:
        if person.name in writer.owed():
            _tried(partial(_sign_off, begun, person), person)
    owed = writer.owed()
    if owed:
        say(f"signature owed by {', '.join(owed)}; give it later: latchword resume {writer.run}")
        return LEFT_OPEN
    say(f"the log is closed, head {begun.head_code}: {writer.folder.path_of(writer.run)}")
    return CLOSED


def _vouch(begun: Run, person: Signer) -> None:
    begun.recorder.writer.sign_resume(person, begun.clock.stamp())


def _sign_off(begun: Run, person: Signer) -> None:
    begun.recorder.writer.sign_close(person, begun.clock.stamp())


def _newcomers(begun: Run, signers: list[Signer]) -> list[Signer]:
    known = {person.name for person in signers}
    demonstration = "demonstration" in begun.state.modes or "scripted" in begun.state.modes
    found: list[Signer] = []
    for name in (*begun.recorder.writer.owed(), *(n for _, n in begun.state.crew)):
        if name in known:
            continue
        known.add(name)
        try:
            found.append(
                people.demo_signer(name) if demonstration else places.signer(name, ask_passphrase)
            )
        except (PlaceFault, AuditError) as fault:
            say(str(fault))
    return found


def _tried(sign: Callable[[], object], person: Signer) -> None:
    for left in range(TRIES - 1, -1, -1):
        try:
            sign()
            return
        except WrongPassphrase as fault:
            say(f"{fault}" + (f"; {left} more" if left else f"; {person.name} owes the signature"))
        except (AuditError, EOFError) as fault:
            say(f"{person.name} did not sign: {fault}")
            return
        except KeyboardInterrupt:
            say(f"{person.name} did not sign")
            return


def folders(options: Options) -> list[tuple[Path, str]]:
    """Every log folder there is, with the registration it belongs to."""
    if options.log_dir is not None:
        return [(options.log_dir, options.log_dir.name)]
    found = [(a.logs, a.registration) for a in places.enrolled()]
    found.append((people.demo_folder() / "logs", DEMO_REGISTRATION))
    return [(path, reg) for path, reg in found if (path / "device.json").exists()]


def resume_run(run_id: str, options: Options) -> int:
    """Takes up the run named, or the newest one left open."""
    need_terminal(options)
    candidates = []
    for path, registration in folders(options):
        for info in LogFolder.open(path, write=False).runs()[-1:]:
            if not info.closed and run_id in ("", info.run):
                candidates.append((info.wall_ms, path, registration, info.run))
            elif info.run == run_id:
                raise PlaceFault(f"{run_id} is closed; there is nothing to take up", 1)
    if not candidates:
        what = f"run {run_id!r} that can be taken up" if run_id else "run that was left open"
        raise PlaceFault(f"there is no {what} (a run with a successor is left for good)")
    _, path, registration, found = max(candidates)
    with LogFolder.open(path) as folder:
        return _resume_in(folder, found, registration, options)


def _resume_in(folder: LogFolder, run_id: str, registration: str, options: Options) -> int:
    info = next(i for i in folder.runs() if i.run == run_id)
    unreal = bool({"demonstration", "scripted"} & set(info.modes))
    key_of = people.demo_key_of if unreal else people.key_of
    if options.answers is not None:
        from audit.recovery import recover

        last = recover(folder, run_id).last_stamp
        clock = SimulatedClock(last.wall_ms, last.mono_ms)
        if last.boot != clock.stamp().boot:
            raise PlaceFault(f"{run_id} is a run of real time; take it up at a terminal", USAGE)
        begun = resume(
            folder, run_id, clock, registration, patient=True, source="script", key_of=key_of
        )
        return _scripted(begun, clock, options, _newcomers(begun, []))
    begun = resume(folder, run_id, SystemClock(), registration, key_of=key_of)
    if begun.recorder.writer.phase == "closing":
        try:
            return _close(begun, _newcomers(begun, []))
        finally:
            begun.stop()
    return _interactive(begun, replace(options), _newcomers(begun, []))
