"""All rules together: collected by themselves, run over documents, and told by their pages.

Rules: a file under `rules` is a rule, and nothing else has to be changed for a new one; a rule
that the loader keeps has its page in `told`, or that of its file. The loader is asked first:
where it has faults, the documents mean nothing yet, and its faults are all that is found.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from typing import Final, NamedTuple

from runner.flow import nodes, shape
from runner.flow.checks import rules
from runner.flow.checks.findings import ERROR, Finding, Found, Level, of_fault
from runner.flow.checks.subject import Subject
from runner.flow.checks.told import TOLD
from runner.flow.faults import Faults, FlowErrors
from runner.flow.loader import load_documents
from runner.flow.schema import MODELS

MOST_OF_A_RULE: Final = 100
"""Findings kept of one rule; nobody reads more."""


class Rule(NamedTuple):
    """A rule: what it is called, how grave, why it matters, its page; `check` is None where only
    the loader keeps it."""

    name: str
    level: Level
    reason: str
    page: str
    check: Callable[[Subject], Iterator[Found]] | None

    @property
    def title(self) -> str:
        """The first line of its page."""
        return self.page.strip().splitlines()[0]


@cache
def every_rule() -> Mapping[str, Rule]:
    """Every rule by its name, in the order of the names."""
    found = {
        name: Rule(name, ERROR, one.reason, one.page.strip() + "\n", None)
        for name, one in TOLD.items()
    }
    for module in pkgutil.iter_modules(rules.__path__):
        name = module.name.replace("_", "-")
        made = importlib.import_module(f"{rules.__name__}.{module.name}")
        page = (made.__doc__ or "").strip() + "\n"
        found[name] = Rule(name, made.LEVEL, made.REASON, page, made.check)
    return dict(sorted(found.items()))


class Report(NamedTuple):
    """What was found in the documents of one aircraft, in the order of files, lines and columns.

    `omitted` counts faults of the loader beyond those that are kept; `whole` is False where they
    ended the look before the rules of the checks were asked.
    """

    findings: tuple[Finding, ...]
    omitted: int = 0
    whole: bool = True


def check_documents(documents: Mapping[str, bytes]) -> Report:
    """Everything that the rules find in the documents of one aircraft, by name."""
    try:
        loaded = load_documents(documents)
    except FlowErrors as errors:
        return of_errors(errors)
    subject = Subject(loaded)
    found: set[Finding] = set()
    for rule in every_rule().values():
        if rule.check is None:
            continue
        for number, one in enumerate(rule.check(subject)):
            if number >= MOST_OF_A_RULE:
                break
            file, line, column = one.place
            found.add(
                Finding(
                    file,
                    line,
                    column,
                    rule.name,
                    rule.level,
                    one.message,
                    rule.reason,
                    one.suggestion,
                    one.nearest,
                )
            )
    return Report(tuple(sorted(found)))


def check_alone(name: str, data: bytes) -> Report:
    """What can be said of one document without its aircraft: whether it can be read, and its shape.

    The kind of the document is told by its keys. `name` is the file that is shown.
    """
    try:
        faults = Faults("syntax")
        node = nodes.read(name, data, faults)
        faults.check()
        if node is not None:
            faults = Faults("shape")
            kind = next((kind for kind in MODELS if kind in node.keys), "list")
            shape.validate(MODELS[kind], node, faults)
            faults.check()
    except FlowErrors as errors:
        return of_errors(errors)
    return Report((), whole=False)


def of_errors(errors: FlowErrors) -> Report:
    """The faults of the loader as a report."""
    known = every_rule()
    # What the loader says makes the documents unusable, whatever its rule is elsewhere.
    findings = sorted(of_fault(one, ERROR, known[one.rule].reason) for one in errors.faults)
    return Report(tuple(findings), errors.omitted, whole=False)
