"""Themes: how each tone looks, by day, by night, dark-adapted, and without any colour.

Rules: meaning is in words and places, then in weight, and only then in colour, so every theme is
also right in one bit: the challenge and its answer alone are bold, what is strong beside them is
brighter where the theme has grey and otherwise told by its capitals and its place; red is for
warnings alone and amber for cautions alone; day is black on white and knows no grey; night and
dark-adapted have no bright white; dark-adapted is to be tried under night-vision goggles before it
is trusted there. Every colour is one that terminals of 256 colours have, so that 256 and true
colour are alike. Among 16 colours a dark ink is never bold, since many terminals show that as
another colour: black as grey, grey as bright white.
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
    Tone.STRONG: Pen(),
    Tone.SMALL: Pen(),
    Tone.BAND: Pen(reverse=True),
    Tone.WARNING: Pen(bold=True, reverse=True),
    Tone.CAUTION: Pen(bold=True, underline=True),
    Tone.INPUT: Pen(underline=True),
}


class _Inks(NamedTuple):
    """The colours of a theme: paper, inks on it, and ink with paper of what is urgent; each with
    its name among 16."""

    paper: tuple[str, str]
    small: tuple[str, str]
    text: tuple[str, str]
    strong: tuple[str, str]
    warning: tuple[str, str, str, str]
    caution: tuple[str, str, str, str]


def _theme(name: str, note: str, inks: _Inks) -> Theme:
    def on_paper(ink: tuple[str, str], bold: bool = False, underline: bool = False) -> Pen:
        return Pen(ink[0], inks.paper[0], ink[1], inks.paper[1], bold, False, underline)

    return Theme(
        name,
        note,
        {
            Tone.TEXT: on_paper(inks.text),
            Tone.SMALL: on_paper(inks.small),
            Tone.BIG: on_paper(inks.strong, bold=True),
            Tone.STRONG: on_paper(inks.strong),
            Tone.BAND: Pen(inks.paper[0], inks.text[0], inks.paper[1], inks.text[1]),
            Tone.WARNING: Pen(*inks.warning, bold=True),
            Tone.CAUTION: Pen(*inks.caution, bold=True),
            Tone.INPUT: on_paper(inks.strong, underline=True),
        },
    )


_BLACK = ("#000000", "ansiblack")
_RED_BY_NIGHT = ("#000000", "#d75f5f", "ansibrightred", "ansiblack")
_AMBER_BY_NIGHT = ("#000000", "#af8700", "ansibrightyellow", "ansiblack")
"""Of the 16 colours neither red nor yellow has enough contrast to black everywhere: there the
bright one is the ink, since a bar of it would light the cabin."""
DAY = _theme(
    "day",
    "black on white",
    _Inks(
        paper=("#ffffff", "ansiwhite"),
        small=_BLACK,
        text=_BLACK,
        strong=_BLACK,
        warning=("#ffffff", "#af0000", "ansiwhite", "ansired"),
        caution=("#000000", "#ffaf00", "ansiblack", "ansibrightyellow"),
    ),
)
NIGHT = _theme(
    "night",
    "dim, no bright white",
    _Inks(
        paper=_BLACK,
        small=("#767676", "ansigray"),
        text=("#8a8a8a", "ansigray"),
        strong=("#b2b2b2", "ansigray"),
        warning=_RED_BY_NIGHT,
        caution=_AMBER_BY_NIGHT,
    ),
)
DARK = _theme(
    "dark",
    "dark-adapted: very dim; to be tried under goggles first",
    _Inks(
        paper=_BLACK,
        small=("#00875f", "ansigreen"),
        text=("#00875f", "ansigreen"),
        strong=("#00af87", "ansigreen"),
        warning=_RED_BY_NIGHT,
        caution=_AMBER_BY_NIGHT,
    ),
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


_BRIGHT = ("ansiwhite", "ansibrightred", "ansibrightyellow")
"""Inks among 16 that bold makes no brighter."""


def pen(theme: Theme, tone: Tone, depth: Depth) -> Pen:
    """The pen of a tone at a depth; one bit keeps weight, reverse and underline only."""
    if depth is Depth.ONE_BIT:
        return _ONE_BIT[tone]
    one = theme.pens[tone]
    if depth is Depth.SIXTEEN and one.ink16 and one.ink16 not in _BRIGHT:
        return one._replace(bold=False)
    return one


def style(one: Pen, depth: Depth) -> str:
    """A pen in the words of prompt-toolkit."""
    words: list[str] = []
    ink, paper = (one.ink16, one.paper16) if depth is Depth.SIXTEEN else (one.ink, one.paper)
    if ink:
        words.append(f"fg:{ink}")
    if paper:
        words.append(f"bg:{paper}")
    words += [flag for flag in ("bold", "reverse", "underline") if getattr(one, flag)]
    return " ".join(words)
