"""The digest of a state: every field counts, and nothing but the fields does."""

from __future__ import annotations

import subprocess
import sys
from decimal import Context, Decimal, localcontext
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.engine.asking import Choosing, Mistake, Pending, Question, Standing, Trend
from runner.engine.book import Book
from runner.engine.effects import Prompt
from runner.engine.state import (
    FIELDS,
    How,
    Kept,
    Latch,
    Marked,
    State,
    Timer,
    Visit,
    Wait,
    archive_digest,
    initial,
)

VISIT = Visit(3, "start", 1, 500, (Latch(), Latch(How.ANSWERED, "RELEASED", 900, "", False, 4)))
OTHER: dict[str, Any] = {
    "question": Question(Prompt.ASKING, 3, 1, 0),
    "visits": (VISIT,),
    "drill": VISIT,
    "mistake": Mistake(
        3,
        (("oil", "number", "4.5"),),
        (("oil", (2, 1)),),
        (("starter", Timer(10, 1)),),
        Choosing("unable", ("put off",)),
        Standing(5, engine=True, rotor=False),
        "fire",
        Mistake(2),
    ),
    "values": Book({"oil": Decimal("4.5"), "firing": "FIRING", "hook": True}),
    "moments": Book({"coupled": 12}),
    "timers": Book({"starter": Timer(10, 1)}),
    "valid": Book({"cabin": 7}),
    "pending": Pending("1600", "copilot", "key", (3, 1, -1), 5000),
    "choosing": Choosing("unable", ("put off", "defect")),
    "standby": Standing(5, engine=True, rotor=False),
    "trend": Trend(3, 1, 9, ((9, "141"),)),
    "marks": (Marked("take-off", 8, 1),),
    "snags": (Kept("vibration", 5, "taxi"),),
    "defects": (Kept("leak", 6, "start"),),
    "flags": (Kept("late", 7, "start"),),
    "crew": (("commander", "A"),),
    "paper": ((31, 47),),
}


def changed(name: str) -> State:
    """The first state with another value in one field."""
    first = initial()
    old = getattr(first, name)
    value = OTHER.get(name)
    if value is None:
        kinds = {bool: True, int: 7, str: "other", tuple: ("other",), Book: Book({"a": "b"})}
        value = kinds[type(old)]
    assert value != old
    return State(first, **{name: value})


@pytest.mark.parametrize("name", [name for name in FIELDS if name != "archive"])
def test_every_field_counts(name: str) -> None:
    assert changed(name).digest() != initial().digest()
    assert changed(name) != initial()


def test_the_archive_enters_by_its_running_hash() -> None:
    first = archive_digest("", VISIT)
    assert first != archive_digest("", VISIT._replace(left="discontinued"))
    assert archive_digest(first, VISIT) != first


@pytest.mark.parametrize(
    "other",
    [
        {"number": 4},
        {"flow": "taxi"},
        {"flight": 2},
        {"entered": 501},
        {"closed_at": 900},
        {"left": "discontinued"},
        {"wait": Wait(1)},
        {"wait": Wait(1, until=90)},
        {"latches": VISIT.latches[::-1]},
        {"latches": VISIT.latches[:1]},
    ],
)
def test_every_field_of_a_visit_counts(other: dict[str, Any]) -> None:
    one = State(initial(), visits=(VISIT,))
    assert one.digest() != State(initial(), visits=(VISIT._replace(**other),)).digest()


@pytest.mark.parametrize(
    "other",
    [
        {"how": How.UNMET},
        {"value": "SET"},
        {"at": 901},
        {"why": "oil"},
        {"back": True},
        {"entry": 5},
    ],
)
def test_every_field_of_a_latch_counts(other: dict[str, Any]) -> None:
    visit = VISIT._replace(latches=(VISIT.latches[0], VISIT.latches[1]._replace(**other)))
    one = State(initial(), visits=(VISIT,))
    assert one.digest() != State(initial(), visits=(visit,)).digest()


