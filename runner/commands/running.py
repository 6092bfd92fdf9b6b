"""`demo`, `run` and `resume`: from the arguments to a run, its shell, and its end.

Rules: an interactive run wants a terminal; the log folder is held for as long as the run lasts; a
run that is not closed is left open and said to be resumable (exit 75); passphrases are asked for
before the first list and after the last, never between.
"""

from __future__ import annotations

import shlex
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from audit.folder import LogFolder
from audit.people import Signer
from runner.commands.approving import needed
from runner.commands.scripting import CLOSED, LEFT_OPEN, inputs_of, scripted
from runner.commands.signing import Patient, close, keyring, others, say
from runner.engine.effects import Prompt
from runner.flow.loader import Loaded, load_aircraft
from runner.host import crew as people
from runner.host import places
from runner.host.approvals import Approval
from runner.host.clock import Clock, SimulatedClock, SystemClock
from runner.host.machine import Watch
from runner.host.opening import Setup, resume, start
from runner.host.places import PlaceFault
from runner.host.run import Run
from runner.host.wakefulness import Wakefulness

if TYPE_CHECKING:
    from runner.commands.scripting import Inputs
    from runner.conversation.conversation import Conversation

USAGE = 2
DEMO_REGISTRATION = "TV-C41"


@dataclass(frozen=True, slots=True)
class Options:
    """What the command line asks of a run."""

    crew: str = ""
    solo: bool = False
    single: bool = False
    only: str = ""
    draft: bool = False
    plain: bool = False
    theme: str = "day"
    color: str = "auto"
    log_dir: Path | None = None
    answers: Path | None = None
    as_json: bool = False
    voice: bool = False
    caller: str = ""
    open_microphone: bool = False
    keep_clips: bool = False
    pedal: Path | None = None
    hear: Path | None = None
    environment: dict[str, str] = field(default_factory=dict)

    @property
    def scripted(self) -> bool:
        """Whether files stand in for a crew."""
        return self.answers is not None or self.hear is not None


def need_terminal(options: Options) -> None:
    """Refuses an interactive run without a terminal: an empty pipe must never count as a word."""
    from runner.terminal.shell import is_terminal

    if not options.scripted and not is_terminal(sys.stdin, sys.stdout):
        raise PlaceFault(
            "this needs a terminal, and standard input or output is none; "
            "a scripted run is asked for by name: --answers FILE, or --hear FILE",
            USAGE,
        )
    if options.voice:
        from runner.commands.talking import need_voice

        need_voice()


def demo(options: Options) -> int:
    """The demonstration day."""
    need_terminal(options)
    if options.crew:
        raise PlaceFault("the demonstration has a crew of its own; leave --crew out", USAGE)
    loaded = load_aircraft(places.shipped() / "corvane_c4")
    mode = "solo" if options.solo else "single-pilot" if options.single else "crew"
    modes = [mode, "demonstration", *(["scripted"] if options.scripted else [])]
    aboard = people.demo_people(solo=options.solo, single=options.single)
    folder = options.log_dir or people.demo_folder() / "logs"
    # The shipped documents are approved by nobody: they are invented, and their label says so.
    return _run(
        options, loaded, folder, DEMO_REGISTRATION, tuple(modes), aboard, tuple(loaded.table.fit),
        people.demo_key_of, {},
    )  # fmt: skip


def run(name: str, options: Options) -> int:
    """A run of an enrolled aircraft."""
    aircraft = places.find(name)
    need_terminal(options)
    if options.only and not options.solo:
        raise PlaceFault("--only is for practice: with --solo, or with the demo", USAGE)
    loaded = load_aircraft(places.folder_of_documents(aircraft.documents))
    held = needed(aircraft.documents, loaded, draft=options.draft)
    folder = options.log_dir or aircraft.logs
    key_of = people.key_of
    aboard: tuple[tuple[str, Signer], ...]
    if options.scripted:
        if options.crew:
            raise PlaceFault("a scripted run has the demonstration's crew; leave --crew out", USAGE)
        mode = "solo" if options.solo else "single-pilot" if options.single else "crew"
        modes: tuple[str, ...] = (mode, "scripted")
        aboard = people.demo_people(solo=options.solo, single=options.single)
        key_of = people.demo_key_of
    else:
        named = people.parse_crew(options.crew)
        modes, signers = people.aboard(
            named, solo=options.solo, single=options.single, keyring=keyring(options.environment)
        )
        aboard = tuple((role, Patient(person)) for role, person in signers)
    if options.draft:
        modes = (*modes, "draft")
    return _run(
        options, loaded, folder, aircraft.registration, modes, aboard, aircraft.fit, key_of, held
    )


