"""The speed of checking, each figure beside its yardstick: `python tests/bench/checking.py`.

Rules: as in `run.py`. What one core does is measured in its own time (CPU seconds), turn by turn
with its yardstick, so that a busy machine changes it little; what several processes do is measured
by the clock on the wall, and needs a quiet machine with two cores.

What is measured, and what must hold:

- `full`: all of verification at least 80 % of the sum of its parts measured alone (parsing each
  line, hashing it, checking its signature); the boundary level at least 50 % of the first two;
- `git`: lines a second, by two processes, at least 100 times the commits a second that
  `git log --show-signature` checks, ssh-signed by Ed25519 as the lines are;
- `processes`: two processes at least 1.8 times one, over many logs (beside it: two commands, each
  with half of the logs, at the same time: what the machine has to give);
- `memory`: 1 GB of logs in less than 120 MB: the largest resident sizes of all processes, added.

The logs are written by the writer, one of each kind; many logs are links to it, each read anew.
"""

from __future__ import annotations

import base64
import hashlib
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(PROJECT))

import orjson  # noqa: E402
from cryptography.hazmat.primitives.asymmetric.ed25519 import (  # noqa: E402
    Ed25519PrivateKey,
    Ed25519PublicKey,
)

from audit import line, sshsig, trust  # noqa: E402
from audit.folder import LogFolder  # noqa: E402
from audit.people import KeyFileSigner, load_signer, new_key  # noqa: E402
from audit.stamps import Stamp  # noqa: E402
from audit.trust import Trust  # noqa: E402
from audit.verify import verify  # noqa: E402
from audit.writer import LogWriter  # noqa: E402
from tests.bench.figures import Figure, Part, environment, least, measure  # noqa: E402

NAME = "Maren Holt"
LINES = 8_000
TOTAL = 1_000_000_000


def written(folder: Path, lines: int, outcomes: int = 1) -> Path:
    """A closed log of some `lines`, its documents, and `allowed_signers` above it."""
    path = new_key(NAME, None, folder / "keys")
    person: KeyFileSigner = load_signer(path, None, NAME)
    trust.trust_key(folder / "allowed_signers", NAME, person.public_line)
    with LogFolder.open(folder / "logs") as logs:
        document = logs.store_document(b"document")
        opening = {
            "modes": ["single-pilot"],
            "roster": [{"role": "commander", "name": NAME}],
            "documents": [{"name": "a", "sha256": document, "approval": None}],
            "lexicon": "0" * 64,
            "rules": 1,
        }
        began = 1_790_000_000_000
        writer = LogWriter.create(logs, opening, [person], Stamp(began, 0, "bench"))
        for number in range(lines - 4):
            data = {
                "event": {"kind": "answer", "at": number, "ask": number, "role": "commander",
                          "source": "key", "value": "RELEASED"},
                "outcome": [["met", f"before_start.rotor_brake.{i}", "RELEASED"]
                            for i in range(outcomes)],
                "state": hashlib.sha256(str(number).encode()).hexdigest(),
            }  # fmt: skip
            writer.event(data, Stamp(began + number * 250, number * 250, "bench"))
        writer.close([], [person], Stamp(began + lines * 250, lines * 250, "bench"))
        return logs.path_of(writer.run)


def links(log: Path, count: int) -> list[Path]:
    """`count` folders with this log in each: other files, as far as a verifier can see."""
    folders = [log.parents[1] / f"linked{number:03d}" for number in range(count)]
    for folder in folders:
        folder.mkdir()
        os.link(log, folder / log.name)
    return folders


class Verifying:
    """`audit verify`, started; what it says goes to a file, which never makes it wait."""

    def __init__(self, folder: Path, processes: int, *paths: Path) -> None:
        self.logs = len(paths)
        self._said = tempfile.TemporaryFile("w+", encoding="utf-8")  # noqa: SIM115
        words = ["-m", "audit", "verify", "--trust", str(folder / "allowed_signers")]
        self.child = subprocess.Popen(
            [sys.executable, *words, "--processes", str(processes), *map(str, paths)],
            env=environment(folder),
            stdout=self._said,
            stderr=subprocess.STDOUT,
        )

    def finish(self) -> None:
        """Waits for it, and looks that it has judged every log to be closed."""
        code = self.child.wait()
        with self._said as said:
            said.seek(0)
            text = said.read()
        # they are one run many times over, which it says too
        if code not in (0, 1) or text.count("\nclosed ") + text.startswith("closed ") != self.logs:
            raise RuntimeError(f"not {self.logs} logs are closed: {text[:400]}")


