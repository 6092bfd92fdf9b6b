"""The documentation's tables of keys and words are the code's, and the engine goes by them."""

from __future__ import annotations

import re

from runner.commands.keytables import WORDS, event_of, page, word_cell
from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.outcomes import REFUSALS
from runner.engine.session import transition
from runner.engine.state import State
from runner.terminal.keymap import DEFAULT, NAMES
from runner.terminal.keystates import keys, states, table
from tests.runner.commands.conftest import ROOT
from tests.runner.engine.generator import Run, aircraft


def test_the_page_says_what_the_tables_say() -> None:
    assert (ROOT / "docs" / "keys.md").read_text("utf-8") == page()


def test_every_key_has_a_cell_in_every_state() -> None:
    assert set(keys()) == {k for k in DEFAULT if not k.isdigit()} - {"N"} | {"0", "1", "a"}
    assert all(len(row) == 1 + len(states()) and all(row) for row in table())
    said = page()
    assert all(f"| {name} |" in said for name in NAMES)


def test_drills_and_discontinue_are_reached_in_every_state() -> None:
    rows = {row[0]: row[1:] for row in table()}
    assert all("drills" in cell or cell == "the page closes" for cell in rows["F1"])
    assert all("discontinue" in cell for cell in rows["F9"])


def test_every_word_has_a_cell_at_every_question_and_every_refusal_its_sentence() -> None:
    said = page()
    for word in WORDS:
        for prompt in Prompt:
            cell = word_cell(word, prompt)
            assert cell
            if cell.startswith("*") and cell != "*no answer*":
                assert f"- {cell}: {REFUSALS[cell.strip('*')]}" in said
    assert re.search(r"- \*no answer\*: ", said)


def test_the_engine_does_what_the_table_of_words_says() -> None:
    """Every word at every question that made-up days come to, said by somebody who may."""
    seen: set[tuple[str, Prompt]] = set()

    def try_words(state: State, event: ev.Event) -> None:
        prompt = state.question.prompt
        for word in WORDS:
            said = event_of(word, event.at, state.ask)
            _, outcome = transition(run.table, state, said)
            code = outcome[0][1] if outcome and outcome[0][0] == "refused" else ""
            if code in ("late wake", "clock", "no such role", "not opened"):
                continue
            cell = word_cell(word, prompt)
            where = (word, prompt, cell, outcome)
            if word == "wilco" or (cell.startswith("*") and prompt is not Prompt.CAUTION):
                assert code, where
            if cell.startswith("*") and cell not in ("*no answer*", "*roger*"):
                assert code == cell.strip("*"), where
            if cell in ("answers", "says it", "says the last"):
                assert not code or code == "not your answer", where
            seen.add((word, prompt))

    for seed in range(12):
        run = Run(aircraft("probe"), seed)
        run.watch = lambda before, event, outcome, after: try_words(before, event)
        run.open()
        run.go(60)
    assert {prompt for _, prompt in seen} >= {
        Prompt.ASKING, Prompt.CLOSING, Prompt.STANDBY, Prompt.CAUTION, Prompt.UNMET,
    }  # fmt: skip
