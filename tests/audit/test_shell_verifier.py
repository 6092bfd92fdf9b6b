"""verify.sh and our own verifier give the same answer on a stratified sample of the corpus.

It takes some 0.1 s a line, so the normal tier asks about a log or two of each kind, and the long
tier about three hundred.
"""

import io
import os
import random
import subprocess
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import islice
from pathlib import Path
from typing import NamedTuple

import pytest

from audit.trust import revoke_key, trust_key
from audit.verify import verify
from tests.audit.forged_to_the_end import BROKEN, GOOD
from tests.audit.helpers import START_MS, Forge, Person, trust_in
from tests.audit.opinions import (
    SHELL,
    UNCHECKED_BY_SHELL,
    ask_shell,
    difference,
    missing_tools,
    signers_text,
)

WHY_NOT = missing_tools()
pytestmark = pytest.mark.skipif(bool(WHY_NOT), reason=f"verify.sh: {WHY_NOT}")


class Case(NamedTuple):
    kind: str
    log: bytes
    people: list[Person]


def _changes(kind: str, log: bytes, people: list[Person]) -> Iterator[Case]:
    """Endlessly many changes of one kind to a log, always the same ones."""
    rng = random.Random(kind)
    rows = log.splitlines(keepends=True)
    while True:
        at, row = rng.randrange(len(log)), rng.randrange(len(rows))
        other = rng.choice([number for number in range(len(rows)) if number != row])
        swapped = [*rows]
        swapped[row], swapped[other] = rows[other], rows[row]
        changed = {
            "a byte changed": log[:at] + bytes([log[at] ^ rng.randrange(1, 256)]) + log[at + 1 :],
            "a byte dropped": log[:at] + log[at + 1 :],
            "a byte added": log[:at] + bytes([rng.randrange(256)]) + log[at:],
            "cut inside a line": log[:at],
            "cut after a line": b"".join(rows[:row]),
            "a line dropped": b"".join([*rows[:row], *rows[row + 1 :]]),
            "a line doubled": b"".join([*rows[:row], rows[row], *rows[row:]]),
            "two lines swapped": b"".join(swapped),
        }
        yield Case(kind, changed[kind], people)


KINDS = (
    "a byte changed", "a byte dropped", "a byte added", "cut inside a line", "cut after a line",
    "a line dropped", "a line doubled", "two lines swapped",
)  # fmt: skip
FEW = {
    "a key that was not named", "a resume nobody vouched for", "vouched without the head",
    "closed in another namespace", "closed by one twice", "signed at the desk",
}  # fmt: skip


def _ask(case: Case, path: Path) -> str:
    log, signers = path.with_suffix(".jsonl"), path.with_suffix(".signers")
    log.write_bytes(case.log)
    trust = trust_in(case.people)
    signers.write_text(signers_text(trust), "utf-8")
    verdict = verify(io.BytesIO(case.log), level="full", trust=trust)
    answer, code = ask_shell(log, signers)
    assert code == (0 if answer.startswith("closed: ") else 1)
    found = difference(case.log, verdict, answer, UNCHECKED_BY_SHELL)
    return found and f"{case.kind}: {found}"


def _all_agree(cases: list[Case], tmp_path: Path) -> None:
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        paths = (tmp_path / f"case-{number}" for number in range(len(cases)))
        assert [found for found in pool.map(_ask, cases, paths) if found] == []


def _forged(crew: list[Person]) -> Iterator[Case]:
    for name, (_, build) in BROKEN.items():
        yield Case(name, build(Forge(crew)).log, crew)


def _good(crew: list[Person]) -> Iterator[Case]:
    for name, build in GOOD.items():
        forge = build(Forge(crew))
        yield Case(name, forge.log, list(forge.people))


def test_a_few_of_each_kind(
    tmp_path: Path, crew: list[Person], whole: tuple[Path, list[Person]]
) -> None:
    log, people = whole[0].read_bytes(), whole[1]
    cases = [next(_changes(kind, log, people)) for kind in KINDS]
    cases += [case for case in _forged(crew) if case.kind in FEW]
    cases += [case for case in _good(crew) if case.kind in FEW]
    assert len(cases) == len(KINDS) + len(FEW)
    _all_agree([*cases, Case("every type of line", log, people)], tmp_path)


@pytest.mark.long
def test_three_hundred(
    tmp_path: Path,
    crew: list[Person],
    whole: tuple[Path, list[Person]],
    record_property: Callable[[str, object], None],
) -> None:
    log, people = whole[0].read_bytes(), whole[1]
    cases = [*_forged(crew), *_good(crew)]
    each = -(-(300 - len(cases)) // len(KINDS))
    for kind in KINDS:
        cases += islice(_changes(kind, log, people), each)
    assert len(cases) >= 300
    _all_agree(cases, tmp_path)
    record_property("logs on which the shell verifier agrees", len(cases))


def test_who_is_trusted_when(tmp_path: Path, crew: list[Person]) -> None:
    log = tmp_path / "run.jsonl"
    log.write_bytes(Forge(crew).open().close().log)
    signers = tmp_path / "allowed_signers"
    for trust, result in (
        (trust_in(crew), "closed"),
        (trust_in(crew[:1]), "untrusted"),
        (trust_in(crew, before=START_MS - 1_000), "untrusted"),
        (trust_in(crew, after=START_MS + 60_000), "untrusted"),
        (trust_in(crew, after=START_MS - 1_000, before=START_MS + 60_000), "closed"),
    ):
        signers.write_text(signers_text(trust), "utf-8")
        answer, code = ask_shell(log, signers)
        assert (answer.split(":")[0], code) == (result, 0 if result == "closed" else 1)
        with log.open("rb") as stream:
            assert verify(stream, level="full", trust=trust).result == result


def test_a_revoked_key_makes_nobody_trusted_without_a_witness(
    tmp_path: Path, crew: list[Person]
) -> None:
    log, signers = tmp_path / "run.jsonl", tmp_path / "allowed_signers"
    log.write_bytes(Forge(crew).open().close().log)
    for person in crew:
        trust_key(signers, person.name, person.public_line)
    revoke_key(signers, crew[0].name, "20300101000000Z")
    assert ask_shell(log, signers) == (f"untrusted: {crew[0].name} {crew[0].name}", 1)


def test_misuse(tmp_path: Path) -> None:
    for words in ([], ["a", "b", "c"], [str(tmp_path / "none")]):
        done = subprocess.run(
            ["bash", str(SHELL), *words], capture_output=True, text=True, check=False
        )
        assert (done.returncode, done.stdout) == (1, "")
        assert done.stderr == "usage: verify.sh LOG [ALLOWED_SIGNERS]\n"
