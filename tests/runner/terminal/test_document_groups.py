"""What is said of the approval of a run's documents."""

from __future__ import annotations

import pytest

from runner.terminal.document_groups import approval_text
from runner.terminal.shell import Document

PLAIN = Document("Start", "6", "0a1b2c3d")
HOLT = PLAIN._replace(approved_by="A Holt", approved_on="2026-11-24")
RAY = PLAIN._replace(approved_by="B Ray", approved_on="2026-11-25")


@pytest.mark.parametrize(
    ("documents", "modes", "text"),
    [
        ((), ("crew",), ""),
        ((HOLT, HOLT), ("crew",), "Documents approved by A Holt, 2026-11-24"),
        ((HOLT, RAY), ("crew",), "Documents approved by A Holt, B Ray, 2026-11-25"),
        (
            (HOLT._replace(approved_on=""),),
            ("crew",),
            "Documents approved by A Holt",
        ),
        ((PLAIN, HOLT), ("draft",), "Documents not all approved: 1 of 2 are approved"),
        ((PLAIN, PLAIN), ("draft",), "Documents not approved"),
        ((PLAIN,), ("demonstration",), "The shipped documents are not approved"),
    ],
)
def test_by_whom_and_when_or_that_they_are_not(
    documents: tuple[Document, ...], modes: tuple[str, ...], text: str
) -> None:
    assert approval_text(documents, modes) == text
