"""One finding in each of the three forms."""

from __future__ import annotations

import json

import pytest

from runner.flow.checks.findings import ERROR, WARNING, Finding, of_fault
from runner.flow.checks.report import (
    WIDEST,
    as_annotation,
    as_json,
    caret,
    line_of,
    summary,
    text,
)
from runner.flow.faults import Fault

ONE = Finding(
    "lists/a.yaml", 3, 7, "limit-reach", ERROR, "no value meets this", "it stops every crew",
    "correct it", "at most",
)  # fmt: skip
TWO = Finding("lists/b.yaml", 1, 1, "same-line", WARNING, "reads the same", "one is taken for it")


def test_the_text_has_place_level_rule_line_caret_reason_and_what_to_do() -> None:
    assert text(ONE, "    limit: {below: 5 °C}").splitlines() == [
        "lists/a.yaml:3:7: error [limit-reach] no value meets this",
        "        limit: {below: 5 °C}",
        "          ^",
        "  why: it stops every crew",
        "  try: did you mean at most?; correct it",
    ]


def test_what_is_not_known_is_left_out() -> None:
    assert text(TWO, None).splitlines() == [
        "lists/b.yaml:1:1: warning [same-line] reads the same",
        "  why: one is taken for it",
    ]


@pytest.mark.parametrize(
    ("source", "column", "under"),
    [("abc", 1, "a"), ("abc", 3, "c"), ("abc", 4, ""), ("  - °C: x", 5, "°"), ("a\tb", 3, "b")],
)
def test_the_caret_stands_under_the_place(source: str, column: int, under: str) -> None:
    shown, mark = caret(source, column)
    assert mark.index("^") == column - 1
    assert shown[column - 1 : column] == under


def test_of_a_long_line_what_is_around_the_place_is_shown() -> None:
    line = "a" * 300 + "b" + "c" * 300
    shown, mark = caret(line, 301)
    assert len(shown) == WIDEST
    assert shown[mark.index("^")] == "b"
    shown, mark = caret(line, len(line))
    assert shown[mark.index("^")] == "c"
    assert len(shown) == WIDEST


def test_nothing_reaches_the_terminal_that_it_would_obey() -> None:
    nasty = Finding("a\x1b[2J", 1, 1, "yaml", ERROR, "found \x1b]0;x\x07", "why", "do \x9b1m")
    for line in text(nasty, "key: \x1b[31mred").splitlines():
        assert line.isprintable()


def test_json_is_one_object_on_one_line() -> None:
    made = as_json([ONE, TWO], 2, 0)
    assert "\n" not in made
    read = json.loads(made)
    assert (read["documents"], read["errors"], read["warnings"], read["omitted"]) == (2, 1, 1, 0)
    assert read["findings"][0] == {
        "file": "lists/a.yaml", "line": 3, "column": 7, "rule": "limit-reach", "level": "error",
        "message": "no value meets this", "reason": "it stops every crew",
        "suggestion": "correct it", "nearest": "at most",
    }  # fmt: skip


def test_an_annotation_names_file_line_column_and_rule() -> None:
    assert as_annotation(ONE) == (
        "::error file=lists/a.yaml,line=3,col=7,title=limit-reach::no value meets this. correct it"
    )
    odd = Finding("a,b:c%.yaml", 1, 2, "yaml", WARNING, "50% of\nit", "")
    assert as_annotation(odd) == (
        "::warning file=a%2Cb%3Ac%25.yaml,line=1,col=2,title=yaml::50%25 of%0Ait"
    )


def test_the_summary_counts() -> None:
    assert summary([ONE, TWO, TWO], 1, 0) == "1 document, 1 error, 2 warnings"
    assert summary([], 4, 7) == "4 documents, 0 errors, 0 warnings, 7 more left out"


def test_a_line_of_a_document() -> None:
    documents = {"a": b"\xef\xbb\xbffirst\r\nsecond \xff\n"}
    assert line_of(documents, "a", 1) == "first"
    assert line_of(documents, "a", 2) == "second \N{REPLACEMENT CHARACTER}"
    assert line_of(documents, "a", 4) is None
    assert line_of(documents, "a", 0) is None
    assert line_of(documents, "b", 1) is None


def test_a_fault_of_the_loader_is_a_finding() -> None:
    fault = Fault("a", 1, 2, "no list", "'x'", "b, c", "b", "name it", "meaning", "unknown-name")
    assert of_fault(fault, ERROR, "why") == Finding(
        "a", 1, 2, "unknown-name", ERROR, "no list, found 'x'; allowed: b, c", "why", "name it", "b"
    )
