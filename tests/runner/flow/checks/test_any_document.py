"""Whatever stands in the documents: the checks end in findings, each with a place that exists."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from runner.flow.checks.collection import check_documents, every_rule
from runner.flow.checks.report import line_of, text
from runner.flow.loader import documents_in

EXAMPLES = Path(__file__).parents[3] / "examples"


@cache
def sources() -> tuple[dict[str, bytes], ...]:
    """The whole aircraft among the examples, and every example of a rule of the checks."""
    clean = documents_in(EXAMPLES / "valid" / "clean")
    found = [clean, documents_in(EXAMPLES / "valid" / "full")]
    for kind in ("invalid", "valid"):
        for rule in every_rule():
            for case in sorted((EXAMPLES / kind / rule).glob("*")):
                own = {
                    path.relative_to(case).as_posix(): path.read_bytes()
                    for path in sorted(case.rglob("*.yaml"))
                }
                found.append({**clean, **own})
    return tuple(found)


def judge(documents: dict[str, bytes]) -> None:
    report = check_documents(documents)
    for one in report.findings:
        assert one.rule in every_rule()
        source = line_of(documents, one.file, one.line)
        assert source is not None, one.text
        assert 1 <= one.column <= len(source) + 1, one.text
        assert one.message
        assert one.reason
        assert text(one, source).count("\n") >= 1


@settings(max_examples=120, deadline=None)
@given(st.data())
def test_lines_taken_doubled_and_moved(data: st.DataObject) -> None:
    documents = dict(data.draw(st.sampled_from(sources())))
    for _ in range(data.draw(st.integers(1, 3))):
        name = data.draw(st.sampled_from(sorted(documents)))
        lines = documents[name].splitlines(keepends=True)
        at = data.draw(st.integers(0, len(lines) - 1))
        change = data.draw(st.sampled_from(["take", "double", "move"]))
        line = lines[at]
        if change != "double":
            del lines[at]
        if change != "take":
            lines.insert(data.draw(st.integers(0, len(lines))), line)
        documents[name] = b"".join(lines) or b"\n"
    judge(documents)


@settings(max_examples=120, deadline=None)
@given(st.data())
def test_words_put_into_one_anothers_place(data: st.DataObject) -> None:
    documents = dict(data.draw(st.sampled_from(sources())))
    name = data.draw(st.sampled_from(sorted(documents)))
    words = documents[name].decode().split(" ")
    one = data.draw(st.integers(0, len(words) - 1))
    other = data.draw(st.integers(0, len(words) - 1))
    words[one], words[other] = words[other], words[one]
    documents[name] = " ".join(words).encode()
    judge(documents)


def test_every_source_is_judged() -> None:
    assert len(sources()) > 100
    for documents in sources():
        judge(documents)
