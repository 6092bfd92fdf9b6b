"""Mutation testing of what verifies: each check changed in turn, and the tests that notice.

    python -m tests.audit.mutants.run                      the whole tier; minutes
    python -m tests.audit.mutants.run --sample 80          a sample, drawn by the sources themselves
    python -m tests.audit.mutants.run --only audit.course  one module

Rules: the tests are collected once and run once as they are, which tells which test reaches which
line, and once more on a mutant that changes nothing, which must hold; each mutant is then a forked
child in which those tests run until one fails. A child that takes far too long has noticed too.
Every check of every module is taken away, every comparison and bound changed. Exit 0 if the
survivors are exactly those that `survivors.toml` explains (among the mutants tried).
"""

from __future__ import annotations

import argparse
import functools
import hashlib
import json
import random
import sys
import tempfile
import tomllib
from pathlib import Path

import pytest

from tests.audit.mutants.changes import Mutant, mutants
from tests.audit.mutants.herd import Outcome, Trials

ROOT = Path(__file__).parents[3]
SURVIVORS = Path(__file__).with_name("survivors.toml")
MODULES = (
    "audit.verify", "audit.reader", "audit.skim", "audit.line", "audit.canonical", "audit.shapes",
    "audit.course", "audit.checker", "audit.curve", "audit.sshsig", "audit.trust", "audit.allowed",
    "audit.stamps", "audit.chain", "audit.together", "audit.evidence", "audit.beside",
    "audit.receipt", "audit.countersign", "audit.verdict", "audit.fleet.checkpoint",
    "audit.fleet.index", "audit.fleet.note", "audit.fleet.proofs", "audit.fleet.tree",
)  # fmt: skip
# the tests that judge logs and what stands beside them, in this process and quickly
TESTS = (
    "test_attempts.py", "test_lines_of_another_shape.py", "test_attempts_of_the_table.py",
    "test_skim.py", "test_some_rows_revoked.py", "test_single_refusals.py", "test_fields.py",
    "test_single_refusals_beside.py", "test_single_limits.py", "test_single_limits_beside.py",
    "test_single_bounds_beside.py",
    "test_what_a_verdict_says.py", "test_course.py", "test_allowed.py",
    "test_canonical.py", "test_chain.py", "test_countersign.py", "test_curve.py",
    "test_evidence.py", "test_folder.py", "test_independent.py",
    "test_reader.py", "test_receipt.py", "test_recovery.py", "test_revoked.py",
    "test_sshsig.py", "test_stamps.py", "test_together.py", "test_trust.py", "test_verify.py",
    "test_worked_example.py", "fleet",
)  # fmt: skip
# of those, what takes long or asks a program that no mutant gets into
_LEFT_OUT = (
    "any_text or memory_does_not or ssh_keygen or trust_alike or package_alone or file_alone or "
    "published_vectors or published_signatures or the_command or as_a_command or mutations_of"
)


def source_of(module: str) -> Path:
    """The file of a module."""
    return ROOT / (module.replace(".", "/") + ".py")


def every_mutant(modules: tuple[str, ...] = MODULES) -> list[Mutant]:
    """The mutants of the modules that verify."""
    return [mutant for module in modules for mutant in mutants(module, source_of(module))]


def digest_of_sources() -> str:
    """SHA-256 over the modules that verify."""
    digest = hashlib.sha256()
    for module in MODULES:
        digest.update(source_of(module).read_bytes())
    return digest.hexdigest()


def sample(every: list[Mutant], size: int) -> list[Mutant]:
    """`size` of them, the same for the same sources."""
    chosen = random.Random(digest_of_sources()).sample(every, min(size, len(every)))
    return sorted(chosen, key=lambda mutant: (MODULES.index(mutant.module), mutant.line))


def explained() -> dict[str, dict[str, str]]:
    """Why a mutant survives: module, name, reason."""
    return tomllib.loads(SURVIVORS.read_text("utf-8"))


def differences(outcomes: list[Outcome]) -> list[str]:
    """Survivors without a reason, and reasons for what did not survive."""
    known = explained()
    found = []
    for one in outcomes:
        reason = known.get(one.module, {}).get(one.name)
        if one.killer == "" and reason is None:
            found.append(f"survived: {one.module}, line {one.line}: {one.name}")
        if one.killer != "" and reason is not None:
            found.append(f"did not survive: {one.module}: {one.name}; killed by {one.killer}")
    return found


def _told(progress: Path | None, outcome: Outcome) -> None:
    if progress is not None:
        with progress.open("a", encoding="utf-8") as stream:
            stream.write(json.dumps(outcome._asdict(), ensure_ascii=False) + "\n")


def main(arguments: list[str]) -> int:
    """Run; the answers on standard output, one line each."""
    parser = argparse.ArgumentParser(prog="python -m tests.audit.mutants.run")
    parser.add_argument("--sample", type=int, help="how many; all without it")
    parser.add_argument("--only", action="append", help="a module; all without it")
    parser.add_argument("--tests", action="append", help="a file of tests; all of them without it")
    parser.add_argument("--match", default="", help="only mutants whose name contains this")
    parser.add_argument("--removals", action="store_true", help="only those that remove a check")
    parser.add_argument("--jobs", type=int, default=2, help="children at once")
    parser.add_argument("--progress", type=Path, help="add every outcome to this file as it comes")
    parser.add_argument("--again", type=Path, help="only those that survived in this progress")
    parser.add_argument("--report", type=Path, help="write every outcome to this file, as JSON")
    chosen = parser.parse_args(arguments)
    wanted = every_mutant(tuple(chosen.only or MODULES))
    wanted = [mutant for mutant in wanted if chosen.match in mutant.name]
    if chosen.again:
        told = map(json.loads, chosen.again.read_text("utf-8").splitlines())
        before = {(row["module"], row["name"]) for row in told if not row["killer"]}
        wanted = [mutant for mutant in wanted if (mutant.module, mutant.name) in before]
    if chosen.removals:
        wanted = [mutant for mutant in wanted if mutant.removes]
    if chosen.sample is not None:
        wanted = sample(wanted, chosen.sample)
    sources = {module: source_of(module) for module in MODULES}
    trials = Trials(wanted, sources, chosen.jobs, functools.partial(_told, chosen.progress))
    with tempfile.TemporaryDirectory() as folder:
        options = [
            "-q", "-p", "no:randomly", "-p", "no:cacheprovider", "--no-header", "--no-summary",
            f"--basetemp={folder}/t", f"--rootdir={ROOT}", f"-c={ROOT / 'pyproject.toml'}",
        ]  # fmt: skip
        options += ["-k", f"not ({_LEFT_OUT})"]
        tests = [str(ROOT / "tests/audit" / name) for name in chosen.tests or TESTS]
        pytest.main([*options, *tests], plugins=[trials])
    if trials.broken:
        print("\n".join(["these tests fail without any mutant:", *trials.broken]))
        return 2
    found = differences(trials.outcomes)
    if chosen.report:
        rows = [outcome._asdict() for outcome in trials.outcomes]
        report = {"sources": digest_of_sources(), "mutants": rows}
        chosen.report.write_text(json.dumps(report, ensure_ascii=False, indent=1), "utf-8")
    killed = sum(one.killer != "" for one in trials.outcomes)
    print("\n".join(found))
    print(
        f"{len(trials.outcomes)} mutants, {killed} killed, {len(trials.outcomes) - killed} "
        f"survived, {len(found)} unexplained"
    )
    return 1 if found or len(trials.outcomes) != len(wanted) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
