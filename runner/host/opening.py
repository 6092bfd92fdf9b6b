"""Starting and resuming a run: documents stored, people bound, what was left is carried over.

Rules: documents are read once, hashed, stored, then used; a run begins with everybody's signature;
what the run before left is signed in the opening; resuming replays the log and goes on only if the
lists say what the log says; run time goes on from the last event, by the clock that can tell.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

from audit.errors import AuditError
from audit.fleet.checkpoint import Checkpoint, newest
from audit.folder import LogFolder
from audit.people import Signer
from audit.recovery import Recovered as Torn
from audit.recovery import recover
from audit.sshsig import public_line
from audit.stamps import wall_text
from audit.writer import LogWriter
from runner.engine.effects import Say, Voice
from runner.engine.events import Opened, Recovered
from runner.engine.state import initial
from runner.engine.table import Table
from runner.flow.loader import Loaded, load_documents
from runner.host.approvals import Approval
from runner.host.clock import Clock, since
from runner.host.leaving import left_before
from runner.host.papers import Person, approved_in, hashes_of, on_roster, papers
from runner.host.places import PlaceFault
from runner.host.recording import Recorder
from runner.host.replay import Cache, Load, Replayer
from runner.host.run import KeyOf, Run
from runner.host.stepping import RULES
from runner.words.calls import tell
from runner.words.spoken import LEADING, SIMPLE


class Setup(NamedTuple):
    """What a run starts with. `crew` pairs roles with people who can sign; `spoken` is the SHA-256
    of the lexicon by which answers are heard, where they are."""

    loaded: Loaded
    folder: LogFolder
    registration: str
    modes: tuple[str, ...]
    crew: tuple[tuple[str, Signer], ...]
    fit: tuple[str, ...] = ()
    only: str = ""
    source: str = "key"
    approvals: Mapping[str, Approval] = MappingProxyType({})
    spoken: str = ""


def lexicon(spoken: str = "") -> str:
    """SHA-256 of the control words, in hex: what words a run understood is part of its opening.

    In a run by voice that of the language's lexicon, `spoken`, is a further line of what is hashed.
    """
    words = (*sorted((*SIMPLE, *LEADING)), *filter(None, (spoken,)))
    return hashlib.sha256("\n".join(words).encode()).hexdigest()


def signers(setup: Setup) -> list[Signer]:
    """The people aboard, each once, in roster order."""
    seen: dict[str, Signer] = {}
    for _, person in setup.crew:
        seen.setdefault(person.name, person)
    return list(seen.values())


def start(
    setup: Setup, clock: Clock, *, patient: bool = False, key_of: KeyOf | None = None,
    told: Callable[[str], None] = lambda text: None,
) -> Run:  # fmt: skip
    """Opens a run. Raises AuditError where it cannot be signed or written. `told` hears what of the
    runs before could not be read."""
    for document in setup.loaded.documents:
        setup.folder.store_document(document.data)
    stamp = clock.stamp()
    # A script of the demonstration is the same day each time it is played.
    rehearsed = {"demonstration", "scripted"} <= set(setup.modes)
    runs = [] if rehearsed else setup.folder.runs()
    carried, trouble = left_before(setup.folder, stamp, Cache(_load_or(setup.loaded)), runs)
    for text in trouble:
        told(text)
    checkpoint = _last_checkpoint(setup.folder, told)
    held = setup.approvals
    opening: dict[str, Any] = {
        "checkpoint": checkpoint.as_opening() if checkpoint is not None else None,
        "modes": sorted(setup.modes),
        "roster": [{"role": role, "name": person.name} for role, person in setup.crew],
        "documents": [
            {
                "name": d.name,
                "sha256": d.sha256,
                "approval": held[d.name].as_opening() if d.name in held else None,
            }
            for d in setup.loaded.documents
        ],
        "lexicon": lexicon(setup.spoken),
        "rules": RULES,
        "carried": {
            "fit": list(setup.fit),
            "items": [list(pair) for pair in carried],
            "only": setup.only,
            "registration": setup.registration,
        },
    }
    writer = LogWriter.create(setup.folder, opening, [p for _, p in setup.crew], stamp)
    recorder = Recorder(writer, patient=patient)
    run = Run(
        setup.loaded.table, initial(), recorder, clock, stamp.mono_ms, setup.registration,
        source=setup.source, key_of=key_of,
    )  # fmt: skip
    aboard = [Person(role, one.name, public_line(one.key)) for role, one in setup.crew]
    hashes = {d.name: d.sha256 for d in setup.loaded.documents}
    approved = {name: (one.by, wall_text(one.at_ms)[:10]) for name, one in held.items()}
    run.papers = papers(setup.loaded.table, hashes, aboard, runs, told, approved)
    names = tuple((role, person.name) for role, person in setup.crew)
    run.take(
        lambda at: Opened(at, tuple(sorted(setup.modes)), names, setup.fit, carried, setup.only)
    )
    return run


def _last_checkpoint(folder: LogFolder, told: Callable[[str], None]) -> Checkpoint | None:
    """The fleet's head that this folder knows; one that cannot be read keeps nobody from flying."""
    try:
        return newest(folder.path)
    except AuditError as fault:
        told(f"the fleet's checkpoint is left out: {fault}")
        return None