def full(folder: Path, rounds: int) -> Iterator[Figure]:
    """Both levels beside their parts, one core, in CPU time."""
    log = written(folder, LINES)
    signers = Trust.read(folder / "allowed_signers")
    raw = log.read_bytes().splitlines(keepends=True)
    signed: list[tuple[bytes, bytes, bytes]] = []
    key = b""
    for one in map(line.parse, raw):
        key = base64.b64decode(one.data["key0"]) if one.type == "open" else key
        signed.append((key, base64.b64decode(one.sig), line.DOMAIN + line.body_bytes(one.raw)))
        key = base64.b64decode(one.next)

    def parse() -> None:
        for text in raw:
            orjson.loads(text)

    def digest() -> None:
        for text in raw:
            hashlib.sha256(text).hexdigest()

    def signatures() -> None:
        for public, signature, message in signed:
            Ed25519PublicKey.from_public_bytes(public).verify(signature, message)

    def level(name: str) -> None:
        verdict = verify(log, level=name, trust=signers)
        if verdict.result != "closed":
            raise RuntimeError(verdict.text(str(log)))

    works = {
        "parsing": parse, "hashing": digest, "checking signatures": signatures,
        "verify --level boundary": lambda: level("boundary"),
        "verify --level full": lambda: level("full"),
    }  # fmt: skip
    took = dict.fromkeys(works, float("inf"))
    for _ in range(rounds):
        for name, work in works.items():
            again = 1 if name in ("checking signatures", "verify --level full") else 5
            took[name] = min(took[name], least(work, again, time.process_time))
    for name, seconds in took.items():
        yield Figure(name, len(raw) / seconds, "lines/s")
    pair = took["parsing"] + took["hashing"]
    share = pair / took["verify --level boundary"] * 100
    yield Figure("boundary of parsing and hashing", share, "%", "at least 50", share >= 50)
    share = (pair + took["checking signatures"]) / took["verify --level full"] * 100
    yield Figure("full of the sum of its parts", share, "%", "at least 80", share >= 80)


def git(folder: Path, commits: int) -> Iterator[Figure]:
    """Lines a second beside signed commits a second."""
    if not (shutil.which("git") and shutil.which("ssh-keygen")):
        raise RuntimeError("the yardstick needs git (2.34 or later) and ssh-keygen")
    repository = folder / "repository"
    signed_repository(repository, commits)
    log = written(folder, LINES)
    paths = links(log, 20)
    rates = [_rate(folder, paths)]
    words = ["git", "-C", str(repository), "log", "--show-signature", "--format=%H"]
    began = time.perf_counter()
    told = subprocess.run(words, env=git_environment(), capture_output=True, text=True, check=True)
    theirs = commits / (time.perf_counter() - began)
    if told.stdout.count('Good "git" signature') != commits:
        raise RuntimeError(f"git does not hold all {commits} signatures to be good")
    # before and after, since git takes so long that the machine may be another by then
    rates += [_rate(folder, paths), _rate(folder, paths)]
    ours = statistics.median(rates)
    yield Figure("git log --show-signature", theirs, "commits/s")
    yield Figure("audit verify, two processes", ours, "lines/s")
    times = ours / theirs
    yield Figure("verify over git", times, "times", "at least 100", times >= 100)


def _rate(folder: Path, paths: Sequence[Path]) -> float:
    """Lines a second of `audit verify` in two processes, from its start to its end."""
    began = time.perf_counter()
    Verifying(folder, 2, *paths).finish()
    return len(paths) * LINES / (time.perf_counter() - began)


def git_environment() -> dict[str, str]:
    """An environment in which git knows nothing of who runs it."""
    kept = {name: text for name, text in os.environ.items() if not name.startswith("GIT_")}
    return {**kept, "GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_NOSYSTEM": "1"}


