"""Findings as text for people, as one JSON object, and as annotations of a workflow.

Rules: every form says the same, each finding with path, line and column; what comes out of a
document is shown on one line with nothing in it that a terminal would obey. The text form has the
source line with a caret under the place, why it matters, and what to do.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Final

from runner.flow.checks.findings import ERROR, Finding

WIDEST: Final = 100
"""Columns of a source line that are shown; of a longer one, those around the place."""
_BEFORE: Final = 60
_INDENT: Final = "    "


def text(finding: Finding, source: str | None) -> str:
    """A finding for people; `source` is the line of its place, None where there is none."""
    lines = [_shown(finding.text)]
    if source is not None and source.strip():
        lines += [_INDENT + row for row in caret(source, finding.column)]
    lines.append(f"  why: {finding.reason}")
    todo = [f"did you mean {finding.nearest}?"] if finding.nearest else []
    if finding.suggestion:
        todo.append(finding.suggestion)
    if todo:
        lines.append(f"  try: {_shown('; '.join(todo))}")
    return "\n".join(lines)


def caret(source: str, column: int) -> tuple[str, str]:
    """A line and below it the caret; `column` counts from 1, and may stand just behind the end."""
    start = 0
    if len(source) > WIDEST and column > _BEFORE:
        start = min(column - _BEFORE, len(source) - WIDEST)
    shown = _shown(source[start : start + WIDEST])
    return shown.rstrip(), " " * (column - 1 - start) + "^"


def line_of(documents: Mapping[str, bytes], name: str, number: int) -> str | None:
    """A line of a document, counted from 1; None where it has no such line, or cannot be read."""
    data = documents.get(name)
    if data is None:
        return None
    lines = data.removeprefix(b"\xef\xbb\xbf").decode("utf-8", "replace").split("\n")
    return lines[number - 1].rstrip("\r") if 1 <= number <= len(lines) else None


def as_json(findings: Sequence[Finding], documents: int, omitted: int) -> str:
    """One object: every finding, and how many of each level; on one line."""
    errors = sum(one.level == ERROR for one in findings)
    made = {
        "documents": documents,
        "errors": errors,
        "warnings": len(findings) - errors,
        "omitted": omitted,
        "findings": [asdict(one) for one in findings],
    }
    return json.dumps(made, ensure_ascii=False)


def as_annotation(finding: Finding) -> str:
    """A finding as a workflow command of the code host, which shows it beside the line."""
    message = finding.message
    if finding.suggestion:
        message += f". {finding.suggestion}"
    return (
        f"::{finding.level} file={_property(finding.file)},line={finding.line},"
        f"col={finding.column},title={_property(finding.rule)}::{_escaped(message)}"
    )


def summary(findings: Sequence[Finding], documents: int, omitted: int) -> str:
    """How it stands, in one line."""
    errors = sum(one.level == ERROR for one in findings)
    warnings = len(findings) - errors
    counts = [_count(documents, "document"), _count(errors, "error"), _count(warnings, "warning")]
    return ", ".join([*counts, *([f"{omitted} more left out"] if omitted else [])])


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _shown(line: str) -> str:
    """A text with nothing in it that a terminal would obey; every character stays one."""
    return "".join(char if char.isprintable() else " " for char in line)


def _escaped(value: str) -> str:
    return value.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(value: str) -> str:
    return _escaped(value).replace(":", "%3A").replace(",", "%2C")
