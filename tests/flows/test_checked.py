"""What is shipped passes its own checks with no fault and no warning, and what was near to an order
or to another answer is told again."""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.commands.checking import check
from runner.flow.checks.collection import check_documents
from runner.flow.loader import documents_in
from tests.flows.support import FLOWS, TYPES

SHIPPED = sorted(path.parent for path in FLOWS.glob("*/aircraft.yaml"))

# A word of the shipped documents, a word that is near to an order or to the answer beside it, and
# the rule that tells it.
NEAR = [
    ("lists/outside_tail.yaml", '"TIGHT, NO CRACKS"', "FIRM", "confusable-words"),
    ("drills/engagement_runaway.yaml", "STILL FAST", "CUT OFF", "confusable-words"),
    ("lists/start.yaml", "{answer: NO START", "{answer: NOT CATCHES", "confusable-words"),
    ("lists/shutdown.yaml", "AT REST", "STANDING", "confusable-words"),
    ("lists/brief.yaml", "ONLY CREW", "NO PASSENGERS", "confusable-words"),
    ("lists/brief.yaml", "STAYS EMPTY", "NOT IN USE", "confusable-words"),
    ("lists/run_up.yaml", "    section: Servos back on\n", "", "same-line"),
    (
        "lists/taxi.yaml",
        "put off: true",
        "put off: {back before: attitude_indicator}",
        "put-off-return",
    ),
]


def test_the_two_types_and_the_starter_are_what_is_shipped() -> None:
    assert [path.name for path in SHIPPED] == sorted([*TYPES, "starter"])


@pytest.mark.parametrize("folder", SHIPPED, ids=lambda path: path.name)
def test_a_shipped_aircraft_has_no_fault_and_no_warning(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    report = check_documents(documents_in(folder))
    assert report.whole
    assert [one.text for one in report.findings] == []
    assert check([folder], "text", strict=True) == 0
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize(("name", "here", "near", "rule"), NEAR, ids=lambda value: value[:30])
def test_the_word_that_was_mended_is_told_where_it_comes_back(
    name: str, here: str, near: str, rule: str
) -> None:
    documents = documents_in(FLOWS / "corvane_c4")
    text = documents[name].decode()
    assert here in text
    documents[name] = text.replace(here, near).encode()
    found = {one.rule for one in check_documents(documents).findings}
    assert found == {rule}
