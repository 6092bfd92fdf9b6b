"""OpenSSH's signature format (PROTOCOL.sshsig), the part that format 1 allows.

Rules: version 1, hash sha512, `reserved` empty, plain `ssh-ed25519`, one of our namespaces by exact
match; anything else is refused, also what `ssh-keygen` would take. A signature is handled as its
raw blob; armour is for files and for `ssh-keygen`.
"""

import binascii
import hashlib
import re
import struct
from typing import NamedTuple

from audit import canonical, curve
from audit.errors import Fault

OPEN = "open@latchword-v1"
RESUME = "resume@latchword-v1"
CLOSE = "close@latchword-v1"
COUNTERSIGN = "countersign@latchword-v1"
APPROVE = "approve@latchword-v1"
NAMESPACES = (OPEN, RESUME, CLOSE, COUNTERSIGN, APPROVE)

_MAGIC = b"SSHSIG"
_PRIVATE_MAGIC = b"openssh-key-v1\x00"
_KEY_TYPE = b"ssh-ed25519"
_HASH = b"sha512"
_BEGIN = "-----BEGIN SSH SIGNATURE-----"
_END = "-----END SSH SIGNATURE-----"
_NAME = re.compile(r"[^\W_](?:[\w .'’-]{0,58}[\w.'’-])?")


class Signature(NamedTuple):
    """A parsed blob: the signer's public key (32 bytes), the namespace, the signature (64)."""

    key: bytes
    namespace: str
    value: bytes


def string(value: bytes) -> bytes:
    """`value` with its length before it: a string of the SSH protocols."""
    return struct.pack(">I", len(value)) + value


def to_be_signed(namespace: str, message: bytes) -> bytes:
    """The bytes that the key signs for `message` in `namespace`."""
    return b"".join(
        (
            _MAGIC,
            string(namespace.encode("ascii")),
            string(b""),
            string(_HASH),
            string(hashlib.sha512(message).digest()),
        )
    )


def encode(signature: Signature) -> bytes:
    """The raw blob of a signature."""
    return b"".join(
        (
            _MAGIC,
            struct.pack(">I", 1),
            string(key_blob(signature.key)),
            string(signature.namespace.encode("ascii")),
            string(b""),
            string(_HASH),
            string(string(_KEY_TYPE) + string(signature.value)),
        )
    )


class Reader:
    """Takes an SSH structure apart; `Fault("sshsig")` where it is too short or too long."""

    def __init__(self, blob: bytes) -> None:
        self._blob = blob
        self._at = 0

    def take(self, length: int) -> bytes:
        """The next `length` bytes."""
        part = self._blob[self._at : self._at + length]
        if len(part) != length:
            raise Fault("sshsig", "an OpenSSH structure ends too early")
        self._at += length
        return part

    def string(self) -> bytes:
        """The next string."""
        return self.take(int.from_bytes(self.take(4), "big"))

    def end(self) -> None:
        """Nothing may follow."""
        if self._at != len(self._blob):
            raise Fault("sshsig", "an OpenSSH structure has bytes after its end")


def parse(blob: bytes) -> Signature:
    """The signature in a raw blob; raises `Fault` ("sshsig", "weak-key") for any other thing."""
    outer = Reader(blob)
    if outer.take(len(_MAGIC)) != _MAGIC or outer.take(4) != b"\x00\x00\x00\x01":
        raise Fault("sshsig", "not an OpenSSH signature of version 1")
    key = parse_key_blob(outer.string())
    namespace = outer.string()
    if namespace not in [known.encode("ascii") for known in NAMESPACES]:
        raise Fault("sshsig", f"namespace {namespace!r} is none of {', '.join(NAMESPACES)}")
    if outer.string() != b"":
        raise Fault("sshsig", "the reserved field of an OpenSSH signature is not empty")
    if outer.string() != _HASH:
        raise Fault("sshsig", "an OpenSSH signature must use sha512")
    inner = Reader(outer.string())
    outer.end()
    if inner.string() != _KEY_TYPE:
        raise Fault("sshsig", "an OpenSSH signature must be plain ssh-ed25519")
    value = inner.string()
    inner.end()
    if len(value) != 64:
        raise Fault("sshsig", "an Ed25519 signature has 64 bytes")
    return Signature(key, namespace.decode("ascii"), value)


