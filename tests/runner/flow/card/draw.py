"""Reference pictures of cards: `python -m tests.runner.flow.card.draw` draws them again.

Rules: few pages, small, grey; to be looked at one by one before they are committed. A page is
compared in tiles of a few letters: edges differ a little between builds of what draws them, but a
letter, a line or a box that is gone, moved or changed darkens or lightens its tile.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any, Final

import pypdfium2
from PIL import Image

from runner.flow.card.pdf import as_pdf
from runner.flow.card.sizes import Size
from tests.runner.flow.card.reading import card_of

PICTURES: Final = Path(__file__).resolve().parent / "pictures"
CARDS: Final[dict[str, tuple[str, str, Size]]] = {
    "engage-a5": ("corvane_c4", "engage", "a5"),
    "engage-knee": ("corvane_c4", "engage", "knee"),
    "magneto-fault-a5": ("corvane_c4", "magneto_fault", "a5"),
    "ground-resonance-knee": ("corvane_c4", "ground_resonance", "knee"),
    "shutdown-a5": ("tern_t2", "shutdown", "a5"),
    "post-flight-knee": ("tern_t2", "post_flight", "knee"),
}
DPI: Final = 84
TILE: Final = 8
"""Pixels: 2.4 mm, about one letter."""
MOST: Final = 26
"""Of 255: how far the mean of a tile may be off. Between the builds 1.07 and 2.1 of Liberation Sans
it was 23 at most; a line to write on that is missing is 28."""
NOTABLE: Final = 8
MOST_NOTABLE: Final = 8
"""So many tiles may be off by more than NOTABLE: between those builds 3 at most; a page without
its leaders has dozens. The letters themselves are compared elsewhere, one by one."""


def drawn(name: str) -> list[Image.Image]:
    """The pages of one card behind its front page, grey, in sixteen steps; of the first card the
    front page too, which is the same for all."""
    kind, flow, size = CARDS[name]
    document = pypdfium2.PdfDocument(as_pdf(card_of(kind, flow), size).data)
    pages = [grey(page.render(scale=DPI / 72, grayscale=True).to_pil()) for page in document]
    return pages if name == next(iter(CARDS)) else pages[1:]


def grey(picture: Image.Image) -> Image.Image:
    return picture.convert("L").point([round(value / 17) * 17 for value in range(256)])


def kept(name: str) -> list[Image.Image]:
    """The reference of one card."""
    return [Image.open(io.BytesIO(one.read_bytes())).convert("L") for one in files(name)]


def files(name: str) -> list[Path]:
    return sorted(PICTURES.glob(f"{name}-[0-9].png"))


def differs(one: Image.Image, other: Image.Image) -> str:
    """In what two pages differ by more than builds do; empty if they do not."""
    if one.size != other.size:
        return f"{one.size} pixels, not {other.size}"
    small = (-(-one.width // TILE), -(-one.height // TILE))
    pairs = zip(_means(one, small), _means(other, small), strict=True)
    off = [abs(a - b) for a, b in pairs]
    notable = sum(one > NOTABLE for one in off)
    if max(off) <= MOST and notable <= MOST_NOTABLE:
        return ""
    return f"off by {max(off)} in a tile, in {notable} tiles notably"


def _means(picture: Image.Image, small: tuple[int, int]) -> list[int]:
    whole = Image.new("L", (small[0] * TILE, small[1] * TILE), 255)
    whole.paste(picture)
    data: Any = whole.resize(small, Image.Resampling.BOX).tobytes()
    return list(data)


def main() -> None:
    PICTURES.mkdir(exist_ok=True)
    for name in CARDS:
        for old in files(name):
            old.unlink()
        for number, page in enumerate(drawn(name), 1):
            page.quantize(16).save(PICTURES / f"{name}-{number}.png", optimize=True)


if __name__ == "__main__":
    main()
