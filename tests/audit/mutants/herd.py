"""Runs the tests once as they are, then every mutant in a child of its own.

Rules: a pytest plugin that takes the place of the loop over the tests. The first child is a mutant
that changes nothing: a test that does not hold there would notice anything. A test is chosen for a
mutant if it reached the mutant's line; first come those that noticed other mutants of the same
function, then those that reached what the check leads to or did not reach what stands after it,
then one case of every other test, then the second case of each, the quickest first, up to a
bound. A child tells the test that failed, by a pipe; a child that ends in any other way has failed
in itself.
"""

from __future__ import annotations

import gc
import importlib
import os
import resource
import selectors
import signal
import time
from collections import Counter, defaultdict
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import coverage
import pytest
from _pytest.runner import runtestprotocol

from tests.audit.mutants.changes import Mutant, uses
from tests.audit.mutants.plant import Unplantable, plant

MOST_NEAR = 400
MOST_OTHERS = 120
_PATIENCE_S = 10
_MEMORY = 4 << 30


class Outcome(NamedTuple):
    """What became of a mutant; `killer` is empty if it survived all `tests` that reach it."""

    module: str
    name: str
    line: int
    killer: str
    tests: int
    seconds: float


class Trials:
    """The plugin. `outcomes` are there when pytest has ended; `broken` if a test fails as it is."""

    def __init__(
        self,
        mutants: list[Mutant],
        sources: dict[str, Path],
        jobs: int,
        tell: Callable[[Outcome], None],
    ) -> None:
        self.outcomes: list[Outcome] = []
        self.broken: list[str] = []
        self._mutants = mutants
        self._sources = sources
        self._jobs = jobs
        self._tell = tell
        self._seconds: dict[str, float] = {}
        self._reached: dict[tuple[str, int], set[str]] = defaultdict(set)
        self._killers: dict[str, dict[str, int]] = defaultdict(dict)

    def pytest_configure(self) -> None:
        """The same examples every time: a mutant that is noticed is always noticed."""
        hypothesis = importlib.import_module("hypothesis")  # after pytest has seen to its plugin
        hypothesis.settings.register_profile("mutants", derandomize=True, database=None)
        hypothesis.settings.load_profile("mutants")

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Instead of the loop over the tests."""
        for plugin in session.config.pluginmanager.get_plugins():
            if hasattr(plugin, "ASKED_TWICE"):
                plugin.ASKED_TWICE.clear()  # the independent verifier is no mutant
        self._as_they_are(session.items)
        if not self.broken:
            self._unchanged(session.items)
        if not self.broken:
            by_name = {item.nodeid: item for item in session.items}
            self._each_mutant(by_name)
        session.testsfailed = 0
        return True

    def _as_they_are(self, items: list[pytest.Item]) -> None:
        watched = {str(path): module for module, path in self._sources.items()}
        watch = coverage.Coverage(
            data_file=None, config_file=False, include=list(watched), messages=False
        )
        watch.start()
        for item, following in zip(items, [*items[1:], items[0]], strict=True):
            watch.switch_context(item.nodeid)
            began = time.perf_counter()
            # with a test still to come, what was made for the whole session stays for the children
            reports = runtestprotocol(item, log=False, nextitem=following)
            self._seconds[item.nodeid] = time.perf_counter() - began
            self.broken += [item.nodeid for report in reports if report.failed]
        watch.stop()
        data = watch.get_data()
        for path, module in watched.items():
            for line, contexts in data.contexts_by_lineno(path).items():
                self._reached[module, line] |= set(contexts) & self._seconds.keys()

    def _unchanged(self, items: list[pytest.Item]) -> None:
        reading, child = self._child(None, items)
        said = _all_of(reading)
        _, status = os.waitpid(child, 0)
        if said or status:
            self.broken.append(f"{said or 'one that ends the process'}: in a mutant without change")

    def _chosen(self, mutant: Mutant) -> list[str]:
        if mutant.function:
            # what is written over several lines may run on another than the first
            lines = range(mutant.line, mutant.until + 1)
            names = next(filter(None, (self._reached[mutant.module, at] for at in lines)), set())
        else:
            # made at import: the tests that reach what uses it, or else all of the module's
            used = uses(self._sources[mutant.module], mutant.target)
            names = set().union(*(self._reached[mutant.module, line] for line in used))
            names |= set() if used else self._of_module(mutant.module)
        near: set[str] = set()
        for line in mutant.inside:
            near |= self._reached.get((mutant.module, line), set())
        if mutant.after:
            near |= names - self._reached.get((mutant.module, mutant.after), set())
        own = (f"/test_{mutant.module.rpartition('.')[2]}.py", "/test_single_", "/test_fields.py")
        near |= {name for name in names if any(file in name for file in own)}
        near &= names
        told = self._killers[f"{mutant.module}.{mutant.function}"]
        # of the many cases of one test, those of another test say more than the next of the same
        turn: dict[str, int] = {}
        count: Counter[str] = Counter()
        for name in sorted(names, key=lambda name: (self._seconds[name], name)):
            test = name.partition("[")[0]
            turn[name] = count[test]
            count[test] += 1
        chosen = sorted(
            names,
            key=lambda name: (
                -told.get(name, 0),
                name not in near,
                turn[name],
                self._seconds[name],
            ),
        )
        return chosen[: min(len(near | told.keys()), MOST_NEAR) + MOST_OTHERS]

    def _of_module(self, module: str) -> set[str]:
        return set().union(*(names for (of, _), names in self._reached.items() if of == module))

    def _each_mutant(self, items: dict[str, pytest.Item]) -> None:
        waiting = list(reversed(self._mutants))
        gc.collect()
        gc.freeze()  # what lies still is not copied for each child
        with selectors.DefaultSelector() as running:
            while waiting or running.get_map():
                while waiting and len(running.get_map()) < self._jobs:
                    self._begin(waiting.pop(), items, running)
                for key, _ in running.select():
                    end: Callable[[], None] = key.data
                    running.unregister(key.fd)
                    end()

    def _begin(
        self, mutant: Mutant, items: dict[str, pytest.Item], running: selectors.BaseSelector
    ) -> None:
        chosen = self._chosen(mutant)
        began = time.perf_counter()
        reading, child = self._child(mutant, [items[name] for name in chosen])

        def end() -> None:
            said = _all_of(reading)
            _, status = os.waitpid(child, 0)
            killer = said
            if os.waitstatus_to_exitcode(status) != 0:
                killer = f"ended with {os.waitstatus_to_exitcode(status)} {said}".strip()
            elif said in items:
                told = self._killers[f"{mutant.module}.{mutant.function}"]
                told[said] = told.get(said, 0) + 1
            seconds = round(time.perf_counter() - began, 3)
            outcome = Outcome(mutant.module, mutant.name, mutant.line, killer, len(chosen), seconds)
            self.outcomes.append(outcome)
            self._tell(outcome)

        running.register(reading, selectors.EVENT_READ, end)

    def _child(self, mutant: Mutant | None, items: list[pytest.Item]) -> tuple[int, int]:
        """A child in which the tests run on a mutant: where it tells, and its number."""
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(reading)
            try:
                self._in_child(mutant, items, writing)
            finally:
                os._exit(3)
        os.close(writing)
        return reading, child

    def _in_child(self, mutant: Mutant | None, items: list[pytest.Item], told: int) -> None:
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        resource.setrlimit(resource.RLIMIT_AS, (_MEMORY, _MEMORY))
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        try:
            if mutant is not None:
                plant(mutant, self._sources[mutant.module])
        except Unplantable as error:
            os.write(told, f"no program: {error}".encode())
            os._exit(0)
        for item, following in zip(items, [*items[1:], *items[:1]], strict=True):
            signal.alarm(_PATIENCE_S + int(20 * self._seconds[item.nodeid]))
            for report in runtestprotocol(item, log=False, nextitem=following):
                if report.failed:
                    os.write(told, item.nodeid.encode())
                    os._exit(0)
        os._exit(0)


def _all_of(reading: int) -> str:
    """What a child tells until it ends."""
    said = b"".join(iter(lambda: os.read(reading, 4096), b"")).decode()
    os.close(reading)
    return said
