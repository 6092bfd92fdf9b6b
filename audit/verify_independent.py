"""Whether a log is closed, written from FORMAT.md alone: shares no line with the rest of audit.

`python verify_independent.py LOG [ALLOWED_SIGNERS]` prints one line, the result first; exit code 0
only for `closed`, 1 for all else, 2 for misuse. Without ALLOWED_SIGNERS the best is `untrusted`.
Not checked: what is beside the log, approvals, modes (they are printed), roles, clocks, the profile
and the shapes of values beyond their canonical spelling and what is used here, what the lists say.
A row of ALLOWED_SIGNERS that is not spelled as FORMAT.md has it makes nobody trusted.
"""

import json
import re
import sys
from base64 import b64decode, b64encode
from collections.abc import Iterable
from hashlib import sha256, sha512
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

P, SSH = 2**255 - 19, b"\0\0\0\x0bssh-ed25519\0\0\0"  # then a length: key 32, signature 64
CANONICAL = json.JSONEncoder(
    ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":")
)
MAY = {"empty": "open", "opening": "open-sig", "running": "event attach resume resume-sig close"}
MAY |= {"closing": "close-sig resume", "done": ""}
AT = '="((?:[0-9]{2}){4,7})Z"'
ROW = r'^"([^"*?!]+)" namespaces="([^"*?!]+)"'
ROW += rf"(?:,valid-after{AT})?(?:,valid-before{AT})? ssh-ed25519 (\S+)(?!.* revoked=)(?: .*)?$"


def need(holds: object, what: str) -> None:
    if not holds:
        raise ValueError(f"not {what}")


def base64(text: str, length: int) -> bytes:
    raw = b64decode(text, validate=True)
    need(b64encode(raw).decode() == text and len(raw) == length, "base64 in its one spelling")
    return raw


def public(key: bytes) -> bytes:
    y = int.from_bytes(key, "little") & (1 << 255) - 1
    for _ in range(3):  # a point whose order divides 8 comes to x = 0 as it is doubled
        xx = (y * y - 1) * pow(1 - 121665 * pow(121666, -1, P) * y * y, -1, P) % P
        need(y < P and xx, "a key in its one encoding and of large order")
        y = (y * y + xx) * pow(2 + xx - y * y, -1, P) % P
    return key


def verify(key: bytes, sig: bytes, message: bytes) -> None:
    Ed25519PublicKey.from_public_bytes(key).verify(sig, message)


def ssh(*parts: bytes) -> bytes:
    return b"".join(len(part).to_bytes(4) + part for part in parts)


def trusted(signers: str, name: str, blob: bytes, space: str, wall: str) -> bool:
    return any(
        name in names.split(",")
        and space in spaces.split(",")
        and b64decode(key) == blob
        and after <= wall <= (before or "9").ljust(17, "0")
        for names, spaces, after, before, key in re.findall(ROW, signers, re.M)
    )


