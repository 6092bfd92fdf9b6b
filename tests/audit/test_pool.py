"""Many logs at once: the same words in the same order as one process, and a stop that is clean."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from audit import pool
from audit.errors import FolderError, ProcessLost, Stopped
from audit.folder import LogFolder
from audit.pool import Job, processes_for, verify_all
from audit.trust import Trust
from audit.verdict import Verdict
from audit.verify import LEVELS, Replay, verify
from tests.audit import pool_hooks
from tests.audit.helpers import Clock, Person, simple_log, trust_in

METHODS = ["spawn"] if sys.platform == "win32" else ["spawn", "forkserver"]


@pytest.fixture
def corpus(whole: tuple[Path, list[Person]], tmp_path: Path) -> list[Path]:
    """Logs of every result: whole, cut anywhere, changed anywhere, empty, none at all."""
    good, _ = whole
    raw = good.read_bytes()
    chance = random.Random(4)
    folder = tmp_path / "corpus"
    folder.mkdir()
    found = [raw, b"", b"x", raw + b"x", raw[:-1], raw[: raw.index(b"\n") + 1]]
    found += [raw[: chance.randrange(len(raw))] for _ in range(6)]
    for _ in range(6):
        at = chance.randrange(len(raw))
        found.append(raw[:at] + bytes([raw[at] ^ 1 << chance.randrange(8)]) + raw[at + 1 :])
    for number, content in enumerate(found):
        (folder / f"log-{number:02d}.jsonl").write_bytes(content)
    logs = sorted(folder.iterdir())
    chance.shuffle(logs)
    return logs


def judged(logs: list[Path], job: Job, **more: object) -> list[tuple[Path, Verdict]]:
    with closing(verify_all(logs, job, **more)) as found:  # type: ignore[arg-type]
        return list(found)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("level", LEVELS)
def test_the_verdicts_and_their_order_are_those_of_one_process(
    corpus: list[Path], whole: tuple[Path, list[Person]], level: str, method: str
) -> None:
    trust = trust_in(whole[1])
    hook = pool_hooks.objects if level == "replayed" else None
    one = [
        (log, verify(log, level=level, trust=trust, replay=hook() if hook else None))
        for log in corpus
    ]
    results = {verdict.result for _, verdict in one}
    assert {"unclosed", "torn", "rejected"} <= results
    job = Job(level, trust, hook)
    assert judged(corpus, job, processes=1) == one
    assert judged(corpus, job, processes=3, method=method) == one


def test_a_log_that_cannot_be_read_ends_it_where_one_process_ends(corpus: list[Path]) -> None:
    corpus.insert(5, corpus[0].with_name("gone.jsonl"))
    for processes in (1, 3):
        came: list[Path] = []
        found = verify_all(corpus, Job("full", Trust()), processes=processes)
        with pytest.raises(FolderError, match=r"gone\.jsonl: cannot be read: No such file"):
            came += (log for log, _ in found)
        assert came == corpus[:5]


@pytest.mark.parametrize(
    ("hook", "why"),
    [(pool_hooks.dies, "it ended with -"), (pool_hooks.breaks, "ZeroDivisionError: of its own")],
)
@pytest.mark.skipif(sys.platform == "win32", reason="a process ends there with another code")
def test_a_process_that_fails_gives_no_verdict(
    corpus: list[Path], hook: Callable[[], Replay], why: str
) -> None:
    job = Job("replayed", Trust(), hook)
    found = verify_all(corpus[:2], job, processes=2)
    with pytest.raises(ProcessLost) as caught:
        next(found)
    assert str(corpus[0]) in str(caught.value)
    assert why in str(caught.value)
    assert "nothing is said of it" in str(caught.value)


def test_little_work_starts_no_process(monkeypatch: pytest.MonkeyPatch, corpus: list[Path]) -> None:
    def none(*_: object) -> None:
        raise AssertionError("a process was started")

    monkeypatch.setattr(pool, "_Worker", none)
    assert len(judged(corpus, Job("full", Trust()))) == len(corpus)


def test_how_many_processes_the_work_is_worth(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pool, "cores", lambda: 4)
    assert processes_for([], "full") == 1
    assert processes_for([10_000, 10_000], "full") == 1
    assert processes_for([400_000_000], "full") == 1
    assert processes_for([400_000_000, 1], "full") == 2
    assert processes_for([1_000_000] * 12, "full") == 3
    assert processes_for([1_000_000] * 12, "boundary") == 1
    assert processes_for([100_000_000] * 50, "boundary") == 4


@pytest.mark.parametrize("processes", [1, 2])
def test_what_is_told_ends_with_every_log_and_every_byte(
    corpus: list[Path], processes: int
) -> None:
    told: list[tuple[int, int]] = []
    judged(corpus, Job("full", Trust()), processes=processes, told=lambda *now: told.append(now))
    size = sum(log.stat().st_size for log in corpus)
    assert told[-1] == (len(corpus), size)
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    assert all(0 <= read <= size for _, read in told)


def test_a_long_log_is_told_of_while_it_is_read(
    folder: LogFolder, crew: list[Person], clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("audit.durable.sync", lambda fd: None)
    log = simple_log(folder, crew, clock, events=2_500)
    size = log.stat().st_size
    for level in ("boundary", "full"):
        reads: list[int] = []
        verify(log, level=level, trust=None, beat=reads.append)
        assert len(reads) >= 2
        assert reads == sorted(set(reads))
        assert 0 < reads[0] < size
        assert reads[-1] <= size


@pytest.fixture
def in_front() -> Iterator[None]:
    """Ctrl-C is heard, as in front of a person: tests started in the background may ignore it."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.parametrize("processes", [1, 3])
