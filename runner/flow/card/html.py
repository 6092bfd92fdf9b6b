"""The card as one page of HTML that prints on the paper of its size, black on white.

Rules: every text is escaped, in the markup by the template and in the style here; nothing comes
from outside; the same card gives the same bytes. Who prints it from a browser that knows no margins
of pages still has revision and code beside every list.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

import jinja2
from markupsafe import Markup

from runner.flow.card import sizes
from runner.flow.card.shapes import ACCEPTED, CAUTION, GOING_BY, GOING_ON, LETTERS, Card
from runner.flow.drawing.metrics import FACES, width

_NAMED: Final = 0.5
"""The part of a page's foot in which the name of its list stands, where it fits on one line."""


def as_html(card: Card, size: sizes.Size = "a5") -> str:
    """The page."""
    made = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    made.filters["css"] = css_text
    page = made.from_string((Path(__file__).parent / "page.html").read_text("utf-8"))
    of, field, code = card.running
    paper = sizes.PAPERS[size]
    room = (paper.wide - paper.left - paper.right) * _NAMED
    text = page.render(
        card=card, paper=paper, short=lambda said: width(said, sizes.SMALL) < room,
        sizes=sizes, faces=Markup(FACES),
        of=of, field=field, code=code, letters=LETTERS, accepted=ACCEPTED, caution=CAUTION,
        going_by=GOING_BY, going_on=GOING_ON,
    )  # fmt: skip
    return text.strip() + "\n"


def css_text(text: str) -> Markup:
    """A text as a string of a style sheet: whatever is no letter or digit as its code point, so
    that it ends neither the string nor the sheet."""
    safe = "".join(one if one.isascii() and one.isalnum() else f"\\{ord(one):x} " for one in text)
    return Markup(f'"{safe}"')