def _run(
    options: Options, loaded: Loaded, path: Path, registration: str, modes: tuple[str, ...],
    aboard: tuple[tuple[str, Signer], ...], fit: tuple[str, ...], key_of: Callable[[str], str],
    held: dict[str, Approval],
) -> int:  # fmt: skip
    only = _list_id(loaded, options.only)
    inputs = inputs_of(options)
    with LogFolder.open(path) as folder:
        before = folder.open_run()
        if before is not None:
            if not options.scripted and _wants_resume(before):
                return _resume_in(folder, before, registration, inputs, options)
            say(f"{before} was left open; it is left so for good")
        setup = Setup(
            loaded, folder, registration, modes, aboard, fit, only,
            "script" if options.scripted else "key", held,
            _lexicon(options),
        )  # fmt: skip
        clock: Clock = SystemClock()
        if options.scripted:
            simulated = SimulatedClock(time.time_ns() // 1_000_000)
            begun = start(setup, simulated, patient=True, key_of=key_of, told=say)
            return scripted(begun, simulated, inputs, options, [p for _, p in aboard])
        begun = start(setup, clock, key_of=key_of, told=say)
        return _interactive(begun, options, [p for _, p in aboard])


def _lexicon(options: Options) -> str:
    """The hash of the lexicon by which answers are heard; empty for a run by keys."""
    if not (options.voice or options.hear):
        return ""
    from runner.speech.lexicon import lexicon

    return lexicon().sha256


def _list_id(loaded: Loaded, name: str) -> str:
    if not name:
        return ""
    from runner.engine.words import find, nearest

    lists = [(f, loaded.table.flows[f].title) for f in loaded.table.order]
    found = find(name, lists)
    if found is None:
        close = nearest(name, [key for key, _ in lists] + [title for _, title in lists])
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


def _interactive(begun: Run, options: Options, signers: list[Signer]) -> int:
    from runner.commands.slip import slip
    from runner.terminal.shell import How, Shell

    shell: Shell
    voice = _voice(begun, options)
    if _plain(options):
        from runner.terminal.plain import Plain

        shell = Plain(ear=voice)
    else:
        from runner.host.keyfile import in_force
        from runner.terminal.fullscreen import FullScreen
        from runner.terminal.themes import depth_of

        keymap, trouble = in_force()
        if trouble:
            say(trouble)
        depth = depth_of(options.environment, options.color)
        shell = FullScreen(options.theme, depth, keymap=keymap, ear=voice)
    begun.make_receipt = partial(slip, begun.recorder.writer)
    begun.start_bell()
    try:
        with _machine(begun), Wakefulness(options.environment):
            try:
                ended = shell.run(begun)
            finally:
                if voice is not None:
                    voice.stop()
            if begun.recorder.lost:
                say(f"the recording was lost ({begun.recorder.lost}); the log is left unclosed")
            if ended.how is not How.CLOSED or begun.recorder.lost:
                say(f"{ended.why}. {_again(begun.recorder.writer.run, options)}")
                return LEFT_OPEN
            return _close(begun, signers, options)
    finally:
        begun.stop()


def _voice(begun: Run, options: Options) -> Conversation | None:
    """The voice of the run, if it is a run by voice."""
    if not options.voice:
        return None
    from runner.commands.talking import voice_of

    return voice_of(begun, options, plain=_plain(options))


def _plain(options: Options) -> bool:
    """Whether the run speaks in plain lines. A terminal that calls itself dumb moves no cursor: a
    screen drawn there cannot be read."""
    return options.plain or options.environment.get("TERM") == "dumb"


def _again(run: str, options: Options) -> str:
    """The command that takes the run up again in the mode it was in, as it must be typed."""
    mode = " --plain" if _plain(options) else ""
    if not mode and options.theme != "day":
        mode = f" --theme {options.theme}"
    where = f" --log-dir {shlex.quote(str(options.log_dir))}" if options.log_dir else ""
    return f"Take it up again: latchword resume {run}{mode}{where}"


def _machine(begun: Run) -> Watch:
    """Tells the run of this machine's battery and heat until the first list is begun."""

    def told(said: tuple[str, ...]) -> None:
        begun.machine_notes = said

    return Watch(told, lambda: begun.state.question.prompt is not Prompt.FIRST_PAGE)


def _close(begun: Run, signers: list[Signer], options: Options) -> int:
    from runner.commands.witness import after_closing

    writer = begun.recorder.writer
    trouble = close(begun, signers, keyring(options.environment))
    if trouble:
        say(f"{trouble}. {_again(writer.run, options)}")
        return LEFT_OPEN
    after_closing(writer.folder.path_of(writer.run), options)
    say(f"the log is closed, head {begun.head_code}: {writer.folder.path_of(writer.run)}")
    return CLOSED


def folders(options: Options) -> list[tuple[Path, str]]:
    """Every log folder there is, with the registration it belongs to; none of a folder that was
    named, since its name says nothing of the aircraft: the logs in it do."""
    if options.log_dir is not None:
        return [(options.log_dir, "")]
    found = [(a.logs, a.registration) for a in places.enrolled()]
    found.append((people.demo_folder() / "logs", DEMO_REGISTRATION))
    return [(path, reg) for path, reg in found if (path / "device.json").exists()]


def resume_run(run_id: str, options: Options) -> int:
    """Takes up the run named, or the newest one left open."""
    need_terminal(options)
    inputs = inputs_of(options)
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
        return _resume_in(folder, found, registration, inputs, options)


def _resume_in(
    folder: LogFolder,
    run_id: str,
    registration: str,
    inputs: Inputs,
    options: Options,
) -> int:
    info = next(i for i in folder.runs() if i.run == run_id)
    unreal = bool({"demonstration", "scripted"} & set(info.modes))
    if not registration and "demonstration" in info.modes:
        registration = DEMO_REGISTRATION
    key_of = people.demo_key_of if unreal else people.key_of
    ring = keyring(options.environment)
    if options.scripted:
        from audit.recovery import recover

        last = recover(folder, run_id).last_stamp
        clock = SimulatedClock(last.wall_ms, last.mono_ms)
        if last.boot != clock.stamp().boot:
            raise PlaceFault(f"{run_id} is a run of real time; take it up at a terminal", USAGE)
        begun = resume(
            folder, run_id, clock, registration, patient=True, source="script", key_of=key_of
        )
        return scripted(begun, clock, inputs, options, others(begun, [], ring))
    begun = resume(folder, run_id, SystemClock(), registration, key_of=key_of, told=say)
    if begun.recorder.writer.phase == "closing":
        try:
            return _close(begun, others(begun, [], ring), options)
        finally:
            begun.stop()
    return _interactive(begun, replace(options), others(begun, [], ring))
