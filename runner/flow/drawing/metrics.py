"""How wide a text is in the sans serif of paper, and its lines within a width.

Rules: widths are those of the face that every system has one of the same metrics as (measured in
Liberation Sans 2, which says that it is metric-compatible with Arial); a letter that is not in the
table counts as the widest. Nothing is ever cut off: a word wider than its line is parted.
"""

from __future__ import annotations

from typing import Final

FACES: Final = "'Liberation Sans', Arial, Helvetica, sans-serif"

# Thousandths of the size, from the space to the tilde.
_REGULAR: Final = [
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278, 556, 556, 556,
    556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556, 1015, 667, 667, 722, 722, 667,
    611, 778, 722, 278, 500, 667, 556, 833, 722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667,
    667, 611, 278, 278, 278, 469, 556, 333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500,
    222, 833, 556, 556, 556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584,
]  # fmt: skip
_BOLD: Final = [
    278, 333, 474, 556, 556, 889, 722, 238, 333, 333, 389, 584, 278, 333, 278, 278, 556, 556, 556,
    556, 556, 556, 556, 556, 556, 556, 333, 333, 584, 584, 584, 611, 975, 722, 722, 722, 722, 667,
    611, 778, 722, 278, 556, 722, 611, 833, 722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667,
    667, 611, 333, 278, 333, 584, 556, 333, 556, 611, 556, 611, 556, 333, 611, 611, 278, 278, 556,
    278, 889, 611, 611, 611, 611, 389, 556, 333, 611, 556, 778, 556, 556, 500, 389, 280, 389, 584,
]  # fmt: skip
_MORE: Final = {"°": 400, "–": 556, "−": 584, "’": 278, "×": 584, "·": 278, "é": 556, "ä": 556}
_WIDEST: Final = 1015


def width(text: str, size: float, *, bold: bool = False) -> float:
    """The width of a text, in the unit of `size`."""
    table = _BOLD if bold else _REGULAR
    total = 0
    for letter in text:
        place = ord(letter) - 32
        total += table[place] if 0 <= place < len(table) else _MORE.get(letter, _WIDEST)
    return total * size / 1000


def wrap(text: str, size: float, most: float, *, bold: bool = False) -> list[str]:
    """The lines of a text, none wider than `most`."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if width(longer, size, bold=bold) <= most:
            line = longer
            continue
        if line:
            lines.append(line)
        line = word
        while width(line, size, bold=bold) > most and len(line) > 1:
            fits = next(
                (
                    n
                    for n in range(len(line) - 1, 1, -1)
                    if width(line[:n], size, bold=bold) <= most
                ),
                1,
            )
            lines.append(line[:fits])
            line = line[fits:]
    return [*lines, line] if line else lines
