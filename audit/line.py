"""One line of a log: its frame, its body, and the key that signed it.

Rules: a line is `{"body":` + body + `,"sig":"` + 88 characters + `"}` + LF and nothing else, at
most 1 MiB; the signature is Ed25519 over the domain string and the exact bytes of the body.
"""

import hashlib
from typing import Any, NamedTuple

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from audit import canonical, curve
from audit.errors import Fault
from audit.stamps import Stamp, parse_wall, wall_text

DOMAIN = b"latchword/audit/entry@v1\n"
LONGEST = 1 << 20
TYPES = ("open", "open-sig", "event", "resume", "resume-sig", "attach", "close", "close-sig")
_HEAD = b'{"body":'
_MIDDLE = b',"sig":"'
_TAIL = b'"}\n'
_TAIL_LENGTH = len(_MIDDLE) + 88 + len(_TAIL)
_BODY_KEYS = frozenset({"boot", "data", "mono", "next", "prev", "seq", "type", "wall"})


class Line(NamedTuple):
    """A parsed line. `raw` is the whole line with its LF; `next` and `sig` are base64 as written;
    `head` is the SHA-256 of `raw` in hexadecimal."""

    seq: int
    type: str
    data: dict[str, Any]
    stamp: Stamp
    prev: str
    next: str
    sig: str
    raw: bytes
    head: str


def head_of(raw: bytes) -> str:
    """SHA-256 of a whole line, LF included, in hexadecimal: what the next line's `prev` holds."""
    return hashlib.sha256(raw).hexdigest()


def build(
    key: Ed25519PrivateKey,
    *,
    seq: int,
    type: str,
    data: dict[str, Any],
    stamp: Stamp,
    prev: str,
    next: str,
) -> Line:
    """The line signed by `key`; `data` must have passed `canonical.check`."""
    body = canonical.spell(
        {
            "boot": stamp.boot,
            "data": data,
            "mono": stamp.mono_ms,
            "next": next,
            "prev": prev,
            "seq": seq,
            "type": type,
            "wall": wall_text(stamp.wall_ms),
        }
    )
    sig = canonical.base64_text(key.sign(DOMAIN + body))
    raw = b"".join((_HEAD, body, _MIDDLE, sig.encode("ascii"), _TAIL))
    if len(raw) > LONGEST:
        raise Fault("length", f"a line of {len(raw)} bytes; at most {LONGEST} are allowed")
    return Line(seq, type, data, stamp, prev, next, sig, raw, head_of(raw))


def body_bytes(raw: bytes) -> bytes:
    """The exact bytes that a line's signature covers, without the domain string."""
    return raw[len(_HEAD) : -_TAIL_LENGTH]


def parse(raw: bytes) -> Line:
    """The line in `raw` (LF included); raises `Fault` for anything format 1 does not allow here.

    Frame, canonical spelling, profile, and the shape of the envelope are checked; the signature,
    the chain and what `data` may hold are not.
    """
    if len(raw) > LONGEST:
        raise Fault("length", f"a line of more than {LONGEST} bytes")
    if (
        not raw.startswith(_HEAD)
        or not raw.endswith(_TAIL)
        or raw[-_TAIL_LENGTH : -_TAIL_LENGTH + len(_MIDDLE)] != _MIDDLE
    ):
        raise Fault("frame", 'a line is not {"body":…,"sig":"…"} and a line feed')
    spelled = raw[len(_HEAD) : -_TAIL_LENGTH]
    body = canonical.read(spelled)
    if type(body) is not dict or body.keys() != _BODY_KEYS:
        raise Fault("shape", f"a body has exactly the fields {', '.join(sorted(_BODY_KEYS))}")
    canonical.check(body, plain=canonical.is_plain(spelled))
    seq, kind, data, prev, following = (
        body["seq"],
        body["type"],
        body["data"],
        body["prev"],
        body["next"],
    )
    if kind not in TYPES:
        raise Fault("type", f"type {kind!r} is not one of {', '.join(TYPES)}")
    if type(seq) is not int or seq < 0:
        raise Fault("shape", "seq is not a number from 0")
    if type(data) is not dict:
        raise Fault("shape", "data is not an object")
    if not canonical.is_hex64(prev):
        raise Fault("shape", "prev is not 64 hexadecimal digits")
    if following != "":
        canonical.base64_bytes(following, 32)
    stamp = _stamp(body)
    try:
        sig = raw[-88 - len(_TAIL) : -len(_TAIL)].decode("ascii")
    except UnicodeDecodeError:
        raise Fault("base64", "sig is not base64") from None
    canonical.base64_bytes(sig, 64)
    return Line(seq, kind, data, stamp, prev, following, sig, raw, head_of(raw))


def _stamp(body: dict[str, Any]) -> Stamp:
    boot, mono, wall = body["boot"], body["mono"], body["wall"]
    if type(boot) is not str or len(boot) > 64 or not _is_boot(boot):
        raise Fault("stamp", "boot is not 1 to 64 letters, digits or hyphens")
    if type(mono) is not int or mono < 0:
        raise Fault("stamp", "mono is not a number from 0")
    if type(wall) is not str:
        raise Fault("stamp", "wall is not text")
    return Stamp(parse_wall(wall), mono, boot)


def _is_boot(text: str) -> bool:
    # of nothing at all `isalnum` is false
    return text.isascii() and text.replace("-", "0").isalnum()


def signed_by(line: Line, key: bytes) -> bool:
    """True when the line's signature fits `key` (32 bytes, checked before)."""
    signature = canonical.base64_bytes(line.sig, 64)
    return curve.verifies(key, signature, DOMAIN + body_bytes(line.raw))


def looks_whole(raw: bytes) -> bool:
    """True when a whole well-formed line ends anywhere in `raw`: a torn write leaves none."""
    start = raw.find(_HEAD)
    while start >= 0:
        end = raw.find(b"\n", start)
        if end < 0:
            return False
        try:
            parse(raw[start : end + 1])
        except Fault:
            start = raw.find(_HEAD, start + 1)
        else:
            return True
    return False
