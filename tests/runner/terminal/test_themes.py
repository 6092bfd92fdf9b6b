"""Themes: contrast, one bit, and colours that mean one thing only."""

from __future__ import annotations

import colorsys

import pytest

from runner.terminal.rows import Tone
from runner.terminal.themes import (
    DARK,
    DAY,
    NIGHT,
    THEMES,
    Depth,
    Theme,
    depth_of,
    find_theme,
    next_theme,
    pen,
    style,
)

COLOURED = [DAY, NIGHT, DARK]


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.1 defines it (W3C Recommendation, "relative luminance")."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    line = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * line[0] + 0.7152 * line[1] + 0.0722 * line[2]


def rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_formula_at_its_ends() -> None:
    """WCAG 2.1: black on white is 21:1, equal colours 1:1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#777777") == pytest.approx(1)


# The 16 colours as PC text mode had them and as xterm has them by default: from memory.
VGA = {
    "black": "#000000", "red": "#aa0000", "green": "#00aa00", "yellow": "#aa5500",
    "blue": "#0000aa", "magenta": "#aa00aa", "cyan": "#00aaaa", "gray": "#aaaaaa",
    "brightblack": "#555555", "brightred": "#ff5555", "brightgreen": "#55ff55",
    "brightyellow": "#ffff55", "brightblue": "#5555ff", "brightmagenta": "#ff55ff",
    "brightcyan": "#55ffff", "white": "#ffffff",
}  # fmt: skip
XTERM = {
    "black": "#000000", "red": "#cd0000", "green": "#00cd00", "yellow": "#cdcd00",
    "blue": "#0000ee", "magenta": "#cd00cd", "cyan": "#00cdcd", "gray": "#e5e5e5",
    "brightblack": "#7f7f7f", "brightred": "#ff0000", "brightgreen": "#00ff00",
    "brightyellow": "#ffff00", "brightblue": "#5c5cff", "brightmagenta": "#ff00ff",
    "brightcyan": "#00ffff", "white": "#ffffff",
}  # fmt: skip
PALETTES = {"VGA": VGA, "xterm": XTERM}
LEVELS = (0, 95, 135, 175, 215, 255)
"""Of the cube of 6x6x6 among 256 colours, and below the 24 greys: xterm's formulas, from memory."""
INDEXED = {
    *(f"#{r:02x}{g:02x}{b:02x}" for r in LEVELS for g in LEVELS for b in LEVELS),
    *(f"#{8 + 10 * n:02x}" + f"{8 + 10 * n:02x}" * 2 for n in range(24)),
}


def parts(said: str) -> tuple[str, str, set[str]]:
    """Ink, paper and flags of a style."""
    words = said.split()
    ink = next(w.removeprefix("fg:") for w in words if w.startswith("fg:"))
    paper = next(w.removeprefix("bg:") for w in words if w.startswith("bg:"))
    return ink, paper, {w for w in words if ":" not in w}


def shown(said: str, palette: dict[str, str], bold_is_bright: bool) -> tuple[str, str]:
    """Ink and paper as a terminal of 16 colours shows a style."""
    ink, paper, flags = parts(said)
    ink, paper = ink.removeprefix("ansi"), paper.removeprefix("ansi")
    if bold_is_bright and "bold" in flags:
        ink = {"black": "brightblack", "gray": "white"}.get(ink, f"bright{ink}" if
               f"bright{ink}" in palette else ink)  # fmt: skip
    return palette[ink], palette[paper]


@pytest.mark.parametrize(("theme", "least"), [(DAY, 7.0), (NIGHT, 4.5), (DARK, 4.5)])
def test_every_tone_can_be_read(theme: Theme, least: float) -> None:
    """WCAG 2.1: 7:1 enhanced, 4.5:1 minimum for text of any size."""
    for tone in Tone:
        one = theme.pens[tone]
        assert contrast(one.ink, one.paper) >= least, tone


@pytest.mark.parametrize("bold_is_bright", [False, True])
@pytest.mark.parametrize("palette", PALETTES)
@pytest.mark.parametrize("theme", COLOURED, ids=lambda t: t.name)
def test_every_tone_can_be_read_in_sixteen_colours(
    theme: Theme, palette: str, *, bold_is_bright: bool
) -> None:
    """WCAG 2.1, 4.5:1, in both palettes, on terminals that brighten bold and on others."""
    for tone in Tone:
        said = style(pen(theme, tone, Depth.SIXTEEN), Depth.SIXTEEN)
        ink, paper = shown(said, PALETTES[palette], bold_is_bright)
        assert contrast(ink, paper) >= 4.5, (tone, ink, paper)


@pytest.mark.parametrize("palette", PALETTES)
@pytest.mark.parametrize("theme", COLOURED, ids=lambda t: t.name)
def test_bold_changes_no_colour_among_sixteen(theme: Theme, palette: str) -> None:
    for tone in Tone:
        said = style(pen(theme, tone, Depth.SIXTEEN), Depth.SIXTEEN)
        plain = shown(said, PALETTES[palette], False)
        assert shown(said, PALETTES[palette], True) == plain, tone


@pytest.mark.parametrize("theme", COLOURED, ids=lambda t: t.name)
def test_every_colour_is_one_of_the_256(theme: Theme) -> None:
    """So nothing is brought to another colour, and the contrast of 256 is that of true colour."""
    for tone, one in theme.pens.items():
        assert {one.ink, one.paper} <= INDEXED, tone
        assert style(one, Depth.INDEXED) == style(one, Depth.FULL)


