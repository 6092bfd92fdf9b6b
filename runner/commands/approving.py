"""`approve`: the author's signature under documents, and what a run does with it.

Rules: what has a fault is not approved; what was read and checked is what is signed; everything is
signed before anything is written, the statement last; documents that were not named keep the
approval they have, and what has none is said; the passphrase is asked for once. A run refuses what
is not approved by somebody trusted here, unless it is asked for a draft by name.
"""

from __future__ import annotations

import shlex
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Final

from audit import sshsig
from audit.errors import Fault
from audit.people import Signer
from audit.trust import Trust
from runner.commands.checking import Target, check, targets
from runner.commands.signing import Patient, ask_passphrase, keyring, say, somebody
from runner.flow.loader import Document, Loaded, load_aircraft
from runner.host import approvals, places
from runner.host.approvals import Approval, Approved, Entry, Statement
from runner.host.clock import SystemClock
from runner.host.places import PlaceFault

NOT_APPROVED: Final = 1
MOST_SAID: Final = 8


def approve(
    paths: Iterable[Path], key: Path | None, name: str | None, environment: dict[str, str]
) -> int:
    """Approves aircraft, or documents of them; 1 if a document has a fault."""
    wanted = targets(paths)
    for target in wanted:
        if target.alone:
            raise PlaceFault(
                f"{target.path}: belongs to no aircraft here; a list is approved where it stands, "
                "in lists/ or drills/ beside an aircraft.yaml", 2,
            )  # fmt: skip
    if found := check([target.path for target in wanted], "text", strict=False):
        say("nothing was approved: mend what was found first")
        return found
    asked = _AskedOnce()
    ring = keyring(environment)._replace(ask=asked)
    person = Patient(somebody(ring, key, name, "whose approval is it?"))
    for target in wanted:
        _approve(target, load_aircraft(target.path), person, asked)
    if not any(line.key == person.key for line in trusted_here().lines):
        # a key made here is found by its holder's name; one of their own is named by its file
        public = None if key is None else key if key.suffix == ".pub" else Path(f"{key}.pub")
        brought = "" if public is None else f" --key {shlex.quote(str(public))}"
        say(
            f"nobody here trusts {sshsig.fingerprint(person.key)} yet, so that no run takes this "
            f"approval: latchword keys trust {shlex.quote(person.name)}{brought}"
        )
    return 0


class _AskedOnce:
    """Asks for a passphrase until it has opened the key once."""

    def __init__(self, ask: Callable[[str], str] = ask_passphrase) -> None:
        self._ask = ask
        self._typed = ""
        self.right = False

    def __call__(self, name: str) -> str:
        if not self.right:
            self._typed = self._ask(name)
        return self._typed


def _approve(target: Target, loaded: Loaded, person: Signer, asked: _AskedOnce) -> None:
    folder, documents = target.path, loaded.documents
    missing = target.only - {one.name for one in documents}
    if missing:
        raise PlaceFault(f"{folder / sorted(missing)[0]}: is no document of {folder}")
    now = SystemClock().stamp().wall_ms
    chosen = [one for one in documents if not target.only or one.name in target.only]
    kept = _kept(folder, [one for one in documents if one not in chosen])
    new = [Entry(one.name, one.sha256, person.name, now) for one in chosen]
    table = loaded.table
    text = approvals.statement_bytes(
        Statement(table.title, table.revision, person.name, now, tuple(new + kept))
    )
    signed: list[tuple[Path, bytes]] = []
    for path, data in (
        *((folder / one.name, one.data) for one in chosen),
        (folder / approvals.STATEMENT, text),
    ):
        blob = person.sign(sshsig.APPROVE, data)
        sshsig.verify(blob, person.key, sshsig.APPROVE, data)
        asked.right = True
        signed.append((approvals.beside(path), sshsig.armor(blob).encode("ascii")))
    # The statement stands before its signature: cut short in between, it counts for nothing.
    *others, last = signed
    for path, data in (*others, (folder / approvals.STATEMENT, text), last):
        _write(path, data)
    print(
        f"{folder}: {table.title}, revision {table.revision}: {len(chosen)} of {len(documents)} "
        f"documents approved by {person.name}"
    )
    left = sorted({one.name for one in documents} - {one.name for one in (*new, *kept)})
    if left:
        say(f"{folder}: not approved yet: {', '.join(left)}")


def _kept(folder: Path, others: list[Document]) -> list[Entry]:
    """The entries of documents that are not approved now, as far as they still hold."""
    if not (folder / approvals.STATEMENT).exists():
        return []
    try:
        before, _ = approvals.read_statement(folder)
    except Fault as fault:
        say(f"{folder / approvals.STATEMENT}: {fault.why}; what it said is left out")
        return []
    found = {one.name: one for one in before.entries}
    kept = []
    for one in others:
        entry = found.get(one.name)
        if entry is None or entry.sha256 != one.sha256:
            continue
        try:
            approvals.signature_of(folder / one.name, one.data)
        except Fault:
            continue
        kept.append(entry)
    return kept


def _write(path: Path, data: bytes) -> None:
    try:
        path.write_bytes(data)
    except OSError as error:
        raise PlaceFault(
            f"{path}: cannot be written: {error.strerror}; approve again where it can be"
        ) from None


def trusted_here() -> Trust:
    """The trusted keys of this machine; nobody where there is no file of them."""
    path = places.trust_file()
    return Trust.read(path) if path.exists() else Trust()


def state_of(folder: Path, loaded: Loaded) -> Approved:
    """How the approval of an aircraft's documents stands, here and now."""
    now = SystemClock().stamp().wall_ms
    return approvals.look(folder, loaded.documents, trusted_here(), now)


def needed(folder: Path, loaded: Loaded, *, draft: bool) -> dict[str, Approval]:
    """The approvals with which a run is opened; raises PlaceFault where one does not hold, unless
    this is a draft."""
    found = state_of(folder, loaded)
    if found.faults and not draft:
        rows = [*found.faults[:MOST_SAID]]
        if len(found.faults) > MOST_SAID:
            rows.append(f"and {len(found.faults) - MOST_SAID} more")
        raise PlaceFault(
            "\n".join(rows) + f"\nA run takes documents that somebody trusted here has approved: "
            f"latchword approve {shlex.quote(str(folder))} --key FILE, and latchword keys trust "
            "NAME; or run them as a draft, and marked as one: --draft", NOT_APPROVED,
        )  # fmt: skip
    return found.held


def told(found: Approved) -> str:
    """The state of approval in one sentence."""
    if not found.faults:
        people = sorted({one.by for one in found.held.values()})
        return f"approved by {', '.join(people)}"
    more = f"; and {len(found.faults) - 1} more" if len(found.faults) > 1 else ""
    return (
        f"not approved: {found.faults[0]}{more}; it runs with --draft, or after: "
        "latchword approve DIR --key FILE"
    )
