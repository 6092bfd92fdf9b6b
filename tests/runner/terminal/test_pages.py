"""Whole pages at any size: exact rows, every line reached, every answering digit on the screen."""

from __future__ import annotations

from types import ModuleType

from hypothesis import given, settings
from hypothesis import strategies as st

from runner.engine.effects import KeptLine, Prompt, View
from runner.terminal.aside import Aside, Size
from runner.terminal.clock import Clock
from runner.terminal.keystate import KeyState, Page
from runner.terminal.layout import cut_of, screen
from runner.terminal.pagekeys import lines
from runner.terminal.pages import WHOLE, title_rows
from runner.terminal.rows import Tone, row_cells, row_text
from runner.terminal.turning import numbers

WORD = st.text(st.sampled_from("abcdefgh"), min_size=1, max_size=11)
TEXT = st.lists(WORD, min_size=1, max_size=5).map(" ".join).map(lambda text: text[:40].strip())
TITLES = st.lists(TEXT, min_size=1, max_size=16, unique=True)
PICKED = (Page.DRILLS, Page.TIMERS, Page.FAULT, Page.ACCEPT, Page.LISTS, Page.OPTIONS, Page.CREW)


def of_texts(fakes: ModuleType, texts: list[str], prompt: Prompt) -> View:
    """A view all of whose lists of texts are these."""
    line = fakes.STATION[1]
    one: View = fakes.view(
        prompt=prompt,
        drills=tuple((text, text) for text in texts),
        timers=tuple((text, text) for text in texts),
        items=tuple(line._replace(challenge=text, key=text) for text in texts[:9]),
        reasons=tuple(texts),
        options=tuple(texts[:9]),
        lists=tuple(fakes.LISTS[0]._replace(title=t, key=t, status="open") for t in texts),
        memory=tuple(texts[:7]),
        snags=tuple(texts),
        defects=tuple(texts),
        flags=tuple(texts),
        kept=tuple(KeptLine("snag", text, 0, text) for text in texts),
        put_off=tuple(line._replace(challenge=text, why=text) for text in texts),
        figures=tuple(fakes.FIGURES[0]._replace(label=text) for text in texts),
        card=tuple(fakes.CARD[0]._replace(title=text) for text in texts),
        flights=fakes.FLIGHTS,
        unread=("commander", "copilot"),
        title=texts[0],
        accept_class="commander",
        running=(fakes.BY_TIME,),
    )
    return one


def walk(one: View, size: Size, keys: KeyState, fakes: ModuleType) -> list[list[str]]:
    """The rows of every sheet, checked for their shape and their cut."""
    clock = Clock(fakes.UTC_AT_ZERO, 60_000)
    out: list[list[str]] = []
    first = Aside(
        keys=keys, listen=fakes.listen(), registration="G-TVSA", documents=fakes.DOCUMENTS
    )
    starts = cut_of(one, clock, size, first).starts or (0,)
    while True:
        keys = keys._replace(sheet=len(out), offset=starts[len(out)])
        aside = first._replace(keys=keys)
        rows = screen(one, clock, size, aside)
        assert len(rows) == size.rows
        assert {row_cells(row) for row in rows} == {size.columns}
        out.append([row_text(row).rstrip() for row in rows])
        many = max(1, len(cut_of(one, clock, size, aside).picks))
        if len(out) >= many:
            return out


def joined(sheets: list[list[str]]) -> str:
    return "".join("".join(rows) for rows in sheets).replace(" ", "")


