"""Starting and resuming a run: documents stored, people bound, what was left is carried over.

Rules: documents are read once, hashed, stored, then used; a run begins with everybody's signature;
what the run before left (counters, times since, defects) is taken from its log and signed in the
opening; resuming replays the log and goes on only if the lists say what the log says.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any

from audit.errors import AuditError, NotReplayed
from audit.folder import LogFolder
from audit.people import Signer
from audit.recovery import Recovered as Torn
from audit.recovery import recover
from audit.writer import LogWriter
from runner.engine.effects import Say, Voice
from runner.engine.events import Opened, Recovered, read_event
from runner.engine.state import initial
from runner.engine.table import Table
from runner.flow.loader import Loaded
from runner.host.clock import Clock
from runner.host.places import PlaceFault
from runner.host.recording import Recorder
from runner.host.replay import Cache, Replayer
from runner.host.run import KeyOf, Run
from runner.host.stepping import RULES
from runner.words.calls import tell
from runner.words.spoken import LEADING, SIMPLE

Pairs = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Setup:
    """What a run starts with. `crew` pairs roles with people who can sign."""

    loaded: Loaded
    folder: LogFolder
    registration: str
    modes: tuple[str, ...]
    crew: tuple[tuple[str, Signer], ...]
    fit: tuple[str, ...] = ()
    only: str = ""
    source: str = "key"


def lexicon() -> str:
    """SHA-256 of the control words, in hex: what words a run understood is part of its opening."""
    return hashlib.sha256("\n".join(sorted((*SIMPLE, *LEADING))).encode()).hexdigest()


def signers(setup: Setup) -> list[Signer]:
    """The people aboard, each once, in roster order."""
    seen: dict[str, Signer] = {}
    for _, person in setup.crew:
        seen.setdefault(person.name, person)
    return list(seen.values())


def start(setup: Setup, clock: Clock, *, patient: bool = False, key_of: KeyOf | None = None) -> Run:
    """Opens a run. Raises AuditError where it cannot be signed or written."""
    for document in setup.loaded.documents:
        setup.folder.store_document(document.data)
    carried = left_before(setup.folder, clock)
    stamp = clock.stamp()
    opening: dict[str, Any] = {
        "modes": sorted(setup.modes),
        "roster": [{"role": role, "name": person.name} for role, person in setup.crew],
        "documents": [
            {"name": d.name, "sha256": d.sha256, "approval": None} for d in setup.loaded.documents
        ],
        "lexicon": lexicon(),
        "rules": RULES,
        "carried": {
            "fit": list(setup.fit),
            "items": [list(pair) for pair in carried],
            "only": setup.only,
        },
    }
    writer = LogWriter.create(setup.folder, opening, [p for _, p in setup.crew], stamp)
    recorder = Recorder(writer, patient=patient)
    run = Run(
        setup.loaded.table, initial(), recorder, clock, stamp.mono_ms, setup.registration,
        source=setup.source, key_of=key_of,
    )  # fmt: skip
    names = tuple((role, person.name) for role, person in setup.crew)
    run.take(
        lambda at: Opened(at, tuple(sorted(setup.modes)), names, setup.fit, carried, setup.only)
    )
    return run


def left_before(folder: LogFolder, clock: Clock) -> Pairs:
    """What the last run of this folder leaves to the next: counters, ages of moments, defects.

    Empty where there is none, or where it cannot be replayed: then nothing is known, and the lists
    ask as for an aircraft that stood long.
    """
    runs = folder.runs()
    if not runs:
        return ()
    try:
        torn = recover(folder, runs[-1].run) if not runs[-1].closed else None
        player, last_at, wall = _final(folder, runs[-1].run, torn)
    except AuditError:
        return ()
    passed = max(0, clock.stamp().wall_ms - wall)
    return _carried(player, last_at, passed)


def _final(folder: LogFolder, run: str, torn: Torn | None) -> tuple[Replayer, int, int]:
    from audit.line import parse
    from audit.reader import pieces

    player: Replayer | None = None
    last_at, wall = 0, 0
    with folder.path_of(run).open("rb") as stream:
        for piece in pieces(stream):
            if torn is not None and piece.offset >= torn.length:
                break
            line = parse(piece.raw)
            wall = line.stamp.wall_ms
            if line.type == "open":
                player = Replayer(Cache().table(line.data, folder.documents), line.data)
            elif line.type == "event" and player is not None:
                last_at = max(last_at, line.data["event"].get("at", 0))
                found = player.event(line.seq, line.data)
                if found is not None:
                    raise NotReplayed(found[2])
    if player is None:
        raise NotReplayed("the run has no opening")
    return player, last_at, wall


def _carried(player: Replayer, last_at: int, passed: int) -> Pairs:
    state = player.state
    pairs = [
        (f"counter:{name}", str(state.values[name]))
        for name in sorted(player.table.counters)
        if name in state.values
    ]
    for moment, at in sorted(state.moments.items()):
        pairs.append((f"moment:{moment}", str(max(0, last_at - at) + passed)))
    pairs += [(f"defect:{d.where}", d.text) for d in state.defects if d.open]
    return tuple(pairs)


def resume(
    folder: LogFolder, run_id: str, clock: Clock, registration: str, *, patient: bool = False,
    source: str = "key", key_of: KeyOf | None = None,
) -> Run:  # fmt: skip
    """Takes a run up again: replays its log, appends `resume`, asks what is turning."""
    torn = recover(folder, run_id)
    table = Cache().table(torn.opening, folder.documents)
    if torn.opening["rules"] != RULES:
        raise PlaceFault(f"{run_id}: its rules are not this engine's; it cannot be taken up")
    player = Replayer(table, torn.opening)
    last_at = 0
    met: list[tuple[str, ...]] = []
    for seq, kind, data in torn.entries():
        if kind != "event":
            continue
        found = player.event(seq, data)
        if found is not None:
            raise PlaceFault(f"{run_id}: line {seq}: {found[2]}; the run is left as it is", 1)
        last_at = max(last_at, read_event(data["event"]).at)
        met += [tuple(item) for item in data["outcome"] if item[0] == "met"]
    gap, certain = _gap(torn, clock)
    stamp = clock.stamp()
    writer = LogWriter.resume(torn, stamp, gap if certain else None)
    recorder = Recorder(writer, patient=patient)
    recorder.acceptances = player.acceptances
    run = Run(
        table, player.state, recorder, clock, stamp.mono_ms - last_at - gap, registration,
        source=source, key_of=key_of, floor=last_at,
    )  # fmt: skip
    run.read_back(tuple(_before(table, item) for item in met[-3:] if item[1] in table.steps))
    if torn.phase == "running" and player.state.flight:
        run.take(lambda at: Recovered(at, gap, certain))
    elif torn.phase == "running":
        # It stopped between its signatures and its first event: the opening is still to come.
        run.take(lambda at: _reopened(at, torn))
    return run


def _before(table: Table, item: tuple[str, ...]) -> Say:
    said = tell(table, item)
    answer = said.text if said is not None else ""
    return Say(f"ANSWERED BEFORE: {table.steps[item[1]].challenge}, {answer}", Voice.STATUS)


def _reopened(at: int, torn: Torn) -> Opened:
    opening = torn.opening
    return Opened(
        at, tuple(opening["modes"]), tuple((p["role"], p["name"]) for p in opening["roster"]),
        tuple(opening["carried"].get("fit", [])),
        tuple((k, v) for k, v in opening["carried"].get("items", [])),
        opening["carried"].get("only", ""),
    )  # fmt: skip


def _gap(torn: Torn, clock: Clock) -> tuple[int, bool]:
    """Time since the last line: by boot time, else by the wall if it went forward, else unknown."""
    now, last = clock.stamp(), torn.last_stamp
    if now.boot == last.boot and now.mono_ms >= last.mono_ms:
        return now.mono_ms - last.mono_ms, True
    if now.wall_ms > last.wall_ms:
        return now.wall_ms - last.wall_ms, True
    return 0, False
