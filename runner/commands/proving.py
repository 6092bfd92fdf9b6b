"""`prove`: that no run gets past a need, a limit or a list's end, or the shortest run that does.

Rules: a counterexample is written as an answers file of a scripted crew, and played again from its
words on the whole documents before it is called one; what no words can cause (a stop of the run) or
no run of the whole documents came to is told as found in a slice only. The proof goes to standard
output, progress to standard error. Exit 0: nothing found; 1: something was.
"""

from __future__ import annotations

import json
import re
import sys
import time
from pathlib import Path
from typing import Any, Final, NamedTuple

from runner.engine import events as ev
from runner.engine.session import transition
from runner.engine.state import initial
from runner.engine.table import AcceptClass, Kind, Table
from runner.flow.loader import load_aircraft
from runner.flow.proof.explore import CREW
from runner.flow.proof.explore import step as send
from runner.flow.proof.homeward import Homeward, ways_home
from runner.flow.proof.monitor import Monitor
from runner.flow.proof.proving import Counterexample, Proof, jobs, prove
from runner.flow.proof.slices import goals
from runner.host.scripted import parse
from runner.words.spelling import spell
from runner.words.spoken import Context, WordFault, read

FOUND: Final = 1
LEFT_OUT: Final = (
    "how long anything has run beyond the lengths that the documents name",
    "how often anything was counted or asked beyond what a slice's own steps do",
    "more than one interruption, drill from outside or use of the paper card in one run",
    "answers by the wrong one or not surely heard, and unable, after one of these, over one another"
    " and beside drills that restart a list",
    "the flights before a later one, of which nothing is known at its beginning",
    "that what turns at the beginning of a later flight went through the needs of the one before",
    "runs alone, and runs of one list for practice",
)


class Shown(NamedTuple):
    """A counterexample with its file: whether the file, played again, shows the fault."""

    found: Counterexample
    lines: tuple[str, ...]
    again: bool


def prove_aircraft(folder: Path, form: str, out: Path | None, processes: int, part: str) -> int:
    """Prove the documents of an aircraft; 1 if anything is wrong."""
    table = load_aircraft(folder).table
    todo = jobs(str(folder), part)
    if not todo:
        print(f"no goal has {part!r} in its name; latchword prove {folder} has them all",
              file=sys.stderr)  # fmt: skip
        return 2
    proof, begun = Proof(), time.monotonic()
    told = sys.stderr.isatty()
    for number, result in enumerate(prove(todo, processes), 1):
        proof.take(result)
        if told:
            left = f"\r{number} of {len(todo)} shapes, {proof.states} states "
            print(left, end="", file=sys.stderr, flush=True)
    if told:
        print(f"in {time.monotonic() - begun:.0f} s", file=sys.stderr)
    shown = [show(table, found) for found in proof.faults]
    homeward = [way for way in ways_home(table) if not way.home]
    files = _write(out, shown) if out is not None else []
    if form == "json":
        report = as_data(table, proof, shown, homeward, part)
        print(json.dumps(report, indent=2, ensure_ascii=False))
    else:
        for line in as_text(table, proof, shown, homeward, part):
            print(line)
        for path in files:
            print(f"written: {path}")
    return 0 if proven(table, proof, homeward, part) else FOUND


def show(table: Table, found: Counterexample) -> Shown:
    """The answers file of a counterexample, played again from its words."""
    lines: list[str] = [f"# {found.goal}", f"# {found.what}"[:300]]
    try:
        lines += _spelled(table, found.events)
    except WordFault as fault:
        return Shown(found, (*lines, f"# no words: {fault}"), False)
    return Shown(found, tuple(lines), bool(found.events) and found.what in played(table, lines))


