"""One-time keys: one a line, never exported, and no image of the memory when the process dies."""

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

from audit import canonical
from tests.audit.helpers import Person

ROOT = Path(__file__).parents[2]


def test_one_time_keys_are_dropped_and_there_is_no_way_to_export_them() -> None:
    calls = set()
    for name in ("writer.py", "line.py"):
        tree = ast.parse((ROOT / "audit" / name).read_text("utf-8"))
        calls |= {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    assert "public_bytes_raw" in calls
    assert not {name for name in calls if name.startswith("private_bytes")}


def test_each_line_has_a_key_of_its_own(whole: tuple[Path, list[Person]]) -> None:
    rows = whole[0].read_bytes().splitlines()
    keys = [canonical.read(row)["body"]["next"] for row in rows]
    assert len(set(keys)) == len(keys)
    assert [number for number, key in enumerate(keys) if key == ""] == [len(rows) - 1]


@pytest.mark.skipif(sys.platform == "win32", reason="no core dumps on this system")
def test_core_dumps_are_off_while_logging(tmp_path: Path) -> None:
    script = (
        "import resource, sys\nfrom pathlib import Path\nfrom tests.audit.helpers import *\n"
        "people = [Person('One')]\n"
        "with LogFolder.open(Path(sys.argv[1])) as folder:\n"
        "    LogWriter.create(folder, opening(people), people, Clock()())\n"
        "print(resource.getrlimit(resource.RLIMIT_CORE))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path)],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert done.stdout.strip() == "(0, 0)"
