"""The reference pictures of the screen: `python tests/gallery/draw.py` draws all of them again.

Rules: a picture is one state at one size, in every look; the clock is fixed and nothing of the
machine is in it, so that the same program always draws the same bytes; what no state has any more
is deleted. `--sheet FOLDER` turns the pictures into images to be looked at, by a browser that this
machine must have; the tests need none.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from runner.engine.effects import View
from runner.terminal.aside import Aside, Size
from runner.terminal.picture import Look, looks_svg
from runner.terminal.rows import Rows
from runner.terminal.themes import DAY, THEMES, Depth, Theme
from tests.gallery.scenes import SIZES, Scene, play
from tests.gallery.states_limits import limits
from tests.gallery.states_over import drills, over
from tests.gallery.states_questions import questions
from tests.gallery.states_run import whole_run

PICTURES = Path(__file__).with_name("pictures")
LOOKS: tuple[tuple[str, Theme, Depth], ...] = (
    *((name, theme, Depth.FULL) for name, theme in THEMES.items()),
    ("day, in one bit", DAY, Depth.ONE_BIT),
)


class Taken(NamedTuple):
    """A state at a size: its rows by theme, and what the screen was drawn from."""

    scene: Scene
    size: Size
    rows: dict[str, Rows]
    view: View
    aside: Aside

    @property
    def path(self) -> Path:
        """The file of its picture."""
        return PICTURES / self.scene.name / f"{self.size.columns}x{self.size.rows}.svg"

    @property
    def named(self) -> str:
        """The state and the size, for people."""
        return f"{self.scene.name} at {self.size.columns}x{self.size.rows}"

    def svg(self) -> str:
        """The picture."""
        looks = [Look(name, theme, depth, self.rows[theme.name]) for name, theme, depth in LOOKS]
        return looks_svg(looks, f"{self.scene.shows}, {self.size.columns}x{self.size.rows}")


@cache
def scenes() -> tuple[Scene, ...]:
    """Every state that has a picture."""
    return (*whole_run(), *questions(), *limits(), *drills(), *over())


@cache
def gallery() -> tuple[Taken, ...]:
    """Every state at every size."""
    return tuple(_take(scene, size) for scene in scenes() for size in SIZES)


def _take(scene: Scene, size: Size) -> Taken:
    seat = play(scene, size)
    rows = {theme.name: seat.rows(theme) for theme in reversed([*THEMES.values()])}
    return Taken(scene, size, rows, seat.view, seat.aside)


def stale(wanted: set[Path]) -> Iterator[Path]:
    """Pictures of states that are there no more."""
    return (path for path in sorted(PICTURES.rglob("*.svg")) if path not in wanted)


def draw_all() -> int:
    """Draws every picture and deletes the others; how many files changed."""
    changed = 0
    for taken in gallery():
        path, data = taken.path, taken.svg().encode()
        if not path.is_file() or path.read_bytes() != data:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
            changed += 1
    for path in stale({taken.path for taken in gallery()}):
        path.unlink()
        changed += 1
        if not any(path.parent.iterdir()):
            path.parent.rmdir()
    return changed


def main() -> int:
    """Draws, or makes the images for looking at."""
    parser = argparse.ArgumentParser(description="Draws the reference pictures of the screen.")
    parser.add_argument("--sheet", type=Path, metavar="FOLDER", help="also make images there")
    parser.add_argument("--only", default="", metavar="NAME", help="images of these states only")
    parser.add_argument("--looks", type=int, default=0, metavar="N", help="the first N looks only")
    parser.add_argument("--size", default="", metavar="40x12", help="images of this size only")
    given = parser.parse_args()
    changed = draw_all()
    print(f"{len(gallery())} pictures of {len(scenes())} states, {changed} changed")
    if given.sheet is None:
        return 0
    from tests.gallery.sheet import make

    pictures = [
        taken.path
        for taken in gallery()
        if taken.scene.name.startswith(given.only) and given.size in ("", taken.path.stem)
    ]
    return make(pictures, PICTURES, given.sheet, given.looks)


if __name__ == "__main__":
    raise SystemExit(main())
