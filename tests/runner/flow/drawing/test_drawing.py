"""Every list, drill and aircraft drawn in every form: nothing cut, nothing over anything else."""

from __future__ import annotations

import re
from collections import Counter
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import pytest

from runner.flow.documents import Documents
from runner.flow.drawing import dot, paper, plain
from runner.flow.drawing.counts import Counts
from runner.flow.drawing.diagram import Diagram, Row, Side, of_aircraft, of_flow
from runner.flow.drawing.metrics import width, wrap
from runner.flow.loader import load_aircraft

# Many runs of what other tests go through too: traced they would take three times as long.
pytestmark = pytest.mark.no_cover

FLOWS = Path(__file__).resolve().parents[4] / "flows"
AIRCRAFT = {kind: load_aircraft(FLOWS / kind).parts for kind in ("corvane_c4", "tern_t2")}


def diagrams(documents: Documents) -> list[Diagram]:
    return [*(of_flow(documents, flow) for flow in documents.all()), of_aircraft(documents)]


ALL = {f"{kind}-{one.id}": one for kind, parts in AIRCRAFT.items() for one in diagrams(parts)}
LONG = Diagram(
    "long", "T" * 80, "of " * 40,
    (
        Row("a", "4000-4021", "W" * 80, "M" * 80, "S " * 30, 'x == "' + "Q" * 80 + '"', "CAUTION",
            ("n" * 200,), tuple(Side("W" * 70, "X" * 90, "") for _ in range(9))),
        Row("b", "4022", 'say "\\" <b> & co', "<script>"),
    ),
    (Side("E" * 90, "F" * 300, ""),),
)  # fmt: skip
ALL["long"] = LONG


@pytest.mark.parametrize("size", ["a4", "a5"])
@pytest.mark.parametrize("name", ALL)
def test_on_paper_nothing_is_cut_and_nothing_meets(name: str, size: paper.Paper) -> None:
    one = ALL[name]
    names = [f"{one.id}.{row.id}" for row in one.rows]
    counts = Counts(3, {name: Counter(answered=2) for name in names}, dict.fromkeys(names, 2))
    wide, high = paper.SIZES[size]
    shown = Counter[str]()
    for page in paper.pages(one, size, counts):
        for words in page.words:
            assert words.x >= 0
            assert words.x + words.wide <= wide - 8, words
            assert words.y <= high - 3
            shown.update("".join(words.text.split()))
        for a, b in combinations(page.words, 2):
            apart = (
                a.x + a.wide <= b.x + 0.01
                or b.x + b.wide <= a.x + 0.01
                or a.y + a.size * 0.25 <= b.y - b.size * 0.8
                or b.y + b.size * 0.25 <= a.y - a.size * 0.8
            )
            assert apart, (a, b)
        for (x, y, w, h), (x2, y2, w2, h2) in combinations(page.boxes, 2):
            assert x + w <= x2 or x2 + w2 <= x or y + h <= y2 or y2 + h2 <= y
        for x, y, w, h in page.boxes:
            assert x + w <= wide
            assert y + h <= high - 12
            for words in page.words:
                inside = x <= words.x <= x + w and y <= words.y - words.size * 0.3 <= y + h
                if inside:
                    assert words.x + words.wide <= x + w
                    assert words.y <= y + h
    said = [t for row in one.rows for t in (row.number, row.words, row.answer, *row.notes)]
    said += [t for row in one.rows for side in row.sides for t in (side.when, side.target)]
    said += [t for end in one.ends for t in (end.when, end.target)]
    wanted = Counter("".join("".join(said).split()))
    assert wanted <= shown


@pytest.mark.parametrize("name", ALL)
def test_an_svg_stands_alone(name: str) -> None:
    one = ALL[name]
    for text in (*paper.svg(one), paper.together(one, "a5")):
        root = ElementTree.fromstring(text)
        assert {child.tag.rpartition("}")[2] for child in root.iter()} <= {
            "svg", "g", "title", "rect", "path", "text",
        }  # fmt: skip
        assert not re.search(r"href|url\(|<script", text)
        assert set(re.findall(r"#[0-9a-f]{3,6}\b", text)) <= {"#000", "#fff"}
    assert paper.svg(one) == paper.svg(one)