texts = st.text(max_size=12)
scalars = st.one_of(
    texts, st.booleans(), st.decimals(allow_nan=False, allow_infinity=False, places=2)
)
books = st.dictionaries(texts, scalars, max_size=6)


def as_told(pairs: dict[str, Any]) -> list[tuple[str, str, str]]:
    """Pairs with the kind of their value, so that True is not 1 and 4.50 is not 4.5."""
    return sorted((key, type(value).__name__, str(value)) for key, value in pairs.items())


@given(books, books)
def test_books_have_equal_texts_only_if_they_hold_the_same(
    one: dict[str, Any], two: dict[str, Any]
) -> None:
    assert (Book(one).text == Book(two).text) == (as_told(one) == as_told(two))


@given(st.lists(st.tuples(st.sampled_from("abc"), st.none() | scalars), max_size=12))
def test_a_book_changed_step_by_step_is_the_book_made_at_once(
    changes: list[tuple[str, Any]],
) -> None:
    """Texts are kept from copy to copy; none may outlive its value."""
    held: dict[str, Any] = {}
    book = Book()
    for number, (key, value) in enumerate(changes):
        if value is None:
            held.pop(key, None)
            book = book.without(key)
        else:
            held[key] = value
            book = book.having(key, value)
        if number % 2:
            assert book.text == Book(held).text
    assert book.text == Book(held).text
    assert dict(book) == held


hows = st.sampled_from(How)


@given(
    st.lists(st.tuples(st.integers(0, 3), hows, texts, st.booleans(), st.integers(0, 9))),
    st.booleans(),
)
def test_a_visit_changed_step_by_step_is_the_visit_made_at_once(
    changes: list[tuple[int, How, str, bool, int]], read: bool
) -> None:
    """What is kept of a visit from copy to copy never outlives the latch it was made of."""
    latches = [Latch()] * 4
    visit = Visit(3, "start", 1, 500, tuple(latches))
    for index, how, value, back, entry in changes:
        if read:
            assert visit.text == Visit(*visit).text
        latches[index] = Latch(how, value, 900, "", back, entry)
        visit = visit.having(index, latches[index])
        assert visit == Visit(3, "start", 1, 500, tuple(latches))
        assert visit.aside or How.PUT_OFF not in [latch.how for latch in latches]
    assert visit.text == Visit(*visit).text


@given(st.lists(st.tuples(texts, texts), min_size=2, max_size=2, unique=True))
def test_no_text_can_be_written_so_that_two_latches_look_like_others(
    pairs: list[tuple[str, str]],
) -> None:
    one, two = (Latch(How.ANSWERED, value, 1, why) for value, why in pairs)
    assert one.text != two.text


def everything() -> State:
    """A state with every field changed."""
    state = initial()
    for name in FIELDS:
        if name != "archive":
            state = State(state, **{name: getattr(changed(name), name)})
    return state


def test_the_callers_decimal_context_changes_nothing() -> None:
    wanted = everything().digest()
    with localcontext(Context(prec=3, capitals=0)):
        assert everything().digest() == wanted


@pytest.mark.parametrize("seed", ["1", "2"])
def test_the_hash_seed_changes_nothing(seed: str, project: Path) -> None:
    code = (
        "import importlib.util as u;"
        f"s=u.spec_from_file_location('d', {str(Path(__file__))!r});"
        "m=u.module_from_spec(s);s.loader.exec_module(m);print(m.everything().digest())"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={"PYTHONHASHSEED": seed, "PYTHONPATH": str(project)},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=True,
    )
    assert done.stdout.strip() == everything().digest()


def test_a_state_is_frozen_and_whole() -> None:
    with pytest.raises(TypeError):
        State.holding({"at": 0})
    with pytest.raises(AttributeError):
        initial().ask = 3
    with pytest.raises(TypeError):
        State(at=0)
    with pytest.raises(TypeError):
        State(initial(), speed=3)
