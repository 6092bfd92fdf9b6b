"""What the YAML parser stumbled over, in words for an author.

Rules: the parser's own sentence is never shown where we know what happened. Three faults that
authors make in plain YAML are recognised from the line itself: a limit without its braces, a
condition that should stand in quotes, and a second colon in a line of text.
"""

from __future__ import annotations

import re
from typing import Final

import yaml

from runner.flow.faults import Faults, Place, quoted

_LONGEST_LINE: Final = 400  # the expressions below take quadratic time on a line made for it

_LINE: Final = re.compile(
    r"(?P<lead>\s*(?:-\s+)*(?P<key>[^\s:{}\[\],\"'#][^:{}\[\],\"']*):\s+)(?P<value>.*?)\s*$"
)
_BOUND: Final = re.compile(r"(from|to|below|above|at most|at least|less than|over)\s*:\s")
_TERNARY: Final = re.compile(r"\s\?\s.*\s:\s")
_SECOND_COLON: Final = re.compile(r"[^\"'{\[]*?:(\s|$)")
_AFTER_QUOTE: Final = re.compile(r"(\"[^\"]*\"|'[^']*')\s*[^\s,#}\]:]")

_KNOWN: Final[tuple[tuple[str, str, str], ...]] = (
    ("did not find expected key", "the indentation does not fit", "align it with the keys above"),
    (
        "did not find expected '-' indicator",
        "a key stands between the entries of a list",
        "begin the entry with '- ' or align the key with its own list",
    ),
    ("did not find expected ',' or ']'", "a [ is not closed", "add ] or a comma"),
    ("did not find expected ',' or '}'", "a { is not closed", "add } or a comma"),
    ("found unexpected end of stream", "a quote is not closed", "add the missing quote"),
    (
        "cannot start any token",
        "text begins with a sign that YAML keeps for itself",
        "put the text in quotes",
    ),
    (
        "mapping values are not allowed",
        "a colon where no key can stand",
        "align the key with the keys above, or put the text in quotes",
    ),
    ("could not find expected ':'", "a key without its colon", "write KEY: VALUE"),
    ("unknown escape character", "an unknown escape in double quotes", "use single quotes"),
    ("exceeded maximum nesting depth", "too many levels", "at most 40 are read"),
    ("directive", "a directive (%)", "delete the line that begins with %"),
    ("block sequence entries", "a '- ' where no list can stand", "begin the list on its own line"),
    ("document start", "text after the end of the document", "one document a file"),
    ("anchor", "an & or * before text", "put the text in quotes"),
    ("alias", "an & or * before text", "put the text in quotes"),
    ("tag", "a ! before text", 'put a condition or text that begins with ! in quotes: "!x"'),
)


def explain(file: str, text: str, error: yaml.MarkedYAMLError, faults: Faults) -> None:
    """Note the fault behind a parser's error, at the place where the author must change something.

    `text` is the whole document, of which only the lines at the error's marks are looked at.
    """
    lines = text.split("\n")
    mark = error.problem_mark or error.context_mark
    for candidate in (error.problem_mark, error.context_mark):
        at = candidate.line if candidate is not None else len(lines)
        if at < len(lines) and _authors(file, at, lines[at], faults):
            return
    line, column = (mark.line, mark.column) if mark else (0, 0)
    opened = ("end of stream", "expected ',' or ")
    if error.context_mark is not None and any(w in (error.problem or "") for w in opened):
        line, column = error.context_mark.line, error.context_mark.column
    found = quoted(lines[line].strip()) if line < len(lines) and lines[line].strip() else ""
    sentence = f"{error.problem or ''} {error.context or ''}"
    for words, what, todo in _KNOWN:
        if words in sentence:
            faults.add(Place(file, line + 1, column + 1), what, found=found, todo=todo)
            return
    faults.add(Place(file, line + 1, column + 1), "this cannot be read as YAML", found=found)


def _authors(file: str, number: int, line: str, faults: Faults) -> bool:
    """Recognise one of the faults that authors make in plain YAML."""
    if len(line) > _LONGEST_LINE:
        return False
    match = _LINE.match(line)
    if match is None or not match["value"]:
        return False
    value, key = match["value"], match["key"].strip()
    place = Place(file, number + 1, len(match["lead"]) + 1)
    if _BOUND.match(value):
        faults.add(
            place,
            "a limit without braces",
            found=quoted(value),
            todo=f"write {key}: {{{value}}}",
        )
    elif value.startswith("!"):
        faults.add(
            place,
            "a condition that begins with ! outside quotes",
            found=quoted(value),
            todo=f"write {key}: {_in_quotes(value)}",
        )
    elif _TERNARY.search(value):
        faults.add(
            place,
            "a condition with ? and : outside quotes",
            found=quoted(value),
            todo=f"write {key}: {_in_quotes(value)}",
        )
    elif _AFTER_QUOTE.match(value):
        faults.add(
            place,
            "text goes on after a closing quote",
            found=quoted(value),
            todo=f"put all of it in quotes: {key}: {_in_quotes(value)}",
        )
    elif _SECOND_COLON.match(value) and value[0] not in "{[":
        called, _, answer = value.partition(":")
        todo = f"write {key}: {_in_quotes(value)}"
        if key in ("challenge", "tick") and answer.strip():
            todo = f"write {key}: {called.strip()}, and below it answer: {answer.strip()}"
        faults.add(place, "a second colon in one line", found=quoted(value), todo=todo)
    else:
        return False
    return True


def _in_quotes(value: str) -> str:
    short = value if len(value) <= 60 else value[:59] + "…"
    return "'" + short.replace("'", "''") + "'"
