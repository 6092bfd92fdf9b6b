"""Ed25519: published vectors, and the keys that must never be trusted.

Vectors: `cryptography_vectors` (asymmetric/Ed25519/sign.input, the list published with the scheme,
and RFC 8032 section 7.1, quoted below). Small order and other encodings: computed here from the
curve's equation (RFC 8032 section 5.1), not from a list. Made here too: signatures of another
length, S not reduced, R in another encoding, R or S zero; Project Wycheproof's own file is in
`test_published.py`.
"""

import hashlib
import shutil
import subprocess
from pathlib import Path

import cryptography_vectors
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from audit import curve, sshsig
from audit.errors import Fault

P = 2**255 - 19
D = (-121665 * pow(121666, -1, P)) % P
Point = tuple[int, int]


def _add(one: Point, two: Point) -> Point:
    (x1, y1), (x2, y2) = one, two
    product = D * x1 * x2 * y1 * y2 % P
    return (
        (x1 * y2 + x2 * y1) * pow(1 + product, -1, P) % P,
        (y1 * y2 + x1 * x2) * pow(1 - product, -1, P) % P,
    )


def _decode(raw: bytes) -> Point | None:
    value = int.from_bytes(raw, "little")
    y, sign = (value & (2**255 - 1)) % P, value >> 255
    square = (y * y - 1) * pow(D * y * y + 1, -1, P) % P
    x = pow(square, (P + 3) // 8, P)
    if (x * x - square) % P:
        x = x * pow(2, (P - 1) // 4, P) % P
    if (x * x - square) % P:
        return None
    return (P - x if x % 2 != sign else x) % P, y


def _is_small(point: Point) -> bool:
    for _ in range(3):
        point = _add(point, point)
    return point == (0, 1)


def _small_order_encodings() -> list[bytes]:
    # a point of order 8 is any point times the group's odd order; its multiples are all eight
    order = 2**252 + 27742317777372353535851937790883648493
    seed = 2
    while True:
        point = _decode(seed.to_bytes(32, "little"))
        seed += 1
        if point is None:
            continue
        result, step, count = (0, 1), point, order
        while count:
            if count & 1:
                result = _add(result, step)
            step = _add(step, step)
            count >>= 1
        multiples = [result]
        while multiples[-1] != (0, 1):
            multiples.append(_add(multiples[-1], result))
        if len(multiples) == 8:
            break
    encodings = set()
    for x, y in multiples:
        # the canonical encoding, the one with the other sign, and y + p where it fits
        for other_y in (y, y + P):
            for sign in (x % 2, 1 - x % 2):
                if other_y < 2**255:
                    encodings.add((other_y | sign << 255).to_bytes(32, "little"))
    return sorted(encodings)


SMALL = _small_order_encodings()


def test_the_small_order_encodings_are_those_of_the_paper() -> None:
    # "Taming the many EdDSAs" and RFC 8032 arithmetic: eight points; with the non-canonical
    # spellings of y = 0, 1 and of the sign of x = 0, fourteen encodings
    assert len(SMALL) == 14
    decoded = [_decode(raw) for raw in SMALL]
    assert all(point is not None and _is_small(point) for point in decoded)


@pytest.mark.parametrize("raw", SMALL, ids=lambda raw: str(raw.hex()[:8]))
def test_small_order_keys_are_refused(raw: bytes) -> None:
    with pytest.raises(Fault) as caught:
        curve.check_public_key(raw)
    assert caught.value.code == "weak-key"


def test_the_library_alone_would_take_a_small_order_key() -> None:
    # why the refusal is ours: under the identity as key, R = identity and S = 0 fit every message
    identity = (1).to_bytes(32, "little")
    signature = identity + bytes(32)
    Ed25519PublicKey.from_public_bytes(identity).verify(signature, b"anything")
    assert curve.verifies(identity, signature, b"anything at all")


@pytest.mark.parametrize("y", [*range(P, 2**255)])
def test_other_encodings_of_a_point_are_refused(y: int) -> None:
    for sign in (0, 1):
        with pytest.raises(Fault):
            curve.check_public_key((y | sign << 255).to_bytes(32, "little"))


def test_made_keys_are_taken() -> None:
    for _ in range(50):
        curve.check_public_key(Ed25519PrivateKey.generate().public_key().public_bytes_raw())


def published() -> list[tuple[bytes, bytes, bytes, bytes]]:
    vectors = []
    with cryptography_vectors.open_vector_file("asymmetric/Ed25519/sign.input", "r") as stream:
        for row in stream:
            secret, key, message, signed = (bytes.fromhex(part) for part in row.split(":")[:4])
            vectors.append((secret[:32], key, message, signed[:64]))
    return vectors


def test_published_vectors_verify_and_their_changes_do_not() -> None:
    vectors = published()
    assert len(vectors) == 1024
    for number, (secret, key, message, signature) in enumerate(vectors):
        curve.check_public_key(key)
        assert Ed25519PrivateKey.from_private_bytes(secret).sign(message) == signature
        assert curve.verifies(key, signature, message)
        bit = number % 512
        changed = bytearray(signature)
        changed[bit // 8] ^= 1 << bit % 8
        assert not curve.verifies(key, bytes(changed), message)
        assert not curve.verifies(key, signature, message + b"\x00")


def test_rfc_8032_section_7_1_test_2() -> None:
    key = bytes.fromhex("3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c")
    signature = bytes.fromhex(
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
    )
    assert curve.verifies(key, signature, b"\x72")


def test_a_signature_with_s_beyond_the_order_is_refused() -> None:
    # RFC 8032 section 5.1.7: S below the group order, else signatures could be respelled
    private = Ed25519PrivateKey.generate()
    key, signature = private.public_key().public_bytes_raw(), private.sign(b"m")
    order = 2**252 + 27742317777372353535851937790883648493
    larger = int.from_bytes(signature[32:], "little") + order
    assert not curve.verifies(key, signature[:32] + larger.to_bytes(32, "little"), b"m")


def test_signatures_that_are_spelled_otherwise_are_refused() -> None:
    private = Ed25519PrivateKey.generate()
    key, good = private.public_key().public_bytes_raw(), private.sign(b"m")
    order = 2**252 + 27742317777372353535851937790883648493
    scalar = int.from_bytes(good[32:], "little")
    bad = [
        b"", good[:32], good[:63], good + b"\x00", good[1:] + b"\x00",
        bytes(64), good[:32] + bytes(32), bytes(32) + good[32:],
        good[:32] + order.to_bytes(32, "little"),
        good[:32] + (order - 1).to_bytes(32, "little"),
        good[:32] + (order - scalar).to_bytes(32, "little"),
        good[:31] + bytes([good[31] ^ 0x80]) + good[32:],
        good[32:] + good[:32],
        good[::-1],
    ]  # fmt: skip
    bad += [
        good[:32] + (scalar + times * order).to_bytes(32, "little")
        for times in range(1, (2**256 - scalar) // order + 1)
    ]
    assert len(bad) > 25
    for signature in bad:
        assert not curve.verifies(key, signature, b"m")
    assert curve.verifies(key, good, b"m")
    # R as a small-order or a second encoding never stands for the point that was signed with
    for raw in SMALL:
        assert not curve.verifies(key, raw + good[32:], b"m")


def _encode(point: Point) -> bytes:
    x, y = point
    return (y | (x & 1) << 255).to_bytes(32, "little")


def _times(count: int, point: Point) -> Point:
    result: Point = (0, 1)
    while count:
        if count & 1:
            result = _add(result, point)
        point, count = _add(point, point), count >> 1
    return result


@pytest.mark.skipif(shutil.which("ssh-keygen") is None, reason="needs ssh-keygen")
def test_a_signature_whose_r_is_the_identity_is_taken_as_ssh_keygen_takes_it(
    tmp_path: Path,
) -> None:
    # RFC 8032 section 5.1.7, without a cofactor: [S]B = R + [h]A holds for R = 0 and S = h a. Only
    # who holds the key can make one. A library that refuses it would give a second verdict.
    order = 2**252 + 27742317777372353535851937790883648493
    base = _decode(bytes.fromhex("58" + "66" * 31))
    assert base is not None
    secret = 2**251 + 8
    key = _encode(_times(secret, base))
    identity = _encode((0, 1))
    curve.check_public_key(key)

    def signed(message: bytes) -> bytes:
        digest = hashlib.sha512(identity + key + message).digest()
        scalar = int.from_bytes(digest, "little") * secret % order
        return identity + scalar.to_bytes(32, "little")

    assert curve.verifies(key, signed(b"m"), b"m")
    assert not curve.verifies(key, signed(b"m"), b"n")
    value = signed(sshsig.to_be_signed(sshsig.OPEN, b"line"))
    blob = sshsig.encode(sshsig.Signature(key, sshsig.OPEN, value))
    sshsig.verify(blob, key, sshsig.OPEN, b"line")
    (tmp_path / "sig").write_text(sshsig.armor(blob), "ascii")
    (tmp_path / "allowed").write_text(f"holder {sshsig.public_line(key)}\n", "ascii")
    words = ["-Y", "verify", "-f", "allowed", "-I", "holder", "-n", sshsig.OPEN, "-s", "sig"]
    done = subprocess.run(
        ["ssh-keygen", *words], cwd=tmp_path, input=b"line", capture_output=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
