"""The fuzzer: inputs grown by what they reach in `audit`, for a number of runs, not for a time.

    python -m tests.audit.fuzz.target -runs=20000 -seed=1

Takes the options of libFuzzer. Ends with 0, or with what was found: the input is in a file whose
name it prints, the traceback says what was taken or what escaped.
"""

from __future__ import annotations

import resource
import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["audit"]):
    from tests.audit.fuzz import kinds


def _peak_so_far() -> int:
    """The most memory in MB that libFuzzer believes this process to have used already.

    Linux hands the peak of the process that started this one on to it, and that may be a whole run
    of the tests: a limit that did not know it would be passed before the first input.
    """
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


def main(arguments: list[str]) -> None:
    """Does not come back: libFuzzer ends the process."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        corpus = folder / "corpus"
        corpus.mkdir()
        bench = kinds.Bench.made(folder)
        longest = 0
        for number, seed in enumerate(kinds.seeds(bench)):
            (corpus / f"{number:03}").write_bytes(seed)
            longest = max(longest, len(seed))
        options = [f"-max_len={longest * 2}", "-len_control=0", "-timeout=60"]
        options += [f"-rss_limit_mb={_peak_so_far() + 2048}", *arguments]
        atheris.Setup(
            [sys.argv[0], *options, str(corpus)], lambda data: kinds.one_input(bench, data)
        )
        atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv[1:])
