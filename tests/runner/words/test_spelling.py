"""Every event a person can cause has one spelling, and it reads back equal."""

from __future__ import annotations

import unicodedata
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.engine import events as ev
from runner.engine.state import State, initial
from runner.host.stepping import step
from runner.words.naming import Context, WordFault
from runner.words.spelling import SIMPLE, WRITERS, spell
from runner.words.spoken import LEADING, read
from runner.words.spoken import SIMPLE as SIMPLE_WORDS
from tests.runner.host.support import table

AT = 600_000
HOST = (ev.Opened, ev.Wake, ev.Recovered)
ROLES = st.sampled_from(("", "commander", "copilot", "ground"))


@cache
def state() -> State:
    """The first list is open, with its station."""
    after = initial()
    for event in (
        ev.Opened(0, ("crew",), (("commander", "A"), ("copilot", "B")), ("hook",)),
        ev.PageRead(1, "commander"),
        ev.PageRead(2, "copilot"),
    ):
        after, _ = step(table(), after, event)
    return after


def context(**more: object) -> Context:
    return Context(table(), state(), AT, "script", **more)  # type: ignore[arg-type]


def _takes(text: str) -> bool:
    return unicodedata.normalize("NFC", text) == text and not any(
        unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") for c in text
    )


TEXTS = st.one_of(
    st.text(max_size=60).filter(_takes),
    st.sampled_from(
        ("", " ", "  a  b ", "RELEASED", "Released", "1600", "01600", "one six zero zero", "1,600",
         "below 80", "BELOW  80", "drop 80", "drop", "say again", "roger", "closed.", "accept 1",
         "commander: released", "ask 7: released", "unsure: 1600", 'a "quoted" word', '"', '""',
         '"RELEASED"', "\\", "\\u0041", "snag", "correct oil 54", "tick hook", "mark landing",
         "#5", "@+90s", "²", "Å", "ß", "İ", "\u212a", "\xa0", "\u3000x", "next flight", "1", "3",
         "emergency", "emergency 2", "revision 3", "end of day", "leave run open", "A" * 200)
    ).filter(_takes),
)  # fmt: skip
WHOLE = st.integers(0, 99_999)
STEPS = st.sampled_from(sorted(table().steps))
ASKS = {"at": st.just(AT), "ask": st.integers(0, 999), "role": ROLES, "source": st.just("script"),
        "sure": st.booleans()}  # fmt: skip
FREE = {"at": st.just(AT), "role": ROLES, "source": st.just("script")}
TICKS = st.sampled_from([s for s in table().flows["outside"].steps if s.kind.value == "tick"])

BY_KIND: dict[type[ev.Event], st.SearchStrategy[ev.Event]] = {
    **{kind: st.builds(kind, **(ASKS if issubclass(kind, ev.Asked) else FREE)) for kind in SIMPLE},
    ev.Answer: st.builds(ev.Answer, **ASKS, value=TEXTS)
    | TICKS.flatmap(
        lambda s: st.builds(
            ev.Answer, **ASKS, value=st.just(s.response), item=st.just(s.challenge.upper())
        )
    ),
    ev.NotSo: st.builds(ev.NotSo, **ASKS)
    | TICKS.flatmap(
        lambda s: st.builds(ev.NotSo, **ASKS, item=st.just(s.challenge.upper()))
    ),
    ev.Accept: st.builds(
        ev.Accept, **{**ASKS, "role": st.sampled_from(("commander", "copilot", "ground"))},
        reason=TEXTS | st.sampled_from(table().reasons), emergency=st.booleans(),
    ),
    ev.Correct: st.builds(ev.Correct, **FREE, step=STEPS | st.just(""), value=TEXTS),
    ev.ReadingSeen: st.builds(
        ev.ReadingSeen, **FREE, name=st.sampled_from(sorted(table().readings)), value=TEXTS
    ),
    ev.OpenDrill: st.builds(ev.OpenDrill, **FREE, drill=st.sampled_from(table().drills)),
    ev.Mark: st.builds(
        ev.Mark, **FREE, what=st.sampled_from(("take-off", "landing")), when=st.integers(0, AT)
    ),
    ev.StartTimer: st.builds(ev.StartTimer, **FREE, timer=st.sampled_from(sorted(table().timers))),
    ev.Snag: st.builds(ev.Snag, **FREE, text=TEXTS),
    ev.OnPaper: st.builds(ev.OnPaper, **FREE, first=WHOLE, last=WHOLE, revision=TEXTS),
    ev.CrewChange: st.builds(
        ev.CrewChange, **FREE, seat=st.sampled_from(("commander", "copilot", "ground")), name=TEXTS
    ),
    ev.Happened: st.builds(
        ev.Happened, **FREE, what=st.sampled_from(("refuelled", "maintenance")), note=st.just("")
    )
    | st.builds(ev.Happened, **FREE, what=st.just("maintenance"), note=TEXTS),
    ev.TurnTo: st.builds(ev.TurnTo, **FREE, flow=st.just("outside")),
}  # fmt: skip


def test_every_kind_of_event_is_somebodys() -> None:
    assert set(BY_KIND) | set(HOST) == set(ev.ALL)
    assert set(SIMPLE) | set(WRITERS) | {ev.Answer} == set(BY_KIND)


@pytest.mark.parametrize("kind", sorted(BY_KIND, key=str))
@given(data=st.data(), asked=st.none() | st.integers(0, 99))
def test_a_spelling_reads_back_equal(
    kind: type[ev.Event], data: st.DataObject, asked: int | None
) -> None:
    event = data.draw(BY_KIND[kind])
    read_against = context(ask=asked)
    line = spell(event, read_against)
    assert read(line, read_against) == event
    assert "\n" not in line
    assert spell(read(line, read_against), read_against) == line


@pytest.mark.parametrize(
    "event",
    [
        ev.Wake(AT), ev.Opened(AT), ev.Recovered(AT),
        ev.Answer(AT, 3, "purser", "script", True, "RELEASED"),
        ev.Accept(AT, 3, "", "script", True, "1"),
        ev.Mark(AT, "", "script", "take-off", AT + 1), ev.Mark(AT, "", "script", "hover", AT),
        ev.OpenDrill(AT, "", "script", "no_such"), ev.TurnTo(AT, "", "script", "shutdown"),
        ev.CrewChange(AT, "", "script", "copilot", "R Byrne", "ssh-ed25519 AAAA"),
        ev.Happened(AT, "", "script", "refuelled", "with a note"),
        ev.Answer(AT, 3, "", "voice", True, "RELEASED"),
    ],
)  # fmt: skip
def test_what_no_words_could_have_caused_has_no_spelling(event: ev.Event) -> None:
    with pytest.raises(WordFault):
        spell(event, context())


@given(st.text(max_size=80) | TEXTS, st.sampled_from(("", *SIMPLE_WORDS, *LEADING)))
def test_what_any_line_became_has_a_spelling(rest: str, word: str) -> None:
    line = f"{word} {rest}" if word else rest
    try:
        event = read(line, context())
    except WordFault:
        return
    again = spell(event, context())
    assert read(again, context()) == event
