"""The kinds of text that stand in a document's fields.

Rules: each kind checks itself and turns into the value that the engine wants (an exact quantity,
whole milliseconds); a fault is a `FieldFault`, which holds what a `Fault` shows. Each kind has its
JSON Schema beside it.
"""

from __future__ import annotations

import re
from typing import Annotated, Final

from runner.engine import units
from runner.engine.units import Quantity, UnitFault
from runner.flow.faults import quoted
from runner.flow.forms import FieldFault, Leaf

LONGEST_NAME: Final = 48
LONGEST_LABEL: Final = 80
LONGEST_TEXT: Final = 200

NAME_PATTERN: Final = rf"^[a-z][a-z0-9_]{{0,{LONGEST_NAME - 1}}}$"
PLACE_PATTERN: Final = (
    rf"^[a-z][a-z0-9_]{{0,{LONGEST_NAME - 1}}}\.[a-z][a-z0-9_]{{0,{LONGEST_NAME - 1}}}$"
)
QUANTITY_PATTERN: Final = r"^\s*[+-]?[0-9]+(\.[0-9]+)?\s*[^0-9\s].*$"
DURATION_PATTERN: Final = r"^\s*[0-9]+(\.[0-9]+)?\s*(s|min|h)\s*$"

_NAME: Final = re.compile(NAME_PATTERN)
_PATH_SIGNS: Final = ("/", "\\", "..")


def fault(what: str, *, allowed: str = "", nearest: str = "", todo: str = "") -> FieldFault:
    """The fault of a field, in the parts that are shown."""
    return FieldFault(what, allowed, nearest, todo)


def name_from(text: str) -> str:
    """The identifier made from a text ("Engine RPM" is `engine_rpm`), or empty if none can be."""
    letters = re.sub(r"[^a-z0-9]+", "_", text.casefold()).strip("_")
    if letters and not letters[0].isalpha():
        letters = "n_" + letters
    if len(letters) > LONGEST_NAME:
        letters = letters[: LONGEST_NAME + 1].rpartition("_")[0] or letters[:LONGEST_NAME]
    return letters


def _name(text: str) -> str:
    if _NAME.fullmatch(text):
        return text
    allowed = f"a-z, 0-9 and _, a letter first, at most {LONGEST_NAME}"
    if any(sign in text for sign in _PATH_SIGNS):
        raise fault("a path where a name stands", allowed=allowed, todo="name it, without folders")
    raise fault("not a name", allowed=allowed, nearest=name_from(text[:LONGEST_NAME]))


def _place(text: str) -> str:
    parts = text.split(".")
    if len(parts) == 2 and all(_NAME.fullmatch(part) for part in parts):
        return text
    raise fault("not a step of a list", allowed="LIST.STEP, as start.mixture")


def _text(longest: int, description: str) -> Leaf:
    def check(text: str) -> str:
        if not text.strip():
            raise fault("empty text")
        if text != text.strip() or "  " in text:
            raise fault("spaces too many", todo="one space between words, none around them")
        if len(text) > longest:
            raise fault(
                f"text of {len(text)} characters",
                allowed=f"at most {longest}",
                todo="shorten it: it is read aloud and shown large",
            )
        return text

    schema = {"type": "string", "minLength": 1, "maxLength": longest, "description": description}
    return Leaf(check, schema)


def _quantity(value: object) -> Quantity:
    if not isinstance(value, str):
        raise fault("not a quantity", allowed='a number and its unit, as "150 °C"')
    try:
        return units.parse_quantity(value)
    except UnitFault as error:
        raise fault(
            error.what if len(value) < 40 else f"the quantity {quoted(value)}",
            allowed=error.allowed,
            nearest=error.nearest,
        ) from None


def _duration(value: object) -> int:
    if not isinstance(value, str):
        raise fault("not a time", allowed='a time in s, min or h, as "30 s"')
    try:
        length = units.parse_duration(value)
    except UnitFault as error:
        raise fault(error.what, allowed=error.allowed, nearest=error.nearest) from None
    if not 0 < length <= 24 * 3_600_000:
        raise fault("a time out of range", allowed="more than 0 s, at most 24 h")
    return length


def _unit(text: str) -> str:
    if text in units.UNITS:
        return text
    raise fault(
        "an unknown unit",
        allowed=", ".join(units.UNITS),
        nearest=units.nearest_of(text[:LONGEST_NAME], units.UNITS),
    )


Name = Annotated[
    str,
    Leaf(_name, {"type": "string", "pattern": NAME_PATTERN, "description": "a name"}),
]
StepPlace = Annotated[
    str,
    Leaf(_place, {"type": "string", "pattern": PLACE_PATTERN, "description": "LIST.STEP"}),
]
Label = Annotated[str, _text(LONGEST_LABEL, "a few words")]
Text = Annotated[str, _text(LONGEST_TEXT, "a sentence, one line")]
Expression = Annotated[str, _text(LONGEST_TEXT, "an expression in CEL, one line")]
QuantityField = Annotated[
    Quantity,
    Leaf(
        _quantity,
        {
            "type": "string",
            "pattern": QUANTITY_PATTERN,
            "description": "a number and its unit, as 150 °C or 1550 rpm",
        },
        text=False,
    ),
]
Duration = Annotated[
    int,
    Leaf(
        _duration,
        {"type": "string", "pattern": DURATION_PATTERN, "description": "a time, as 30 s or 2 min"},
        text=False,
    ),
]
UnitName = Annotated[
    str,
    Leaf(_unit, {"type": "string", "enum": list(units.UNITS), "description": "a unit"}),
]
