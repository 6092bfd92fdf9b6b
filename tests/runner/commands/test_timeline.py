"""`show`: a log as text that somebody can read who knows the lists, and not the program."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.runner.commands.conftest import Command, logs

START = ("commander: page read", "copilot: page read")
FIRING = ("tick hook", "tick tie-downs", "tick nose cowl latches", "closed", "roger", "released",
          "engaged", "firing", "60")  # fmt: skip


@pytest.fixture
def shown(command: Command, tiny: str, script: Callable[..., Path]) -> list[str]:
    """The rows of a run with a reading out of limits, marks, a drill, and another copilot."""
    more = ("mark take-off", "@+2min", "mark landing 1 min ago", "crew copilot: R Byrne",
            "copilot: page read", "drill fire in start")  # fmt: skip
    command("run", tiny, "--answers", script(*START, *FIRING, *more))
    (found,) = logs(tiny).glob("*.jsonl")
    said = command("show", found)
    assert said.code == 0, said
    return said.lines


def test_a_step_is_its_challenge_with_its_id_beside_it(shown: list[str]) -> None:
    assert any(re.search(r"ANSWERED: \d+ [A-Z][a-z ]+ \(start\.\w+\): RELEASED", r) for r in shown)
    assert any(re.search(r"\(start\.\w+\): 60 psi", row) for row in shown)


def test_no_words_of_the_program_and_no_raw_lists_are_left(shown: list[str]) -> None:
    text = "\n".join(shown)
    for raw in ("[", "]", "'", "None", "-sig", " met ", "drill in ", "left behind"):
        assert raw not in text, raw


def test_people_stand_with_their_role_and_times_are_utc(shown: list[str]) -> None:
    text = "\n".join(shown)
    assert "SIGNED  Tom Aske, for the opening (line 0)" in text
    assert re.search("AIRCRAFT  .+ TV-T1$", text, re.MULTILINE)
    assert "COPILOT: R Byrne" in text
    assert "copilot R Byrne: page read" in text
    marks = re.findall(r"(TAKE-OFF|LANDING) MARKED (\d\d):(\d\d):(\d\d) UTC", text)
    assert [what for what, *_ in marks] == ["TAKE-OFF", "LANDING"]
    off, on = (int(h) * 3600 + int(m) * 60 + int(s) for _, h, m, s in marks)
    # Two minutes later, one minute ago; a day may have ended between the two.
    assert 58 <= (on - off) % 86_400 <= 75


def test_without_its_documents_the_ids_stand_for_the_words_and_it_says_so(
    command: Command, tiny: str, script: Callable[..., Path]
) -> None:
    command("run", tiny, "--answers", script(*START, *FIRING))
    (found,) = logs(tiny).glob("*.jsonl")
    for document in (found.parent / "documents").iterdir():
        document.unlink()
    said = command("show", found)
    assert said.code == 0
    assert re.search(r"\(ids stand for the words of the lists: the document \w+ is missing\)",
                     said.out)  # fmt: skip
    assert re.search(r"answered as its list wants start\.\w+ RELEASED", said.out)
    assert "[" not in said.out
