"""A diagram in DOT, the open language of graphs, for whoever has a tool that lays it out.

Rules: every text stands in quotes with its quotes and backslashes escaped; a node has the id of its
step; what leads out of the diagram has a node of its own.
"""

from __future__ import annotations

from collections.abc import Iterator

from runner.flow.drawing.counts import Counts
from runner.flow.drawing.diagram import Diagram, Side


def draw(diagram: Diagram, counts: Counts | None = None) -> str:
    """The diagram as one directed graph."""
    return "\n".join(["digraph flow {", *_body(diagram, counts), "}", ""])


def quoted(text: str) -> str:
    """A text as DOT writes it; a line feed becomes its escape."""
    plain = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{plain}"'


def _body(diagram: Diagram, counts: Counts | None) -> Iterator[str]:
    yield f"  label={quoted(f'{diagram.title}: {diagram.subtitle}')};"
    yield '  node [shape=box, fontname="sans-serif"];'
    known = {row.id for row in diagram.rows}
    outside: dict[str, str] = {}
    edges: list[str] = []

    def leave(source: str, side: Side) -> None:
        target = side.node
        if target not in known:
            target = f"to:{side.target}"
            outside[target] = side.target
        edges.append(
            f"  {quoted(source)} -> {quoted(target)} [label={quoted(side.when)}, style=dashed];"
        )

    for row in diagram.rows:
        lines = [f"{row.number} {row.words}", row.answer, *row.notes]
        width = 1
        if counts is not None:
            lines.append(counts.text(f"{diagram.id}.{row.id}"))
            width += counts.weight(f"{diagram.id}.{row.id}")
        label = "\n".join(filter(None, lines))
        yield f"  {quoted(row.id)} [label={quoted(label)}, penwidth={width}];"
    for before, row in zip(diagram.rows, diagram.rows[1:], strict=False):
        only = f" [label={quoted('only if ' + row.when)}]" if row.when else ""
        edges.append(f"  {quoted(before.id)} -> {quoted(row.id)}{only};")
    for row in diagram.rows:
        for side in row.sides:
            leave(row.id, side)
    for end in diagram.ends if diagram.rows else ():
        leave(diagram.rows[-1].id, end)
    for node, text in outside.items():
        yield f"  {quoted(node)} [label={quoted(text)}, style=rounded];"
    yield from edges
