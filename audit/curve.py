"""Ed25519 with the refusals that the libraries leave out.

Rules: a public key is refused when its encoding is not the one of its point (y at or above
2^255 - 19) or when the point has small order: under such a key one signature fits many messages
and needs no private key ("Taming the many EdDSAs", Chalkias, Garillot, Nikolaenko 2020, table 1).

Why `cryptography` and not libsodium, which is nearly twice as fast (one core, lines of 430 bytes,
the same minute: 9,200 verifications a second against 17,600; import 14 ms against 8 ms; both have
wheels for Linux, macOS and Windows): the refusals differ. libsodium, as in PyNaCl 1.6.2, refuses a
signature whose R has small order. Whoever holds a key can make one (R the identity, S = h a), and
`cryptography`, OpenSSL and ssh-keygen take it. One log would have two verdicts, by what is
installed, and the two verifiers that stand beside would part from this one. PyNaCl also brings cffi
and pycparser; whoever checks a log needs two packages today. More speed comes from more processes
(`pool.py`).
"""

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from audit.errors import Fault

PRIME = 2**255 - 19
_SIGN_BIT = 1 << 255
# y of the points of order 1, 2, 4 and 8; a test computes that eight times each is the identity
_SMALL_ORDER_Y = frozenset(
    {
        0,
        1,
        PRIME - 1,
        0x7A03AC9277FDC74EC6CC392CFA53202A0F67100D760B3CBA4FD84D3D706A17C7,
        0x05FC536D880238B13933C6D305ACDFD5F098EFF289F4C345B027B2C28F95E826,
    }
)


def check_public_key(raw: bytes) -> None:
    """Raise `Fault("weak-key")` for 32 bytes that must never be trusted as a public key."""
    y = int.from_bytes(raw, "little") & (_SIGN_BIT - 1)
    if y >= PRIME:
        raise Fault("weak-key", "public key is not in its one encoding")
    if y in _SMALL_ORDER_Y:
        raise Fault("weak-key", "public key has small order: anyone could sign under it")


def verifies(public_key: bytes, signature: bytes, message: bytes) -> bool:
    """True when `signature` (64 bytes) over `message` fits `public_key` (32 bytes).

    The key is assumed to have passed `check_public_key`.
    """
    try:
        Ed25519PublicKey.from_public_bytes(public_key).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True
