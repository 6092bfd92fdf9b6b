"""Every folder under `tests/examples` is a case of its own: a new case is a new folder.

A folder of `valid` is a whole aircraft. A folder of `invalid` holds the documents that differ from
`valid/plain`, and in `expected.txt` each fault: its place, then the words that its text has, parted
by `||`. The faults found are these and no others.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.flow.faults import FlowErrors
from runner.flow.loader import load_aircraft, load_documents

EXAMPLES = Path(__file__).parents[2] / "examples"
VALID = sorted(path for path in (EXAMPLES / "valid").iterdir() if path.is_dir())
INVALID = sorted(path for path in (EXAMPLES / "invalid").iterdir() if path.is_dir())


def documents(folder: Path) -> dict[str, bytes]:
    """The documents of a folder by name."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*.yaml")
    }


@pytest.mark.parametrize("folder", VALID, ids=lambda path: path.name)
def test_a_valid_aircraft_loads(folder: Path) -> None:
    loaded = load_aircraft(folder)
    assert {one.name: one.data for one in loaded.documents} == documents(folder)
    assert loaded.table.order
    assert loaded.table.steps


@pytest.mark.parametrize("folder", INVALID, ids=lambda path: path.name)
def test_an_invalid_aircraft_is_told_its_faults_and_no_others(folder: Path) -> None:
    expected = (folder / "expected.txt").read_text("utf-8").splitlines()
    assert expected, "an example without an expected fault"
    with pytest.raises(FlowErrors) as caught:
        load_documents({**documents(EXAMPLES / "valid" / "plain"), **documents(folder)})
    found = caught.value.faults
    listing = "\n".join(fault.text for fault in found)
    assert len(found) == len(expected), listing
    for fault, line in zip(found, expected, strict=True):
        place, _, words = line.partition(": ")
        assert f"{fault.file}:{fault.line}:{fault.column}" == place, listing
        for part in words.split("||"):
            assert part in fault.text, listing


def test_the_examples_have_faults_of_every_stage() -> None:
    assert len(INVALID) > 100
