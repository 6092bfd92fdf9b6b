"""Pages look as they did when somebody last looked at them."""

from __future__ import annotations

import pypdfium2
import pytest

from runner.flow.card import pdf
from runner.flow.card.html import as_html
from tests.runner.flow.card import draw
from tests.runner.flow.card.reading import card_of

AGAIN = "look at it, then: python -m tests.runner.flow.card.draw"


@pytest.mark.parametrize("name", draw.CARDS)
def test_pages_are_as_kept(name: str) -> None:
    now, then = draw.drawn(name), draw.kept(name)
    assert len(now) == len(then)
    for page, (one, other) in enumerate(zip(now, then, strict=True), 1):
        found = draw.differs(one, other)
        assert not found, f"page {page} of {name}: {found}; {AGAIN}"


def test_no_picture_is_left_over() -> None:
    known = [file for name in draw.CARDS for file in draw.files(name)]
    assert sorted(known) == sorted(draw.PICTURES.iterdir())


def test_black_is_all_the_colour_there_is() -> None:
    data = pdf.as_pdf(card_of("corvane_c4", "engage"), "a5").data
    for page in pypdfium2.PdfDocument(data):
        # Smoothed edges are grey: the channels of every pixel are equal.
        channels = page.render(scale=1).to_pil().convert("RGB").split()
        assert channels[0].tobytes() == channels[1].tobytes() == channels[2].tobytes()
        assert channels[0].getextrema() == (0, 255)


PLANTED = {
    "no box round memory items": (".memory { border: .6mm", ".memory { border: 0mm"),
    "no box round a caution": (
        ".3mm solid #000; border-left-width: 1.6mm", "0mm solid #000; border-left-width: 0",
    ),
    "no leaders": ("linear-gradient(90deg, #000 0%", "linear-gradient(90deg, #fff 0%, #fff 30%"),
    "nothing to tick": ("height: 2.5mm; border: .3mm", "height: 2.5mm; border: 0mm"),
    "no line to write on": ("3.3mm; border-bottom: .3mm", "3.3mm; border-bottom: 0mm"),
    "no bar beside what a condition decides": ("border-left: .8mm", "border-left: 0mm"),
    "no line under a heading": ("border-bottom: .3mm solid #000; break-after", "break-after"),
    "less between steps": ("padding: .45mm 0", "padding: .35mm 0"),
    "smaller type": ("html { font: 3.7mm", "html { font: 3.6mm"),
}  # fmt: skip


@pytest.mark.parametrize("what", PLANTED)
def test_a_change_of_the_look_is_seen(what: str, monkeypatch: pytest.MonkeyPatch) -> None:
    right, wrong = PLANTED[what]
    name = "magneto-fault-a5"
    assert right in as_html(card_of("corvane_c4", "magneto_fault"))
    monkeypatch.setattr(
        pdf, "as_html", lambda card, size: as_html(card, size).replace(right, wrong)
    )
    now, then = draw.drawn(name), draw.kept(name)
    assert [1 for one, other in zip(now, then, strict=False) if draw.differs(one, other)]
