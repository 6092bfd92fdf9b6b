"""Every byte of a log changed, dropped or added, every truncation: never `closed`.

Each is checked from the verifier's state saved before the changed line; on a sample that is shown
to give the same verdict as checking the whole file.
"""

import io
import random
from dataclasses import dataclass
from pathlib import Path

import pytest

from audit.line import TYPES, parse
from audit.verdict import RESULTS, Verdict
from audit.verify import SavedState, verify
from tests.audit.helpers import Person, check, saved_states, trust_in

NEVER_CLOSED = {"rejected", "torn", "unclosed"}


@dataclass
class Trial:
    log: bytes
    people: list[Person]
    states: list[SavedState]

    def state_at(self, offset: int) -> SavedState:
        return max(
            (state for state in self.states if state.offset <= offset), key=lambda s: s.offset
        )

    def from_state(self, changed: bytes, offset: int) -> Verdict:
        state = self.state_at(offset)
        return verify(
            io.BytesIO(changed), level=state.level, trust=trust_in(self.people), start=state
        )


@pytest.fixture(scope="module")
def trial(whole: tuple[Path, list[Person]]) -> Trial:
    log, people = whole
    return Trial(log.read_bytes(), people, saved_states(log, people))


def test_the_log_has_every_line_type_and_closes(trial: Trial) -> None:
    rows = trial.log.splitlines(keepends=True)
    assert {parse(row).type for row in rows} == set(TYPES)
    assert len(trial.states) == len(rows) + 1
    assert check(trial.log, trial.people).counts()
    for state in trial.states:
        assert trial.from_state(trial.log, state.offset) == check(trial.log, trial.people)


def test_every_byte_changed(trial: Trial) -> None:
    rng = random.Random(8032)
    for at, byte in enumerate(trial.log):
        near = {byte ^ 1, byte ^ 0x20, byte ^ 0x80}
        others = rng.sample(sorted({*range(256)} - near - {byte}), 2)
        for other in (*near, *others):
            changed = trial.log[:at] + bytes([other]) + trial.log[at + 1 :]
            verdict = trial.from_state(changed, at)
            assert verdict.result in NEVER_CLOSED, (at, other, verdict)


def test_every_byte_dropped(trial: Trial) -> None:
    for at in range(len(trial.log)):
        verdict = trial.from_state(trial.log[:at] + trial.log[at + 1 :], at)
        assert verdict.result in NEVER_CLOSED, (at, verdict)


def test_a_byte_added_anywhere(trial: Trial) -> None:
    rng = random.Random(8785)
    for at in range(len(trial.log) + 1):
        for byte in (rng.randrange(256), 0x20):
            verdict = trial.from_state(trial.log[:at] + bytes([byte]) + trial.log[at:], at)
            assert verdict.result in NEVER_CLOSED, (at, byte, verdict)


def test_every_truncation_is_unclosed_or_torn(trial: Trial) -> None:
    starts = {state.offset for state in trial.states}
    for length in range(len(trial.log)):
        verdict = trial.from_state(trial.log[:length], length)
        expected = "unclosed" if length in starts and length else "torn"
        assert verdict.result == expected, (length, verdict)


def test_every_line_dropped_doubled_and_swapped(trial: Trial) -> None:
    rows = trial.log.splitlines(keepends=True)
    for at, row in enumerate(rows):
        dropped = check(b"".join([*rows[:at], *rows[at + 1 :]]), trial.people)
        last = at == len(rows) - 1
        assert dropped.result == ("unclosed" if last else "rejected")
        assert check(b"".join([*rows[: at + 1], row, *rows[at + 1 :]])).result == "rejected"
        for other in range(at + 1, len(rows)):
            swapped = [*rows]
            swapped[at], swapped[other] = rows[other], row
            verdict = check(b"".join(swapped))
            assert (verdict.result, verdict.line) == ("rejected", at)


def test_a_saved_state_gives_the_verdict_of_the_whole_file(trial: Trial) -> None:
    rng = random.Random(6962)
    for _ in range(400):
        at = rng.randrange(len(trial.log))
        piece = bytes(rng.randrange(256) for _ in range(rng.randrange(4)))
        changed = trial.log[:at] + piece + trial.log[at + rng.randrange(3) :]
        whole = check(changed, trial.people)
        assert trial.from_state(changed, at) == whole
        assert whole.result in RESULTS


def test_at_the_boundary_level_no_change_closes(trial: Trial) -> None:
    for at in (*range(0, len(trial.log), 7), *range(len(trial.log) - 700, len(trial.log))):
        changed = trial.log[:at] + bytes([trial.log[at] ^ 1]) + trial.log[at + 1 :]
        assert check(changed, trial.people, "boundary").result in NEVER_CLOSED, at
