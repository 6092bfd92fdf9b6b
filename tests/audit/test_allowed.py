"""A line of allowed_signers: what `ssh-keygen` would not take is refused, at its column."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit import allowed, sshsig
from audit.allowed import BadLine
from audit.errors import Fault
from audit.trust import Trust
from tests.audit.helpers import Person
from tests.audit.test_sshsig import AT_MS, keygen_takes, needs_ssh_keygen

PERSON = Person("maren")
KEY = PERSON.public_line

BAD = {
    "a name and nothing": ("x", 2, "a line reads"),
    "no key": ("x ssh-ed25519", 14, "the key is missing"),
    "no key but spaces": ("x ssh-ed25519  ", 16, "the key is missing"),
    "an open quotation mark": (f'"maren {KEY}', 1, "quotation marks stand around the whole name"),
    "a quotation mark inside": (f'ma"ren {KEY}', 1, "quotation marks"),
    "a name in two pieces": (f'"ma"ren {KEY}', 1, "quotation marks"),
    "nobody": (f'"" {KEY}', 1, "quotation marks"),
    "a backslash": (f"ma\\ren {KEY}", 1, "quotation marks"),
    "a name of two words": (f"maren holt {KEY}", 7, "allowed are cert-authority"),
    "an unknown option": (f'maren namespace="x" {KEY}', 7, "nearest: namespaces"),
    "an option twice": (f'maren namespaces="a",namespaces="b" {KEY}', 22, "once each"),
    "an option without value": (f"maren namespaces {KEY}", 7, 'written namespaces="…"'),
    "a value too many": (f'maren cert-authority="x" {KEY}', 7, "cert-authority is written cert-"),
    "an option's open quotation mark": (f'maren namespaces="a {KEY}', 7, "must end before a space"),
    "a comma at the end": (f'maren namespaces="a", {KEY}', 7, "allowed are cert-authority"),
    "no time": (f'maren namespaces="a",valid-after="2026" {KEY}', 22, "is not YYYYMMDD"),
    "a time that does not exist": (f'maren valid-before="20261301Z" {KEY}', 7, "does not exist"),
    "no kind of key": (f'maren namespaces="a" {KEY[12:]}', 22, "is no kind of key"),
    "a weak key": (
        "maren ssh-ed25519 " + sshsig.public_line(bytes(32))[12:], 19, "small order",
    ),
    "a broken key": (f"  maren {KEY[:-1]}", 21, "the key of maren"),
    "revoked, but when": (f"maren {KEY} revoked", 88, "revoked=YYYYMMDDHHMMSSZ"),
    "revoked in local time": (f"maren {KEY} revoked=20261124", 88, "revoked=YYYYMMDDHHMMSSZ"),
    "revoked at no time": (f"maren {KEY} revoked=20261332Z x", 88, "does not exist"),
    "revoked further on, at no time": (f"maren {KEY} x revoked=soon", 90, "'soon'|'revoked=soon'"),
    "revoked, spelt otherwise": (f"maren {KEY} Revoked=20261124Z", 88, "revoked=YYYY"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_a_bad_line_has_its_column_and_reason(case: str) -> None:
    row, column, why = BAD[case]
    with pytest.raises(BadLine, match=why) as caught:
        allowed.parse(row)
    assert caught.value.column == column


@needs_ssh_keygen
@settings(max_examples=60)
@given(
    st.text(alphabet='ab*?!,"\\ \t=maren', max_size=12),
    st.sampled_from(["", " ", 'namespaces="*" ', 'namespaces="*"', '"', ' "a" ', "#", " , "]),
)
def test_whatever_we_take_ssh_keygen_takes(
    tmp_path_factory: pytest.TempPathFactory, name: str, option: str
) -> None:
    """Never the other way round: what it refuses must not count with us."""
    row = f"{name} {option}{KEY}"
    try:
        line = allowed.parse(row)
    except BadLine:
        return
    if line is None or Trust([line]).find("maren", PERSON.key, sshsig.OPEN, AT_MS) is None:
        return
    folder: Path = tmp_path_factory.mktemp("line")
    blob = PERSON.sign(sshsig.OPEN, b"m")
    assert keygen_takes(folder, row + "\n", "maren", sshsig.OPEN, blob, b"m"), row


@pytest.mark.parametrize(
    ("comment", "revoked"),
    [
        ("", None),
        ("a remark", None),
        ("not revoked", None),
        ("revoked=20261124Z", "20261124Z"),
        ("a remark revoked=20261124215003Z and more", "20261124215003Z"),
        ("revoked=20261125Z revoked=20261124Z", "20261124Z"),
    ],
)
def test_a_comment_says_that_a_key_is_revoked(comment: str, revoked: str | None) -> None:
    line = allowed.parse(f"maren  ssh-ed25519  {KEY.split()[1]} {comment}")
    assert line is not None
    assert line.revoked_ms == (None if revoked is None else allowed.time_ms(revoked))


@given(st.text(max_size=80))
def test_nothing_but_a_bad_line_comes_of_any_text(text: str) -> None:
    for row in (text, f"maren {text} {KEY}", f"maren {KEY} {text}"):
        try:
            allowed.parse(row)
        except BadLine as fault:
            assert 1 <= fault.column <= len(row) + 1  # noqa: PT017


def test_dates_that_a_person_writes() -> None:
    written = {
        "2026-11-24": ("20261124000000Z", "20261124235959Z"),
        "2026-11-24T21:50Z": ("20261124215000Z",) * 2,
        "2026-11-24T21:50:03Z": ("20261124215003Z",) * 2,
        "20261124Z": ("20261124Z",) * 2,
        "202611242150Z": ("202611242150Z",) * 2,
    }
    for text, (first, last) in written.items():
        assert (allowed.date_text(text), allowed.date_text(text, end=True)) == (first, last)
    for text in (
        "",
        "2026-11-24T21:50",
        "20261124",
        "24.11.2026",
        "2026-02-30",
        "2026-11-24T24:00Z",
    ):
        with pytest.raises(Fault):
            allowed.date_text(text)
    assert allowed.time_text(allowed.time_ms("20261124215003Z") + 999) == "20261124215003Z"
