"""Recognisers that hear together: their order, what one of them cannot, and what is lacking."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

np = pytest.importorskip("numpy")

from runner.speech import panel as panels  # noqa: E402
from runner.speech.heard import AnswerSet, Heard, Phrase, Ranked, Sort  # noqa: E402
from runner.speech.panel import INSTALL, NoRecogniser, Panel, panel  # noqa: E402

if TYPE_CHECKING:
    from runner.speech.heard import Audio

ANSWERS = AnswerSet(1, (Phrase("released", ("released",)),))
SOUND = np.zeros(1600, np.float32)
RELEASED = (Ranked("released", -1.0, Sort.RESPONSE),)


class Engine:
    """One that hears what it is told to, or fails; `meets` must be there before it hears."""

    def __init__(
        self, name: str, fault: Exception | None = None, meets: threading.Barrier | None = None
    ) -> None:
        self.name = name
        self.fault = fault
        self.meets = meets
        self.prepared: list[AnswerSet] = []

    def decode(self, audio: Audio, answers: AnswerSet) -> Heard:
        if self.meets is not None:
            self.meets.wait(10)
        if self.fault is not None:
            raise self.fault
        return Heard(self.name, RELEASED)


class Ahead(Engine):
    """One that can work ahead."""

    def prepare(self, answers: AnswerSet) -> None:
        self.prepared.append(answers)


def test_the_first_proposes_and_the_others_follow_in_their_order() -> None:
    found = Panel([Engine("one"), Engine("two"), Engine("three")]).heard(SOUND, ANSWERS)
    assert [one.recogniser for one in found] == ["one", "two", "three"]
    assert [one.ranked for one in found] == [RELEASED] * 3


def test_all_hear_at_the_same_time() -> None:
    meet = threading.Barrier(3)
    engines = [Engine(name, meets=meet) for name in ("one", "two", "three")]
    assert len(Panel(engines).heard(SOUND, ANSWERS)) == 3


@pytest.mark.parametrize("fault", [RuntimeError("no"), MemoryError(), KeyError("x")])
def test_an_engine_that_fails_has_no_opinion(fault: Exception) -> None:
    found = Panel([Engine("one"), Engine("two", fault), Engine("three")]).heard(SOUND, ANSWERS)
    assert found == [Heard("one", RELEASED), Heard("two", ()), Heard("three", RELEASED)]


def test_a_proposing_engine_that_fails_heard_nothing_and_so_nothing_is_taken() -> None:
    """No second opinion may step into its place."""
    found = Panel([Engine("one", RuntimeError("no")), Engine("two")]).heard(SOUND, ANSWERS)
    assert found == [Heard("one", ()), Heard("two", RELEASED)]


def test_sound_of_another_form_is_our_fault_and_no_silence() -> None:
    with pytest.raises(ValueError, match="rate"):
        Panel([Engine("one", ValueError("rate")), Engine("two")]).heard(SOUND, ANSWERS)


def test_only_those_that_can_work_ahead_do() -> None:
    first, second = Ahead("one"), Engine("two")
    Panel([first, second]).prepare(ANSWERS)
    assert (first.prepared, second.prepared) == ([ANSWERS], [])


def test_no_panel_is_without_a_member() -> None:
    with pytest.raises(ValueError, match="no recogniser"):
        Panel([])


def test_closed_it_leaves_no_thread() -> None:
    before = set(threading.enumerate())
    made = Panel([Engine("one"), Engine("two")])
    made.heard(SOUND, ANSWERS)
    threads = set(threading.enumerate()) - before
    assert threads
    made.close()
    for thread in threads:
        thread.join(10)
    assert not any(thread.is_alive() for thread in threads)
    with pytest.raises(RuntimeError):
        made.heard(SOUND, ANSWERS)


@pytest.fixture
def first(monkeypatch: pytest.MonkeyPatch) -> None:
    """A proposing engine that loads at once."""
    closed_set = pytest.importorskip("runner.speech.recognisers.closed_set")
    monkeypatch.setattr(closed_set, "ClosedSet", lambda threads: Engine("closed-set"))


def raising(fault: Exception) -> Callable[..., Engine]:
    def make(*_: object) -> Engine:
        raise fault

    return make


@pytest.mark.usefixtures("first")
def test_the_named_model_is_the_second_opinion_else_the_light_one(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(panels, "_named", lambda model: Engine(f"named {model.name}"))
    monkeypatch.setattr(panels, "_light", lambda: Engine("light"))
    for model, names in (
        (None, ["closed-set", "light"]),
        (tmp_path, ["closed-set", f"named {tmp_path.name}"]),
    ):
        made = panel(model)
        assert ([one.name for one in made.members], made.lacking) == (names, ())


@pytest.mark.usefixtures("first")
def test_a_model_that_cannot_be_loaded_is_told_and_the_light_one_takes_its_place(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(panels, "_named", raising(OSError("no such model\nat all")))
    monkeypatch.setattr(panels, "_light", lambda: Engine("light"))
    made = panel(tmp_path)
    assert [one.name for one in made.members] == ["closed-set", "light"]
    assert made.lacking == ("no second opinion: no such model",)
    monkeypatch.setattr(panels, "_light", raising(RuntimeError()))
    made = panel(tmp_path)
    assert [one.name for one in made.members] == ["closed-set"]
    assert made.lacking == ("no second opinion: no such model", "no second opinion: RuntimeError")


def test_without_the_proposing_engine_it_is_said_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "runner.speech.recognisers.closed_set", None)
    with pytest.raises(NoRecogniser) as caught:
        panel()
    assert INSTALL in str(caught.value)
    assert "the keys go on" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_whether_it_is_installed_is_asked_without_loading(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def spec(name: str) -> object:
        asked.append(name)
        return None if name == "onnxruntime" else object()

    monkeypatch.setattr(panels, "find_spec", spec)
    assert not panels.installed()
    assert asked == ["numpy", "onnxruntime"]
    monkeypatch.setattr(panels, "find_spec", lambda name: object())
    assert panels.installed()


class Limited(Engine):
    """One that knows some words only."""

    def lacking(self, words: list[str]) -> list[str]:
        return [word for word in words if word != "off"]


def test_what_the_second_opinion_does_not_know_is_told_in_its_order() -> None:
    assert Panel([Limited("one"), Limited("two")]).unknown(["on", "off", "out"]) == ["on", "out"]
    assert Panel([Limited("one"), Engine("two")]).unknown(["on"]) == []
