"""No check of the verifier can be taken away or moved without a test that falls.

Those of one small module and a sample in every run, all of them in the long tier. What survives
stands with its reason in `survivors.toml`; a reason for what a test does notice falls too.
"""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.audit.mutants import run
from tests.audit.mutants.changes import mutants
from tests.audit.mutants.herd import Outcome

needs_fork = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="this system cannot fork: no mutants are made"
)


def _run(*options: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "tests.audit.mutants.run", *options],
        cwd=run.ROOT, env={**os.environ, "PYTHONPATH": str(run.ROOT)}, capture_output=True,
        text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-2000:]
    return done.stdout.splitlines()[-1]


def test_every_reason_is_a_sentence_on_a_mutant_that_there_is() -> None:
    names = {(mutant.module, mutant.name) for mutant in run.every_mutant()}
    for module, reasons in run.explained().items():
        for name, reason in reasons.items():
            assert (module, name) in names, name
            assert len(reason.split()) >= 4, name


def test_names_are_unique_and_every_change_compiles() -> None:
    every = run.every_mutant()
    assert len({(mutant.module, mutant.name) for mutant in every}) == len(every) > 2_500
    for mutant in run.sample(every, 60):
        tree = ast.parse(run.source_of(mutant.module).read_text("utf-8"))
        before = ast.dump(tree)
        mutant.apply(tree)
        assert ast.dump(tree) != before
        compile(tree, mutant.module, "exec")


def test_a_check_of_every_kind_is_changed_in_every_way(tmp_path: Path) -> None:
    source = tmp_path / "small.py"
    source.write_text(
        "LONGEST = 9\n"
        "def f(a, b):\n"
        "    if a < 5 and not b:\n"
        "        raise Fault('code', 'why')\n"
        "    check(a)\n"
        "    return any(x for x in a if x)\n",
        "utf-8",
    )
    names = [mutant.name for mutant in mutants("small", source)]
    assert names == [
        "LONGEST: 9 -> 8",
        "LONGEST: 9 -> 10",
        "f: if a < 5 and (not b) -> True",
        "f: if a < 5 and (not b) -> False",
        "f: a < 5 and (not b) -> without a < 5",
        "f: a < 5 and (not b) -> without not b",
        "f: a < 5 -> a >= 5",
        "f: a < 5 -> a <= 5",
        "f: 5 -> 4",
        "f: 5 -> 6",
        "f: not b -> b",
        "f: no raise Fault('code', 'why')",
        "f: raise Fault('code', 'why') -> another code",
        "f: no check(a)",
        "f: any -> all",
        "f: for x in a -> without if x",
    ]


def test_a_survivor_without_a_reason_is_told_and_a_reason_without_a_survivor_too(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(run, "explained", lambda: {"m": {"f: x": "why it is so here"}})
    kept, dead = Outcome("m", "f: x", 1, "", 1, 0.0), Outcome("m", "f: y", 2, "a test", 1, 0.0)
    assert run.differences([kept, dead]) == []
    assert run.differences([kept._replace(killer="a test")]) == [
        "did not survive: m: f: x; killed by a test"
    ]
    assert run.differences([dead._replace(killer="")]) == ["survived: m, line 2: f: y"]


@needs_fork
@pytest.mark.parametrize(
    ("held", "said"),
    [
        ("True", "[]"),
        ("not SEEN", "['test_it.py::test_it: in a mutant without change']"),
        ("not SEEN or os._exit(1)", "['one that ends the process: in a mutant without change']"),
    ],
)
def test_a_test_that_does_not_hold_again_is_told(tmp_path: Path, held: str, said: str) -> None:
    (tmp_path / "test_it.py").write_text(
        f"import os\nSEEN = []\ndef test_it():\n    assert {held}\n    SEEN.append(1)\n", "utf-8"
    )
    program = (
        "import pytest\n"
        "from tests.audit.mutants.herd import Trials\n"
        "trials = Trials([], {}, 1, print)\n"
        "pytest.main(['-q', '-p', 'no:randomly', '-p', 'no:cacheprovider'], plugins=[trials])\n"
        "print(trials.broken)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=tmp_path, capture_output=True, text=True, check=True,
        env={**os.environ, "PYTHONPATH": str(run.ROOT)},
    )  # fmt: skip
    assert done.stdout.splitlines()[-1] == said


@needs_fork
def test_every_mutant_of_a_small_module() -> None:
    tests = ("--tests", "test_curve.py", "--tests", "test_what_a_verdict_says.py")
    last = _run("--only", "audit.curve", *tests)
    assert last.endswith(" 0 unexplained")


@needs_fork
def test_a_sample() -> None:
    assert _run("--sample", "60").startswith("60 mutants, ")


@pytest.mark.long
@needs_fork
def test_every_mutant(record_property: Callable[[str, object], None]) -> None:
    last = _run()
    found = re.fullmatch(r"(\d+) mutants, (\d+) killed, (\d+) survived, 0 unexplained", last)
    assert found is not None, last
    tried, killed, survived = map(int, found.groups())
    assert tried == killed + survived == len(run.every_mutant())
    record_property("mutants of the verifier noticed", killed)
    record_property("mutants of the verifier explained", survived)
