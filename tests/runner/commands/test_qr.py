"""The QR code as a phone sees it: the cells of the terminal turned into a picture, then decoded."""

from __future__ import annotations

import sys
from collections.abc import Sequence

import pytest
import zxingcpp

from audit.errors import ReceiptError
from audit.receipt import Receipt
from runner.commands.qr import QUIET, drawn, modules
from runner.terminal.receiptpage import fitted

RECEIPT = Receipt("ab" * 32, "20261124-215003-ab12cd", 3, 57, True, 1_795_557_003_412, "cd" * 32)
SCALE = 4
HALVES = {" ": (0, 0), "▀": (1, 0), "▄": (0, 1), "█": (1, 1)}


def pixels(rows: Sequence[str], *, filled: int, empty: int) -> bytes:
    """What the cells look like: one byte a pixel, 0 black, 255 white."""
    picture = bytearray()
    for row in rows:
        for half in (0, 1):
            line = b"".join(
                bytes([filled if HALVES[cell][half] else empty]) * SCALE for cell in row
            )
            picture += line * SCALE
    return bytes(picture)


def decoded(rows: Sequence[str], *, filled: int, empty: int) -> list[str]:
    picture = memoryview(pixels(rows, filled=filled, empty=empty))
    shaped = picture.cast("B", [len(rows) * 2 * SCALE, len(rows[0]) * SCALE])
    found = zxingcpp.read_barcodes(
        shaped,
        formats=zxingcpp.barcode_formats_from_str("QRCode"),
        try_rotate=False,
        try_invert=False,
    )
    return [one.text for one in found]


def test_a_terminal_that_writes_dark_on_light() -> None:
    rows = drawn(modules(RECEIPT.short), colors=False, filled_is_dark=True)
    assert decoded(rows, filled=0, empty=255) == [RECEIPT.short]
    # on the other kind of terminal the same cells are a negative, which not every reader takes
    assert decoded(rows, filled=255, empty=0) == []


def test_a_terminal_that_writes_light_on_dark() -> None:
    rows = drawn(modules(RECEIPT.short), colors=False, filled_is_dark=False)
    assert decoded(rows, filled=255, empty=0) == [RECEIPT.short]


@pytest.mark.parametrize("filled_is_dark", [True, False])
def test_with_colours_it_is_dark_on_light_in_every_theme(filled_is_dark: bool) -> None:
    rows = drawn(modules(RECEIPT.short), colors=True, filled_is_dark=filled_is_dark)
    bare = []
    for row in rows:
        assert row.startswith("\x1b[30;47m")
        assert row.endswith("\x1b[0m")
        bare.append(row.removeprefix("\x1b[30;47m").removesuffix("\x1b[0m"))
    assert decoded(bare, filled=0, empty=255) == [RECEIPT.short]


def test_its_size_and_its_quiet_zone() -> None:
    rows = modules(RECEIPT.short)
    # version 4 of ISO/IEC 18004 has 33 modules a side
    assert {len(row) for row in rows} == {33 + 2 * QUIET} == {len(rows)}
    for at in (*range(QUIET), *range(-QUIET, 0)):
        assert not any(rows[at])
        assert not any(row[at] for row in rows)
    assert len(drawn(rows, colors=False, filled_is_dark=True)) == 21


@pytest.mark.parametrize(("filled_is_dark", "filled", "empty"), [(True, 0, 255), (False, 255, 0)])
def test_a_page_with_less_quiet_zone_is_read_too(
    filled_is_dark: bool, filled: int, empty: int
) -> None:
    """By the reader of the tests, with the title and the keys of a page right above and below."""
    whole = drawn(modules(RECEIPT.short), colors=False, filled_is_dark=filled_is_dark)
    blank = whole[0]
    assert [len(fitted(whole, height)) for height in (40, 21, 20, 19, 18)] == [21, 21, 20, 19, 19]
    rows = fitted(whole, 19)
    assert (rows[0], rows[-1], rows[1] == blank) == (blank, blank, False)
    assert decoded(["▀" * len(blank), *rows, "▄" * len(blank)], filled=filled, empty=empty) == [
        RECEIPT.short
    ]


def test_without_the_package_the_receipt_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "segno", None)
    with pytest.raises(ReceiptError, match="segno is not installed"):
        modules(RECEIPT.short)
