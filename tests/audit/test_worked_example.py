"""The worked example of FORMAT.md, made again from its text: nothing of ours is used to make it.

Ed25519 signs deterministically (RFC 8032), so every byte of the log can be foretold.
"""

import io
import json
import re
import struct
from base64 import b64encode
from hashlib import sha256, sha512
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from audit.trust import Trust
from audit.verify import verify
from tests.audit.opinions import ask_python

TEXT = (Path(__file__).parents[2] / "audit" / "FORMAT.md").read_text("utf-8")
EXAMPLE = TEXT.split("## A worked example\n")[1].split("\n## ")[0]
ROWS = [row[4:].encode() + b"\n" for row in EXAMPLE.split("\n") if row.startswith('    {"body":')]
BODIES: list[dict[str, Any]] = [json.loads(row)["body"] for row in ROWS]
CELLS = dict(re.findall(r"^\| (.*?) \| `?([^`|]*?)`? \|$", EXAMPLE, re.M))
DOMAIN = b"latchword/audit/entry@v1\n"


def _digest(text: str) -> str:
    return sha256(text.encode()).hexdigest()


def _private(text: str) -> Ed25519PrivateKey:
    return Ed25519PrivateKey.from_private_bytes(sha256(text.encode()).digest())


def _public(text: str) -> bytes:
    return _private(text).public_key().public_bytes_raw()


def _base64(raw: bytes) -> str:
    return b64encode(raw).decode()


def _strings(*parts: bytes) -> bytes:
    return b"".join(struct.pack(">I", len(part)) + part for part in parts)


def _spelled(body: dict[str, Any]) -> bytes:
    text = json.dumps(body, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return text.encode()


PERSON = _strings(b"ssh-ed25519", _public("example person"))


def _signed_by_the_person(namespace: bytes, message: bytes) -> bytes:
    return b"SSHSIG" + _strings(namespace, b"", b"sha512", sha512(message).digest())


def _openssh(namespace: bytes, message: bytes) -> str:
    value = _private("example person").sign(_signed_by_the_person(namespace, message))
    fields = _strings(PERSON, namespace, b"", b"sha512", _strings(b"ssh-ed25519", value))
    return _base64(b"SSHSIG" + struct.pack(">I", 1) + fields)


def test_every_byte_of_the_log_follows_from_the_text() -> None:
    assert [body["type"] for body in BODIES] == ["open", "open-sig", "event", "close", "close-sig"]
    head = _digest("example device")
    for number, (row, body) in enumerate(zip(ROWS, BODIES, strict=True)):
        last = number == len(ROWS) - 1
        following = "" if last else _base64(_public(f"example line {number + 1}"))
        expected: dict[str, Any] = {**body, "next": following, "prev": head, "seq": number}
        data = dict(body["data"])
        if body["type"] == "open":
            data["key0"] = _base64(_public("example line 0"))
            data["device"], data["lexicon"] = head, _digest("example lexicon")
            data["roster"] = [
                {
                    "key": f"ssh-ed25519 {_base64(PERSON)}",
                    "name": "Maren Holt",
                    "role": "commander",
                }
            ]
        elif body["type"] == "event":
            data["state"] = _digest("example state")
        elif body["type"] == "close":
            data["count"] = number
        else:
            signs, space = {
                "open-sig": (0, b"open@latchword-v1"),
                "close-sig": (3, b"close@latchword-v1"),
            }[body["type"]]
            data = {"line": signs, "name": "Maren Holt", "sig": _openssh(space, ROWS[signs])}
        spelled = _spelled({**expected, "data": data})
        sig = _private(f"example line {number}").sign(DOMAIN + spelled)
        assert row == b'{"body":' + spelled + b',"sig":"' + _base64(sig).encode() + b'"}\n'
        head = sha256(row).hexdigest()


def test_the_values_beside_it() -> None:
    signed = DOMAIN + _spelled(BODIES[2])
    assert {
        "`key0`: public key of `example line 0`": _base64(_public("example line 0")),
        "`next` of line 0: public key of `example line 1`": _base64(_public("example line 1")),
        "SHA-256 of line 0, LF included: `prev` of line 1": sha256(ROWS[0]).hexdigest(),
        "bytes that `sig` of line 2 signs": str(len(signed)),
        "their SHA-256": sha256(signed).hexdigest(),
        "bytes that the person signs for line 1, in hexadecimal": _signed_by_the_person(
            b"open@latchword-v1", ROWS[0]
        ).hex(),
        "SHA-256 of the last line: the head": sha256(ROWS[-1]).hexdigest(),
    } == {key: value for key, value in CELLS.items() if set(value) - set(" -") and value != "value"}


def test_it_is_closed(tmp_path: Path) -> None:
    (row,) = re.findall('^    ("Maren Holt" .*)$', EXAMPLE, re.M)
    signers = tmp_path / "allowed_signers"
    signers.write_text(row + "\n", "utf-8")
    log = b"".join(ROWS)
    assert ask_python(log, row) == "closed: 5 lines, solo, signed by Maren Holt"
    verdict = verify(io.BytesIO(log), level="full", trust=Trust.read(signers))
    assert (verdict.result, verdict.head) == ("closed", CELLS["SHA-256 of the last line: the head"])
