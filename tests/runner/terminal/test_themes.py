"""Themes: contrast, one bit, and colours that mean one thing only."""

from __future__ import annotations

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


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_formula_at_its_ends() -> None:
    """WCAG 2.1: black on white is 21:1, equal colours 1:1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#777777") == pytest.approx(1)


@pytest.mark.parametrize(("theme", "least"), [(DAY, 7.0), (NIGHT, 4.5), (DARK, 3.0)])
def test_every_tone_can_be_read(theme: Theme, least: float) -> None:
    """WCAG 2.1: 7:1 enhanced, 4.5:1 minimum, 3:1 for large text; dark-adapted is dim on purpose."""
    for tone in Tone:
        one = theme.pens[tone]
        assert contrast(one.ink, one.paper) >= least, tone


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
        assert (one.paper16 == "ansired") == (tone is Tone.WARNING)
        assert (one.paper16 == "ansiyellow") == (tone is Tone.CAUTION)
        assert one.ink16 not in ("ansired", "ansiyellow")


@pytest.mark.parametrize("theme", list(THEMES.values()), ids=lambda t: t.name)
def test_one_bit_uses_no_colour_and_keeps_the_tones_apart(theme: Theme) -> None:
    styles = {tone: style(pen(theme, tone, Depth.ONE_BIT), Depth.ONE_BIT) for tone in Tone}
    for said in styles.values():
        assert set(said.split()) <= {"bold", "reverse", "underline"}
    loud = [styles[t] for t in (Tone.TEXT, Tone.BAND, Tone.WARNING, Tone.CAUTION)]
    assert len(set(loud)) == 4
    assert styles[Tone.BIG] != styles[Tone.TEXT]


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
