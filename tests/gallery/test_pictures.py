"""The reference pictures are what the program draws, and nothing that can be seen has none.

Rules: byte for byte; where one differs the test says which rows of the screen did, and how to draw
them again once they have been looked at.
"""

from __future__ import annotations

from difflib import unified_diff
from pathlib import Path
from xml.etree import ElementTree

import pytest

from audit.shapes import CREW_MODES, OTHER_MODES
from runner.engine.effects import Prompt, Voice
from runner.host.run import LOST
from runner.terminal.fullscreen import AWAY, BAD_KEYS
from runner.terminal.keystate import Page
from runner.terminal.layout import IN_HAND
from runner.terminal.parts import MODE_BANDS
from runner.terminal.rows import text
from tests.gallery.draw import LOOKS, PICTURES, Taken, gallery, scenes, stale
from tests.gallery.scenes import SIZES

SVG = "{http://www.w3.org/2000/svg}"
AGAIN = "look at the change, then draw again: python tests/gallery/draw.py"
NAMES = [scene.name for scene in scenes()]
REFUSED = "refused"
"""In the name of a state whose words are meant to be refused."""


def taken(name: str) -> list[Taken]:
    return [one for one in gallery() if one.scene.name == name]


def described(path: Path) -> str:
    """The text of the screen that a picture holds."""
    return ElementTree.fromstring(path.read_bytes()).findtext(f"{SVG}desc") or ""


@pytest.mark.parametrize("name", NAMES)
def test_a_picture_is_what_the_program_draws(name: str) -> None:
    for one in taken(name):
        assert one.path.is_file(), f"{one.named} has no picture; {AGAIN}"
        if one.path.read_bytes() == one.svg().encode():
            continue
        was, now = described(one.path), text(one.rows["day"])
        rows = "\n".join(
            unified_diff(was.split("\n"), now.split("\n"), "picture", "now", "", "", 1)
        )
        pytest.fail(f"{one.named}: {rows or 'the text is the same, its look is not'}\n{AGAIN}")


def test_no_picture_is_left_of_a_state_that_is_gone() -> None:
    left = [str(path.relative_to(PICTURES)) for path in stale({one.path for one in gallery()})]
    assert not left, f"{left}; {AGAIN}"


def test_no_two_states_have_one_name() -> None:
    assert len(set(NAMES)) == len(NAMES)


def test_every_question_has_a_picture() -> None:
    assert {one.view.prompt for one in gallery()} == set(Prompt)


def test_every_page_has_a_picture() -> None:
    assert {one.aside.keys.page for one in gallery()} == set(Page)


def test_every_band_has_a_picture_at_every_size() -> None:
    """Whatever the program can put up: of the run's modes, of its state, of the keys."""
    modes = {MODE_BANDS[mode] for mode in (*CREW_MODES, *OTHER_MODES)} - {""}
    assert modes | {MODE_BANDS["only"]} == set(MODE_BANDS.values()) - {""}
    words = {*MODE_BANDS.values(), *IN_HAND, "IN FLIGHT", LOST, AWAY, BAD_KEYS} - {""}
    for size in SIZES:
        seen = {word for one in gallery() if one.size == size for word in words if _says(one, word)}
        assert seen == words, size


def _says(one: Taken, band: str) -> bool:
    rows = text(one.rows["day"]).split("\n")
    return any(band in row.split(" | ") for row in rows)


@pytest.mark.parametrize("name", NAMES)
def test_a_state_is_reached_as_it_is_meant(name: str) -> None:
    """Words that are refused on the way show another state than the one that is named."""
    for one in taken(name):
        refused = [m.text for m in one.aside.messages if m.kind is Voice.REFUSED]
        meant = REFUSED in name or name == "own-fault"
        assert bool(refused) == meant, f"{one.named}: {refused}"


def test_no_state_looks_like_another() -> None:
    """Two states that look alike at every size are one state, or one was not reached."""
    seen: dict[str, str] = {}
    for name in NAMES:
        whole = "\n\n".join(text(one.rows["day"]) for one in taken(name))
        assert whole not in seen, f"{name} looks like {seen.get(whole)}"
        seen[whole] = name


def test_a_picture_holds_every_look() -> None:
    """Each look has a group of its own, with its name above it and the rows that all share."""
    root = ElementTree.fromstring(taken("asking")[0].svg())
    groups = [g for g in root.iter(f"{SVG}g") if g.get("transform") and g.get("class")]
    captions = [group.findtext(f"{SVG}text") for group in groups]
    assert captions == [name for name, _, _ in LOOKS]
    assert len(list(root.iter(f"{SVG}use"))) == len(LOOKS)
    assert not list(root.iter(f"{SVG}script"))
    assert not list(root.iter(f"{SVG}image"))
