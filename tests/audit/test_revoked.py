"""A revoked key: nothing after its date, and before it only what a witness knew before."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit import allowed, durable, sshsig
from audit.errors import TrustError
from audit.folder import LogFolder
from audit.line import head_of
from audit.trust import Allowed, Trust, Witnessed, revoke_key, trust_key
from audit.verify import verify
from tests.audit.helpers import START_MS, Clock, Person, simple_log

HOUR = 3_600_000


@pytest.fixture
def log(folder: LogFolder, crew: list[Person], clock: Clock) -> Path:
    return simple_log(folder, crew, clock)


@pytest.fixture
def trusted(tmp_path: Path, crew: list[Person]) -> Path:
    path = tmp_path / "allowed"
    for person in crew:
        trust_key(path, person.name, person.public_line)
    return path


def heads(log: Path) -> list[str]:
    return [head_of(row) for row in log.read_bytes().splitlines(keepends=True)]


REVOKED_MS = START_MS + HOUR - START_MS % 1000


@pytest.mark.parametrize("level", ["boundary", "full"])
def test_a_key_since_revoked_counts_for_heads_witnessed_before(
    log: Path, trusted: Path, crew: list[Person], level: str
) -> None:
    revoke_key(trusted, crew[1].name, allowed.time_text(REVOKED_MS))
    last = len(heads(log)) - 1

    def verdict(*witnessed: Witnessed) -> tuple[str, str]:
        found = verify(log, level=level, trust=Trust.read(trusted, witnessed))
        assert found.counts() == (found.result == "closed")
        return found.result, found.why + " | " + "; ".join(found.notes)

    result, why = verdict()
    assert result == "untrusted"
    assert (
        "not by trusted keys: Åsa Lind | the key of Åsa Lind was revoked at 2026-11-24T22:50:03"
        in why
    )
    assert "no witness is known who knew this log before" in why
    final = heads(log)[last]
    assert verdict(Witnessed(final, REVOKED_MS - 1000))[0] == "closed"
    assert verdict(Witnessed(final, REVOKED_MS))[0] == "untrusted"
    assert verdict(Witnessed(final, REVOKED_MS + 1000))[0] == "untrusted"
    assert verdict(Witnessed("0" * 64, REVOKED_MS - 1000))[0] == "untrusted"
    # a head before the last signature proves what was signed by then, not what came after
    assert verdict(Witnessed(heads(log)[last - 1], REVOKED_MS - 1000))[0] == "untrusted"
    assert verdict(Witnessed(heads(log)[4], REVOKED_MS - 1000))[0] == "untrusted"
    # of several witnesses the earliest counts
    late, early = Witnessed(final, REVOKED_MS + 1), Witnessed(final, REVOKED_MS - 1)
    assert verdict(late, early)[0] == verdict(early, late)[0] == "closed"


def test_a_signature_dated_after_the_revocation_counts_never(
    log: Path, trusted: Path, crew: list[Person]
) -> None:
    revoke_key(trusted, crew[1].name, allowed.time_text(START_MS - HOUR))
    witness = Witnessed(heads(log)[-1], START_MS - 2 * HOUR)
    assert verify(log, level="full", trust=Trust.read(trusted, [witness])).result == "untrusted"


def test_a_key_revoked_in_one_line_is_revoked_in_all(crew: list[Person]) -> None:
    person = crew[0]
    lines = [
        Allowed(person.name, person.key, None, None, None),
        Allowed("other", person.key, None, None, None, START_MS + HOUR),
    ]
    for order in (lines, lines[::-1]):
        trust = Trust(order)
        assert trust.revoked_ms(person.key) == START_MS + HOUR
        assert trust.find(person.name, person.key, sshsig.OPEN, START_MS) is None
        early, late = START_MS + HOUR - 1, START_MS + HOUR
        asked = (person.name, person.key, sshsig.OPEN, START_MS)
        assert trust.find(*asked, witnessed_ms=early) is not None
        assert trust.find(*asked, witnessed_ms=late) is None


def test_revoking_keeps_every_other_line_and_option(tmp_path: Path, crew: list[Person]) -> None:
    path = tmp_path / "allowed"
    one, two = crew
    rows = [
        "# a remark, and an empty line\n",
        "\n",
        f'x,{one.name.split()[0]} namespaces="a,b",valid-after="20260101Z" {one.public_line} old\n',
        f'"{two.name}" {two.public_line} kept as it is\n',
        f'"{one.name}" valid-before="20261001Z" {one.public_line}\n',
        "y ssh-rsa AAAA",
    ]
    path.write_text("".join(rows), "utf-8")
    changed = revoke_key(path, sshsig.fingerprint(one.key), "20261124215003Z")
    assert [line.principals for line in changed] == ["x,Maren", "Maren Holt"]
    after = path.read_text("utf-8").splitlines(keepends=True)
    assert [after[n] for n in (0, 1, 3, 5)] == [rows[n] for n in (0, 1, 3, 5)]
    assert after[2] == (
        '"x,Maren" namespaces="a,b",valid-after="20260101000000Z",valid-before="20261124215003Z" '
        f"{one.public_line} revoked=20261124215003Z old\n"
    )
    assert after[4] == (
        f'"{one.name}" valid-before="20261001000000Z" {one.public_line} revoked=20261124215003Z\n'
    )
    # read again, it says the same; a second time, nothing changes
    content = path.read_bytes()
    assert revoke_key(path, one.name, "20261125Z") == changed
    assert path.read_bytes() == content
    assert list(tmp_path.iterdir()) == [path]


def test_a_revoked_key_is_never_trusted_again(tmp_path: Path, crew: list[Person]) -> None:
    path = tmp_path / "allowed"
    one = crew[0]
    for row in (
        f"x {one.public_line} revoked=20261124Z\n",
        f"x {one.public_line} a remark revoked=20261124Z\n",
    ):
        path.write_text(row, "utf-8")
        with pytest.raises(TrustError, match="is revoked; a revoked key never comes back"):
            trust_key(path, one.name, one.public_line)
        assert path.read_text("utf-8") == row


def test_spaces_and_an_earlier_mark_do_not_hide_a_key(tmp_path: Path, crew: list[Person]) -> None:
    path = tmp_path / "allowed"
    one = crew[0]
    path.write_text(
        f"x   ssh-ed25519\t{one.public_line.split()[1]}  remark revoked=20261124Z end\n", "utf-8"
    )
    (line,) = revoke_key(path, sshsig.fingerprint(one.key), "20261120Z")
    assert line.revoked_ms == allowed.time_ms("20261120Z")
    assert path.read_text("utf-8") == (
        f'"x" valid-before="20261120000000Z" {one.public_line} revoked=20261120000000Z remark end\n'
    )


def test_a_revocation_that_cannot_be_written_leaves_the_file(
    trusted: Path, crew: list[Person], monkeypatch: pytest.MonkeyPatch
) -> None:
    before = trusted.read_bytes()

    def full(fd: int, data: bytes) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(durable, "write_all", full)
    with pytest.raises(TrustError, match="cannot be written: No space left"):
        revoke_key(trusted, crew[0].name, "20261124Z")
    assert trusted.read_bytes() == before
    with pytest.raises(TrustError, match="is not revoked: time 'x'"):
        revoke_key(trusted, crew[0].name, "x")
