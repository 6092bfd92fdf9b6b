"""The card as PDF, with the `pdf` extra.

Rules: the same card gives the same bytes with the same versions and faces: the file has no time of
making and no name of a machine; nothing is fetched. What is missing for it is said with what to
install.
"""

from __future__ import annotations

import logging
from typing import Any, Final, NamedTuple

from runner.flow.card.html import as_html
from runner.flow.card.shapes import Card
from runner.flow.card.sizes import Size

FACE: Final = "Liberation Sans"
MISSING: Final = (
    "a PDF needs WeasyPrint and the library Pango: pip install 'latchword[pdf]', and of the system "
    "libpango-1.0-0, libpangoft2-1.0-0 and fonts-liberation (their names in Debian). Without them: "
    "--html FILE, printed by a browser, or --text"
)


class NoPrinter(Exception):
    """What makes the PDF is not there."""


class NothingFetched(Exception):
    """A card holds all that it shows."""


class Printed(NamedTuple):
    """The bytes of the file, and the families of the faces that it is set in."""

    data: bytes
    faces: frozenset[str]


def as_pdf(card: Card, size: Size = "a5") -> Printed:
    """The file; raises `NoPrinter` with what to install."""
    try:
        import weasyprint
    except (ImportError, OSError):
        raise NoPrinter(MISSING) from None
    # What it does not know in the page is for browsers, and no matter for whoever prints.
    logging.getLogger("weasyprint").setLevel(logging.ERROR)
    document = weasyprint.HTML(string=as_html(card, size), url_fetcher=_refuse).render()
    data = document.write_pdf()
    return Printed(data, frozenset(one.family for one in document.fonts.values()))


def _refuse(url: str, *_: Any, **__: Any) -> Any:
    raise NothingFetched(url)
