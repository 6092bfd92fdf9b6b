"""What is drawn in DOT is read and laid out by a tool of that language, which is not ours."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import pytest

from runner.flow.drawing import dot
from runner.flow.drawing.counts import Counts
from runner.flow.drawing.diagram import Diagram
from tests.runner.flow.drawing.test_drawing import ALL

DOT = shutil.which("dot") or ""
SVG = "{http://www.w3.org/2000/svg}"

pytestmark = pytest.mark.skipif(not DOT, reason="dot, of graphviz, is not here")


def laid_out(folder: Path) -> subprocess.CompletedProcess[str]:
    """Every .dot file of a folder as an SVG beside it, by one run of the tool."""
    files = sorted(map(str, folder.glob("*.dot")))
    return subprocess.run([DOT, "-Tsvg", "-O", *files], capture_output=True, text=True, check=False)


def parts(file: Path) -> tuple[dict[str, list[str]], list[str]]:
    """The nodes of a drawing with the lines in them, and its edges, as the tool names both."""
    nodes, edges = {}, []
    for group in ElementTree.parse(file).iter(f"{SVG}g"):
        title = group.findtext(f"{SVG}title") or ""
        if group.get("class") == "node":
            nodes[title] = ["".join(one.itertext()) for one in group.iter(f"{SVG}text")]
        elif group.get("class") == "edge":
            edges.append(title)
    return nodes, edges


def expected(one: Diagram, counts: Counts) -> dict[str, list[str]]:
    """The lines that each row has to show, its words as people read them."""
    return {
        row.id: [
            text for text in (f"{row.number} {row.words}", row.answer, *row.notes,
                              counts.text(f"{one.id}.{row.id}")) if text
        ]
        for row in one.rows
    }  # fmt: skip


def test_every_list_drill_and_aircraft_is_laid_out_as_it_is_meant(tmp_path: Path) -> None:
    counts = Counts(1, {}, {})
    for name, one in ALL.items():
        (tmp_path / f"{name}.dot").write_text(dot.draw(one, counts), "utf-8")
    done = laid_out(tmp_path)
    assert done.returncode == 0, done.stderr
    assert "error" not in done.stderr.lower()
    for name, one in ALL.items():
        nodes, edges = parts(tmp_path / f"{name}.dot.svg")
        for row, lines in expected(one, counts).items():
            shown = [" ".join(line.split()) for line in nodes[row]]
            assert shown == [" ".join(line.split()) for line in lines], (name, row)
        ways = sum(len(row.sides) for row in one.rows) + len(one.ends)
        assert len(edges) == len(one.rows) - 1 + ways, name
        # A node that no line declares would be made by the tool itself, named as it is called.
        outside = nodes.keys() - expected(one, counts).keys()
        assert all(node.startswith("to:") for node in outside), (name, outside)
        assert all(nodes[node] == [" ".join(node[3:].split())] for node in outside), name


@pytest.mark.parametrize(
    ("right", "wrong"), [('" -> "', '" => "'), ('\\"', '"'), ("];\n", "\n")]
)  # fmt: skip
def test_what_is_not_of_the_language_would_be_seen(tmp_path: Path, right: str, wrong: str) -> None:
    text = dot.draw(ALL["long"])
    assert right in text
    (tmp_path / "one.dot").write_text(text.replace(right, wrong, 1), "utf-8")
    done = laid_out(tmp_path)
    assert done.returncode != 0
    assert "syntax error" in done.stderr
