"""The second question of a trial is the program's own, and a decoding like any other."""

from __future__ import annotations

from pathlib import Path

import pytest

pytest.importorskip("numpy")
pytest.importorskip("soundfile")

from runner.speech.heard import Heard, Ranked, Sort
from runner.speech.opposites import MEANT, OPPOSITE
from runner.speech.thresholds import Bar, Kind, Who
from tests.bench.speech import contests, deciding
from tests.bench.speech.decodings import Store
from tests.bench.speech.judging import What
from tests.bench.speech.made import FRAME, STOOD, case
from tests.bench.speech.trials import Trial

BARS = FRAME._replace(bars={("closed-set", "quiet", Kind.PHRASES, Who.AGREED): Bar(-9.0, 0.0)})
LOST = Heard("closed-set", (Ranked(OPPOSITE, -1.0, Sort.RESPONSE),
                            Ranked(MEANT, -2.0, Sort.RESPONSE)))  # fmt: skip


def second(line: str) -> Trial | None:
    one = case("released", line, line)
    return contests.contested(one.trial, one.heard)


def test_a_word_stands_against_its_opposites_with_the_same_sound() -> None:
    found = second("released")
    assert found is not None
    meant, opposite = found.answers.phrases
    assert (meant.line, meant.ways, opposite.line) == (MEANT, ("released",), OPPOSITE)
    assert "not released" in opposite.ways
    here = case("released", "released", "released").trial
    assert found.speech == here.speech
    assert found.name != here.name


@pytest.mark.parametrize("line", ["80", "say again", ""])
def test_what_has_no_opposite_has_no_second_question(line: str) -> None:
    assert second(line) is None


def test_a_case_holds_what_came_of_it_and_is_none_without(tmp_path: Path) -> None:
    stores = {name: Store(name, "s", tmp_path) for name in ("closed-set", "sphinx")}
    one = case("released", "released", "released")
    for store, heard in zip(stores.values(), one.heard, strict=True):
        store.add(one.trial, heard, 0.25)
    assert deciding.cases([one.trial], stores, lambda _: 20.0) == []
    (again,) = contests.all_contested([(one.trial, one.heard)])
    stores["closed-set"].add(again, LOST, 0.5)
    (found,) = deciding.cases([one.trial], stores, lambda _: 20.0)
    assert (found.stood, found.seconds) == (LOST, 1.0)


def test_what_lost_to_its_opposite_is_not_taken_whatever_the_bars() -> None:
    one = case("released", "released", "released")
    taken = [deciding.result(one._replace(stood=stood), BARS).what for stood in (STOOD, LOST)]
    assert taken == [What.ACCEPTED, What.AGAIN]
    with pytest.raises(ValueError, match="not decoded against"):
        deciding.result(one._replace(stood=None), BARS)
