"""Whatever stands in the documents: a table, or faults with their places, and nothing else."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from runner.engine.table import Table
from runner.flow.faults import FlowErrors
from runner.flow.loader import load_documents

ROOT = Path(__file__).parents[2]
SOURCES = {
    folder: {
        path.relative_to(ROOT / folder).as_posix(): path.read_bytes()
        for path in sorted((ROOT / folder).rglob("*.yaml"))
    }
    for folder in ("data/tiny", "examples/valid/plain")
}
PIECES = [
    b": ", b"- ", b"\n", b"\n  ", b"{", b"}", b"[", b"]", b"'", b'"', b"!", b"&a", b"*a", b"?",
    b"|", b">-\n", b"#", b"---\n", b"%", b"\t", b"\r\n", b"null", b"true", b"-1", b".nan", b"1e999",
    b"0", b"when: ", b"limit: ", b"below: ", b"rpm", b"\xc2\xb0C", b"hook", b"engine_rpm", b"fire",
    b"start", b"shutdown", b"oil_low", b"close", b"\xff", b"\xf0\x9f\x9b\x91", b"\xe2\x80\xae",
    b"back to: ",
]  # fmt: skip


def load(documents: dict[str, bytes]) -> Table | FlowErrors:
    try:
        return load_documents(documents).table
    except FlowErrors as errors:
        return errors


def judge(documents: dict[str, bytes]) -> None:
    made = load(documents)
    if isinstance(made, Table):
        for flow in made.flows.values():
            assert flow.steps[-1].response == "CLOSED"
        return
    assert made.faults
    assert len({fault.stage for fault in made.faults}) == 1
    for fault in made.faults:
        assert fault.what
        assert "\n" not in fault.text
        assert fault.column >= 1
        assert 1 <= fault.line <= documents.get(fault.file, b"").count(b"\n") + 2


@given(st.binary(max_size=300))
def test_any_bytes_as_a_document(data: bytes) -> None:
    judge({**SOURCES["examples/valid/plain"], "lists/work.yaml": data})
    judge({**SOURCES["examples/valid/plain"], "aircraft.yaml": data})


@given(st.text(max_size=200))
def test_any_text_as_a_document(text: str) -> None:
    judge({**SOURCES["examples/valid/plain"], "drills/help.yaml": text.encode("utf-8", "replace")})


@given(st.dictionaries(st.text(max_size=30), st.binary(max_size=30), max_size=4))
def test_any_documents(documents: dict[str, bytes]) -> None:
    judge(documents)


@settings(max_examples=300)
@given(st.data())
def test_a_good_aircraft_with_a_piece_changed(data: st.DataObject) -> None:
    documents = dict(SOURCES[data.draw(st.sampled_from(sorted(SOURCES)))])
    for _ in range(data.draw(st.integers(1, 3))):
        name = data.draw(st.sampled_from(sorted(documents)))
        text = documents[name]
        start = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(start, min(len(text), start + 12)))
        documents[name] = text[:start] + data.draw(st.sampled_from([b"", *PIECES])) + text[end:]
    judge(documents)


@settings(max_examples=200)
@given(st.data())
def test_a_good_aircraft_with_lines_changed(data: st.DataObject) -> None:
    documents = dict(SOURCES["data/tiny"])
    name = data.draw(st.sampled_from(sorted(documents)))
    lines = documents[name].splitlines(keepends=True)
    other = [line for text in documents.values() for line in text.splitlines(keepends=True)]
    position = data.draw(st.integers(0, len(lines) - 1))
    match data.draw(st.sampled_from(["drop", "double", "swap", "borrow"])):
        case "drop":
            del lines[position]
        case "double":
            lines.insert(position, lines[position])
        case "swap":
            second = data.draw(st.integers(0, len(lines) - 1))
            lines[position], lines[second] = lines[second], lines[position]
        case _:
            lines[position] = data.draw(st.sampled_from(other))
    documents[name] = b"".join(lines)
    judge(documents)
