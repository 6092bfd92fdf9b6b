"""`card`: the paper backup of lists and drills, as PDF, HTML or text.

Rules: a card is of one aircraft; a folder gives all of it, documents only themselves, always with
the numbers that they have within the aircraft. No file is written over, and none is begun before
its bytes are made. The code over all documents is the one of the first page of a run.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from runner.commands.drawing import named
from runner.flow.card.content import make_card
from runner.flow.card.html import as_html
from runner.flow.card.pdf import FACE, NoPrinter, as_pdf
from runner.flow.card.plain import as_text
from runner.flow.card.shapes import Card
from runner.flow.card.sizes import Size
from runner.flow.faults import nearest_word
from runner.flow.loader import load_aircraft
from runner.host.papers import papers
from runner.host.places import PlaceFault
from runner.terminal.document_groups import code_of_all

USAGE: Final = 2
_CODE: Final = 8


def card(paths: Sequence[Path], pdf: Path | None, html: Path | None, size: Size) -> int:
    """Make the card of what paths name, and write it where it was asked for."""
    made = _card(paths)
    if pdf is not None:
        try:
            printed = as_pdf(made, size)
        except NoPrinter as missing:
            raise PlaceFault(str(missing)) from None
        others = printed.faces - {FACE}
        if others:
            print(
                f"set in {', '.join(sorted(others))}: {FACE} is not installed (fonts-liberation), "
                "so look whether every page is as it should be",
                file=sys.stderr,
            )
        _write(printed.data, pdf)
    elif html is not None:
        _write(as_html(made, size).encode(), html)
    else:
        print(as_text(made), end="")
    return 0


def _card(paths: Sequence[Path]) -> Card:
    folders: set[Path] = set()
    only: set[str] = set()
    whole = False
    for path in paths:
        folder, name = named(path)
        folders.add(folder.resolve())
        whole = whole or not name
        only |= {name} if name else set()
    if len(folders) > 1:
        names = ", ".join(sorted(str(one) for one in folders))
        raise PlaceFault(f"a card is of one aircraft, and these are several: {names}", USAGE)
    loaded = load_aircraft(named(paths[0])[0])
    for name in sorted(only):
        if name not in loaded.table.flows:
            near = nearest_word(name, loaded.table.flows)
            hint = f"; did you mean {near}?" if near else ""
            raise PlaceFault(f"there is no list or drill {name!r}{hint}")
    hashes = {one.name: one.sha256 for one in loaded.documents}
    code = code_of_all(papers(loaded.table, hashes, (), (), _nobody_told))
    codes = {name: sha256[:_CODE] for name, sha256 in hashes.items()}
    return make_card(loaded.table, codes, code, () if whole else only)


def _nobody_told(_: str) -> None:
    """Of no run before this one is anything to be told: none is read."""


def _write(data: bytes, path: Path) -> None:
    try:
        with path.open("xb") as stream:
            stream.write(data)
    except FileExistsError:
        raise PlaceFault(f"{path} is there already; name another file, or move it") from None
    print(path, file=sys.stderr)