@settings(max_examples=150, deadline=None)
@given(
    columns=st.integers(40, 130),
    rows=st.integers(12, 45),
    texts=TITLES,
    page=st.sampled_from(list(Page)),
    prompt=st.sampled_from([Prompt.ASKING, *WHOLE]),
)
def test_every_page_is_exactly_the_screen_and_turning_shows_every_line(
    fakes: ModuleType, columns: int, rows: int, texts: list[str], page: Page, prompt: Prompt
) -> None:
    one = of_texts(fakes, texts, prompt)
    sheets = walk(one, Size(columns, rows), KeyState(page=page), fakes)
    shown: dict[object, list[str]] = {
        Page.DRILLS: texts, Page.TIMERS: texts, Page.ACCEPT: texts, Page.LISTS: texts,
        Page.FAULT: texts[:9], Page.OPTIONS: texts[:9], Page.KEPT: texts, Page.COPY: texts,
        Page.PAPER: texts, Page.OPEN: texts,
        Page.FLIGHTS: [line.title for flight in fakes.FLIGHTS for line in flight.lists],
        Page.DOCUMENTS: [document.title for document in fakes.DOCUMENTS],
        Prompt.STATION: [text.upper() for text in texts[:9]], Prompt.MEMORY_ITEMS: texts[:7],
        Prompt.FIRST_PAGE: texts, Prompt.CLOSED: texts,
    }  # fmt: skip
    seen = joined(sheets)
    for text in shown.get(page if page is not Page.NONE else prompt, []):
        assert text.replace(" ", "") in seen


@settings(max_examples=150, deadline=None)
@given(
    columns=st.integers(40, 130),
    rows=st.integers(12, 45),
    texts=TITLES,
    page=st.sampled_from(PICKED),
)
def test_a_digit_answers_only_what_is_on_the_screen(
    fakes: ModuleType, columns: int, rows: int, texts: list[str], page: Page
) -> None:
    one = of_texts(fakes, texts, Prompt.ASKING)
    clock, size = Clock(fakes.UTC_AT_ZERO, 60_000), Size(columns, rows)
    named = [line.label for line in lines(page, one, fakes.listen())]
    sheets = walk(one, size, KeyState(page=page), fakes)
    aside = Aside(keys=KeyState(page=page), listen=fakes.listen(), registration="G-TVSA")
    ends = cut_of(one, clock, size, aside).picks
    assert ends[-1] == len(named)
    reached = set()
    for number, rows_ in enumerate(sheets):
        seen = joined([rows_])
        for digit in range(1, 10):
            at = numbers(ends, number, digit)
            if at is not None:
                reached.add(at)
                assert f"{digit}{named[at]}".replace(" ", "") in seen
    assert reached == set(range(len(named)))


@settings(max_examples=150, deadline=None)
@given(
    columns=st.integers(10, 60),
    rows=st.integers(1, 14),
    texts=TITLES,
    page=st.sampled_from(list(Page)),
    prompt=st.sampled_from([Prompt.ASKING, *WHOLE]),
)
def test_a_smaller_terminal_breaks_nothing(
    fakes: ModuleType, columns: int, rows: int, texts: list[str], page: Page, prompt: Prompt
) -> None:
    one = of_texts(fakes, texts, prompt)
    aside = Aside(keys=KeyState(page=page), listen=fakes.listen(), documents=fakes.DOCUMENTS)
    drawn = screen(one, Clock(0, 60_000), Size(columns, rows), aside)
    assert len(drawn) == rows
    assert {row_cells(row) for row in drawn} == {columns}
    cut_of(one, Clock(0, 60_000), Size(columns, rows), aside)


def test_the_title_says_which_sheet_stands_and_is_pressed_to_turn() -> None:
    (row,) = title_rows(("DRILLS", "", Tone.STRONG), 1, 3, 40)
    assert row_text(row) == "DRILLS                    2 OF 3  NEXT 0"
    assert {span.key for span in row} == {"", "0"}
    (row,) = title_rows(("NOSE", "3 OPEN OF 7", Tone.STRONG), 0, 1, 40)
    assert row_text(row) == "NOSE                         3 OPEN OF 7"
    both = title_rows(("A LONG NAME OF A STATION", "3 OPEN OF 7", Tone.STRONG), 0, 2, 40)
    assert [row_text(row) for row in both] == [
        "A LONG NAME OF A STATION", "3 OPEN OF 7   1 OF 2  NEXT 0",
    ]  # fmt: skip
