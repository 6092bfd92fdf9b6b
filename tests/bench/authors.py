"""How fast documents are checked, beside reading them: `python tests/bench/authors.py`.

Rules: as in `run.py`: every figure is printed, the exit code is 1 if a target is missed, nothing of
it is part of the tests.

What is measured, and what must hold:

- `latchword check` of the Corvane C-4, as a command from start to end: at most 1.5 s for its more
  than 2,000 lines (beside it: the start of the bare interpreter, `latchword --help`, and the same
  documents only read and compiled);
- each rule's time on them, the slowest first, so that one that grew slow is seen;
- what the rules cost to import; `check` and `explain` alone import them.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(PROJECT))

from runner.flow.checks.collection import every_rule  # noqa: E402
from runner.flow.checks.rules.confusable_words import order_like  # noqa: E402
from runner.flow.checks.subject import Subject  # noqa: E402
from runner.flow.loader import documents_in, load_documents  # noqa: E402
from runner.words.phonetics import sounds  # noqa: E402
from tests.bench.figures import Figure, environment, least, measure  # noqa: E402

LINES = 2_000
MOST_SECONDS = 1.5
SHIPPED = PROJECT / "flows" / "corvane_c4"
RULES = "from runner.flow.checks.collection import every_rule; every_rule()"


def child(folder: Path, *words: str) -> Callable[[], None]:
    """A start of the interpreter of this measurement, with folders of its own."""
    surroundings = environment(folder)

    def start() -> None:
        subprocess.run(
            [sys.executable, *words],
            env=surroundings,
            cwd=PROJECT,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            check=True,
        )

    start()
    return start


def whole(folder: Path, rounds: int) -> Iterator[Figure]:
    """The command, and what is in it that is not checking."""
    found = documents_in(SHIPPED)
    lines = sum(data.count(b"\n") for data in found.values())
    if lines < LINES:
        raise ValueError(f"{lines} lines are too few to be measured; {LINES} are wanted")
    yield Figure("lines of the documents", lines, "lines")
    yield Figure("start of the interpreter", least(child(folder, "-c", ""), rounds), "s")
    bare = child(folder, "-m", "runner.cli", "--help")
    yield Figure("latchword --help", least(bare, rounds), "s")
    yield Figure("documents read and compiled", least(lambda: _read(found), rounds), "s")
    checked = least(child(folder, "-m", "runner.cli", "check", str(SHIPPED)), rounds)
    target = f"at most {MOST_SECONDS} s"
    yield Figure("latchword check", checked, "s", target, checked <= MOST_SECONDS)


def _read(found: dict[str, bytes]) -> None:
    load_documents(found)


def rules(folder: Path, rounds: int) -> Iterator[Figure]:
    """What each rule takes, with nothing remembered from the round before."""
    subject = Subject(load_documents(documents_in(SHIPPED)))
    figures = []
    for rule in every_rule().values():
        check = rule.check
        if check is None:
            continue

        def once(check: Callable[[Subject], Iterator[object]] = check) -> None:
            sounds.cache_clear()
            order_like.cache_clear()
            for _ in check(subject):
                pass

        figures.append(Figure(rule.name, least(once, rounds) * 1000, "ms"))
    yield from sorted(figures, key=lambda one: -one.value)
    loaded = child(folder, "-c", "import runner.flow.loader")
    before = least(loaded, rounds)
    after = least(child(folder, "-c", RULES), rounds)
    yield Figure("import of the rules, beside the loader", (after - before) * 1000, "ms")


if __name__ == "__main__":
    sys.exit(measure({"whole": (whole, 5), "rules": (rules, 5)}, __doc__ or ""))
