"""The allowed_signers file: what it takes, what it refuses, what is added to it."""

from pathlib import Path

import pytest

from audit import canonical, sshsig
from audit.errors import TrustError
from audit.trust import Trust, trust_key
from tests.audit.helpers import START_MS, Person

DAY_MS = 86_400_000


def test_a_trusted_key_counts_for_its_name_in_our_namespaces(tmp_path: Path) -> None:
    path = tmp_path / "conf" / "allowed_signers"
    one, two = Person("Maren Holt"), Person("Åsa Lind")
    assert trust_key(path, one.name, one.public_line)
    assert trust_key(path, two.name, two.public_line + " a comment", demonstration=True)
    assert not trust_key(path, one.name, one.public_line)
    trust = Trust.read(path)
    assert len(trust.lines) == 2
    for namespace in sshsig.NAMESPACES:
        assert trust.find(one.name, one.key, namespace, START_MS)
    assert trust.find(one.name, one.key, "file", START_MS) is None
    assert trust.find(one.name, two.key, sshsig.OPEN, START_MS) is None
    assert trust.find(two.name, one.key, sshsig.OPEN, START_MS) is None
    first = trust.find(one.name, one.key, sshsig.OPEN, START_MS)
    second = trust.find(two.name, two.key, sshsig.OPEN, START_MS)
    assert first is not None
    assert second is not None
    assert not first.demonstration
    assert second.demonstration


def test_dates_bound_a_key(tmp_path: Path) -> None:
    path = tmp_path / "allowed_signers"
    person = Person("Maren Holt")
    trust_key(
        path, person.name, person.public_line, valid_after="20261124Z", valid_before="20261125Z"
    )
    trust = Trust.read(path)
    assert trust.find(person.name, person.key, sshsig.OPEN, START_MS)
    assert trust.find(person.name, person.key, sshsig.OPEN, START_MS - DAY_MS) is None
    assert trust.find(person.name, person.key, sshsig.OPEN, START_MS + DAY_MS) is None


def test_a_file_without_last_line_feed_is_added_to_rightly(tmp_path: Path) -> None:
    path = tmp_path / "allowed_signers"
    one, two = Person("One"), Person("Two")
    path.write_text(f"One {one.public_line}", "utf-8")
    assert trust_key(path, two.name, two.public_line)
    assert len(Trust.read(path).lines) == 2


def test_keys_of_other_kinds_may_lie_in_the_file(tmp_path: Path) -> None:
    path = tmp_path / "allowed_signers"
    path.write_text(
        "x ssh-rsa AAAA\nx cert-authority ssh-ed25519 AAAA\n*@y ecdsa-sha2-nistp256 A\n"
    )
    assert Trust.read(path).lines == ()


@pytest.mark.parametrize(
    "row",
    [
        "x",
        "x ssh-ed25519",
        "x ssh-ed25519 AAAA",
        'x nonsense="1" ssh-ed25519 KEY',
        'x namespaces="a",namespaces="b" ssh-ed25519 KEY',
        "x namespaces ssh-ed25519 KEY",
        'x valid-after="2026" ssh-ed25519 KEY',
        'x valid-after="20261301Z" ssh-ed25519 KEY',
        'x namespaces="a" KEY KEY',
        "x ssh-ed25519 WEAK",
    ],
)
def test_a_line_that_is_not_understood_is_an_error_with_its_number(
    tmp_path: Path, row: str
) -> None:
    weak = canonical.base64_text(sshsig.key_blob(bytes(32)))
    row = row.replace("KEY", Person("x").public_line.split()[1]).replace("WEAK", weak)
    path = tmp_path / "allowed_signers"
    path.write_text(f"# first\n{row}\n")
    with pytest.raises(TrustError, match="line 2"):
        Trust.read(path)


def test_files_that_cannot_be_used_are_named(tmp_path: Path) -> None:
    with pytest.raises(TrustError, match="missing"):
        Trust.read(tmp_path / "missing")
    (tmp_path / "binary").write_bytes(b"\xff\xfe")
    with pytest.raises(TrustError, match="UTF-8"):
        Trust.read(tmp_path / "binary")
    with pytest.raises(TrustError, match="not trusted"):
        trust_key(tmp_path / "f", "a,b", Person("x").public_line)
    with pytest.raises(TrustError, match="not trusted"):
        trust_key(tmp_path / "f", "x", "ssh-rsa AAAA")
    with pytest.raises(TrustError, match="does not exist"):
        trust_key(tmp_path / "f", "x", Person("x").public_line, valid_after="20261332Z")
    with pytest.raises(TrustError, match="cannot be written"):
        trust_key(tmp_path / "binary" / "f", "x", Person("x").public_line)
    assert not (tmp_path / "f").exists()
