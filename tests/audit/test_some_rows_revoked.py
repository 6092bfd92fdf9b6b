"""A key that stands in several rows, of which some say that it is revoked: it has one holder, so it
is revoked in all of them, for our verifier and for both that stand beside it.

`ssh-keygen` reads no comments. It agrees where `latchword keys revoke` made the file, which dates
every row; of a file edited in one row only it still goes by the other, and FORMAT.md says so.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest

from audit import allowed, sshsig
from audit.trust import Trust, Witnessed, revoke_key, trust_key
from audit.verify import verify
from tests.audit.agents import needs_ssh_agent
from tests.audit.helpers import START_MS, Forge, Person
from tests.audit.opinions import ask_python, ask_shell, difference, keygen_takes, missing_tools

LATER = "20270101000000Z"
SPACES = ",".join(sshsig.NAMESPACES)


def row(person: Person, *, before: str = "", comment: str = "", spaces: str = SPACES) -> str:
    dated = f',valid-before="{before}"' if before else ""
    words = [f'"{person.name}" namespaces="{spaces}"{dated}', sshsig.public_line(person.key)]
    return " ".join([*words, comment] if comment else words) + "\n"


MARK = f"revoked={LATER}"
FILES: dict[str, tuple[bool, Callable[[Person], str]]] = {
    "one row, not revoked": (False, row),
    "two rows, none revoked": (False, lambda p: row(p) + row(p, comment="of the survey")),
    "a word that is none": (False, lambda p: row(p, comment="of unrevoked=people")),
    "the first of two": (True, lambda p: row(p, before=LATER, comment=MARK) + row(p)),
    "the last of two": (True, lambda p: row(p) + row(p, before=LATER, comment=MARK)),
    "both": (True, lambda p: 2 * row(p, before=LATER, comment=MARK)),
    "behind other words": (True, lambda p: row(p, comment=f"lost, {MARK}") + row(p)),
    "behind a tab": (True, lambda p: row(p, comment=f"lost\t{MARK}") + row(p)),
    "without a date of its own": (True, lambda p: row(p, comment=MARK)),
    "in a row of another namespace": (
        True, lambda p: row(p) + row(p, comment=MARK, spaces="approve@latchword-v1"),
    ),
    "in a row of another name": (
        True, lambda p: row(p) + row(p, comment=MARK).replace(p.name, "An Other"),
    ),
    "in a row whose comment tells of another key": (
        True, lambda p: row(p) + row(p, comment=f"was ssh-ed25519 AAAAC3NzaX {MARK}"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_all_verifiers_agree(name: str, crew: list[Person], tmp_path: Path) -> None:
    revoked, make = FILES[name]
    log, signers = tmp_path / "run.jsonl", tmp_path / "allowed_signers"
    log.write_bytes(Forge(crew).open().close().log)
    text = make(crew[0]) + row(crew[1])
    signers.write_text(text, "utf-8")
    result = "untrusted" if revoked else "closed"
    verdict = verify(log, level="full", trust=Trust.read(signers))
    assert verdict.result == result
    answer = ask_python(log.read_bytes(), text)
    assert difference(log.read_bytes(), verdict, answer) == ""
    assert answer == f"untrusted: {crew[0].name}" or not revoked
    if not missing_tools():
        answer, code = ask_shell(log, signers)
        assert (answer.split(":")[0], code) == (result, 1 if revoked else 0)
    if revoked:
        # a witness of before makes it count, whichever row is marked
        known = Trust.read(signers, [Witnessed(verdict.head, START_MS + 60_000)])
        assert verify(log, level="full", trust=known).result == "closed"


@needs_ssh_agent
def test_ssh_keygen_agrees_with_a_file_in_which_every_row_is_dated(
    crew: list[Person], tmp_path: Path
) -> None:
    """Signed after the revocation: by the file that `keys revoke` makes nobody takes it."""
    forge = Forge(crew).open().close()
    log = forge.log
    signers = tmp_path / "allowed_signers"
    for person in crew:
        trust_key(signers, person.name, person.public_line)
        trust_key(signers, person.name, person.public_line, valid_before=LATER)
    at = allowed.time_text(START_MS + 60_000)
    assert keygen_takes(crew[0], signers, at)
    revoke_key(signers, crew[0].name, allowed.time_text(START_MS - 60_000))
    text = signers.read_text("utf-8")
    assert text.count(" revoked=") == 2
    assert not keygen_takes(crew[0], signers, at)
    assert keygen_takes(crew[1], signers, at)
    verdict = verify(io.BytesIO(log), level="full", trust=Trust.read(signers))
    assert (verdict.result, ask_python(log, text)) == ("untrusted", f"untrusted: {crew[0].name}")
    # and not even a witness of after it helps
    witness = [Witnessed(verdict.head, START_MS + 60_000)]
    late = verify(io.BytesIO(log), level="full", trust=Trust.read(signers, witness))
    assert late.result == "untrusted"
    # what was signed before it ssh-keygen takes, having no witness to ask
    assert keygen_takes(crew[0], signers, allowed.time_text(START_MS - 120_000))
    # one row only, by hand: it goes by the other; ours does not
    by_hand = tmp_path / "by_hand"
    by_hand.write_text(row(crew[0]) + row(crew[0], before=LATER, comment=MARK), "utf-8")
    assert keygen_takes(crew[0], by_hand, "20280101000000Z")
    found = Trust.read(by_hand).find(
        crew[0].name, crew[0].key, sshsig.CLOSE, allowed.time_ms("20280101000000Z")
    )
    assert found is None
