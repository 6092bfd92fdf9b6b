"""How a fault is told."""

from __future__ import annotations

import pytest

from runner.flow.faults import Fault, Faults, FlowErrors, Place, listed, nearest_word, quoted

HERE = Place("lists/a.yaml", 3, 7)


def test_the_text_has_place_what_found_allowed_nearest_and_what_to_do() -> None:
    fault = Fault("lists/a.yaml", 3, 7, "no such list", "'strat'", "start, stop", "start", "fix it")
    assert fault.text == (
        "lists/a.yaml:3:7: no such list, found 'strat'; allowed: start, stop; "
        "did you mean start?; fix it"
    )
    assert str(Fault("a", 1, 2, "wrong")) == "a:1:2: wrong"


def test_the_nearest_of_listed_words_is_offered() -> None:
    faults = Faults("meaning")
    faults.add(HERE, "no such list", found="'strat'", allowed=["start", "stop"])
    with pytest.raises(FlowErrors) as caught:
        faults.check()
    (fault,) = caught.value.faults
    assert (fault.nearest, fault.allowed, fault.stage) == ("start", "start, stop", "meaning")


def test_faults_come_in_the_order_of_their_places_and_once() -> None:
    faults = Faults("shape")
    for line in (9, 2, 9):
        faults.add(Place("a", line, 1), "wrong")
    faults.add(Place("A", 5, 1), "wrong")
    with pytest.raises(FlowErrors) as caught:
        faults.check()
    assert [(f.file, f.line) for f in caught.value.faults] == [("A", 5), ("a", 2), ("a", 9)]
    assert str(caught.value) == "A:5:1: wrong\na:2:1: wrong\na:9:1: wrong"


def test_nothing_wrong_raises_nothing() -> None:
    Faults("syntax").check()
    assert not Faults("syntax")


def test_what_was_found_is_shown_on_one_short_line() -> None:
    assert quoted("a\nb\tc") == "'a b c'"
    assert quoted("x" * 99) == "'" + "x" * 59 + "…'"
    assert quoted("\x1b[2J") == "'\\x1b[2J'"


def test_long_lists_of_words_are_cut() -> None:
    assert listed(["a", "b"]) == "a, b"
    assert listed([]) == "none, there is not one yet"
    assert listed([str(n) for n in range(30)]).endswith("23 and 6 more")


def test_nearest_word_prefers_the_only_one_that_begins_so() -> None:
    assert nearest_word("continue", ["discontinue", "continue here"]) == "continue here"
    assert nearest_word("start", ["start"]) == ""
    assert nearest_word("x" * 99, ["x" * 98]) == ""
    assert nearest_word("zzz", ["start"]) == ""
