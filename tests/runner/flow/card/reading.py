"""Cards printed and read back: every letter of a page with its place, by PDFium.

Rules: a card is printed once for all tests that look at it; what stands at the edge of the page is
told from its body by the margins of the paper. Lengths are mm from the left and from the top.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pypdfium2

from runner.flow.card.content import make_card
from runner.flow.card.pdf import as_pdf
from runner.flow.card.shapes import ACCEPTED, LETTERS, Card, Part
from runner.flow.card.sizes import PAPERS, Size
from runner.flow.loader import load_aircraft

FLOWS = Path(__file__).resolve().parents[4] / "flows"
KINDS = ("corvane_c4", "tern_t2")
SIZES: tuple[Size, ...] = ("a5", "knee")
CODE = "0A1B2C3D"
MM = 25.4 / 72


class Letter(NamedTuple):
    """One printed character and its box."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


class Token(NamedTuple):
    """One text of the card in the order of print: what it belongs to and its letters."""

    kind: str
    where: tuple[int, ...]
    text: str


@cache
def card_of(kind: str, *only: str) -> Card:
    loaded = load_aircraft(FLOWS / kind)
    return make_card(
        loaded.table, {one.name: one.sha256[:8] for one in loaded.documents}, CODE, only
    )


@cache
def pages_of(kind: str, size: Size) -> list[list[Letter]]:
    return read(as_pdf(card_of(kind), size).data)


def read(data: bytes) -> list[list[Letter]]:
    """The letters of every page, without spaces, in the order in which they are printed."""
    document = pypdfium2.PdfDocument(data)
    found = []
    for page in document:
        high = page.get_height() * MM
        text = page.get_textpage()
        letters = []
        for n in range(text.count_chars()):
            one = text.get_text_range(n, 1)
            if one.strip():
                left, low, right, top = (value * MM for value in text.get_charbox(n))
                letters.append(Letter(one, left, high - top, right, high - low))
        found.append(letters)
    document.close()
    return found


def body(letters: list[Letter], size: Size) -> list[Letter]:
    """What stands between the margins at the top and the bottom."""
    paper = PAPERS[size]
    low = paper.high - paper.ends
    return [one for one in letters if one.top > paper.ends - 0.5 and one.bottom < low + 0.5]


def edge(letters: list[Letter], size: Size) -> str:
    """What stands above and below that."""
    inside = set(body(letters, size))
    return "".join(one.text for one in letters if one not in inside)


def bare(text: str) -> str:
    return "".join(text.split())


def tokens(number: int, part: Part, revision: str) -> Iterator[Token]:
    """Every text of a list or drill as it has to stand on paper, in its order."""
    yield Token("title", (number,), f"{'Drill: ' if part.drill else ''}{part.title}")
    said = (*part.head, f"Document {part.code}, revision {revision}")
    yield Token("head", (number,), "".join(f"{one}." for one in said))
    for s, section in enumerate(part.sections):
        yield Token("heading", (number, s), section.heading)
        when = ""
        for b, box in enumerate(section.boxes):
            if box.memory:
                yield Token("label", (number, s, b), "By heart")
            for c, chunk in enumerate(box.chunks):
                for line in chunk.lines:
                    where = (number, s, b, c, line.number)
                    if line.when and line.when != when:
                        yield Token("when", where, f"If {line.when}:")
                    when = line.when
                    caution = "CAUTION" if line.kind.value == "caution" else ""
                    yield Token("step", where, f"{line.number}{caution}{line.words}")
                    for reply in line.replies:
                        aside = f"({reply.aside})" if reply.aside else ""
                        yield Token("reply", where, reply.text + aside)
                    who = LETTERS[line.who] if line.who else ""
                    yield Token("who", where, who + ACCEPTED.get(line.accept, ""))
                    yield Token("notes", where, "".join(f"{note}." for note in line.notes))
    if part.ends:
        yield Token("ends", (number,), "How it ends")
    for n, end in enumerate(part.ends):
        condition = f", if {end.when}" if end.when else ""
        more = "".join(f"{said}." for said in end.leads[1:])
        yield Token("end", (number, n), f"{end.label}{condition}: {end.leads[0]}.{more}")


def located(kind: str, size: Size) -> list[tuple[Token, list[int]]]:
    """Every text with the pages that its letters stand on; fails where paper and card differ."""
    return found_in(pages_of(kind, size), card_of(kind), size)


def found_in(
    read_pages: list[list[Letter]], card: Card, size: Size
) -> list[tuple[Token, list[int]]]:
    """The same of any print of a card, whoever printed it."""
    wanted = [t for n, part in enumerate(card.parts) for t in tokens(n, part, card.revision)]
    letters = [
        (number, one.text) for number, page in enumerate(read_pages) for one in body(page, size)
    ]
    printed = "".join(text for _, text in letters)
    expected = "".join(bare(token.text) for token in wanted)
    # What stands before the first list is the front page: title, legend, contents.
    begin = len(printed) - len(expected)
    assert printed[begin:] == expected
    found = []
    at = begin
    for token in wanted:
        length = len(bare(token.text))
        found.append((token, sorted({number for number, _ in letters[at : at + length]})))
        at += length
    return found
