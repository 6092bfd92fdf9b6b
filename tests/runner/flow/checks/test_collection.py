"""Rules collected by themselves, their pages, and what they say of whole aircraft."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from runner.flow.checks import collection, rules, told
from runner.flow.checks.collection import check_alone, check_documents, every_rule
from runner.flow.checks.findings import ERROR, WARNING
from runner.flow.loader import documents_in

ROOT = Path(__file__).parents[4]
CLEAN = ROOT / "tests" / "examples" / "valid" / "clean"
FOLDER = Path(rules.__file__).parent
FILES = sorted(path for path in FOLDER.glob("*.py") if path.stem != "__init__")


def test_every_file_is_a_rule_and_every_rule_has_a_page() -> None:
    known = every_rule()
    assert list(known) == sorted(known)
    assert {path.stem.replace("_", "-") for path in FILES} == {
        name for name, rule in known.items() if rule.check is not None
    }
    for rule in known.values():
        assert rule.level in (ERROR, WARNING)
        assert rule.reason, rule.name
        assert len(rule.page.strip().splitlines()) > 2, rule.name
        assert rule.title.endswith("."), rule.name


@pytest.mark.parametrize("name", sorted(every_rule()))
def test_the_page_of_a_rule_shows_what_is_wrong_and_what_is_right(name: str) -> None:
    page = every_rule()[name].page
    parts = re.split(r"^(Wrong|Right)\b[^:]*:", page, flags=re.MULTILINE)
    assert parts[1::2] == ["Wrong", "Right"], name
    title, _, reason = parts[0].partition("\n\n")
    assert title.endswith(".")
    assert len(reason.split()) > 12, name
    wrong, right = (part.strip() for part in parts[2::2])
    assert wrong, name
    assert right, name
    assert wrong != right, name


STARTER = ROOT / "flows" / "starter"
START, DRILL, BEFORE = "lists/start.yaml", "drills/oil_pressure_low.yaml", "lists/before_start.yaml"
SPLICED = {
    "unknown-name": (START, r"^ +unmet: .*\n"),
    "limit-form": (START, r"^ +limit: .*\n"),
    "reserved-name": (BEFORE, r"^(?=  - challenge: Controls)"),
    "circle": (START, r"^(?=  - wait: )"),
    "placement": (DRILL, r"(?<=^steps:\n)(.*\n)*(?=  - close: )"),
}


@pytest.mark.parametrize("name", sorted(SPLICED))
def test_the_examples_of_a_page_are_wrong_and_right_in_a_whole_aircraft(name: str) -> None:
    file, place = SPLICED[name]
    documents = documents_in(STARTER)
    text = documents[file].decode("utf-8")
    blocks = re.findall(
        r"^(?:Wrong|Right)\b[^:]*:\n\n((?:    .*\n)+)", every_rule()[name].page, re.M
    )
    found = []
    for block in blocks:
        # steps stand two columns in, the keys of a step four
        lines = block.replace("    - ", "  - ")
        spliced, count = re.subn(place, lines, text, count=1, flags=re.MULTILINE)
        assert count == 1
        report = check_documents({**documents, file: spliced.encode("utf-8")})
        found.append({one.rule for one in report.findings if one.level == ERROR})
    wrong, right = found
    assert name in wrong
    assert right == set()


def test_a_rule_of_the_loader_that_has_a_file_has_one_page() -> None:
    assert not told.TOLD.keys() & {path.stem.replace("_", "-") for path in FILES}


def test_every_rule_that_a_fault_names_is_known() -> None:
    named = set()
    for path in (ROOT / "runner" / "flow").glob("*.py"):
        for call in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(call, ast.keyword) and call.arg == "rule":
                named.add(ast.literal_eval(call.value))
    assert len(named) > 12
    assert named <= every_rule().keys()


def test_a_fault_of_meaning_names_a_rule_of_its_own() -> None:
    for name in ("answers", "compile", "coverage", "cycles", "names", "order", "quantities",
                 "references", "compile_steps"):  # fmt: skip
        path = ROOT / "runner" / "flow" / f"{name}.py"
        for call in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(call, ast.Call) and ast.unparse(call.func).endswith("faults.add"):
                assert any(word.arg == "rule" for word in call.keywords), (name, call.lineno)


def test_findings_come_in_the_order_of_their_places_and_once() -> None:
    documents = documents_in(CLEAN)
    documents["lists/work.yaml"] = (
        b"list: work\ntitle: Work\nphase: work\nsteps:\n"
        b"  - {challenge: Mixture, answer: MIXTURE SET}\n"
        b"  - {challenge: Speed, answer: CHECKED AND SET, put off: true}\n"
        b"  - close: Work\n"
    )
    found = check_documents(documents).findings
    assert [(one.line, one.column, one.rule) for one in found] == [
        (5, 34, "empty-response"),
        (6, 32, "empty-response"),
        (6, 58, "put-off-return"),
    ]


def test_of_one_rule_so_many_are_kept_and_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    documents = documents_in(CLEAN)
    steps = "".join(f"  - {{challenge: Item {n}, answer: ITEM SET}}\n" for n in range(60))
    documents["lists/work.yaml"] = (
        f"list: work\ntitle: Work\nphase: work\nsteps:\n{steps}  - close: Work\n".encode()
    )
    monkeypatch.setattr(collection, "MOST_OF_A_RULE", 5)
    found = check_documents(documents).findings
    assert [one.rule for one in found].count("empty-response") == 5


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"list: a\ntitle: A\nsteps:\n  - {challenge: B, answer: C}\n  - close: A\n", []),
        (b"list: a\ntitle: A\n", ["shape"]),
        (b"drill: a\ntitle: A\nsteps: []\nends: []\n", ["shape", "shape"]),
        (b"aircraft: a\n", ["shape"] * 7),
        (b"list: [\n", ["yaml"]),
        (b"", ["yaml"]),
    ],
)
def test_a_document_alone_is_judged_by_its_shape(data: bytes, expected: list[str]) -> None:
    report = check_alone("x.yaml", data)
    assert not report.whole
    assert [one.rule for one in report.findings] == expected
    assert all(one.file == "x.yaml" and one.line and one.column for one in report.findings)
