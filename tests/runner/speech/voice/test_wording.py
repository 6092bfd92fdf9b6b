"""Calls of the list in words for an engine."""

from __future__ import annotations

import re
import shutil
import subprocess
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.engine.effects import Prompt
from runner.engine.outcomes import REFUSALS
from runner.engine.units import UNITS
from runner.speech.voice.wording import SAID_UNITS, wording
from runner.words.numbers import read_number, say_number

HEARD = {"tree": "three", "foe-er": "four", "fife": "five", "niner": "nine"}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("OIL PRESSURE?", "oil pressure?"),
        ("ONE SIX ZERO ZERO. NEEDLES?", "one six zero zero. needles?"),
        (
            "MIXTURE: FOUR FIVE, LIMIT 40 TO 60 psi, NOT MET",
            "mixture, foe-er fife, limit foe-er zero to six zero P.S.I, not met",
        ),
        ("LIMIT AT LEAST 1550 RPM", "limit at least one fife fife zero R.P.M"),
        ("LIMIT ≥ 29.92 inHg", "limit at least two niner decimal niner two inches"),
        ("BELOW -5 °C", "below minus fife degrees celsius"),
        ("40 L, 24 V, 3 NM", "foe-er zero litres, two foe-er volts, tree nautical miles"),
        ("7 OF 12 IN THIS LIST", "seven of one two in this list"),
        ("A / B / C?", "a, b, c?"),
        ("TIME IS OVER: OIL. DRILL FIRE: SHUT", "time is over, oil. drill fire, shut"),
        ("OIL TEMPERATURE: WAS 45, NOW 54", "oil temperature, was foe-er fife, now fife foe-er"),
        ("THREE THOUSAND", "tree tousand"),
        ("AGL 400 ft", "A.G.L foe-er zero zero feet"),
        ("MIXTURE IDLE CUT-OFF", "mixture idle cut off"),
        ("...", ""),
        ("", ""),
    ],
)
def test_a_call_is_said_as_people_say_it(text: str, said: str) -> None:
    assert wording(text) == said


def test_every_unit_of_the_documents_has_its_words() -> None:
    assert set(SAID_UNITS) == set(UNITS)
    for unit, words in SAID_UNITS.items():
        said = wording(f"3 {unit}")
        spelled = re.sub(r"\b[a-z](?: [a-z])+\b", lambda m: m[0].upper().replace(" ", "."), words)
        assert said == f"tree {spelled}".strip()


@given(st.decimals(-9999, 9999, places=2, allow_nan=False))
def test_a_number_is_heard_as_itself_spoken_or_written(value: Decimal) -> None:
    for text in (say_number(value, 2), f"{value:f}"):
        words = [HEARD.get(word, word) for word in wording(text).split()]
        assert read_number(" ".join(words)) == value


@given(st.text(max_size=80))
def test_whatever_is_given_comes_out_as_words_with_pauses(text: str) -> None:
    said = wording(text)
    assert said == said.strip()
    assert "  " not in said
    assert not re.search(r"[.,?!]{2}", said)
    assert not any(character.isdigit() for character in said)


def test_every_refusal_and_prompt_can_be_said() -> None:
    for text in (*REFUSALS.values(), *Prompt):
        assert re.search("[a-z]{2}", wording(text)), text


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")
@pytest.mark.parametrize(
    ("word", "sounds"),
    [
        ("THREE", "tr'i:"),
        ("FOUR", "f'oU'3:"),
        ("FIVE", "f'aIf"),
        ("NINE", "n'aIn3"),
        ("CHT", "eItS"),
    ],
)
def test_digits_have_the_sounds_of_radiotelephony(word: str, sounds: str) -> None:
    """TREE, FOW-er, FIFE, NIN-er: ICAO Annex 10 Volume II, 5.2.1.4.3."""
    done = subprocess.run(
        ["espeak-ng", "-q", "-x", "-v", "en-us", wording(word)],
        capture_output=True, check=True, encoding="utf-8",
    )  # fmt: skip
    assert sounds in done.stdout
