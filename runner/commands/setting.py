"""`enrol` and `doctor`: what is set up before the first run, and whether it is well.

Rules: nothing is replaced silently except an enrolment, which says so; the
doctor tells what was found and what to do, and changes nothing.
"""

from __future__ import annotations

import json
import os
import platform
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from audit.errors import AgentError
from runner.commands.signing import keyring, say
from runner.host import places
from runner.host.keyring import elsewhere, known_here
from runner.host.places import PlaceFault


def enrol(documents: Path, registration: str, fit: str) -> int:
    """Enrols an aircraft after its documents have been read without a fault."""
    from runner.flow.loader import load_aircraft

    loaded = load_aircraft(places.folder_of_documents(documents))
    wanted = tuple(part.strip() for part in fit.split(",") if part.strip())
    unknown = [name for name in wanted if name not in loaded.table.fit]
    if unknown:
        raise PlaceFault(
            f"--fit {', '.join(unknown)}: not optional equipment of {loaded.table.title}; "
            f"allowed: {', '.join(loaded.table.fit) or 'none'}",
            2,
        )
    replaced = any(a.registration == places.registration(registration) for a in places.enrolled())
    aircraft = places.enrol(documents, registration, wanted)
    word = "enrolled again" if replaced else "enrolled"
    print(
        f"{aircraft.registration} {word}: {loaded.table.title}, revision {loaded.table.revision}, "
        f"{len(loaded.documents)} documents; logs in {aircraft.logs}"
    )
    from runner.commands.approving import state_of, told

    print(f"{aircraft.registration} {told(state_of(aircraft.documents, loaded))}")
    return 0


def listed() -> int:
    """What is enrolled; starts nothing."""
    known = places.enrolled()
    for aircraft in known:
        fit = f", fitted: {', '.join(aircraft.fit)}" if aircraft.fit else ""
        print(f"{aircraft.registration}  {aircraft.documents}{fit}")
    if not known:
        say("no aircraft is enrolled. Enrol one: latchword enrol DIR --registration R")
        say("or look around first: latchword demo")
    return 0


@dataclass(frozen=True, slots=True)
class Check:
    """One thing the doctor looked at; `ok` None means it is not needed and not there."""

    what: str
    ok: bool | None
    found: str
    todo: str = ""


def doctor(environment: Mapping[str, str], *, as_json: bool) -> int:
    """Looks at what a run needs; exit 1 if something needed is missing."""
    from runner.commands.voice_doctor import checks as of_voice

    checks = [*(check() for check in CHECKS), *of_voice(), _agent(environment), _machine(),
              _awake(environment)]  # fmt: skip
    if as_json:
        for c in checks:
            print(json.dumps({"what": c.what, "ok": c.ok, "found": c.found, "todo": c.todo}))
    else:
        for c in checks:
            word = "ok" if c.ok else "absent" if c.ok is None else "NOT OK"
            print(f"{word:<7} {c.what}: {c.found}" + (f"; {c.todo}" if c.todo else ""))
    return 1 if any(c.ok is False for c in checks) else 0


def _python() -> Check:
    ok = sys.version_info >= (3, 11)
    return Check("python", ok, platform.python_version(), "" if ok else "3.11 or later is needed")


def _packages() -> Check:
    """The three names are generic: another package of the same name would shadow ours."""
    import audit
    import flows
    import runner

    ours = {
        "audit": (audit, "verify.py"), "runner": (runner, "cli.py"), "flows": (flows, "schema"),
    }  # fmt: skip
    for name, (module, witness) in ours.items():
        home = Path(next(iter(module.__path__)))
        if not (home / witness).exists():
            return Check("packages", False, f"{name} at {home} is not Latchword's",
                         "use a virtual environment of its own")  # fmt: skip
    return Check("packages", True, str(Path(next(iter(runner.__path__))).parent))


def _writable() -> Check:
    for folder in (places.config(), places.state()):
        probe = folder
        while not probe.exists() and probe != probe.parent:
            probe = probe.parent
        if not os.access(probe, os.W_OK):
            return Check("folders", False, f"{folder} cannot be written",
                         "give this user the right to write there")  # fmt: skip
    return Check("folders", True, f"{places.config()}, {places.state()}")


