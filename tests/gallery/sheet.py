"""Images of the reference pictures, for looking at them one by one.

Rules: a browser draws them, so that what is looked at is what the picture holds and not what this
program meant; each picture becomes one image of its own size, under the name of its state.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
)
LONGEST_S = 120
WIDEST, TALLEST = 1720, 1800
"""Pixels of an image: what is larger is made smaller by many viewers, and then nobody reads it."""
LINE = 30


def make(pictures: Sequence[Path], root: Path, folder: Path, looks: int = 0) -> int:
    """Images of the pictures in `folder`, of their first `looks` looks or of all; the exit code."""
    browser = next((found for name in BROWSERS if (found := shutil.which(name))), None)
    if browser is None:
        print(
            f"no images: none of {', '.join(BROWSERS)} is on the PATH. Install one of them, or"
            f" open the pictures under {root} in any browser.",
            file=sys.stderr,
        )
        return 1
    folder.mkdir(parents=True, exist_ok=True)
    by_size: dict[str, list[Path]] = {}
    for picture in pictures:
        by_size.setdefault(picture.stem, []).append(picture)
    with tempfile.TemporaryDirectory() as home:
        for size, ones in by_size.items():
            width, height = _size_of(ones[0])
            if looks:
                # Three looks stand beside each other, in two rows.
                width, height = width * min(looks, 3) // 3, height * (-(-looks // 3)) // 2
            abreast = max(1, WIDEST // width)
            each = abreast * max(1, TALLEST // (height + LINE))
            for number in range(0, len(ones), each):
                group = ones[number : number + each]
                page = Path(home) / "sheet.html"
                page.write_text(_page(group, width, height), encoding="utf-8")
                target = folder / f"{size}-{number // each + 1:02}.png"
                high = -(-len(group) // abreast) * (height + LINE)
                _shoot(browser, page, target, abreast * width, high, Path(home))
                print(target, *(one.parent.name for one in group))
    return 0


def _size_of(picture: Path) -> tuple[int, int]:
    found = re.search(r'width="(\d+)" height="(\d+)"', picture.read_text(encoding="utf-8"))
    if found is None:
        raise ValueError(f"{picture}: no size; it is drawn by tests/gallery/draw.py")
    return int(found[1]), int(found[2])


def _page(pictures: Sequence[Path], width: int, height: int) -> str:
    style = (
        f"body{{margin:0;font:20px sans-serif;line-height:{LINE}px}}"
        f"figure{{margin:0;float:left}}div{{width:{width}px;height:{height}px;overflow:hidden}}"
    )
    shown = "".join(
        f'<figure>{picture.parent.name}<div><img src="{picture.resolve().as_uri()}"></div></figure>'
        for picture in pictures
    )
    return f'<!doctype html><meta charset="utf-8"><style>{style}</style>{shown}'


def _shoot(browser: str, page: Path, target: Path, width: int, height: int, home: Path) -> None:
    command = [
        browser,
        *FLAGS,
        f"--user-data-dir={home / 'profile'}",
        f"--window-size={width},{height}",
        f"--screenshot={target.resolve()}",
        page.as_uri(),
    ]
    done = subprocess.run(command, capture_output=True, timeout=LONGEST_S, check=False)
    if done.returncode or not target.is_file():
        raise SystemExit(f"{browser} made no image of {page}: {done.stderr.decode()[-400:]}")
