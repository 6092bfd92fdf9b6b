"""At a real terminal: colours of the depth promised, no flash of another page, all given back."""

from __future__ import annotations

import re
import signal
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from runner.terminal.bare import FAILED
from runner.terminal.themes import THEMES, Theme
from tests.terminal_crew import work
from tests.terminal_day import TO_THE_LISTS, demo, lines, verified
from tests.terminal_driver import Terminal
from tests.terminal_paper import DEFAULT, Painted, papers

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")

FULL = {"TERM": "xterm-256color", "COLORTERM": "truecolor", "NO_COLOR": ""}


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


def painted(screen: Terminal) -> Painted:
    return papers(screen.output.decode("utf-8"))


@pytest.mark.parametrize(
    ("environment", "words", "kinds"),
    [
        (FULL, (), {"rgb"}),
        ({"TERM": "xterm-256color", "COLORTERM": ""}, (), {"256"}),
        ({"TERM": "xterm", "COLORTERM": ""}, (), {"16"}),
        (FULL, ("--color", "never"), set()),
        ({**FULL, "NO_COLOR": "1"}, (), set()),
        ({**FULL, "NO_COLOR": "1"}, ("--color", "always"), {"rgb"}),
        ({"TERM": "vt220", "COLORTERM": ""}, (), set()),
    ],
    ids=["true", "256", "16", "never", "NO_COLOR", "always", "vt220"],
)
def test_colours_are_of_the_depth_promised(
    logs: Path, environment: dict[str, str], words: tuple[str, ...], kinds: set[str]
) -> None:
    given = {"NO_COLOR": "", **environment}
    with Terminal(demo(logs, "--theme", "night", *words), environment=given) as screen:
        work(screen, lines(*TO_THE_LISTS))
        screen.key("f10")
        screen.see_text("DARK")
        found = painted(screen)
    assert found.kinds == kinds
    assert (found.seen == {DEFAULT}) == (not kinds)
    sequences = set(re.findall(rb"[34]8;[25];", screen.output))
    wanted = {"rgb": {b"38;2;", b"48;2;"}, "256": {b"38;5;", b"48;5;"}}
    assert sequences == set().union(*(wanted.get(kind, set()) for kind in kinds))


def test_a_dumb_terminal_gets_lines_and_no_sequence(logs: Path) -> None:
    with Terminal(demo(logs), environment={"TERM": "dumb", "COLORTERM": "truecolor"}) as terminal:
        terminal.see_text("still to read it: commander, copilot")
        assert terminal.output.startswith(b"MODE: plain lines")
        assert b"\x1b" not in terminal.output


def leave(screen: Terminal) -> None:
    screen.passes(1000)
    for key in "leave run open":
        screen.key(key)
    screen.see(lambda: "leave run open" in screen.text().lower(), "the words typed")
    screen.key("enter", after_ms=1000)


def fail(screen: Terminal) -> None:
    screen.fail("runner.terminal.canvas", "Canvas._write")
    screen.resize(90, 30)


ENDS: dict[str, tuple[Callable[[Terminal], None], str]] = {
    "left": (leave, "the run was left open and can be resumed"),
    "SIGTERM": (lambda screen: screen.process.send_signal(signal.SIGTERM), "can be resumed"),
    "SIGHUP": (lambda screen: screen.process.send_signal(signal.SIGHUP), "can be resumed"),
    "crash": (fail, "broken for a test); the run stays open"),
}


@pytest.mark.parametrize("end", ENDS)
@pytest.mark.parametrize("theme", ["night", "dark"])
def test_a_dark_theme_shows_no_light_page_and_gives_all_back(
    logs: Path, theme: str, end: str
) -> None:
    does, said = ENDS[end]
    with Terminal(demo(logs, "--theme", theme), environment=FULL) as screen:
        modes, settings = screen.modes(), screen.line_settings()
        work(screen, lines(*TO_THE_LISTS, "not so"))
        assert screen.modes() != modes
        assert screen.line_settings() != settings
        screen.resize(40, 12)
        screen.see_text("NOT SO, STILL ASKED")
        screen.key("f1")
        screen.see_text("DRILLS: NUMBER OPENS")
        screen.key("escape")
        screen.see(lambda: "DRILLS: NUMBER" not in screen.text(), "the list again")
        screen.resize(80, 24)
        screen.see_text("NOT SO, STILL ASKED")
        does(screen)
        assert screen.wait() == 75
        assert (screen.modes(), screen.line_settings()) == (modes, settings)
        screen.see_text(said)
        found = painted(screen)
    assert found.seen <= of(THEMES[theme], "paper")
    assert found.inks <= of(THEMES[theme], "ink")
    assert "255,255,255" not in found.seen | found.inks
    page = rgb(THEMES[theme].pens["text"].paper)  # type: ignore[index]
    assert (found.entered_in, found.left_in, found.paper) == ([page], [page], DEFAULT)
    # Nothing was written on the terminal's own page but what is said at the end.
    assert "LIST" not in found.outside
    assert "Traceback" not in screen.output.decode()
    assert verified(logs) == "unclosed"


def of(theme: Theme, what: str) -> set[str]:
    """The papers or inks of a theme."""
    return {rgb(getattr(pen, what)) for pen in theme.pens.values()}


def rgb(colour: str) -> str:
    return ",".join(str(int(colour[at : at + 2], 16)) for at in (1, 3, 5))


def test_the_list_goes_on_where_the_screen_cannot_be_drawn(logs: Path) -> None:
    with Terminal(demo(logs), 40, 12) as screen:
        work(screen, lines(*TO_THE_LISTS))
        # The question stands, and what is typed from now on is not thrown away with the one before.
        screen.see(lambda: "AS SHOWN" in screen.hint(), "the question")
        screen.fail("runner.terminal.bare", "screen")
        screen.fail("runner.terminal.fullscreen", "cut_of")
        screen.see_text(FAILED)
        screen.key("f12")
        screen.see_text("PAGE OPEN: KEYS")
        screen.key("escape")
        screen.see(lambda: "PAGE OPEN" not in screen.text(), "the list again")
        screen.see_text("1 MAINTENANCE RELEASE")
        screen.key("+", after_ms=1000)
        screen.see_text("2 HOURS TO NEXT INSPECTION")
        screen.passes(1000)
        for key in ("3", "8", ".", "4"):
            screen.key(key)
        screen.see_text("> 38.4_")
        screen.key("enter")
        screen.see_text("3 OPEN DEFECTS")
        leave(screen)
        assert screen.wait() == 75
        assert b"Traceback" not in screen.output
