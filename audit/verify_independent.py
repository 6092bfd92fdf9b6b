"""Whether a log is closed, written from FORMAT.md alone: shares no line with the rest of audit.

`python verify_independent.py LOG [ALLOWED_SIGNERS]` prints one line, the result first; exit code 0
only for `closed`, else 1. Without ALLOWED_SIGNERS the best is `untrusted`. Not checked: what is
beside the log, approvals, modes (they are printed), roles, clocks, the profile and the shapes of
values beyond their canonical spelling and what is used here, what the lists say. A row of
ALLOWED_SIGNERS that is not spelled as FORMAT.md has it makes nobody trusted.
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
FORM = json.JSONEncoder(ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))
MAY = {"empty": "open", "opening": "open-sig", "closing": "close-sig resume", "done": ""}
MAY["running"] = "event attach resume resume-sig close"
ROW = r'^"([^"*?!]+)" namespaces="([^"*?!]+)"(?:,valid-after="((?:[0-9]{2}){4,7})Z")?'
ROW += r'(?:,valid-before="((?:[0-9]{2}){4,7})Z")? ssh-ed25519 (\S+)(?: .*)?$'


def need(holds: object, what: str) -> None:
    if not holds:
        raise ValueError(f"not {what}")


def base64(text: str, length: int) -> bytes:
    raw = b64decode(text, validate=True)
    need(b64encode(raw).decode() == text and len(raw) == length, "base64 in its one spelling")
    return raw


def public(key: bytes) -> Ed25519PublicKey:
    y = int.from_bytes(key, "little") & (1 << 255) - 1
    for _ in range(3):  # a point whose order divides 8 comes to x = 0 as it is doubled
        xx = (y * y - 1) * pow(1 - 121665 * pow(121666, -1, P) * y * y, -1, P) % P
        need(y < P and xx, "a key in its one encoding and of large order")
        y = (y * y + xx) * pow(2 + xx - y * y, -1, P) % P
    return Ed25519PublicKey.from_public_bytes(key)


def judge(log: Iterable[bytes], signers: str) -> str:
    revoked = " ".join(row for row in signers.split("\n") if re.search(r"\srevoked=", row)).split()
    phase, modes, head, seq, doubted, events = "empty", [""], "", -1, set[str](), set[int]()
    people = dict[str, str]()  # everybody ever aboard, and their keys
    due = dict[str, tuple[bytes, list[str]]]()  # the lines to be signed, and by whom
    try:
        for seq, raw in enumerate(log):
            if phase != "done" and not raw.endswith(b"\n"):
                return f"torn: line {seq} is incomplete"
            text, sig = raw[8:-99].decode(), raw[-91:-3].decode()
            need(raw == f'{{"body":{text},"sig":"{sig}"}}\n'.encode(), "framed as a line")
            body = json.loads(text)
            need(FORM.encode(body) == text and len(raw) <= 1 << 20, "canonical, or too long")
            need("\\" not in re.sub(r'\\["\\]', "", text), "without control characters")
            kind, data, wall = body["type"], body["data"], re.sub("[^0-9]", "", body["wall"])
            need(kind in MAY[phase].split(), f"what may follow in a log that is {phase}")
            follows = repr(body["seq"]) == repr(seq) and (body["prev"] == head or not seq)
            need(follows, "the line that follows by number and SHA-256")  # repr: true is no 1
            need(len(wall) == 17 == len(body["wall"]) - 7, "a time in milliseconds")
            if kind in ("open", "resume"):
                key = public(base64(data["key0"], 32))
            key.verify(base64(sig, 64), b"latchword/audit/entry@v1\n" + text.encode())
            change = [data["crew_change"]] if kind == "event" and "crew_change" in data else []
            for person in data["roster"] if kind == "open" else change:
                name, listed = person["name"], person["key"].removeprefix("ssh-ed25519 ")
                blob = base64(listed, 51)
                need(blob[:19] == SSH + b" " and public(blob[19:]), "a person's key")
                fresh = name not in people and listed not in people.values()
                need(fresh or (change and people.get(name) == listed), "one name for one key")
                people[name] = listed
            if kind == "open":
                need(repr(data["format"]) == "1", "format 1")
                need(data["run_seq"] > 1 or body["prev"] == data["device"], "a device's first run")
                modes, phase, due["0"] = data["modes"], "opening", (raw, [*people])
            elif kind == "resume":
                need((repr(data["line"]), data["head"]) == (repr(seq - 1), head), "the line before")
                due[repr(seq)] = raw, due.popitem()[1][1] if phase == "closing" else [*people]
            elif kind == "close":
                need(not due and repr(data["count"]) == repr(seq), "vouched for, or the count")
                accepted = data["acceptances"]
                need(accepted == sorted({*accepted} & events), "events, ascending")
                phase, due[repr(seq)] = "closing", (raw, [*people])
            elif kind.endswith("-sig"):
                line, name, space = repr(data["line"]), data["name"], f"{kind[:-4]}@latchword-v1"
                message, owing = due[line]
                need(name in (owing[:1] if kind == "open-sig" else owing), "a signature owed")
                message += f"{head}\n".encode() if kind == "resume-sig" else b""
                blob, own = base64(data["sig"], 170 + len(space)), base64(people[name], 51)
                frame = len(space).to_bytes(4) + space.encode() + bytes(7) + b"\x06sha512\0\0\0"
                form = b"SSHSIG\0\0\0\x01\0\0\0\x33" + own + frame + b"S" + SSH + b"@"
                need(blob[:-64] == form, "OpenSSH's form, by that key for that namespace")
                frame += b"@" + sha512(message).digest()
                public(own[19:]).verify(blob[-64:], b"SSHSIG" + frame)
                owing.remove(name)
                if not owing:
                    del due[line]
                    phase = {"opening": "running", "closing": "done"}.get(phase, phase)
                for names, spaces, after, before, listed in re.findall(ROW, signers, re.M):
                    right = name in names.split(",") and space in spaces.split(",")
                    in_time = after <= wall <= (before or "9").ljust(17, "0")
                    if right and in_time and listed == people[name] and listed not in revoked:
                        break
                else:
                    doubted.add(name)
            events |= {seq} if kind == "event" else set()
            need((body["next"] == "") == (phase == "done"), "a next key, but at the end")
            if phase != "done":
                key = public(base64(body["next"], 32))
            head = sha256(raw).hexdigest()
    except Exception as error:  # whatever it is, the log is not closed
        return f"rejected: line {seq}: {error or type(error).__name__}"
    if phase != "done":
        owed = ", ".join(name for _, names in due.values() for name in names) or "nobody yet"
        return f"unclosed: {seq + 1} lines; owed by {owed}" if seq >= 0 else "torn: no line"
    if doubted:
        return f"untrusted: {', '.join(sorted(doubted))}"
    return f"closed: {seq + 1} lines, {' '.join(modes)}, signed by {', '.join(people)}"


if __name__ == "__main__":
    if len(sys.argv) not in (2, 3):
        sys.exit("usage: verify_independent.py LOG [ALLOWED_SIGNERS]")
    try:
        with Path(sys.argv[1]).open("rb") as log:
            answer = judge(log, Path(sys.argv[2]).read_text("utf-8") if sys.argv[2:] else "")
    except (OSError, UnicodeDecodeError) as error:
        sys.exit(str(error))
    sys.stdout.write(f"{answer}\n")
    sys.exit(not answer.startswith("closed: "))
