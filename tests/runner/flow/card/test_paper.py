"""Cards of both types printed at both sizes and read back, letter by letter."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections import defaultdict
from pathlib import Path

import pytest

from runner.engine.table import Kind
from runner.flow.card.pdf import FACE, NothingFetched, as_pdf
from runner.flow.card.shapes import Box, Card, Chunk, End, Line, Part, Reply, Section
from runner.flow.card.sizes import BODY, CAPITAL, LEADING, PAPERS, Size
from tests.runner.flow.card.reading import (
    CODE,
    KINDS,
    SIZES,
    Letter,
    bare,
    body,
    card_of,
    edge,
    located,
    pages_of,
    read,
)

# Many runs of what other tests go through too: traced they would take three times as long.
pytestmark = pytest.mark.no_cover

BOTH = pytest.mark.parametrize(
    ("kind", "size"),
    [
        pytest.param(kind, size, marks=() if size == "a5" else pytest.mark.long)
        for kind in KINDS
        for size in SIZES
    ],
)
STRAY = 0.3
"""mm by which the ink of a letter may leave its own space."""


@BOTH
def test_the_text_is_that_of_the_card_and_what_belongs_together_stands_on_one_page(
    kind: str, size: Size
) -> None:
    found = located(kind, size)
    steps = sum(token.kind == "step" for token, _ in found)
    assert steps == sum(len(list(part.lines)) for part in card_of(kind).parts)
    on: dict[tuple[int, ...], set[int]] = defaultdict(set)
    sections: dict[tuple[int, ...], set[int]] = defaultdict(set)
    memory: dict[tuple[int, ...], set[int]] = defaultdict(set)
    parts = card_of(kind).parts
    for token, pages in found:
        number, *rest = token.where
        if len(rest) >= 3:
            section, box, chunk = rest[:3]
            on[number, section, box, chunk] |= set(pages)
            if parts[number].sections[section].boxes[box].memory:
                memory[number, section, box] |= set(pages)
        if rest and token.kind not in ("end", "ends"):
            sections[number, rest[0]] |= set(pages)
    assert all(len(pages) == 1 for pages in on.values())
    assert memory
    assert all(len(pages) == 1 for pages in memory.values())
    # None of these sections is taller than a page: none is parted.
    parted = [where for where, pages in sections.items() if len(pages) > 1]
    assert parted == []
    headings = {token.where: pages for token, pages in found if token.kind == "heading"}
    for (number, section), pages in headings.items():
        assert pages in ([], sorted(on[number, section, 0, 0]))
    titles = {token.where: pages for token, pages in found if token.kind == "title"}
    assert all(titles[number,] == sorted(on[number, 0, 0, 0]) for (number,) in titles)


@BOTH
def test_every_page_says_which_card_it_is(kind: str, size: Size) -> None:
    card, pages = card_of(kind), pages_of(kind, size)
    for number, page in enumerate(pages, 1):
        said = edge(page, size)
        assert said.startswith(bare(f"{card.title}, revision {card.revision}Registration____"))
        assert f"Documents{CODE}" in said
        assert said.endswith(f"page{number}of{len(pages)}")
    front = "".join(one.text for one in body(pages[0], size))
    assert front.count(bare("it is not approved data, not an instrument")) == 1
    whole = "".join(one.text for page in pages for one in page)
    assert whole.count(bare("it is not approved data")) == 1


@BOTH
def test_the_contents_name_the_page_of_every_list(kind: str, size: Size) -> None:
    card, pages = card_of(kind), pages_of(kind, size)
    begin = {
        token.where[0]: where[0] + 1
        for token, where in located(kind, size)
        if token.kind == "title"
    }
    first = min(begin.values())
    front = "".join(one.text for page in pages[: first - 1] for one in body(page, size))
    for number, part in enumerate(card.parts):
        assert bare(f"{part.title}{part.span}{begin[number]}") in front


@BOTH
def test_nothing_is_cut_or_over_anything_else(kind: str, size: Size) -> None:
    for page in pages_of(kind, size):
        inside(page, size)
        apart(page)


def inside(page: list[Letter], size: Size) -> None:
    paper = PAPERS[size]
    assert page
    for one in page:
        assert one.left > paper.left - STRAY
        assert one.right < paper.wide - paper.right + STRAY
        assert one.top > 3
        assert one.bottom < paper.high - 3


def apart(page: list[Letter]) -> None:
    """No letter stands upon another: the boxes of two share less than a third of the smaller."""
    row = sorted(page)
    row.sort(key=lambda one: one.left)
    for n, one in enumerate(row):
        for other in row[n + 1 :]:
            if other.left >= one.right:
                break
            wide = min(one.right, other.right) - other.left
            high = min(one.bottom, other.bottom) - max(one.top, other.top)
            if wide > 0 and high > 0:
                area = min((x.right - x.left) * (x.bottom - x.top) for x in (one, other))
                assert wide * high < area / 3 + 0.05, (one, other)


def test_letters_upon_each_other_would_be_seen() -> None:
    with pytest.raises(AssertionError):
        apart([Letter("a", 10, 10, 12, 12), Letter("b", 10.5, 10, 12.5, 12)])
    with pytest.raises(AssertionError):
        inside([Letter("a", 140, 10, 143, 12)], "a5")


def test_what_is_acted_on_is_large_enough() -> None:
    # 0.10 inch, and a gap of a quarter of that at least: NASA CR-177605, from memory.
    assert BODY * CAPITAL >= 2.54
    assert BODY * (LEADING - CAPITAL) >= BODY * CAPITAL / 4
    # Half and more of the capitals of a list are its responses; the box of a letter is a little
    # wider than its ink. What is smaller is the line under the title, what is larger the headings.
    letters = [one for page in pages_of("corvane_c4", "knee")[4:] for one in body(page, "knee")]
    capitals = [one.bottom - one.top for one in letters if one.text in "EFHILT"]
    assert len(capitals) > 2000
    assert sum(2.54 <= high <= 2.65 for high in capitals) > len(capitals) * 0.8


W = "W" * 80
LONG = "of words that go on and on " * 7


def hostile() -> Card:
    """A card whose every text is as long as a document may write it, or looks like markup."""
    lines = tuple(
        Line(9990 + n, kind, words, "both", "maintenance only",
             (Reply(W, box=True, aside=LONG), Reply("°C", blank=True), Reply("<b>&</style>")),
             LONG + W, (LONG, W), memory=n < 3)
        for n, (kind, words) in enumerate(
            [(Kind.CAUTION, LONG), (Kind.READING, W), (Kind.CHALLENGE, LONG), (Kind.REMARK, W),
             (Kind.CHOICE, "</style><script>x</script>"), (Kind.CLOSING, "'\"\\ {{ 1 }}")]
        )
    )  # fmt: skip
    section = Section(LONG, (Box(True, (Chunk(lines[:3]),)), Box(False, (Chunk(lines[3:]),))))
    part = Part("x", W, True, "c0de", (LONG, W), (section,), (End(W, LONG, (LONG, W)),))
    return Card(
        'T"</style> of a name as long as it may be written', "<i>", "1", "C", False, (part,)
    )


@pytest.mark.parametrize("size", SIZES)
def test_the_longest_texts_wrap_and_markup_is_text(size: Size) -> None:
    pages = read(as_pdf(hostile(), size).data)
    for page in pages:
        inside(page, size)
    text = "".join(one.text for page in pages for one in body(page, size))
    for said in (W, "</style><script>x</script>", "'\"\\{{1}}", "<b>&</style>", bare(LONG)):
        assert said in text
    assert edge(pages[0], size).startswith('T"</style>ofanameaslongasitmaybewritten,revision1')


MAKE = """
import hashlib, sys
from tests.runner.flow.card.reading import card_of
from runner.flow.card.pdf import as_pdf
print(hashlib.sha256(as_pdf(card_of("tern_t2", "engage", "low_rotor"), "knee").data).hexdigest())
"""


def test_the_same_bytes_come_again_anywhere(project: Path, tmp_path: Path) -> None:
    sums = set()
    for seed, zone in (("1", "UTC"), ("2", "Pacific/Auckland")):
        home = tmp_path / seed
        home.mkdir()
        environment = {
            **os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "PYTHONPATH": str(project),
            "SOURCE_DATE_EPOCH": seed, "HOME": str(home),
        }  # fmt: skip
        done = subprocess.run(
            [sys.executable, "-c", MAKE], cwd=home, env=environment, capture_output=True,
            text=True, check=True,
        )  # fmt: skip
        sums.add(done.stdout)
    assert len(sums) == 1
    made = as_pdf(card_of("tern_t2", "engage", "low_rotor"), "knee")
    assert not re.search(rb"Date|/ID|Author|Creator", made.data)
    assert made.faces == {FACE}


def test_nothing_is_fetched() -> None:
    from runner.flow.card.pdf import _refuse

    with pytest.raises(NothingFetched, match="https://example"):
        _refuse("https://example.invalid/a.png", 10)
