"""Documents made to do harm end in a few seconds and 300 MB, with a fault.

Each case runs in a process of its own whose address space and processor time the system limits, so
that breaking a limit ends that process and fails the test. The limit of memory is on what the case
adds to the program with its libraries loaded.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

resource = pytest.importorskip("resource", reason="this system cannot limit a process")

ROOT = Path(__file__).parents[3]
PLAIN = ROOT / "tests" / "examples" / "valid" / "plain"
SECONDS = 6
MEGABYTES = 300

HARNESS = """
import resource, sys
from pathlib import Path
from runner.flow.faults import FlowErrors
from runner.flow.loader import load_aircraft, load_documents
from runner.engine.conditions import NameType, compile_condition

compile_condition("a", {{"a": NameType("truth")}})  # loads what every aircraft loads
used = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
resource.setrlimit(resource.RLIMIT_AS, (used + {megabytes} * 2**20,) * 2)
spent = int(sum(resource.getrusage(resource.RUSAGE_SELF)[:2]))
resource.setrlimit(resource.RLIMIT_CPU, (spent + {seconds},) * 2)
plain = {{p.relative_to(sys.argv[1]).as_posix(): p.read_bytes()
         for p in Path(sys.argv[1]).rglob("*.yaml")}}
try:
{body}
except FlowErrors as errors:
    print(errors)
"""

CASES = {
    "fifty_megabytes": "d = {**plain, 'lists/work.yaml': b'- a: b\\n' * 7_500_000}",
    "a_megabyte_of_lists": "d = {**plain, 'lists/work.yaml': b'a:\\n' + b'- a\\n' * 260_000}",
    "a_megabyte_of_braces": "d = {**plain, 'lists/work.yaml': b'{' * 1_000_000}",
    "a_megabyte_of_keys": (
        "d = {**plain, 'lists/work.yaml': b''.join(b'k%d: 1\\n' % n for n in range(90_000))}"
    ),
    "a_megabyte_on_one_line": "d = {**plain, 'lists/work.yaml': b'- ' * 500_000 + b'a: b: c'}",
    "a_megabyte_of_colons": "d = {**plain, 'lists/work.yaml': b'a: ' * 340_000}",
    "a_megabyte_of_nan": "d = {**plain, 'lists/work.yaml': b'a: [' + b'.nan,' * 200_000 + b']'}",
    "a_long_number": "d = {**plain, 'lists/work.yaml': b'a: ' + b'9' * 1_000_000}",
    "a_long_word": "d = {**plain, 'lists/work.yaml': b'list: ' + b'x' * 1_000_000}",
    "a_long_key": "d = {**plain, 'lists/work.yaml': b'? ' + b'x' * 1_000_000 + b'\\n: 1\\n'}",
    "aliases_of_aliases": (
        "d = {**plain, 'lists/work.yaml': b'a: &a [x,x,x,x,x,x,x,x,x]\\n' + b''.join("
        "b'%c: &%c [' % (c, c) + b','.join([b'*%c' % (c - 1)] * 9) + b']\\n' "
        "for c in range(98, 115))}"
    ),
    "nested_in_blocks": (
        "d = {**plain, 'lists/work.yaml': b''.join(b' ' * n + b'a:\\n' for n in range(1_300))}"
    ),
    "levels_of_a_condition": (
        "d = {**plain, 'lists/work.yaml': plain['lists/work.yaml'].replace("
        "b'RELEASED', b'RELEASED\\n    when: \"' + b'(' * 95 + b'hook' + b')' * 95 + b'\"')}"
    ),
    "many_wrong_steps": (
        "d = {**plain, **{f'lists/l{n}.yaml': b'list: x\\nsteps:\\n' "
        "+ b'- {chalenge: a}\\n' * 6_000 "
        "for n in range(4)}}"
    ),
    "many_wrong_names": (
        "d = {**plain, **{f'lists/l{n}.yaml': b'list: l%d\\ntitle: L%d\\nsteps:\\n' % (n, n) "
        "+ b''.join(b'- {challenge: c%d, answer: A, drill: halp%d, when: hok%d}\\n' % (i, i, i) "
        "for i in range(199)) + b'- close: L\\n' for n in range(19)}}"
    ),
    "many_conditions": (
        "d = {**plain, **{f'lists/l{n}.yaml': b'list: l%d\\ntitle: L%d\\nsteps:\\n' % (n, n) "
        "+ b''.join(b'- {challenge: c%d, answer: A, when: tries > %d.%d}\\n' % (i, n, i) "
        "for i in range(199)) + b'- close: L\\n' for n in range(19)}}"
    ),
    "many_documents": "d = {**plain, **{f'lists/l{n}.yaml': b'{' for n in range(200_000)}}",
}


def run(body: str) -> str:
    text = "\n".join("    " + line for line in body.splitlines())
    program = HARNESS.format(body=text, megabytes=MEGABYTES, seconds=SECONDS)
    done = subprocess.run(
        [sys.executable, "-c", program, str(PLAIN)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    return done.stdout


needs_proc = pytest.mark.skipif(
    not Path("/proc/self/statm").exists(), reason="the size of a process is not told here"
)


@needs_proc
@pytest.mark.parametrize("case", sorted(CASES))
def test_a_hostile_document_ends_in_a_fault(case: str) -> None:
    told = run(CASES[case] + "\nload_documents(d)")
    assert ".yaml:" in told
    assert len(told) < 60_000


@needs_proc
def test_a_hostile_file_is_not_read_to_its_end(tmp_path: Path) -> None:
    (tmp_path / "aircraft.yaml").write_bytes(b"")
    with (tmp_path / "aircraft.yaml").open("r+b") as stream:
        stream.truncate(50 * 2**30)
    told = run(f"load_aircraft(Path({str(tmp_path)!r}))")
    assert "aircraft.yaml:1:1: the document is too long" in told


@needs_proc
def test_the_limits_of_these_tests_do_end_a_process() -> None:
    with pytest.raises(AssertionError, match="MemoryError"):
        run("x = bytearray(400 * 2**20)")