@pytest.mark.usefixtures("in_front")
def test_ctrl_c_between_two_logs_is_taken_at_the_next(corpus: list[Path], processes: int) -> None:
    before = signal.getsignal(signal.SIGINT)
    with closing(verify_all(corpus, Job("full", Trust()), processes=processes)) as found:
        came = [next(found)]
        signal.raise_signal(signal.SIGINT)
        with pytest.raises(Stopped) as caught:
            came += found
    assert signal.getsignal(signal.SIGINT) is before
    assert caught.value.total == len(corpus)
    assert caught.value.judged == len(came) <= len(corpus)
    assert f"{len(came)} of {len(corpus)} logs were judged" in str(caught.value)
    for log, verdict in came:
        assert verdict == verify(log, level="full", trust=Trust())


@pytest.mark.parametrize("processes", [1, 2])
@pytest.mark.usefixtures("in_front")
def test_the_second_ctrl_c_does_not_wait(corpus: list[Path], processes: int) -> None:
    with closing(verify_all(corpus, Job("full", Trust()), processes=processes)) as found:
        next(found)
        signal.raise_signal(signal.SIGINT)
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)


@pytest.fixture
def many(whole: tuple[Path, list[Person]], tmp_path: Path) -> Path:
    """A folder of logs that takes a good while to verify."""
    folder = tmp_path / "many"
    folder.mkdir()
    raw = whole[0].read_bytes()
    (folder / "0000.jsonl").write_bytes(raw)
    for number in range(1, 4000):
        os.link(folder / "0000.jsonl", folder / f"{number:04d}.jsonl")
    return folder


def started(project: Path, *words: str) -> subprocess.Popen[bytes]:
    """`python -m audit verify` in a process group of its own, as a shell starts a job."""
    # one that is started in the background may be made to ignore Ctrl-C; a person's never is
    code = "import signal, os, sys; signal.signal(signal.SIGINT, signal.SIG_DFL); "
    code += "os.execv(sys.executable, [sys.executable, *sys.argv[1:]])"
    return subprocess.Popen(
        [sys.executable, "-c", code, "-u", "-m", "audit", "verify", *words],
        cwd=project,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        # `communicate` does not give what an earlier `readline` has left in a buffer
        bufsize=0,
        process_group=0,
    )


@pytest.mark.skipif(sys.platform == "win32", reason="needs process groups")
@pytest.mark.parametrize("processes", ["1", "2"])
def test_ctrl_c_at_the_terminal_ends_all_of_it(project: Path, many: Path, processes: str) -> None:
    with started(project, "--processes", processes, str(many)) as child:
        assert child.stdout is not None
        first = child.stdout.readline()
        os.killpg(child.pid, signal.SIGINT)
        # the pipes come to their end only when every process that holds them is gone
        out, err = child.communicate(timeout=120)
    lines = (first + out).decode().splitlines()
    assert child.returncode == 130
    assert 1 <= len(lines) < 4000
    assert all(line.startswith("untrusted ") for line in lines)
    said = err.decode().splitlines()
    assert said[-1] == (
        f"interrupted: {len(lines)} of 4000 logs were judged; nothing is said of the rest, nor of "
        "what they come to together"
    )
    assert "Traceback" not in err.decode()


@pytest.mark.skipif(sys.platform == "win32", reason="needs process groups")
def test_no_process_outlives_one_that_was_killed(project: Path, many: Path) -> None:
    with started(project, "--processes", "2", str(many)) as child:
        assert child.stdout is not None
        child.stdout.readline()
        os.kill(child.pid, signal.SIGKILL)
        _, err = child.communicate(timeout=120)
    assert child.returncode == -signal.SIGKILL
    assert b"Traceback" not in err


def test_the_command_says_the_same_with_any_number_of_processes(
    project: Path, corpus: list[Path]
) -> None:
    said = []
    for more in ([], ["--processes", "1"], ["--processes", "3"], ["--processes", "3", "--json"]):
        words = [sys.executable, "-m", "audit", "verify", *more, str(corpus[0].parent)]
        done = subprocess.run(words, cwd=project, capture_output=True, check=False)
        assert done.returncode == 1
        assert b"verifying:" not in done.stderr
        said.append(done.stdout)
    assert said[0] == said[1] == said[2]
    assert said[3].count(b'"result":') == len(corpus)


@pytest.mark.parametrize("count", ["0", "-1", "two", "257", "1.5"])
def test_a_number_of_processes_that_is_none(project: Path, count: str) -> None:
    words = [sys.executable, "-m", "audit", "verify", f"--processes={count}", "LOG"]
    done = subprocess.run(words, cwd=project, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert f"{count!r} is not a number from 1 to 256" in done.stderr
