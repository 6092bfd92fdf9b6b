"""Large letters drawn from half cells: the current challenge, to be read at arm's length.

Rules: capitals, digits and the signs of challenges only; a text with any other character is not
drawn, and the caller shows it plain; the plain text always stands beside the drawing, so that
nothing depends on the picture; three rows a line, words never divided.
"""

from __future__ import annotations

_FONT = {
    "A": ".#. #.# ### #.# #.#",
    "B": "##. #.# ##. #.# ##.",
    "C": ".## #.. #.. #.. .##",
    "D": "##. #.# #.# #.# ##.",
    "E": "### #.. ##. #.. ###",
    "F": "### #.. ##. #.. #..",
    "G": ".## #.. #.# #.# .##",
    "H": "#.# #.# ### #.# #.#",
    "I": "### .#. .#. .#. ###",
    "J": "..# ..# ..# #.# .#.",
    "K": "#.# #.# ##. #.# #.#",
    "L": "#.. #.. #.. #.. ###",
    "M": "#...# ##.## #.#.# #...# #...#",
    "N": "#..# ##.# #.## #..# #..#",
    "O": ".#. #.# #.# #.# .#.",
    "P": "##. #.# ##. #.. #..",
    "Q": ".##. #..# #..# #.#. .#.#",
    "R": "##. #.# ##. #.# #.#",
    "S": ".## #.. .#. ..# ##.",
    "T": "### .#. .#. .#. .#.",
    "U": "#.# #.# #.# #.# ###",
    "V": "#.# #.# #.# #.# .#.",
    "W": "#...# #...# #.#.# ##.## #...#",
    "X": "#.# #.# .#. #.# #.#",
    "Y": "#.# #.# .#. .#. .#.",
    "Z": "### ..# .#. #.. ###",
    "0": "### #.# #.# #.# ###",
    "1": ".#. ##. .#. .#. ###",
    "2": "##. ..# .#. #.. ###",
    "3": "##. ..# .#. ..# ##.",
    "4": "#.# #.# ### ..# ..#",
    "5": "### #.. ##. ..# ##.",
    "6": ".## #.. ### #.# ###",
    "7": "### ..# .#. .#. .#.",
    "8": "### #.# ### #.# ###",
    "9": "### #.# ### ..# ##.",
    ".": ". . . . #",
    ",": ".. .. .. .# #.",
    ":": ". # . # .",
    "-": "... ... ### ... ...",
    "/": "..# ..# .#. #.. #..",
    "(": ".# #. #. #. .#",
    ")": "#. .# .# .# #.",
    "°": "## ## .. .. ..",
    "?": "##. ..# .#. ... .#.",
    "'": "# # . . .",
}
_HALVES = {
    "..": " ",
    "#.": "\N{UPPER HALF BLOCK}",
    ".#": "\N{LOWER HALF BLOCK}",
    "##": "\N{FULL BLOCK}",
}
SPACE, NARROW = 3, 1
"""Between two words, in cells beside the gap of a letter; narrow where a line would else be two."""
HEIGHT = 3


def _word_width(word: str) -> int:
    return sum(len(_FONT[char].split()[0]) + 1 for char in word) - 1


def _draw(line: str, space: int) -> tuple[str, ...]:
    pixels = ["", "", "", "", "", ""]
    for char in line:
        glyph = ["." * space] * 5 if char == " " else [r + "." for r in _FONT[char].split()]
        for row, dots in enumerate(glyph):
            pixels[row] += dots
    pixels[5] = "." * len(pixels[0])
    return tuple(
        "".join(_HALVES[up + down] for up, down in zip(pixels[row], pixels[row + 1], strict=True))
        for row in (0, 2, 4)
    )


def large(words: str, width: int, most_lines: int, space: int = SPACE) -> tuple[str, ...]:
    """The rows of a text in large letters, or none if it cannot be drawn so.

    `width` is in cells, `most_lines` in lines of large text, `space` in cells
    between two words. The text is taken in capitals.
    """
    lines: list[str] = []
    used = 0
    for word in words.upper().split():
        if any(char not in _FONT for char in word):
            return ()
        wide = _word_width(word)
        if wide > width:
            return ()
        if lines and used + 1 + space + wide <= width:
            lines[-1] += f" {word}"
            used += 1 + space + wide
        else:
            lines.append(word)
            used = wide
    if not lines or len(lines) > most_lines:
        return ()
    return tuple(row for line in lines for row in _draw(line, space))
