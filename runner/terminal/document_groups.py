"""The documents of a run by who has to read them, and one code over all of them.

Rules: what somebody must read comes first; to whom every document is new, that is said once and no
list of all of them is read out; the grouping is one for the screen and for plain mode.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from runner.terminal.shell import Document

FEW = 4
"""So many documents are listed even to whom all of them are new."""
Group = tuple[tuple[str, ...], list[Document]]


def by_reader(documents: Sequence[Document]) -> list[Group]:
    """Names and what is new or changed for them, those of nobody last."""
    groups: dict[tuple[str, ...], list[Document]] = {}
    for document in documents:
        groups.setdefault(document.changed_for, []).append(document)
    return sorted(groups.items(), key=lambda item: (not item[0], item[0]))


def new_to(documents: Sequence[Document]) -> tuple[str, ...]:
    """To whom every document is new, where they are more than a few."""
    if len(documents) <= FEW:
        return ()
    first, *others = (one.changed_for for one in documents)
    return tuple(name for name in first if all(name in those for those in others))


def approval_text(documents: Sequence[Document], modes: Sequence[str]) -> str:
    """By whom and when the documents were approved; that they are not, and why they run."""
    if not documents:
        return ""
    approved = [one for one in documents if one.approved_by]
    if len(approved) < len(documents):
        whose = "The shipped documents are" if "demonstration" in modes else "Documents"
        some = f": {len(approved)} of {len(documents)} are approved" if approved else ""
        return f"{whose} not all approved{some}" if some else f"{whose} not approved"
    people = ", ".join(sorted({one.approved_by for one in approved}))
    last = max(one.approved_on for one in approved)
    return f"Documents approved by {people}" + (f", {last}" if last else "")


def code_of_all(documents: Sequence[Document]) -> str:
    """One code over all documents, to be compared as a single figure: the first eight hexadecimal
    digits of the SHA-256 of the codes of the documents (eight lower-case hexadecimal digits each,
    ASCII), one after the other in the order of the list."""
    codes = "".join(one.code for one in documents)
    return hashlib.sha256(codes.encode("ascii", "replace")).hexdigest()[:8].upper()