def _demo_documents() -> Check:
    from runner.flow.faults import FlowErrors
    from runner.flow.loader import load_aircraft

    try:
        loaded = load_aircraft(places.shipped() / "corvane_c4")
    except (FlowErrors, OSError) as fault:
        return Check("demo documents", False, str(fault)[:200], "install Latchword again")
    return Check("demo documents", True,
                 f"{len(loaded.table.flows)} lists, {len(loaded.table.steps)} steps")  # fmt: skip


def _enrolled() -> Check:
    from runner.flow.faults import FlowErrors
    from runner.flow.loader import load_aircraft

    try:
        known = places.enrolled()
        for aircraft in known:
            load_aircraft(places.folder_of_documents(aircraft.documents))
    except (PlaceFault, FlowErrors, OSError) as fault:
        return Check("aircraft", False, str(fault)[:200], "mend the documents or enrol again")
    names = ", ".join(a.registration for a in known)
    return Check("aircraft", True if known else None, names or "none enrolled",
                 "" if known else "latchword enrol DIR --registration R")  # fmt: skip


def _trust() -> Check:
    path = places.trust_file()
    return Check("trusted keys", True if path.exists() else None, str(path),
                 "" if path.exists() else "latchword keys trust NAME")  # fmt: skip


def _agent(environment: Mapping[str, str]) -> Check:
    """Whether an agent is there, and whom it signs for; needed only by somebody whose private key
    is nowhere else."""
    ring = keyring(environment)
    what, add = "ssh-agent", "ssh-add the key file, or sign with passphrases"
    try:
        people = known_here()
        lost = [name for name, _ in people if not _file_of(name)]
        if ring.agent is None:
            return Check(what, False if lost else None, "none (SSH_AUTH_SOCK)" + _only(lost),
                         "start one and ssh-add the key file" if lost else "")  # fmt: skip
        held = ring.agent.held()
    except PlaceFault as fault:
        return Check(what, False, str(fault), "bring back that .pub file, or remove it")
    except AgentError as fault:
        return Check(what, False if lost else None, str(fault) + _only(lost),
                     "start it again, or unset SSH_AUTH_SOCK")  # fmt: skip
    signs = [name for name, key in people if key in held]
    lost = [name for name in lost if name not in signs]
    keys = "1 ed25519 key" if len(held) == 1 else f"{len(held)} ed25519 keys"
    others = [name for name, _ in people if name not in signs]
    found = f"{ring.agent.address}, {keys}"
    found += f", signs for {', '.join(signs)}" if signs else ""
    found += f", not for {', '.join(others)}" if others else ""
    return Check(what, not lost, found + _only(lost), add if others else "")


def _only(lost: list[str]) -> str:
    return f"; nothing here can sign for {', '.join(lost)}" if lost else ""


def _file_of(name: str) -> Path | None:
    """The private key file of somebody known here, if there is one."""
    return next(
        (p for p in (places.key_path(name), elsewhere(name)) if p is not None and p.exists()), None
    )


def _keymap() -> Check:
    from runner.host.keyfile import in_force, key_file

    keymap, trouble = in_force()
    if trouble:
        return Check("own keys", False, keymap.fault, "latchword keymap tells every fault")
    own = f"{key_file()}, {len(keymap.own)} keys"
    if not keymap.own:
        return Check("own keys", None, "none", f"a table of them would be {key_file()}")
    return Check("own keys", True, own)


def _machine() -> Check:
    from runner.host import machine

    found = machine.look()
    told = machine.described(found)
    return Check("battery and heat", True if told else None, told or "this system tells of none",
                 "; ".join(machine.notes(found)))  # fmt: skip


def _awake(environment: Mapping[str, str]) -> Check:
    from runner.host.wakefulness import can

    held = can(environment)
    return Check("kept awake during a run", True if held else None, held or "nothing here can",
                 "" if held else "set it never to sleep nor blank its screen")  # fmt: skip


CHECKS: tuple[Callable[[], Check], ...] = (
    _python, _packages, _writable, _demo_documents, _enrolled, _trust, _keymap,
)  # fmt: skip
