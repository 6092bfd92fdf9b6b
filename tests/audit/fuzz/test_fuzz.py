"""The fuzzer runs for a number of inputs; what it asks is shown to be able to find something.

It needs `atheris` (Linux); without it the runs are skipped, and say so. An input that it found goes
in here as a test of its own.
"""

from __future__ import annotations

import importlib.util
import io
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from audit.verify import verify
from tests.audit.fuzz import kinds
from tests.audit.fuzz.kinds import KINDS, Bench, Found, a_log, one_input, seeds
from tests.audit.opinions import ask_python

ROOT = Path(__file__).parents[3]
needs_atheris = pytest.mark.skipif(
    importlib.util.find_spec("atheris") is None, reason="atheris is not installed: no fuzzing"
)


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    return Bench.made(tmp_path_factory.mktemp("fuzz"))


def test_there_is_a_seed_for_every_reader(bench: Bench) -> None:
    assert {KINDS[seed[0]] for seed in seeds(bench)} == set(KINDS)
    for seed in seeds(bench):
        one_input(bench, seed)


def test_what_is_true_is_taken(bench: Bench) -> None:
    # a reader that refused everything would never be found out
    for seed in seeds(bench):
        kind = KINDS[seed[0]]
        if kind not in (kinds.a_log, kinds.bodies_of_a_log, kinds.allowed_signers):
            kind(bench, seed[1:])
    assert ask_python(bench.log, bench.signers).startswith("closed: ")


def test_bodies_become_lines_that_hold_as_far_as_people_signed(bench: Bench) -> None:
    (bodies, *_) = (seed[1:] for seed in seeds(bench) if KINDS[seed[0]] is kinds.bodies_of_a_log)
    log = bench.rewritten(bodies)
    verdict = verify(io.BytesIO(log), level="full", trust=bench.trust)
    # line 0 holds with its new key; the first signature of a person over it does not fit any more
    assert (verdict.result, verdict.line, verdict.code) == ("rejected", 1, "person-signature")


def test_a_verifier_that_takes_too_much_is_found(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = verify(io.BytesIO(bench.log), level="full", trust=bench.trust)
    assert whole.result == "closed"
    monkeypatch.setattr("tests.audit.fuzz.kinds.verify", lambda *_, **__: whole)
    a_log(bench, bench.log)
    with pytest.raises(Found):
        a_log(bench, bench.log + b"x")


def test_a_reader_that_takes_too_much_is_found(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    changed = bench.word.replace(b"accepted", b"returned")
    one_input(bench, bytes([KINDS.index(kinds.a_word)]) + changed)
    monkeypatch.setattr("audit.sshsig.verify", lambda *_: None)
    with pytest.raises(Found):
        one_input(bench, bytes([KINDS.index(kinds.a_word)]) + changed)


def test_an_error_that_is_not_ours_escapes(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(text: str) -> None:
        raise ValueError(text)

    monkeypatch.setattr("audit.receipt.parse", broken)
    with pytest.raises(ValueError, match="x"):
        one_input(bench, bytes([KINDS.index(kinds.a_receipt)]) + b"x")


def _fuzzed(runs: int, seed: int, folder: Path) -> tuple[int, int]:
    """How much of `audit` the seeds reach, and how much was reached in the end."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.audit.fuzz.target", f"-runs={runs}", f"-seed={seed}",
         f"-artifact_prefix={folder}/"],
        cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-4000:]
    first = re.search(r"INITED cov: (\d+)", done.stderr)
    last = re.search(rf"#{runs}\s+DONE\s+cov: (\d+)", done.stderr)
    assert first is not None, done.stderr[-4000:]
    assert last is not None, done.stderr[-4000:]
    return int(first[1]), int(last[1])


@needs_atheris
def test_some_thousand_inputs(tmp_path: Path) -> None:
    before, after = _fuzzed(4_000, 1, tmp_path)
    assert after > before > 300


@pytest.mark.long
@needs_atheris
@pytest.mark.parametrize("seed", [2, 3])
def test_many_thousand_inputs(tmp_path: Path, seed: int) -> None:
    before, after = _fuzzed(150_000, seed, tmp_path)
    assert after > before > 300