def _spelled(table: Table, events: tuple[ev.Event, ...]) -> list[str]:
    state, monitor, lines, last = initial(), Monitor(table), list[str](), 0
    for event in events:
        waited = ev.SayAgain(event.at)
        before = send(table, state, monitor, waited)[0] if state.flight else state
        if isinstance(event, ev.Opened):
            state, last = transition(table, state, event)[0], event.at
            continue
        # The words are read when everything due before them has happened.
        context = Context(table, before, event.at, getattr(event, "source", "key"))
        passed = event.at - last - 1000
        pause = f"@+{passed}ms " if passed > 0 else ""
        lines.append(pause + spell(event, context))
        state, monitor, _ = send(table, state, monitor, event)
        last = event.at
    return lines


def played(table: Table, lines: list[str]) -> list[str]:
    """What the judge finds in the run of a script's lines."""
    state, monitor, at = initial(), Monitor(table), 0
    opened = ev.Opened(0, modes=("crew",), crew=CREW, fit=tuple(table.fit))
    state, monitor, _ = send(table, state, monitor, opened)
    for given in parse(lines):
        at += given.passes
        due = send(table, state, monitor, ev.SayAgain(at))
        event = read(given.text, Context(table, due[0], at, "key"))
        state, monitor, _ = send(table, state, monitor, event)
    return [fault.split("): ", 1)[-1] for fault in monitor.faults]


def _write(out: Path, shown: list[Shown]) -> list[Path]:
    out.mkdir(parents=True, exist_ok=True)
    files = []
    for number, one in enumerate(shown, 1):
        name = re.sub(r"[^a-z0-9]+", "_", one.found.goal.lower()).strip("_")[:60]
        path = out / f"{number:02}_{name}.txt"
        path.write_text("\n".join(one.lines) + "\n", encoding="utf-8")
        files.append(path)
    return files


def coverage(table: Table, proof: Proof) -> dict[str, list[str]]:
    """What no explored run has reached, of what a run may: by what it is."""
    missing: dict[str, list[str]] = {"met": [], "unmet": [], "accepted": [], "not required": [],
                                     "branch": [], "end": []}  # fmt: skip
    reached = proof.reached
    for step in table.steps.values():
        wanted = [] if step.kind in (Kind.REMARK, Kind.CLOSING) else ["met"]
        if step.kind is Kind.COMPUTED:
            wanted = ["computed"]
        if step.limit is not None and step.kind is not Kind.COMPUTED:
            wanted.append("unmet")
        if step.limit is not None and step.accept not in (None, AcceptClass.MAINTENANCE):
            wanted.append("accepted")
        if step.own_when is not None:
            wanted.append("not required")
        for kind in wanted:
            over = kind == "met" and ("wait done", step.id) in reached
            if not over and (kind, step.id) not in reached:
                missing["met" if kind == "computed" else kind].append(step.id)
        if step.branch and ("entered", step.branch) not in reached:
            missing["branch"].append(step.branch)
    for flow in table.flows.values():
        if not {("list closed", flow.id), ("drill out", flow.id)} & reached:
            missing["end"].append(flow.id)
    return missing


HOLDS, BROKEN, UNSEEN = "holds", "broken", "never reached"
_DONE = ("met", "accepted", "computed", "wait done")


def verdicts(table: Table, proof: Proof, part: str) -> list[tuple[str, str, str]]:
    """Each need, limited step and list end: what kind, its name, and what was shown of it. Of what
    no explored run has reached nothing was shown."""
    broken, rows = proof.broken, list[tuple[str, str, str]]()
    for name in {j for j in broken if j.startswith("before ")}:
        rows.append(("need", name, BROKEN))

    def said(holds: bool, *reached: tuple[str, str]) -> str:
        return (HOLDS if proof.reached.intersection(reached) else UNSEEN) if holds else BROKEN

    for goal in goals(table):
        if part not in goal.name:
            continue
        if goal.need is not None:
            if goal.name not in broken:
                reached = [(kind, goal.need.before) for kind in _DONE]
                rows.append(("need", goal.name, said(True, *reached)))
        elif table.steps[goal.steps[0]].limit is not None:
            reached = [(kind, goal.name) for kind in (*_DONE, "unmet")]
            rows.append(("limit", goal.name, said(goal.name not in broken, *reached)))
    for flow in table.flows.values():
        own = [s.id for s in flow.steps if part in s.id]
        if own:
            reached = [("list closed", flow.id), ("drill out", flow.id)]
            rows.append(("end", flow.id, said(broken.isdisjoint(own), *reached)))
    return sorted(rows)


