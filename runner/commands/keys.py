"""`keys new`, `list`, `trust` and `revoke`: whose signatures count here, and with what they sign.

Rules: a passphrase is asked twice; a private key that was made elsewhere stays there; dates are
UTC; a revocation is never taken back; a list shows what stands in the files, whether it counts now
or not.
"""

from __future__ import annotations

import getpass
import json
import sys
import time
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

from audit import allowed, sshsig
from audit.errors import AgentError, Fault
from audit.people import file_name, free_path, new_key
from audit.stamps import wall_text
from audit.trust import Trust, revoke_key, trust_key
from runner.commands.signing import keyring, say
from runner.engine.words import nearest
from runner.host import places
from runner.host.keyring import Keyring, adopt, elsewhere, known_here, public_file
from runner.host.places import PlaceFault


def keys_new(name: str, public: Path | None) -> int:
    """Makes somebody's key, protected by a passphrase asked for twice; or takes one of theirs."""
    trust = f"trust it where logs are verified: latchword keys trust {name!r}"
    if public is not None:
        private = adopt(name, public)
        where = f"ssh-agent, or ssh-keygen with {private}" if private else "ssh-agent"
        print(f"{public_file(name)}: taken; it signs through {where}; {trust}")
        return 0
    free_path(name, places.keys())
    if not sys.stdin.isatty():
        raise PlaceFault("a passphrase is asked for at a terminal, and this is none", 2)
    try:
        first = getpass.getpass(f"New passphrase for {name}: ")
        second = getpass.getpass("The same again: ")
    except (EOFError, KeyboardInterrupt):
        raise PlaceFault("no key was made", 130) from None
    if first != second:
        raise PlaceFault("the two passphrases differ; no key was made", 1)
    if len(first) < 8:
        raise PlaceFault("a passphrase has at least 8 characters; no key was made", 1)
    path = new_key(name, first, places.keys())
    print(f"{path}: made; {trust}")
    return 0


def keys_trust(name: str, public: Path | None, valid_from: str, until: str) -> int:
    """Trusts somebody's key on this machine, between dates if they are given."""
    path = public or places.keys() / (file_name(name) + ".pub")
    try:
        line = path.read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError):
        close = nearest(name, [known for known, _ in known_here()]) if public is None else ""
        raise PlaceFault(
            f"{path}: no public key can be read there; make one with latchword keys new {name!r}, "
            "or name the file with --key" + (f"; nearest: {close}" if close else "")
        ) from None
    added = trust_key(
        places.trust_file(), name, line,
        valid_after=_date("--from", valid_from) if valid_from else None,
        valid_before=_date("--until", until, end=True) if until else None,
    )  # fmt: skip
    print(f"{name} is trusted{'' if added else ' already'}: {places.trust_file()}")
    mark = sshsig.fingerprint(sshsig.parse_public_line(line)[0])
    say(f"{mark}: compare that with what {name} has (latchword keys list, or ssh-keygen -l)")
    return 0


def keys_revoke(which: str, at: str) -> int:
    """Revokes the keys of a person, or one key by its fingerprint, from a date on."""
    moment = _date("--at", at) if at else allowed.time_text(time.time_ns() // 1_000_000)
    for line in revoke_key(places.trust_file(), which, moment):
        when = wall_text(line.revoked_ms or 0)[:19]
        print(f"{line.names}  {sshsig.fingerprint(line.key)}  revoked {when}Z")
    say(
        "what it signed before counts only in logs that a witness knew before; if the machine is "
        "somebody else's now, revoke it from a date when it was not"
    )
    return 0


def _date(option: str, text: str, *, end: bool = False) -> str:
    try:
        return allowed.date_text(text, end=end)
    except Fault as fault:
        raise PlaceFault(f"{option}: {fault.why}", 2) from None


@dataclass(slots=True)
class Row:
    """One key of one person, as the files and the agent have it."""

    name: str
    fingerprint: str
    trusted: bool = False
    valid_from: str = ""
    valid_until: str = ""
    revoked: str = ""
    namespaces: str = ""
    demonstration: bool = False
    signs_with: str = ""
    agent: bool = False

    def text(self) -> str:
        """As a person reads it: whose key, and below what there is to it."""
        words = ["trusted" if self.trusted else "not trusted"]
        words += ["demonstration"] if self.demonstration else []
        first = self.valid_from.removesuffix("T00:00:00Z")
        last = self.valid_until.removesuffix("T23:59:59Z")
        words += [f"from {first}"] if first else []
        words += [f"until {last}"] if last else []
        words += [f"REVOKED {self.revoked}"] if self.revoked else []
        # as it is tried: while an agent holds the key, nothing else signs
        with_ = ["ssh-agent"] if self.agent else []
        with_ += [self.signs_with] if self.signs_with else []
        words.append(f"signs with {', else '.join(with_)}" if with_ else "no private key here")
        return f"{self.name or '(nobody here)'}  {self.fingerprint}\n  {'; '.join(words)}"


def keys_list(environment: Mapping[str, str], *, as_json: bool) -> int:
    """Every key that is trusted, kept here or held by the agent."""
    rows = rows_of(keyring(environment))
    for row in rows:
        print(json.dumps(asdict(row), ensure_ascii=False) if as_json else row.text())
    if not rows:
        say("there is no key. Make one: latchword keys new NAME")
    return 0


def rows_of(ring: Keyring) -> list[Row]:
    """The rows of the list: first what is trusted, in the file's order."""
    path = places.trust_file()
    trust = Trust.read(path) if path.exists() else Trust()
    rows: list[Row] = []
    for line in trust.lines:
        rows.append(Row(
            line.names, sshsig.fingerprint(line.key), True, _when(line.valid_after_ms),
            _when(line.valid_before_ms), _when(line.revoked_ms), line.namespaces or "all",
            line.demonstration,
        ))  # fmt: skip
    for name, key in known_here():
        _signs_with(rows, name, key)
    for key in _held(ring):
        mark = sshsig.fingerprint(key)
        known = [row for row in rows if row.fingerprint == mark]
        if not known:
            rows.append(Row("", mark, agent=True))
        for row in known:
            row.agent = True
    return rows


def _signs_with(rows: list[Row], name: str, key: bytes) -> None:
    mark = sshsig.fingerprint(key)
    known = [row for row in rows if row.fingerprint == mark and name in row.name.split(",")]
    if not known:
        known = [Row(name, mark)]
        rows += known
    private = places.key_path(name)
    other = elsewhere(name)
    for row in known:
        row.signs_with = (
            str(private) if private.exists() else f"ssh-keygen {other}" if other else ""
        )


def _held(ring: Keyring) -> list[bytes]:
    if ring.agent is None:
        return []
    try:
        return ring.agent.held()
    except AgentError as fault:
        say(str(fault))
        return []


def _when(ms: int | None) -> str:
    return "" if ms is None else f"{wall_text(ms)[:19]}Z"