def verify(blob: bytes, key: bytes, namespace: str, message: bytes) -> None:
    """Raise `Fault` unless `blob` is a signature by `key` over `message` in `namespace`."""
    signature = parse(blob)
    if signature.namespace != namespace:
        raise Fault(
            "sshsig", f"a signature for {signature.namespace} stands where {namespace} must"
        )
    if signature.key != key:
        raise Fault("person-key", "a signature is by another key than the roster's")
    if not curve.verifies(key, signature.value, to_be_signed(namespace, message)):
        raise Fault("person-signature", "a person's signature does not fit the line it names")


def key_blob(key: bytes) -> bytes:
    """The OpenSSH encoding of a public key (32 bytes)."""
    return string(_KEY_TYPE) + string(key)


def fingerprint(key: bytes) -> str:
    """`SHA256:…` of a public key (32 bytes), as `ssh-keygen -l` prints it."""
    digest = hashlib.sha256(key_blob(key)).digest()
    return "SHA256:" + canonical.base64_text(digest).rstrip("=")


def parse_key_blob(blob: bytes) -> bytes:
    """The public key (32 bytes) in an OpenSSH encoding; refuses other kinds and weak keys."""
    reader = Reader(blob)
    if reader.string() != _KEY_TYPE:
        raise Fault("sshsig", "a key must be plain ssh-ed25519")
    key = reader.string()
    reader.end()
    if len(key) != 32:
        raise Fault("sshsig", "an Ed25519 public key has 32 bytes")
    curve.check_public_key(key)
    return key


def public_key_of_private_file(blob: bytes) -> bytes:
    """The public key (32 bytes) in the clear part of an `openssh-key-v1` file's content."""
    reader = Reader(blob)
    if reader.take(len(_PRIVATE_MAGIC)) != _PRIVATE_MAGIC:
        raise Fault("sshsig", "not an openssh-key-v1 file")
    for _ in ("cipher", "derivation", "its options"):
        reader.string()
    if reader.take(4) != b"\x00\x00\x00\x01":
        raise Fault("sshsig", "a private key file must hold one key")
    return parse_key_blob(reader.string())


def public_line(key: bytes, comment: str = "") -> str:
    """`ssh-ed25519 AAAA… comment`: the form of `.pub` files, rosters and allowed_signers."""
    return " ".join(
        part for part in ("ssh-ed25519", canonical.base64_text(key_blob(key)), comment) if part
    )


def parse_public_line(line: str) -> tuple[bytes, str]:
    """The key (32 bytes) and the comment of a public key line."""
    parts = line.strip().split(None, 2)
    if len(parts) < 2 or parts[0] != "ssh-ed25519":
        raise Fault("sshsig", f"a public key reads: ssh-ed25519 AAAA…, not {line.strip()[:24]!r}")
    key = parse_key_blob(canonical.base64_bytes(parts[1]))
    return key, parts[2] if len(parts) == 3 else ""


def armor(blob: bytes) -> str:
    """The text that `ssh-keygen -Y verify` reads."""
    text = canonical.base64_text(blob)
    rows = [text[at : at + 70] for at in range(0, len(text), 70)]
    return "\n".join([_BEGIN, *rows, _END, ""])


def dearmor(text: str) -> bytes:
    """The raw blob in the text that `ssh-keygen -Y sign` writes."""
    rows = text.strip().splitlines()
    if len(rows) < 3 or rows[0] != _BEGIN or rows[-1] != _END:
        raise Fault("sshsig", f"an armoured signature stands between {_BEGIN} and {_END}")
    try:
        return binascii.a2b_base64("".join(rows[1:-1]).encode("ascii"), strict_mode=True)
    except ValueError:
        raise Fault("sshsig", "an armoured signature is not base64") from None


def check_name(name: object) -> None:
    """Raise `Fault("name")` for a name that could not stand as a principal in allowed_signers.

    Letters, digits, spaces and `.'’-` inside, at most 60 characters: no quotes, commas, wildcards.
    """
    if type(name) is not str or not _NAME.fullmatch(name):
        raise Fault(
            "name",
            f"name {name!r}: allowed are 1 to 60 letters, digits, spaces and . ' - _, starting "
            "with a letter or digit",
        )
    canonical.check_text(name)
