"""verify_independent.py and our own verifier give the same answer to every log there is here.

The tests of attempts, of courses of runs and of recovery ask it as well (see `conftest.py`).
"""

import ast
import io
import random
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import rfc8785
from cryptography.exceptions import InvalidSignature
from hypothesis import given

from audit.trust import revoke_key, trust_key
from audit.verify import verify
from tests.audit.forged_to_the_end import BROKEN, GOOD
from tests.audit.helpers import START_MS, Forge, Person, check, full_log, saved_states, trust_in
from tests.audit.opinions import (
    PYTHON,
    UNCHECKED,
    ask_python,
    difference,
    independent,
    signers_text,
)
from tests.audit.test_canonical import values
from tests.audit.test_curve import SMALL, P, published


@pytest.mark.parametrize("name", GOOD)
def test_good_logs_are_closed(crew: list[Person], name: str) -> None:
    forge = GOOD[name](Forge(crew))
    trust = trust_in(forge.people)
    assert check(forge.log, forge.people).result == "closed"
    answer = ask_python(forge.log, signers_text(trust))
    assert answer == (
        f"closed: {len(forge.rows)} lines, crew, "
        f"signed by {', '.join(person.name for person in forge.people)}"
    )


@pytest.mark.parametrize("name", BROKEN)
def test_one_broken_rule_is_enough(crew: list[Person], name: str) -> None:
    code, build = BROKEN[name]
    forge = build(Forge(crew))
    verdict = check(forge.log, crew)
    assert (verdict.result, verdict.code) == ("rejected", code)
    answer = ask_python(forge.log, signers_text(trust_in(forge.people)))
    assert answer.startswith(f"rejected: line {verdict.line}: ")


def test_the_broken_logs_need_every_rule_that_it_checks() -> None:
    # what stops a broken log is one of the checks that the docstring does not leave out
    # (of rosters that names and keys are different, of text that it has no control characters,
    # of times that they have all their digits)
    checked = {code for code, _ in BROKEN.values()}
    assert checked & UNCHECKED == {"roster", "profile", "stamp"}
    assert len(checked) == 21


def test_an_empty_file_is_torn() -> None:
    assert ask_python(b"", "") == "torn: no line"


def test_mutations_of_a_log_with_every_type_of_line(whole: tuple[Path, list[Person]]) -> None:
    assert _mutations(whole, step=43) > 1_500


@pytest.mark.long
def test_every_mutation_of_a_log_with_every_type_of_line(
    whole: tuple[Path, list[Person]], record_property: Callable[[str, object], None]
) -> None:
    tried = _mutations(whole, step=1)
    assert tried > 80_000
    record_property("mutations on which two verifiers agree", tried)


def _changes(log: bytes, step: int) -> Iterator[tuple[int, bytes]]:
    """From which byte on, and the whole changed log."""
    rng = random.Random(8032)
    rows = log.splitlines(keepends=True)
    for at in range(rng.randrange(step), len(log), step):
        near = {log[at] ^ 1, log[at] ^ 0x20, log[at] ^ 0x80}
        for other in (*near, *rng.sample(sorted({*range(256)} - near - {log[at]}), 2)):
            yield at, log[:at] + bytes([other]) + log[at + 1 :]
        yield at, log[:at] + log[at + 1 :]
        yield at, log[:at] + bytes([rng.randrange(256)]) + log[at:]
        yield at, log[:at]
    offset = 0
    for at, row in enumerate(rows):
        yield offset, b"".join([*rows[:at], *rows[at + 1 :]])
        yield offset, b"".join([*rows[:at], row, *rows[at:]])
        for other in range(at + 1, len(rows)):
            swapped = [*rows]
            swapped[at], swapped[other] = rows[other], row
            yield offset, b"".join(swapped)
        offset += len(row)


def _mutations(whole: tuple[Path, list[Person]], step: int) -> int:
    """How many were asked about; ours from the state saved before, as in `test_mutations`."""
    path, people = whole
    trust, saved = trust_in(people), saved_states(path, people)
    signers = signers_text(trust)
    number = 0
    for at, changed in _changes(path.read_bytes(), step):
        number += 1
        start = [state for state in saved if state.offset <= at][-1]
        verdict = verify(io.BytesIO(changed), level="full", trust=trust, start=start)
        assert difference(changed, verdict, ask_python(changed, signers)) == ""
    return number


