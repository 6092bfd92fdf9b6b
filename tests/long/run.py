"""The long tier, and the report of it that the tree keeps: `python tests/long/run.py [--stale]`.

Rules: each part (a module of tests) runs in a process of its own, as many at once as there are
processors, at most two, the longest first. A part is put into the report only if every one of its
tests passed, none was skipped, and no file that it reaches changed meanwhile; the report is written
after each part, so that what is done stays done when the rest is stopped. The exit code is 0 only
if the report then fits the tree.
"""

from __future__ import annotations

import argparse
import os
import platform
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from pathlib import Path
from threading import Lock
from xml.etree import ElementTree

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.long import report  # noqa: E402

_RESULT = re.compile(r"^(\S+::.*) (PASSED|FAILED|ERROR|SKIPPED|XFAIL|XPASS)\b")


class Tier:
    """The parts that run now, and what they say while they do."""

    def __init__(self, jobs: int) -> None:
        self._jobs = jobs
        self._began = time.monotonic()
        self._running: set[subprocess.Popen[str]] = set()
        self._mouth = Lock()
        self._ended = False

    def say(self, text: str) -> None:
        with self._mouth:
            print(f"{time.monotonic() - self._began:6.0f} s  {text}", flush=True)

    def run(self, parts: Sequence[str]) -> None:
        """Run the parts; what passed is in the report."""
        with ThreadPoolExecutor(self._jobs) as pool:
            works = {pool.submit(self._part, part): part for part in parts}
            try:
                for count, work in enumerate(as_completed(works), 1):
                    entry = work.result()
                    if entry is not None:
                        report.write({**report.read(), works[work]: entry})
                    self.say(f"{count} of {len(parts)} parts done")
            except BaseException:
                self._ended = True
                pool.shutdown(wait=False, cancel_futures=True)
                for process in list(self._running):
                    process.send_signal(signal.SIGINT)
                raise

    def _part(self, part: str) -> report.Entry | None:
        if self._ended:
            return None
        self.say(f"{part}: begun")
        began = time.monotonic()
        before = report.sources(part)
        with tempfile.TemporaryDirectory() as folder:
            results = Path(folder) / "results.xml"
            why = self._tests(part, results)
            if not why:
                tests, counts, why = read_results(results)
        if not why and report.sources(part) != before:
            why = "a file that it reaches was changed while it ran"
        seconds = round(time.monotonic() - began)
        if why:
            self.say(f"{part}: NOT PUT INTO THE REPORT after {seconds} s: {why}")
            return None
        told = ", ".join(f"{count} {kind}" for kind, count in counts.items())
        self.say(f"{part}: {tests} tests held, {seconds} s{'; ' if told else ''}{told}")
        day = time.strftime("%Y-%m-%d", time.gmtime())
        return report.Entry(day, machine(), seconds, tests, counts, before)

    def _tests(self, part: str, results: Path) -> str:
        words = [
            sys.executable, "-m", "pytest", "-v", "--no-header", "-p", "no:randomly", "-m", "long",
            "-o", "junit_family=xunit1", f"--junitxml={results}", part,
        ]  # fmt: skip
        process = subprocess.Popen(
            words, cwd=ROOT, text=True, encoding="utf-8", errors="replace",
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
            env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        )  # fmt: skip
        self._running.add(process)
        rows: list[str] = []
        assert process.stdout is not None
        for row in process.stdout:
            rows.append(row)
            if result := _RESULT.match(row):
                self.say(f"{result[2].lower()}  {result[1]}")
        process.wait()
        self._running.discard(process)
        if process.returncode == 0:
            return ""
        with self._mouth:
            print("".join(rows), flush=True)
        return f"pytest ended with {process.returncode}"


def read_results(path: Path) -> tuple[int, dict[str, int], str]:
    """How many tests ran, what they recorded, added up, and why this is not the whole part."""
    counts: Counter[str] = Counter()
    cases = list(ElementTree.parse(path).iter("testcase"))
    for case in cases:
        for skipped in case.iter("skipped"):
            return len(cases), {}, f"{case.get('name')} was skipped: {skipped.get('message')}"
        for kept in case.iter("property"):
            counts[str(kept.get("name"))] += int(str(kept.get("value")))
    return len(cases), dict(sorted(counts.items())), "" if cases else "there was no test in it"


def machine() -> str:
    """The kind of machine, without its name."""
    version = ".".join(platform.python_version_tuple()[:2])
    return (
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} processors, Python {version}"
    )


def longest_first(parts: Sequence[str]) -> list[str]:
    """By what the report says of the last time; what it does not know comes first."""
    known = report.read()
    return sorted(parts, key=lambda part: -known[part].seconds if part in known else -(10**9))


def chosen(words: argparse.Namespace) -> list[str]:
    wanted = list(report.stale()) if words.stale else report.parts()
    return [part for part in wanted if not words.part or any(name in part for name in words.part)]


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("part", nargs="*", help="only parts whose path has this in it")
    parser.add_argument("--stale", action="store_true", help="only what the report does not fit")
    parser.add_argument("--list", action="store_true", help="name the parts and run nothing")
    parser.add_argument("--jobs", type=int, default=min(2, os.cpu_count() or 1))
    words = parser.parse_args()
    parts = longest_first(chosen(words))
    if words.list:
        print(*parts, sep="\n")
        return 0
    tier = Tier(max(1, words.jobs))
    try:
        tier.run(parts)
    except KeyboardInterrupt:
        tier.say("stopped; what was done is in the report")
        return 130
    if left := report.complaint():
        print(left)
        return 1
    tier.say(f"{report.REPORT.as_posix()} fits the tree")
    return 0


if __name__ == "__main__":
    sys.exit(main())
