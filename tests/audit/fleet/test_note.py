"""Signed notes against the format's published examples.

Sources: the note, the two keys and what must be refused: golang.org/x/mod,
`sumdb/note/note_test.go` (the format that C2SP signed-note specifies); the note in Italian: C2SP,
`signed-note.md`.
"""

from __future__ import annotations

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from audit import canonical
from audit.errors import FleetError
from audit.fleet import note
from audit.fleet.note import Verifier

PETER = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW"
PETERS_SEED = "AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz"
ENOCH = "EnochRoot+af0cfe78+ATtqJ7zOtqQtYqOo0CpvDXNlMhV3HeJDpjrASKGLWdop"
TEXT = (
    "If you think cryptography is the answer to your problem,\n"
    "then you don't know what your problem is.\n"
)
BY_PETER = (
    "— PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6"
    "KE6RyyBwJnAM=\n"
)
BY_ENOCH = (
    "— EnochRoot rwz+eBzmZa0SO3NbfRGzPCpDckykFXSdeX+MNtCOXm2/5n2tiOHp+vAF1aGrQ5ovTG01oOTGwnWLox33WW"
    "d1RvMc+QQ=\n"
)
ITALIAN = """Ognuno sta solo sul cuor della terra
trafitto da un raggio di sole:

ed è subito sera.

— quasimodo.example/salvatore NnugSzTjtVAewIS+Z/iJhUPeFDkO/5QQ2i5ddnGITLlC+EhfLW9oJKONrMouFSQU0x\
McXxj99ihAQwaqP3ZekRwNtIc=
"""


def peter() -> Verifier:
    return note.parse_verifier(PETER)


def enoch() -> Verifier:
    return note.parse_verifier(ENOCH)


def test_a_key_is_read_and_written_as_published() -> None:
    assert peter().text == PETER
    assert enoch().text == ENOCH
    assert peter().id.hex() == "c74f20a3"


def test_no_mangled_key_is_read() -> None:
    for start in range(len(PETER)):
        for end in range(start + 1, len(PETER) + 1):
            if (start, end) != (0, len(PETER)):
                with pytest.raises(FleetError):
                    note.parse_verifier(PETER[start:end])
    for at, character in enumerate(PETER):
        with pytest.raises(FleetError):
            note.parse_verifier(PETER[:at] + chr(ord(character) + 1) + PETER[at + 1 :])
    for text in (
        # a key of another length, and another algorithm, each with the ID that it would have
        "PeterNeumann+cc469956+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TWBADKEY==",
        "PeterNeumann+173116ae+ZRpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW",
        Verifier("weak", b"\x01" + bytes(31)).text,
        "",
    ):
        with pytest.raises(FleetError):
            note.parse_verifier(text)


def test_a_note_is_signed_as_published() -> None:
    seed = canonical.base64_bytes(PETERS_SEED)[1:]
    signed = note.sign(TEXT, peter(), Ed25519PrivateKey.from_private_bytes(seed).sign)
    assert signed == f"{TEXT}\n{BY_PETER}"
    with pytest.raises(FleetError, match="does not fit the key"):
        note.sign(TEXT, enoch(), Ed25519PrivateKey.from_private_bytes(seed).sign)


@pytest.mark.parametrize("text", ["no line feed", "a tab\there\n", "half a pair \ud800\n"])
def test_what_is_no_text_of_a_note_is_not_signed(text: str) -> None:
    with pytest.raises(FleetError, match="the text of a note"):
        note.sign(text, peter(), lambda message: bytes(64))


def test_who_signed_a_note() -> None:
    both = f"{TEXT}\n{BY_PETER}{BY_ENOCH}"
    assert note.open_note(both, [peter()]) == (TEXT, ["PeterNeumann"])
    assert note.open_note(both, [enoch(), peter()]) == (TEXT, ["PeterNeumann", "EnochRoot"])
    twice = f"{TEXT}\n{BY_PETER}{BY_PETER}"
    assert note.open_note(twice, [peter()]) == (TEXT, ["PeterNeumann"])


def test_sixteen_signatures_are_read() -> None:
    """C2SP signed-note: verifiers must accept at least sixteen."""
    others = "".join(f"— other{n} {canonical.base64_text(bytes(68))}\n" for n in range(15))
    assert note.open_note(f"{TEXT}\n{others}{BY_PETER}", [peter()])[1] == ["PeterNeumann"]
    with pytest.raises(FleetError, match="more than 64"):
        note.open_note(f"{TEXT}\n{BY_PETER * 65}", [peter()])


def test_a_note_by_nobody_known_is_refused() -> None:
    with pytest.raises(FleetError, match="signed by no known key, but by EnochRoot, PeterNeumann"):
        note.open_note(f"{TEXT}\n{BY_PETER}{BY_ENOCH}", [])
    namesake = Verifier("PeterNeumann", enoch().key)
    with pytest.raises(FleetError, match="no known key"):
        note.open_note(f"{TEXT}\n{BY_PETER}", [namesake])


@pytest.mark.parametrize(
    "text",
    [
        TEXT, f"{TEXT}\n", f"{TEXT}\n{BY_PETER[:-1]}", f"\x01{TEXT}\n{BY_PETER}",
        f"{TEXT}\n— Bad Name{BY_PETER[14:]}", f"{TEXT}\n{BY_PETER}Unexpected line.\n",
        f"{TEXT}\n{BY_PETER[:60]}ABCD{BY_PETER[60:]}", f"{TEXT}x\n{BY_PETER}",
        f"{TEXT}\n{BY_PETER.replace('—', '-')}", f"{TEXT}\n— PeterNeumann x08go/ZJ\n",
        f"{TEXT}\n— PeterNeumann x08g\n", "",
    ],
)  # fmt: skip
def test_a_note_that_does_not_hold(text: str) -> None:
    with pytest.raises(FleetError):
        note.open_note(text, [peter()])


def test_the_text_goes_up_to_the_last_empty_line() -> None:
    text, signatures = note.split(ITALIAN)
    assert text.endswith("raggio di sole:\n\ned è subito sera.\n")
    ((name, raw),) = signatures
    assert name == "quasimodo.example/salvatore"
    assert len(raw) == 68


@pytest.mark.parametrize("name", ["", "a b", "a+b", "a\u00a0b", "a\nb", "a\x00"])
def test_what_names_no_key(name: str) -> None:
    with pytest.raises(FleetError):
        note.check_name(name)
