"""A QR code (ISO/IEC 18004) in the cells of a terminal, for the camera of a phone.

Rules: two rows of the code in one row of cells, by half blocks; the quiet zone of four modules that
the standard asks for is drawn too; dark on light whatever the theme, because not every reader takes
the reverse: with colours by naming both, without them by which half of the cells is filled.
"""

from __future__ import annotations

from audit.errors import ReceiptError

QUIET = 4
# black on white of ECMA-48: every terminal with colours has them
_DARK_ON_LIGHT = "\x1b[30;47m"
_PLAIN = "\x1b[0m"
# by (upper, lower): which halves of a cell the character fills
_CELLS = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def modules(text: str) -> list[list[bool]]:
    """The rows of the code for `text`, quiet zone included; True is dark."""
    try:
        import segno
    except ImportError:
        raise ReceiptError(
            "no QR code: the package segno is not installed; the receipt itself needs none"
        ) from None
    code = segno.make_qr(text, error="l")
    return [[bool(cell) for cell in row] for row in code.matrix_iter(border=QUIET)]


def drawn(rows: list[list[bool]], *, colors: bool, filled_is_dark: bool) -> list[str]:
    """The rows of cells. Without colours a filled cell is dark where the terminal writes dark on
    light (`filled_is_dark`), and light where it writes light on dark."""
    fill = colors or filled_is_dark
    width = len(rows[0])
    if len(rows) % 2:
        # the last row of cells has a lower half too: quiet zone
        rows = [*rows, [False] * width]
    lines = []
    for upper, lower in zip(rows[::2], rows[1::2], strict=True):
        cells = "".join(_CELLS[(a is fill, b is fill)] for a, b in zip(upper, lower, strict=True))
        lines.append(f"{_DARK_ON_LIGHT}{cells}{_PLAIN}" if colors else cells)
    return lines
