"""The card of an aircraft, or of some of its lists and drills, made from the engine's table.

Rules: the steps stand in the order of the table and have its numbers, which are the screen's; no
step is left out. A caution or remark is kept with the next step that is none; memory items that
follow each other share a box.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from itertools import groupby

from runner.engine.table import Flow, Kind, Step, Table
from runner.flow.card.shapes import Box, Card, Chunk, Line, Part, Section
from runner.flow.card.wording import Wording

_FOR_THE_NEXT = (Kind.CAUTION, Kind.REMARK)
_TURNING = {
    "airborne": "airborne", "rotor": "rotor turning", "engine": "engine running, rotor stopped",
    "nothing": "nothing turning",
}  # fmt: skip


def make_card(
    table: Table, codes: Mapping[str, str], code: str, only: Collection[str] = ()
) -> Card:
    """The card of `only` these lists and drills, in the order of their numbers; of all, if none.

    `codes` has the code of each document by its name ("lists/start.yaml"), `code` is over all.
    """
    wording = Wording(table)
    flows = sorted(table.flows.values(), key=lambda flow: flow.steps[0].number)
    chosen = [flow for flow in flows if not only or flow.id in only]
    ways: tuple[tuple[str, str], ...] = ()
    if not only:
        ways = tuple((_TURNING[what], wording.place(to)) for what, to in table.discontinue.items())
    return Card(
        title=table.title,
        operator=table.operator,
        revision=table.revision,
        code=code,
        whole=not only,
        parts=tuple(_part(flow, wording, codes) for flow in chosen),
        ways=ways,
    )


def _part(flow: Flow, wording: Wording, codes: Mapping[str, str]) -> Part:
    folder = "drills" if flow.drill else "lists"
    return Part(
        id=flow.id,
        title=flow.title,
        drill=flow.drill,
        code=codes[f"{folder}/{flow.id}.yaml"],
        head=tuple(_head(flow, wording)),
        sections=tuple(_sections(flow.steps, wording)),
        ends=tuple(wording.end(end) for end in flow.ends),
    )


def _head(flow: Flow, wording: Wording) -> Iterable[str]:
    """What holds for a whole list, in sentences."""
    yield flow.method[:1].upper() + flow.method[1:]
    if flow.when is not None:
        yield f"Only if {wording.condition(flow.when)}"
    if flow.flights != "every":
        yield f"Of the {flow.flights} flight of a day"
    if flow.group:
        yield f"Open together with the other lists of {flow.group}"
    if flow.any_order:
        yield "In any order"
    if flow.valid_until:
        yield f"Stays valid until: {', '.join(sorted(flow.valid_until))}"
    if flow.next_flight:
        yield "After it the next flight may begin"
    if flow.mutes:
        yield f"Silences the time {wording.timers(flow.mutes)}"


def _sections(steps: Iterable[Step], wording: Wording) -> Iterable[Section]:
    """A step with a heading begins a section, which goes on to the next heading."""
    under: list[tuple[str, list[Step]]] = []
    for step in steps:
        if step.section or not under:
            under.append((step.section, []))
        under[-1][1].append(step)
    for heading, inside in under:
        chunks = _chunks(wording.line(step) for step in inside)
        boxes = groupby(chunks, lambda chunk: chunk.lines[-1].memory)
        yield Section(heading, tuple(Box(memory, tuple(row)) for memory, row in boxes))


def _chunks(lines: Iterable[Line]) -> Iterable[Chunk]:
    held: list[Line] = []
    for line in lines:
        held.append(line)
        if line.kind not in _FOR_THE_NEXT:
            yield Chunk(tuple(held))
            held = []
    if held:
        yield Chunk(tuple(held))
