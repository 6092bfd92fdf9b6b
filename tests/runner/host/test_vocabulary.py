"""The words that a crew may have to say, and where in the documents they stand."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from runner.flow.loader import Loaded, load_aircraft
from runner.host.questions import question_of
from runner.host.vocabulary import CONTROL, NUMBERS, words_of
from runner.speech.answers import answer_set

ROOT = Path(__file__).resolve().parents[3]
FOLDER = ROOT / "flows" / "corvane_c4"


@cache
def loaded() -> Loaded:
    return load_aircraft(FOLDER)


@cache
def words() -> dict[str, list[str]]:
    return words_of(loaded(), FOLDER)


def test_no_word_of_an_answer_is_forgotten() -> None:
    for step in loaded().table.steps.values():
        if not step.asked:
            continue
        asked = question_of(loaded().table, step)
        for phrase in answer_set(asked.listen, asked.view, role="commander").phrases:
            assert {word for way in phrase.ways for word in way.split()} <= words().keys()


SAID_OTHERWISE = {
    "feet", "hundred", "revs", "seven", "seventy", "sixty", "three", "twenty", "zero",
}  # fmt: skip
"""Words by which a figure or an abbreviation of these documents is said."""


def test_every_place_holds_its_word_as_it_is_written() -> None:
    seen, otherwise = 0, set()
    for word, places in words().items():
        if len(word) < 4 or places[0] in (CONTROL, NUMBERS):
            continue
        seen += 1
        path, line, column = places[0].rsplit(":", 2)
        text = Path(path).read_text("utf-8").splitlines()[int(line) - 1][int(column) - 1 :]
        if word not in text.lower():
            otherwise.add(word)
    assert otherwise == SAID_OTHERWISE
    assert seen > 350


def test_control_words_and_numbers_are_told_by_what_they_are() -> None:
    assert words()["affirmative"] == [CONTROL]
    assert words()["wilco"] == [CONTROL]
    assert words()["seventeen"][-1] == NUMBERS
    assert words()["decimal"] == [NUMBERS]


def test_of_one_list_its_own_words_and_what_may_be_said_in_any() -> None:
    start = words_of(loaded(), FOLDER, "start")
    assert any("lists/start.yaml" in place for place in start["strokes"])
    assert "resonance" in start  # the title of a drill
    assert "mirror" not in start
    assert "mirror" in words()
    assert len(start) < len(words())
    assert list(start) == sorted(start)


def test_a_list_without_numbers_needs_no_words_of_numbers() -> None:
    words = words_of(loaded(), FOLDER, "switches")
    assert not [word for word, places in words.items() if NUMBERS in places]