@pytest.mark.parametrize("theme", COLOURED, ids=lambda t: t.name)
def test_warnings_are_clearly_red_and_cautions_amber(theme: Theme) -> None:
    red, green, blue = rgb(theme.pens[Tone.WARNING].paper)
    assert red > 2 * max(green, blue)
    red, green, blue = rgb(theme.pens[Tone.CAUTION].paper)
    assert red > green > 2 * blue
    assert rgb(theme.pens[Tone.WARNING].paper)[1] < green


def test_the_dark_theme_has_one_hue() -> None:
    hues = {
        round(colorsys.rgb_to_hsv(*(c / 255 for c in rgb(DARK.pens[tone].ink)))[0] * 360)
        for tone in (Tone.TEXT, Tone.SMALL, Tone.STRONG, Tone.BIG, Tone.INPUT)
    }
    assert max(hues) - min(hues) <= 5


@pytest.mark.parametrize("theme", list(THEMES.values()), ids=lambda t: t.name)
@pytest.mark.parametrize("depth", [Depth.ONE_BIT, Depth.INDEXED, Depth.FULL])
def test_the_challenge_looks_like_nothing_else(theme: Theme, depth: Depth) -> None:
    big = style(pen(theme, Tone.BIG, depth), depth)
    others = {tone for tone in Tone if style(pen(theme, tone, depth), depth) == big}
    assert others == {Tone.BIG}
    assert "bold" in big


def test_day_is_black_on_white_and_knows_no_grey() -> None:
    for tone in Tone:
        one = DAY.pens[tone]
        for colour in (one.ink, one.paper):
            grey = colour[1:3] == colour[3:5] == colour[5:7]
            assert not grey or colour in ("#000000", "#ffffff")
    assert (DAY.pens[Tone.TEXT].ink, DAY.pens[Tone.TEXT].paper) == ("#000000", "#ffffff")


@pytest.mark.parametrize("theme", [NIGHT, DARK])
def test_no_bright_white_at_night(theme: Theme) -> None:
    for one in theme.pens.values():
        for colour in (one.ink, one.paper):
            assert luminance(colour) < 0.5
        assert "ansiwhite" not in (one.ink16, one.paper16)


@pytest.mark.parametrize("theme", COLOURED)
def test_red_is_for_warnings_and_amber_for_cautions(theme: Theme) -> None:
    for tone, one in theme.pens.items():
        named = {one.ink16.removeprefix("ansi"), one.paper16.removeprefix("ansi")}
        assert bool(named & {"red", "brightred"}) == (tone is Tone.WARNING)
        assert bool(named & {"yellow", "brightyellow"}) == (tone is Tone.CAUTION)
        for colour in (one.ink, one.paper):
            reddish = rgb(colour)[0] > max(rgb(colour)[1:])
            assert not reddish or tone in (Tone.WARNING, Tone.CAUTION)


@pytest.mark.parametrize("theme", list(THEMES.values()), ids=lambda t: t.name)
def test_one_bit_uses_no_colour_and_keeps_the_tones_apart(theme: Theme) -> None:
    styles = {tone: style(pen(theme, tone, Depth.ONE_BIT), Depth.ONE_BIT) for tone in Tone}
    for said in styles.values():
        assert set(said.split()) <= {"bold", "reverse", "underline"}
    quiet = (Tone.SMALL, Tone.STRONG)  # told by size, place and capitals
    assert len({styles[tone] for tone in Tone if tone not in quiet}) == len(Tone) - len(quiet)


def test_sixteen_colours_are_named() -> None:
    for theme in COLOURED:
        for tone in Tone:
            said = style(pen(theme, tone, Depth.SIXTEEN), Depth.SIXTEEN)
            assert "#" not in said
            assert "fg:ansi" in said


def test_one_key_goes_round_all_themes() -> None:
    theme, seen = DAY, []
    for _ in THEMES:
        seen.append(theme.name)
        theme = next_theme(theme)
    assert theme is DAY
    assert sorted(seen) == sorted(THEMES) == ["dark", "day", "night", "plain"]


def test_themes_by_name() -> None:
    assert find_theme("Night") is NIGHT
    assert find_theme("dark-adapted") is DARK
    assert find_theme("dark") is DARK
    assert find_theme("pink") is None


@pytest.mark.parametrize(
    ("environment", "color", "depth"),
    [
        ({"NO_COLOR": "1", "TERM": "xterm-256color"}, "auto", Depth.ONE_BIT),
        ({"NO_COLOR": "", "TERM": "xterm-256color"}, "auto", Depth.INDEXED),
        ({"NO_COLOR": "1", "TERM": "xterm-256color"}, "always", Depth.INDEXED),
        ({"TERM": "dumb"}, "auto", Depth.ONE_BIT),
        ({"TERM": "xterm", "COLORTERM": "truecolor"}, "auto", Depth.FULL),
        ({"TERM": "linux"}, "auto", Depth.SIXTEEN),
        ({"TERM": "xterm-256color"}, "never", Depth.ONE_BIT),
    ],
)
def test_depth(environment: dict[str, str], color: str, depth: Depth) -> None:
    """NO_COLOR as no-color.org says it: set and not empty."""
    assert depth_of(environment, color) is depth