def _load_or(loaded: Loaded) -> Load:
    """Loads documents, but those of this start, byte for byte, are not compiled a second time: the
    run before had the same on most days, and the first screen waits for what it left."""

    def load(documents: Mapping[str, bytes]) -> Loaded:
        same = {one.name: one.data for one in loaded.documents} == documents
        return loaded if same else load_documents(documents)

    return load


def resume(
    folder: LogFolder, run_id: str, clock: Clock, registration: str, *, patient: bool = False,
    source: str = "key", key_of: KeyOf | None = None,
    told: Callable[[str], None] = lambda text: None,
) -> Run:  # fmt: skip
    """Takes a run up again: replays its log, appends `resume`, asks what is turning. `registration`
    is for a log whose opening names none."""
    torn = recover(folder, run_id)
    table = Cache().table(torn.opening, folder.documents)
    if torn.opening["rules"] != RULES:
        raise PlaceFault(f"{run_id}: its rules are not this engine's; it cannot be taken up")
    lines = torn.lines()
    player = Replayer(table, next(lines))
    met: list[tuple[str, ...]] = []
    for line in lines:
        found = player.line(line)
        if found is not None:
            raise PlaceFault(f"{run_id}: line {line.seq}: {found[2]}; the run is left as it is", 1)
        if line.type == "event":
            met += [tuple(item) for item in line.data["outcome"] if item[0] == "met"]
    stamp = clock.stamp()
    writer = LogWriter.resume(torn, stamp, since(torn.last_stamp, stamp))
    # The last line may be younger than the last event: a resume that was itself cut short.
    passed = since(player.last_stamp, stamp)
    gap, certain = passed or 0, passed is not None
    recorder = Recorder(writer, patient=patient)
    recorder.acceptances = player.acceptances
    run = Run(
        table, player.state, recorder, clock, stamp.mono_ms - player.last_at - gap,
        registration_of(torn.opening) or registration, source=source, key_of=key_of,
    )  # fmt: skip
    before = [info for info in folder.runs() if info.run != run_id]
    run.papers = papers(
        table, hashes_of(torn.opening), on_roster(torn.opening), before, told,
        approved_in(torn.opening),
    )  # fmt: skip
    run.read_back(tuple(_before(table, item) for item in met[-3:] if item[1] in table.steps))
    if torn.phase == "running" and player.state.flight:
        run.take(lambda at: Recovered(at, gap, certain))
    elif torn.phase == "running":
        # It stopped between its signatures and its first event: the opening is still to come.
        run.take(lambda at: _reopened(at, torn))
    return run


def registration_of(opening: Mapping[str, Any]) -> str:
    """The aircraft that a run was opened for; empty where its opening names none."""
    return str(opening["carried"].get("registration", ""))


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
