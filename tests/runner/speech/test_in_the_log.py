"""What was heard stands in the log with its grounds, and the log still replays and closes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from audit.folder import LogFolder
from audit.verify import verify
from runner.engine.listening import listen_to
from runner.host.opening import Setup, start
from runner.host.opening import lexicon as digest
from runner.host.replay import Cache, replayed
from runner.host.run import Run
from runner.speech.agreement import decide
from runner.speech.answers import answer_set
from runner.speech.decision import Decision, Verdict, evidence
from runner.speech.heard import Heard, Ranked, Sort
from runner.speech.lexicon import lexicon
from tests.audit.helpers import trust_in
from tests.runner.host.support import FakeClock, begin, lines_of, people, say, tiny, work_day
from tests.runner.speech.judging import BARS, LIMITS

TO_THE_BRAKE = ("commander: page read", "copilot: page read", "tick hook", "tick tie-downs",
                "tick nose cowl latches", "closed", "roger")  # fmt: skip

OURS = LIMITS._replace(bars={("closed-set", *cell[1:]): bar for cell, bar in BARS.items()})


def decided(run: Run, line: str, sort: Sort, *, second: bool, margin: float = 28.0) -> Decision:
    """A decision on a line that was heard, by one recogniser or two that agree."""
    answers = answer_set(run.listen(), run.view())
    ranked = (Ranked(line, -2.0, sort), Ranked("wilco", -2.0 - margin, Sort.CONTROL))
    heard = [Heard("closed-set", ranked, "", -1.88)]
    heard += [Heard("sphinx", ranked)] if second else []
    return decide(heard, answers, OURS, 20.0)


def test_a_day_with_answers_by_voice_closes_replayed(tmp_path: Path) -> None:
    crew, clock = people(), FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, crew)
        say(run, clock, *TO_THE_BRAKE)

        one = decided(run, "released", Sort.RESPONSE, second=False)
        assert one.verdict is Verdict.SAY_AGAIN
        brake = decided(run, "released", Sort.RESPONSE, second=True)
        assert brake.verdict is Verdict.ACCEPT
        clock.go(1000)
        event, outcome = run.submit_heard(brake.line, brake.ask, evidence(brake))
        assert (outcome[0][0], getattr(event, "source", "")) == ("met", "voice")

        # The same speech answers no second question.
        clock.go(1000)
        late = run.submit_heard(brake.line, brake.ask, evidence(brake))[1]
        assert late[0][:2] == ("refused", "stale")

        # Surely heard, but for its margin.
        starter = decided(run, "engaged", Sort.RESPONSE, second=False, margin=1.0)
        assert starter.verdict is Verdict.READ_BACK
        clock.go(1000)
        _, outcome = run.submit_heard(starter.line, starter.ask, evidence(starter))
        assert outcome[0][0] == "read back"
        yes = decided(run, "affirm", Sort.CONTROL, second=True)
        clock.go(1000)
        assert run.submit_heard(yes.line, yes.ask, evidence(yes))[1][0][0] == "met"

        work_day(run, clock)
        assert run.close([person for _, person in crew]) == ""
        run.stop()
        path = folder.path_of(run.recorder.writer.run)
    verdict = verify(path, level="replayed", trust=trust_in([person for _, person in crew]),
                     replay=replayed(Cache()))  # fmt: skip
    assert (verdict.result, verdict.code) == ("closed", "")
    spoken: list[dict[str, Any]] = [
        line.data for line in lines_of(path)
        if line.type == "event" and line.data["event"].get("source") == "voice"
    ]  # fmt: skip
    heard = [data["heard"] for data in spoken]
    assert heard == [evidence(brake)] * 2 + [evidence(starter), evidence(yes)]
    assert heard[0].startswith("released; closed-set score -0.10 margin 28.00 quiet; sphinx: ")
    assert "read back" in heard[2]
    assert [data["event"].get("sure", True) for data in spoken] == [True, True, False, True]
    assert all(data["event"]["ask"] for data in spoken)


def test_an_utterance_that_was_asked_again_may_be_kept_as_a_repeated_call(tmp_path: Path) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        say(run, clock, *TO_THE_BRAKE)
        before = run.state.ask
        again = decided(run, "released", Sort.RESPONSE, second=False)
        clock.go(1000)
        _, outcome = run.say_line("say again", again.ask, source="host", heard=evidence(again))
        run.stop()
        assert (outcome, run.state.ask) == ((("said",),), before)
        last = list(lines_of(folder.path_of(run.recorder.writer.run)))[-1].data
    assert last["event"]["source"] == "host"
    assert last["heard"].startswith("released (say again, two must agree); closed-set score")


def test_a_typed_line_is_logged_as_it_was_typed(tmp_path: Path) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        say(run, clock, "commander: page read")
        run.stop()
        last = list(lines_of(folder.path_of(run.recorder.writer.run)))[-1].data
    assert (last["heard"], last["event"]["source"]) == ("commander: page read", "script")


def test_the_form_of_a_correction_is_asked_of_the_run(tmp_path: Path) -> None:
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, FakeClock(), people())
        asked = run.listen_to("start.oil_pressure")
        run.stop()
        assert asked == listen_to(tiny().table, run.state, "start.oil_pressure")
        assert asked.number


@pytest.mark.parametrize("spoken", ["", lexicon().sha256, "0" * 64])
def test_by_what_words_answers_are_heard_is_in_the_opening(tmp_path: Path, spoken: str) -> None:
    with LogFolder.open(tmp_path / "logs") as folder:
        setup = Setup(tiny(), folder, "TV-T1", ("crew",), people(), ("hook",), spoken=spoken)
        run = start(setup, FakeClock(), patient=True)
        run.stop()
        opening = next(iter(lines_of(folder.path_of(run.recorder.writer.run)))).data
    assert opening["lexicon"] == digest(spoken)
    assert (opening["lexicon"] == digest()) is (spoken == "")
