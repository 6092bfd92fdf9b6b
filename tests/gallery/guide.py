"""The pictures of the guide for the crew: `python tests/gallery/guide.py` draws them again.

Rules: each is a state of the gallery at the cockpit's size by day, so that a screen which changes
takes the guide along; what the guide does not show is deleted.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
if __name__ == "__main__":
    sys.path.insert(0, str(PROJECT))

from runner.terminal.picture import svg  # noqa: E402
from tests.gallery.draw import gallery  # noqa: E402
from tests.gallery.scenes import SIZES  # noqa: E402

GUIDE = PROJECT / "docs" / "crew.md"
PICTURES = PROJECT / "docs" / "crew"
SHOWN = {
    "step": "asking",
    "limit": "unmet-commander",
    "standby": "standby-long",
    "drills": "drills",
    "copy": "page-copy-late",
}
"""The names of the guide's pictures, and the states that they show."""


def named() -> list[str]:
    """The pictures that the guide shows, in order."""
    return re.findall(r"!\[[^\]]+\]\(crew/([a-z]+)\.svg\)", GUIDE.read_text(encoding="utf-8"))


def drawn() -> dict[str, str]:
    """Each picture as an SVG document."""
    cockpit = {one.scene.name: one for one in gallery() if one.size == SIZES[0]}
    return {
        name: svg(cockpit[state].rows["day"], title=cockpit[state].scene.shows)
        for name, state in SHOWN.items()
    }


if __name__ == "__main__":
    PICTURES.mkdir(exist_ok=True)
    for path in PICTURES.glob("*.svg"):
        path.unlink()
    for name, picture in drawn().items():
        (PICTURES / f"{name}.svg").write_text(picture, encoding="utf-8", newline="\n")