def test_who_is_trusted_when_and_for_what(crew: list[Person]) -> None:
    log = Forge(crew).open().close().log
    for trust in (
        trust_in(crew),
        trust_in(crew[:1]),
        trust_in([Person(person.name) for person in crew]),
        trust_in(crew, before=START_MS - 1_000),
        trust_in(crew, after=START_MS + 60_000),
        trust_in(crew, after=START_MS - 1_000, before=START_MS + 60_000),
    ):
        verdict = verify(io.BytesIO(log), level="full", trust=trust)
        assert difference(log, verdict, ask_python(log, signers_text(trust))) == ""
    good = signers_text(trust_in(crew))
    assert ask_python(log, good).startswith("closed")
    # a row in any other spelling makes nobody trusted, rather than somebody
    for bad in (
        good.replace('"Maren Holt"', '"Maren*"'),
        good.replace('"Maren Holt"', '"!Maren Holt,Maren Holt"'),
        good.replace("namespaces=", "cert-authority,namespaces="),
        good.replace("open@latchword-v1", "*"),
        good.replace(" ssh-ed25519", ',valid-before="20200101" ssh-ed25519'),
        good.replace("ssh-ed25519", "#ssh-ed25519"),
        "",
    ):
        assert ask_python(log, bad).startswith("untrusted: ")


def test_a_revoked_key_makes_nobody_trusted_without_a_witness(
    tmp_path: Path, crew: list[Person]
) -> None:
    log = Forge(crew).open().close().log
    signers = tmp_path / "allowed_signers"
    for person in crew:
        trust_key(signers, person.name, person.public_line)
    good = signers.read_text("utf-8")
    assert ask_python(log, good).startswith("closed")
    commented = good.replace("\n", " of the survey\n")
    assert ask_python(log, commented).startswith("closed")
    signers.write_text(commented, "utf-8")
    revoke_key(signers, crew[0].name, "20300101000000Z")
    assert ask_python(log, signers.read_text("utf-8")) == f"untrusted: {crew[0].name}"


def test_published_signatures_verify_and_their_changes_do_not() -> None:
    # the list published with the scheme, RFC 8032's cases among it (see test_curve.py)
    module = independent()
    for number, (_, key, message, signature) in enumerate(published()):
        judge = module.public(key)
        judge.verify(signature, message)
        bit = number % 512
        changed = bytearray(signature)
        changed[bit // 8] ^= 1 << bit % 8
        with pytest.raises(InvalidSignature):
            judge.verify(bytes(changed), message)


@given(values)
def test_its_spelling_is_the_one_of_rfc_8785(value: Any) -> None:
    assert independent().FORM.encode(value).encode() == rfc8785.dumps(value)


def test_no_small_order_key_and_no_second_encoding_is_taken() -> None:
    public = independent().public
    for raw in SMALL:
        with pytest.raises(ValueError, match="of large order"):
            public(raw)
    for y in range(P, 2**255):
        for sign in (0, 1):
            with pytest.raises(ValueError, match="in its one encoding"):
                public((y | sign << 255).to_bytes(32, "little"))
    for _ in range(20):
        key = Person("x").key
        assert public(key).public_bytes_raw() == key


def test_it_shares_nothing_with_the_package() -> None:
    allowed = {*sys.stdlib_module_names, "cryptography"}
    for node in ast.walk(ast.parse(PYTHON.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            assert {alias.name for alias in node.names} <= allowed
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0
            assert (node.module or "").split(".")[0] in allowed


def test_the_file_alone_as_a_command(tmp_path: Path) -> None:
    """Only the file, an interpreter that looks nowhere else, and a log."""
    log, people = full_log(tmp_path / "logs")
    signers = tmp_path / "allowed_signers"
    signers.write_text(signers_text(trust_in(people)), "utf-8")
    cut = tmp_path / "cut.jsonl"
    cut.write_bytes(b"".join(log.read_bytes().splitlines(keepends=True)[:-1]))
    changed = tmp_path / "changed.jsonl"
    changed.write_bytes(log.read_bytes().replace(b'"count":', b'"count":1'))
    torn = tmp_path / "torn.jsonl"
    torn.write_bytes(log.read_bytes()[:-1])
    latin = tmp_path / "latin"
    latin.write_bytes(b"\xe5")
    alone = tmp_path / "alone" / "verify_independent.py"
    alone.parent.mkdir()
    shutil.copy(PYTHON, alone)
    for words, code, said in (
        ([log, signers], 0, "closed: 18 lines"),
        ([log], 1, "untrusted: "),
        ([cut, signers], 1, "unclosed: 17 lines; owed by Tor O'Brien"),
        ([torn, signers], 1, "torn: line 17"),
        ([changed, signers], 1, "rejected: line 13: "),
        ([log, latin], 1, ""),
        ([], 1, ""),
        ([log, signers, signers], 1, ""),
        ([tmp_path / "none", signers], 1, ""),
        ([log, tmp_path / "none"], 1, ""),
    ):
        done = subprocess.run(
            [sys.executable, "-I", str(alone), *map(str, words)],
            capture_output=True,
            encoding="utf-8",
            cwd=alone.parent,
            env={"PYTHONUTF8": "1"},
            check=False,
        )
        assert done.returncode == code, done
        assert done.stdout.startswith(said)
        # what is no question gets no answer, but a message
        assert bool(done.stdout) == bool(said) != bool(done.stderr)
        assert "Traceback" not in done.stderr