def judge(log: Iterable[bytes], signers: str) -> str:
    phase, modes, head, key, seq = "empty", [""], "", b"", -1
    people, doubted, others = dict[str, bytes](), set[str](), set[int]()  # others: no events
    due = dict[str, tuple[bytes, list[str]]]()  # the lines to be signed, and by whom
    try:
        for seq, raw in enumerate(log):
            if phase != "done" and not raw.endswith(b"\n"):
                return f"torn: line {seq} is incomplete"
            text, sig = raw[8:-99].decode(), raw[-91:-3].decode()
            need(raw == f'{{"body":{text},"sig":"{sig}"}}\n'.encode(), "framed as a line")
            body = json.loads(text)
            need(CANONICAL.encode(body) == text and len(raw) <= 1 << 20, "canonical, or too long")
            need("\\" not in re.sub(r'\\["\\]', "", text), "without control characters")
            kind, data, wall = body["type"], body["data"], re.sub("[^0-9]", "", body["wall"])
            need(kind in MAY[phase].split(), f"what may follow in a log that is {phase}")
            need(repr(body["seq"]) == repr(seq), "the number of this line")  # repr: true is no 1
            need(body["prev"] == head or not seq, "the SHA-256 of the line before")
            need(len(wall) == 17 == len(body["wall"]) - 7, "a time in milliseconds")
            key = public(base64(data["key0"], 32)) if kind in ("open", "resume") else key
            verify(key, base64(sig, 64), b"latchword/audit/entry@v1\n" + text.encode())
            change = [data["crew_change"]] if kind == "event" and "crew_change" in data else []
            for person in data["roster"] if kind == "open" else change:
                name, blob = person["name"], base64(person["key"].removeprefix("ssh-ed25519 "), 51)
                need(blob == SSH + b" " + public(blob[19:]), "a person's key")
                fresh = name not in people and blob not in people.values()
                need(fresh or (change and people.get(name) == blob), "one name for one key")
                people[name] = blob
            if kind == "open":
                need(repr(data["format"]) == "1", "format 1")
                need(data["run_seq"] > 1 or body["prev"] == data["device"], "a device's first run")
                modes, phase, due["0"] = data["modes"], "opening", (raw, [*people])
            elif kind == "resume":
                need((repr(data["line"]), data["head"]) == (repr(seq - 1), head), "the line before")
                due[repr(seq)] = raw, due.popitem()[1][1] if phase == "closing" else [*people]
            elif kind == "close":
                need(not due and repr(data["count"]) == repr(seq), "vouched for, or the count")
                accepted = {*data["acceptances"]} & {*range(seq)} - others
                need(data["acceptances"] == sorted(accepted), "events, ascending")
                phase, due[repr(seq)] = "closing", (raw, [*people])
            elif kind.endswith("-sig"):
                line, name, space = repr(data["line"]), data["name"], f"{kind[:-4]}@latchword-v1"
                message, owing = due[line]
                need(name in (owing[:1] if kind == "open-sig" else owing), "a signature owed")
                message += f"{head}\n".encode() if kind == "resume-sig" else b""
                blob, fixed = (
                    base64(data["sig"], 170 + len(space)),
                    (space.encode(), b"", b"sha512"),
                )
                form = b"SSHSIG\0\0\0\x01" + ssh(people[name], *fixed, SSH + b"@" + blob[-64:])
                need(blob == form, "OpenSSH's form, by that key for that namespace")
                digest = sha512(message).digest()
                verify(people[name][19:], blob[-64:], b"SSHSIG" + ssh(*fixed, digest))
                owing.remove(name)
                if not owing:
                    del due[line]
                    phase = {"opening": "running", "closing": "done"}.get(phase, phase)
                if not trusted(signers, name, people[name], space, wall):
                    doubted.add(name)
            others |= set() if kind == "event" else {seq}
            need((body["next"] == "") == (phase == "done"), "a next key, but at the end")
            key = public(base64(body["next"], 32)) if body["next"] != "" else b""
            head = sha256(raw).hexdigest()
    except Exception as error:  # whatever it is, the log is not closed
        return f"rejected: line {seq}: {error or type(error).__name__}"
    if seq < 0:
        return "torn: there is no line"
    if phase != "done":
        owing = [name for _, names in due.values() for name in names]
        return f"unclosed: {seq + 1} lines; owed by {', '.join(owing) or 'nobody yet'}"
    if doubted:
        return f"untrusted: {', '.join(sorted(doubted))}"
    return f"closed: {seq + 1} lines, {' '.join(modes)}, signed by {', '.join(people)}"


def main(words: list[str]) -> int:
    if len(words) not in (1, 2):
        sys.stderr.write("usage: verify_independent.py LOG [ALLOWED_SIGNERS]\n")
        return 2
    try:
        signers = Path(words[1]).read_text("utf-8") if words[1:] else ""
        with Path(words[0]).open("rb") as log:
            result = judge(log, signers)
    except (OSError, UnicodeDecodeError) as error:
        sys.stderr.write(f"{error}\n")
        return 2
    sys.stdout.write(f"{result}\n")
    return 0 if result.startswith("closed") else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
