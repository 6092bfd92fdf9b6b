"""Speed, each figure beside its yardstick, in one run: `python tests/bench/run.py`.

Rules: a yardstick is measured in the same minute, on the same file system, turn by turn with what
it judges; every figure is printed, also a bad one; the exit code is 1 if a target is missed. Not
part of the tests: a slow machine is no defect.

What is measured, and what must hold:

- from key press to the next challenge, on a real terminal and a durable log: p99 at most 10 ms
  (beside it: a bare write and sync of lines of the same length);
- the same in a run with 5,000 entries in its log, every core kept busy by others: p99 at most
  16 ms; there the drills page, and a drill's memory items, each at most 300 ms (p99) after its key;
- what logging an event costs more than a bare write and sync of the same bytes: p50 at most 150 us;
- `latchword --help` at most 7 times, and the first screen of a run (no keys to unlock) at most 30
  times the start of the bare interpreter;
- replay of the demo day: at least 20,000 events a second, every outcome and digest compared
  (beside it: decoding and hashing the same lines, and the three levels of verification).

How fast logs are checked, and in how much memory, is `tests/bench/checking.py`.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import statistics
import subprocess
import sys
import time
from collections.abc import Mapping
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(PROJECT))

import orjson  # noqa: E402

from audit import durable  # noqa: E402
from audit.folder import LogFolder  # noqa: E402
from audit.line import parse  # noqa: E402
from audit.people import load_signer, new_key  # noqa: E402
from audit.stamps import Stamp  # noqa: E402
from audit.trust import Trust  # noqa: E402
from audit.verify import LEVELS, verify  # noqa: E402
from audit.writer import LogWriter  # noqa: E402
from runner.host.replay import Cache, Replayer, replayed  # noqa: E402
from tests.bench import desk  # noqa: E402
from tests.bench.figures import Figure, Part, at, environment, least, measure  # noqa: E402
from tests.bench.keys import drill, key_to_challenge  # noqa: E402

DEMO = "flows/corvane_c4/answers/normal.txt"
FIRST_SCREEN = "CORVANE C-4"


def command(*words: str) -> list[str]:
    """The `latchword` of this interpreter, as people start it where it is installed."""
    script = Path(sys.executable).with_name("latchword")
    return (
        [str(script), *words] if script.exists() else [sys.executable, "-m", "runner.cli", *words]
    )


def logging(folder: Path, count: int) -> list[Figure]:
    """An event through the writer, and its bytes through a bare write and sync, turn by turn."""
    path = new_key(desk.NAME, None, folder / "keys")
    person = load_signer(path, None, desk.NAME)
    logged: list[float] = []
    bare: list[float] = []
    with LogFolder.open(folder / "logs") as logs:
        document = logs.store_document(b"document")
        opening = {
            "modes": ["solo"],
            "roster": [{"role": "commander", "name": desk.NAME}],
            "documents": [{"name": "a", "sha256": document, "approval": None}],
            "lexicon": "0" * 64,
            "rules": 1,
        }
        writer = LogWriter.create(logs, opening, [person], Stamp(1_790_000_000_000, 0, "bench"))
        beside = durable.create(folder / "bare")
        line = b""
        for number in range(count):
            data = {
                "event": {"kind": "answer", "at": number, "ask": number, "role": "commander",
                          "source": "key", "value": "RELEASED"},
                "outcome": [["met", "before_start.rotor_brake", "RELEASED"]],
                "state": hashlib.sha256(str(number).encode()).hexdigest(),
            }  # fmt: skip
            stamp = Stamp(1_790_000_000_000 + number, number, "bench")

            def log(data: Mapping[str, object] = data, stamp: Stamp = stamp) -> bytes:
                began = time.perf_counter()
                entry = writer.event(data, stamp)
                logged.append((time.perf_counter() - began) * 1e6)
                return entry.line_bytes

            def write(line: bytes) -> None:
                began = time.perf_counter()
                durable.write_all(beside, line)
                durable.sync(beside)
                bare.append((time.perf_counter() - began) * 1e6)

            # The one that comes second meets a disk that the first has just kept busy.
            if number % 2 and line:
                write(line)
                line = log()
            else:
                line = log()
                write(line)
        writer.stop()
        os.close(beside)
    adds = at(logged, 0.5) - at(bare, 0.5)
    return [
        Figure("bare write and sync, p50", at(bare, 0.5), "us"),
        Figure("bare write and sync, p99", at(bare, 0.99), "us"),
        Figure("an event in the log, p50", at(logged, 0.5), "us"),
        Figure("an event in the log, p99", at(logged, 0.99), "us"),
        Figure("logging adds, p50", adds, "us", "at most 150", adds <= 150),
    ]


def starting(folder: Path, count: int) -> list[Figure]:
    """The bare interpreter, the help and the first screen, turn by turn; medians."""
    from tests.bench.terminal import Terminal

    env = environment(folder)
    quiet = subprocess.DEVNULL

    def timed(words: list[str]) -> float:
        began = time.perf_counter()
        subprocess.run(words, env=env, cwd=folder, stdout=quiet, stderr=quiet, check=True)
        return (time.perf_counter() - began) * 1000

    def screen(number: int) -> float:
        words = command("demo", "--log-dir", str(folder / f"logs{number}"))
        child = Terminal(words, env, str(folder))
        try:
            return (child.until(FIRST_SCREEN) - child.began) * 1000
        finally:
            child.end()

    # The first start ever makes the demonstration's keys and stores the documents.
    once = screen(0)
    bare, help_, first = [], [], []
    for number in range(1, count + 1):
        shutil.copytree(folder / "logs0/documents", folder / f"logs{number}/documents")
        bare.append(timed([sys.executable, "-c", "pass"]))
        help_.append(timed(command("--help")))
        first.append(screen(number))
    base = statistics.median(bare)
    helps, firsts = statistics.median(help_) / base, statistics.median(first) / base
    return [
        Figure("start of the bare interpreter", base, "ms"),
        Figure("latchword --help", statistics.median(help_), "ms"),
        Figure("first screen", statistics.median(first), "ms"),
        Figure("first screen, first start ever", once, "ms"),
        Figure("help over the interpreter", helps, "times", "at most 7", helps <= 7),
        Figure("first screen over the interpreter", firsts, "times", "at most 30", firsts <= 30),
    ]


def replaying(folder: Path, rounds: int) -> list[Figure]:
    """The demo day: scripted once, then replayed from its log."""
    env = environment(folder)
    logs = folder / "logs"
    words = command("demo", "--answers", str(PROJECT / DEMO), "--log-dir", str(logs))
    subprocess.run(words, env=env, stdout=subprocess.DEVNULL, check=True)
    store = LogFolder.open(logs, write=False)
    log = store.path_of(store.runs()[-1].run)
    raw = log.read_bytes().splitlines(keepends=True)
    lines = [parse(line) for line in raw]
    events = [line for line in lines if line.type in ("event", "close")]
    cache = Cache()
    table = cache.table(lines[0].data, logs / "documents")

    def engine() -> None:
        player = Replayer(table, lines[0])
        for line in events:
            found = player.line(line)
            if found is not None:
                raise RuntimeError(f"line {found[0]}: {found[2]}")

    def decode() -> None:
        for line in raw:
            hashlib.sha256(line).hexdigest()
            orjson.loads(line)

    trust = Trust.read(folder / "config/latchword/allowed_signers")
    speed = len(events) / least(engine, rounds)
    figures = [
        Figure("events of the demo day", len(events), "events"),
        Figure("decoding and hashing its lines", len(raw) / least(decode, rounds), "lines/s"),
        Figure("replay", speed, "events/s", "at least 20,000", speed >= 20_000),
    ]
    for level in LEVELS:
        hook = replayed(cache) if level == "replayed" else None

        def check(level: str = level, hook: object = hook) -> None:
            verdict = verify(log, level=level, trust=trust, replay=hook)  # type: ignore[arg-type]
            if verdict.result != "closed":
                raise RuntimeError(verdict.text(str(log)))

        took = least(check, max(3, rounds // 6))
        figures.append(Figure(f"verify --level {level}", len(raw) / took, "lines/s"))
    return figures


PARTS: dict[str, tuple[Part, int]] = {
    "key": (key_to_challenge, 300),
    "drill": (drill, 200),
    "logging": (logging, 2000),
    "start": (starting, 15),
    "replay": (replaying, 30),
}


if __name__ == "__main__":
    sys.exit(measure(PARTS, __doc__ or "", ("key", "drill", "start")))
