"""Themes: how each tone looks, by day, by night, dark-adapted, and without any colour.

Rules: meaning is in words and places, then in weight, and only then in colour, so every theme is
also right in one bit; red is for warnings alone and amber for cautions alone; day is black on white
and knows no grey; night and dark-adapted have no bright white; dark-adapted is to be tried under
night-vision goggles before it is trusted there.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import IntEnum
from typing import NamedTuple

from runner.terminal.rows import Tone


class Depth(IntEnum):
    """How many colours the terminal is given, in bits."""

    ONE_BIT = 1
    SIXTEEN = 4
    INDEXED = 8
    FULL = 24


class Pen(NamedTuple):
    """Colours as "#rrggbb" and, for terminals of 16 colours, by their ANSI names."""

    ink: str = ""
    paper: str = ""
    ink16: str = ""
    paper16: str = ""
    bold: bool = False
    reverse: bool = False
    underline: bool = False


class Theme(NamedTuple):
    """A name for the screen and a pen for every tone."""

    name: str
    note: str
    pens: Mapping[Tone, Pen]


_ONE_BIT: Mapping[Tone, Pen] = {
    Tone.TEXT: Pen(),
    Tone.BIG: Pen(bold=True),
    Tone.STRONG: Pen(bold=True),
    Tone.SMALL: Pen(),
    Tone.BAND: Pen(reverse=True),
    Tone.WARNING: Pen(bold=True, reverse=True),
    Tone.CAUTION: Pen(bold=True, underline=True),
    Tone.INPUT: Pen(bold=True, underline=True),
}


def _theme(
    name: str,
    note: str,
    paper: tuple[str, str],
    text: tuple[str, str],
    strong: tuple[str, str],
    warning: tuple[str, str, str, str],
    caution: tuple[str, str, str, str],
) -> Theme:
    page, page16 = paper
    return Theme(
        name,
        note,
        {
            Tone.TEXT: Pen(text[0], page, text[1], page16),
            Tone.SMALL: Pen(text[0], page, text[1], page16),
            Tone.BIG: Pen(strong[0], page, strong[1], page16, bold=True),
            Tone.STRONG: Pen(strong[0], page, strong[1], page16, bold=True),
            Tone.BAND: Pen(page, text[0], page16, text[1]),
            Tone.WARNING: Pen(warning[0], warning[1], warning[2], warning[3], bold=True),
            Tone.CAUTION: Pen(caution[0], caution[1], caution[2], caution[3], bold=True),
            Tone.INPUT: Pen(strong[0], page, strong[1], page16, bold=True, underline=True),
        },
    )


DAY = _theme(
    "day",
    "black on white",
    ("#ffffff", "ansiwhite"),
    ("#000000", "ansiblack"),
    ("#000000", "ansiblack"),
    ("#ffffff", "#a80000", "ansiwhite", "ansired"),
    ("#000000", "#ffb000", "ansiblack", "ansiyellow"),
)
NIGHT = _theme(
    "night",
    "dim, no bright white",
    ("#000000", "ansiblack"),
    ("#8c8c86", "ansigray"),
    ("#b4b4aa", "ansigray"),
    ("#000000", "#c85050", "ansiblack", "ansired"),
    ("#000000", "#a87c20", "ansiblack", "ansiyellow"),
)
DARK = _theme(
    "dark",
    "dark-adapted: very dim; to be tried under goggles first",
    ("#000000", "ansiblack"),
    ("#3c7864", "ansigreen"),
    ("#4c8c78", "ansigreen"),
    ("#000000", "#964444", "ansiblack", "ansired"),
    ("#000000", "#80601c", "ansiblack", "ansiyellow"),
)
PLAIN = Theme("plain", "no colour", _ONE_BIT)

THEMES: Mapping[str, Theme] = {t.name: t for t in (DAY, NIGHT, DARK, PLAIN)}


def find_theme(name: str) -> Theme | None:
    """The theme of a name, or None; "dark-adapted" is the dark one."""
    return THEMES.get(" ".join(name.casefold().split()).removesuffix("-adapted"))


def next_theme(theme: Theme) -> Theme:
    """The theme after this one; the key goes round."""
    every = list(THEMES.values())
    return every[(every.index(theme) + 1) % len(every)]


def depth_of(environment: Mapping[str, str], color: str = "auto") -> Depth:
    """The depth for an environment and a `--color` of auto, always or never.

    `NO_COLOR` (no-color.org: present and not empty) and a terminal that knows no colour by its name
    (`dumb`, the vt series, names that end in -mono or -m) give one bit.
    """
    if color == "never":
        return Depth.ONE_BIT
    term = environment.get("TERM", "")
    if color != "always" and (environment.get("NO_COLOR") or _colourless(term)):
        return Depth.ONE_BIT
    if environment.get("COLORTERM", "") in ("truecolor", "24bit"):
        return Depth.FULL
    if "256" in term:
        return Depth.INDEXED
    return Depth.SIXTEEN


def _colourless(term: str) -> bool:
    return term == "dumb" or term.startswith("vt") or term.endswith(("-mono", "-m"))


def pen(theme: Theme, tone: Tone, depth: Depth) -> Pen:
    """The pen of a tone at a depth; one bit keeps weight, reverse and underline only."""
    return _ONE_BIT[tone] if depth is Depth.ONE_BIT else theme.pens[tone]


def style(one: Pen, depth: Depth) -> str:
    """A pen in the words of prompt-toolkit."""
    words: list[str] = []
    ink, paper = (one.ink16, one.paper16) if depth is Depth.SIXTEEN else (one.ink, one.paper)
    if ink:
        words.append(f"fg:{ink}")
    if paper:
        words.append(f"bg:{paper}")
    for flag in ("bold", "reverse", "underline"):
        if getattr(one, flag):
            words.append(flag)
    return " ".join(words)