def proven(table: Table, proof: Proof, homeward: list[Homeward], part: str) -> bool:
    """Whether all of it holds: nothing broken, nothing stuck, nothing that was never reached."""
    shown = all(verdict == HOLDS for _, _, verdict in verdicts(table, proof, part))
    return proof.holds and not homeward and shown


def as_data(
    table: Table, proof: Proof, shown: list[Shown], homeward: list[Homeward], part: str
) -> dict[str, Any]:
    """The proof as plain data."""
    return {
        "aircraft": table.aircraft, "revision": table.revision,
        "holds": proven(table, proof, homeward, part),
        "slices": proof.slices, "shapes": proof.shapes, "states": proof.states,
        "transitions": proof.transitions,
        "goals": [{"kind": k, "name": n, "verdict": v} for k, n, v in verdicts(table, proof, part)],
        "counterexamples": [
            {
                "goal": one.found.goal, "beside": one.found.beside, "what": one.found.what,
                "length in the slice": len(one.found.way), "in the whole documents": one.again,
                "answers": list(one.lines),
            }
            for one in shown
        ],
        "not reached": coverage(table, proof) if not part else {},
        "stuck": proof.stuck, "dead ends": proof.dead_ends,
        "not explored whole": proof.unfinished,
        "no way home from": [way.place for way in homeward],
        "left out": [*LEFT_OUT, *sorted(proof.left_out)],
    }  # fmt: skip


def as_text(
    table: Table, proof: Proof, shown: list[Shown], homeward: list[Homeward], part: str
) -> list[str]:
    """The proof as lines to be read."""
    words = {"need": "no run reaches it without", "limit": "no run passes it out of limits",
             "end": "no run closes it over what is open"}  # fmt: skip
    lines = [f"{table.title}, revision {table.revision}"]
    for kind, name, verdict in verdicts(table, proof, part):
        why = {HOLDS: words[kind], BROKEN: "see below"}.get(verdict, "nothing is shown of it")
        lines.append(f"  {verdict if verdict == HOLDS else verdict.upper()}  {kind}  {name}: {why}")
    for one in shown:
        beside = f" beside {one.found.beside}" if one.found.beside else ""
        lines += ["", f"Counterexample to {one.found.goal}{beside}", f"  {one.found.what}"[:400]]
        if one.again:
            lines.append(f"  {len(one.lines) - 2} lines of a scripted crew, played again: it shows")
        else:
            lines.append("  found in the slice only; no run of the whole documents was shown")
            lines += [f"    {event}" for event in one.found.way]
    lines += [
        "",
        f"{proof.slices} slices of {proof.shapes} shapes, {proof.states} states, "
        f"{proof.transitions} transitions",
    ]
    if not part:
        for kind, missing in coverage(table, proof).items():
            lines.append(f"never {kind}: {', '.join(missing) or 'none'}")
    for step, number in sorted(proof.dead_ends.items()):
        lines.append(f"left only by discontinuing: {number} states at {step}")
    lines += [f"stuck: {name}" for name in proof.stuck]
    lines += [f"not explored whole: {name}" for name in proof.unfinished]
    lines += [f"no way home from {way.place}" for way in homeward]
    lines += ["left out:", *(f"  {what}" for what in (*LEFT_OUT, *sorted(proof.left_out)))]
    lines.append("proven" if proven(table, proof, homeward, part) else "NOT PROVEN")
    return lines