def signed_repository(folder: Path, commits: int) -> None:
    """A repository with a chain of commits, each signed with one ssh key.

    The commits are made here, as git makes them (the object without its header `gpgsig` is what is
    signed, in the namespace `git`): git itself signs some 60 a second.
    """
    env = git_environment()

    def run(*words: str, given: str = "") -> str:
        done = subprocess.run(
            ["git", "-C", str(folder), *words], env=env, input=given, capture_output=True,
            text=True, check=True,
        )  # fmt: skip
        return done.stdout.strip()

    folder.mkdir()
    run("init", "-q")
    key = Ed25519PrivateKey.generate()
    public = key.public_key().public_bytes_raw()
    allowed = folder / ".git/allowed"
    allowed.write_text(f"bench@example {sshsig.public_line(public)}\n", "ascii")
    run("config", "gpg.format", "ssh")
    run("config", "gpg.ssh.allowedSignersFile", str(allowed))
    tree = run("mktree")
    parent = ""
    objects = folder / ".git/made"
    objects.mkdir()
    names = []
    for number in range(commits):
        who = f"Bench <bench@example> {1_790_000_000 + number} +0000"
        head = f"tree {tree}\n" + (f"parent {parent}\n" if parent else "")
        head += f"author {who}\ncommitter {who}\n"
        message = f"\nentry {number}\n"
        value = key.sign(sshsig.to_be_signed("git", (head + message).encode("ascii")))
        armour = sshsig.armor(sshsig.encode(sshsig.Signature(public, "git", value)))
        text = head + "gpgsig " + armour.rstrip("\n").replace("\n", "\n ") + "\n" + message
        body = text.encode("ascii")
        parent = hashlib.sha1(
            b"commit %d\x00" % len(body) + body, usedforsecurity=False
        ).hexdigest()
        names.append(objects / str(number))
        names[-1].write_bytes(body)
    given = "".join(f"{name}\n" for name in names)
    made = run("hash-object", "-t", "commit", "-w", "--stdin-paths", given=given)
    if made.splitlines()[-1] != parent:
        raise RuntimeError("git gives the last commit another name")
    run("update-ref", "HEAD", parent)
    run("repack", "-a", "-d", "-q")


def processes(folder: Path, rounds: int) -> Iterator[Figure]:
    """One process, two, and two commands side by side, over the same logs."""
    log = written(folder, LINES)
    paths = links(log, 24)
    count = len(paths)
    one, two, bare = [], [], []
    for _ in range(rounds):
        began = time.perf_counter()
        Verifying(folder, 1, *paths).finish()
        one.append(time.perf_counter() - began)
        began = time.perf_counter()
        Verifying(folder, 2, *paths).finish()
        two.append(time.perf_counter() - began)
        began = time.perf_counter()
        halves = [Verifying(folder, 1, *paths[at::2]) for at in (0, 1)]
        for half in halves:
            half.finish()
        bare.append(time.perf_counter() - began)
    lines = count * LINES
    yield Figure("one process", lines / min(one), "lines/s")
    yield Figure("two processes", lines / min(two), "lines/s")
    yield Figure("two commands side by side over one", min(one) / min(bare), "times")
    times = min(one) / min(two)
    yield Figure("two processes over one", times, "times", "at least 1.8", times >= 1.8)


def memory(folder: Path, processes: int) -> Iterator[Figure]:
    """The largest resident sizes of `audit verify` and its processes over 1 GB of logs."""
    if sys.platform != "linux":
        raise RuntimeError("the sizes of other processes are read from /proc, which Linux has")
    log = written(folder, LINES, outcomes=30)
    count = -(-TOTAL // log.stat().st_size)
    paths = links(log, count)
    bare = subprocess.run(
        [sys.executable, "-c", "import resource as r; print(r.getrusage(r.RUSAGE_SELF).ru_maxrss)"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    verifying = Verifying(folder, processes, *paths)
    child = verifying.child
    largest: dict[int, int] = {}
    began = time.perf_counter()
    while child.poll() is None:
        for pid in family(child.pid):
            with suppress(OSError, IndexError):
                text = Path(f"/proc/{pid}/status").read_text("ascii", "replace")
                largest[pid] = int(text.split("VmHWM:")[1].split()[0])
        time.sleep(0.1)
    took = time.perf_counter() - began
    verifying.finish()
    size = log.stat().st_size * count
    yield Figure("logs", size / 1e6, "MB")
    yield Figure("in this time", took, "s")
    yield Figure("the bare interpreter", int(bare.stdout) / 1024, "MB")
    yield Figure("processes seen", len(largest), "")
    total = sum(largest.values()) / 1024
    yield Figure("all their largest sizes, added", total, "MB", "under 120", total < 120)


def family(pid: int) -> list[int]:
    """A process and all that come from it."""
    found = [pid]
    for one in found:
        with suppress(OSError):
            for task in Path(f"/proc/{one}/task").iterdir():
                found += map(int, (task / "children").read_text("ascii").split())
    return found


PARTS: dict[str, tuple[Part, int]] = {
    "full": (full, 7),
    "git": (git, 2000),
    "processes": (processes, 2),
    "memory": (memory, 2),
}

if __name__ == "__main__":
    sys.exit(measure(PARTS, __doc__ or ""))
