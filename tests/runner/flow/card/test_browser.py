"""The page of the card printed by a browser, as a crew without the `pdf` extra prints it."""

from __future__ import annotations

import shutil
import subprocess
from collections import defaultdict
from pathlib import Path

import pypdfium2
import pytest

from runner.flow.card.html import as_html
from runner.flow.card.sizes import PAPERS, Size
from tests.runner.flow.card.reading import MM, card_of, found_in, read

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or ""


@pytest.mark.skipif(not BROWSER, reason="Chromium is not here")
def test_what_a_browser_prints_has_every_step_in_the_order_of_the_flow(tmp_path: Path) -> None:
    card = card_of("tern_t2")
    size: Size = "a5"
    page, printed = tmp_path / "card.html", tmp_path / "card.pdf"
    page.write_text(as_html(card, size), "utf-8")
    done = subprocess.run(
        # Its own cage of processes is refused to an administrator; the page holds nothing foreign.
        [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
         "--no-first-run", "--disable-extensions", "--no-pdf-header-footer",
         f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={printed}", page.as_uri()],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert printed.exists(), done.stderr
    data = printed.read_bytes()
    document = pypdfium2.PdfDocument(data)
    paper = PAPERS[size]
    for sheet in document:
        assert sheet.get_width() * MM == pytest.approx(paper.wide, abs=0.5)
        assert sheet.get_height() * MM == pytest.approx(paper.high, abs=0.5)
    document.close()
    # Letter by letter: every text of every list and drill, nothing missing, nothing between.
    found = found_in(read(data), card, size)
    steps = [token.where[-1] for token, _ in found if token.kind == "step"]
    assert steps == [line.number for part in card.parts for line in part.lines]
    together: dict[tuple[int, ...], set[int]] = defaultdict(set)
    memory: dict[tuple[int, ...], set[int]] = defaultdict(set)
    for token, pages in found:
        if len(token.where) >= 4:  # a step, with the caution that is for it
            number, section, box = token.where[:3]
            together[token.where[:4]] |= set(pages)
            if card.parts[number].sections[section].boxes[box].memory:
                memory[number, section, box] |= set(pages)
    assert memory
    assert all(len(pages) == 1 for pages in (*together.values(), *memory.values()))
