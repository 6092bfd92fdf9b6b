"""The page of HTML and the text: complete, self-contained, escaped, within their width."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.flow.card.html import as_html, css_text
from runner.flow.card.plain import COLUMNS, as_text
from runner.flow.card.sizes import PAPERS
from tests.runner.flow.card.reading import CODE, KINDS, SIZES, bare, card_of, tokens
from tests.runner.flow.card.test_paper import LONG, W, hostile


class Reader(HTMLParser):
    """The text of the body, and every element with its attributes."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.text, self.elements, self._style = "", list[tuple[str, dict[str, str | None]]](), ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self._style = tag

    def handle_endtag(self, tag: str) -> None:
        self._style = ""

    def handle_data(self, data: str) -> None:
        if self._style not in ("style", "title"):
            self.text += data


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("size", SIZES)
def test_the_page_has_the_whole_card_and_nothing_from_outside(kind: str, size: str) -> None:
    card = card_of(kind)
    page = as_html(card, "knee" if size == "knee" else "a5")
    read = Reader(page)
    expected = "".join(
        bare(token.text)
        for number, part in enumerate(card.parts)
        for token in tokens(number, part, card.revision)
    )
    assert bare(read.text).endswith(expected)
    assert f"Documents {CODE}" in read.text
    assert not {"script", "link", "img", "iframe"} & {tag for tag, _ in read.elements}
    named = {key for _, attributes in read.elements for key in attributes}
    assert named <= {"lang", "charset", "name", "content", "class", "id", "href", "data-to"}
    ids = {attributes["id"] for _, attributes in read.elements if "id" in attributes}
    links = [str(a["href"]) for tag, a in read.elements if tag == "a"]
    assert sorted(links) == sorted(f"#{one}" for one in ids)
    assert not re.search(r"url\(|@import|https?:", page)
    paper = PAPERS["knee" if size == "knee" else "a5"]
    assert f"size: {paper.wide}mm {paper.high}mm" in page


def test_markup_in_texts_is_text() -> None:
    page = as_html(hostile())
    assert page.count("<style>") == page.count("</style>") == 1
    read = Reader(page)
    assert "script" not in {tag for tag, _ in read.elements}
    for said in ("</style><script>x</script>", "'\"\\ {{ 1 }}", "<b>&</style>"):
        assert said in read.text


@given(st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")))
def test_a_text_in_the_style_is_one_string_of_it(text: str) -> None:
    made = str(css_text(text))
    inside = made[1:-1]
    assert made[0] == made[-1] == '"'
    assert re.fullmatch(r"(?:[A-Za-z0-9]|\\[0-9a-f]+ )*", inside)
    # As CSS Syntax 3, 4.3.7 reads an escape: hexadecimal digits, then one space.
    assert re.sub(r"\\([0-9a-f]+) ", lambda m: chr(int(m[1], 16)), inside) == text


@pytest.mark.parametrize("kind", KINDS)
def test_the_text_has_every_step_in_order_within_its_columns(kind: str) -> None:
    card = card_of(kind)
    text = as_text(card)
    assert max(map(len, text.splitlines())) <= COLUMNS
    assert card.code in text
    assert text.count("it is not approved data") == 1
    # Joined again, since what is wrapped goes on at the same indent or deeper.
    flat, at = bare(text), 0
    for part in card.parts:
        at = flat.index(bare(f"{part.title}, {part.span}, document {part.code}"), at)
        for line in part.lines:
            at = flat.index(bare(f"{line.number}"), at)
            at = flat.index(bare(line.words), at)
            for reply in line.replies:
                at = flat.index(bare(reply.text), at)
            for note in line.notes:
                at = flat.index(bare(note), at)
        for end in part.ends:
            at = flat.index(bare(end.label), at)
    # Nothing is said by a drawn line: letters, digits and the signs of sentences only.
    assert not re.search(r"[^\w\s.,:;()/'°=×%+\-]|\.\.|__|--", text)


def test_the_text_of_one_drill() -> None:
    text = as_text(card_of("corvane_c4", "ground_resonance"))
    body = text[text.index("Section Memory items") :]
    assert body.startswith(
        "Section Memory items\n"
        " 474  Memory item, Remark: At flying speed lift off, else throttle and lever\n"
        " 475  Memory item: Way out: one of 2\n"
        "        LIFTED OFF\n"
        "        THROTTLE CLOSED\n"
        "      handling answers.\n"
        "  If Way out answered THROTTLE CLOSED:\n"
        " 476  Memory item: Collective: FULLY DOWN\n"
        "      handling answers.\n"
    )
    assert "  Calm on the ground, if Outcome answered CALM ON THE GROUND: discontinue\n" in body


def test_the_longest_texts_keep_within_the_columns() -> None:
    text = as_text(hostile())
    assert max(map(len, text.splitlines())) <= COLUMNS
    assert bare(LONG) in bare(text)
    assert W in bare(text)