@pytest.mark.parametrize("name", ALL)
def test_in_a_terminal_everything_stands_in_80_columns(name: str) -> None:
    one = ALL[name]
    text = plain.draw(one)
    assert max(map(len, text.splitlines())) <= 80
    letters = Counter("".join(text.split()))
    for row in one.rows:
        for words in (row.number, row.words, row.answer, *row.notes):
            assert Counter("".join(words.split())) <= letters
    if name != "long":
        flat = re.sub(r"[\s:|#]+", "", text)
        for row in one.rows:
            for side in row.sides:
                assert re.sub(r"[\s:|#]+", "", f"{side.when}-->{side.target}") in flat


@pytest.mark.parametrize("name", ALL)
def test_dot_names_every_step_once_and_quotes_every_text(name: str) -> None:
    one = ALL[name]
    text = dot.draw(one)
    quoted = r'"(?:[^"\\\n]|\\.)*"'
    attributes = rf"\[\w+={quoted}(?:, \w+=(?:{quoted}|\w+))*\]"
    node, edge = rf"{quoted} {attributes}", rf"{quoted} -> {quoted}(?: {attributes})?"
    lines = text.splitlines()
    assert lines[0] == "digraph flow {"
    assert lines[-1] == "}"
    nodes, ends = set(), set()
    for line in lines[1:-1]:
        head = rf"  (?:label={quoted}|node \[shape=box, fontname={quoted}\]|{node}|{edge});"
        assert re.fullmatch(head, line), line
        names = re.findall(quoted, line)
        if re.fullmatch(rf"  {edge};", line):
            ends |= set(names[:2])
        elif re.fullmatch(rf"  {node};", line):
            assert names[0] not in nodes
            nodes.add(names[0])
    assert ends <= nodes
    assert {dot.quoted(row.id) for row in one.rows} <= nodes


def test_what_decides_is_written_out() -> None:
    parts = AIRCRAFT["corvane_c4"]
    text = plain.draw(of_flow(parts, parts.lists["engage"]))
    said = " ".join(re.sub(r"(?m)^ {7}[|:#] *", "", text).split())
    for words in (
        "from 40 °C to 95 °C", "WAIT: Clutch drains", "150 s", "at most 1 min",
        "called at 30 s, 45 s", "time over --> drill Clutch or needles wrong",
        "NOT JOINED --> drill Clutch or needles wrong", "may be accepted: emergency only",
        "only if first_flight", "next in the day: list Run-up",
    ):  # fmt: skip
        assert words in said
    drill = plain.draw(of_flow(parts, parts.drills["fire_in_start"]))
    assert 'only if fire == "STILL BURNING"' in drill
    assert "MEMORY: Starter ... KEEPS CRANKING" in drill
    assert "aircraft unserviceable" in " ".join(drill.split())


def test_widths_are_those_of_the_face() -> None:
    # Liberation Sans 2, horizontal metrics read from the font: A 667, i 222, space 278; bold A 722.
    assert width("Ai ", 10) == pytest.approx(6.67 + 2.22 + 2.78)
    assert width("A", 10, bold=True) == pytest.approx(7.22)
    assert width("\u4e00", 10) >= 10
    lines = wrap("W" * 50 + " and so on", 3, 20)
    assert all(width(line, 3) <= 20 for line in lines)
    assert "".join(lines).replace(" ", "") == "W" * 50 + "andsoon"


def test_the_weight_of_a_line_follows_the_runs() -> None:
    steps = {
        "l.all": Counter({"answered": 6}), "l.some": Counter({"answered": 2, "accepted": 1}),
        "l.few": Counter({"answered": 1}), "l.not": Counter({"not required": 6}),
    }  # fmt: skip
    # In one of the runs "l.twice" was passed six times: that is not in every run.
    steps["l.twice"] = Counter({"answered": 6})
    counts = Counts(6, steps, {"l.all": 6, "l.some": 3, "l.few": 1, "l.twice": 1})
    weights = [counts.weight(f"l.{one}") for one in ("all", "some", "few", "twice", "not", "never")]
    assert weights == [3, 2, 1, 1, 0, 0]
    assert counts.text("l.some") == "answered 2, accepted 1"
    assert counts.text("l.never") == "never reached"
