"""The one wire form of an event: a dictionary of strings, integers, booleans and lists.

Rules: `kind`, `at`, and every field that differs from its default, nothing else; what is written
reads back as an equal event; an unknown kind, an unknown field or a wrong value is a `BadEvent`.
"""

from __future__ import annotations

from typing import Any

from runner.engine.errors import BadEvent
from runner.engine.events import ALL, Event

BY_WIRE: dict[str, type[Event]] = {cls.wire: cls for cls in ALL}
_LISTS = frozenset(cls for cls in ALL if {"Names", "Pairs"} & {kind for _, kind in cls.shape})
_DEFAULTS = {
    cls: tuple((name, getattr(cls, name)) for name, _ in cls.shape if name != "at") for cls in ALL
}


def write_event(event: Event) -> dict[str, Any]:
    """The wire form: `kind`, `at`, and every field that differs from its default."""
    out: dict[str, Any] = {"kind": event.wire, "at": event.at}
    for name, default in _DEFAULTS[type(event)]:
        value = getattr(event, name)
        if value != default:
            out[name] = (
                [list(v) if isinstance(v, tuple) else v for v in value]
                if isinstance(value, tuple)
                else value
            )
    return out


def read_event(wire: dict[str, Any]) -> Event:
    """The event of a wire form. Raises BadEvent for an unknown kind, field or wrong value."""
    try:
        cls = BY_WIRE[wire["kind"]]
    except (KeyError, TypeError):
        raise BadEvent(f"unknown kind of event: {wire.get('kind')!r}") from None
    given = wire.copy()
    del given["kind"]
    if cls in _LISTS:
        for name, value in given.items():
            if isinstance(value, list):
                given[name] = tuple(tuple(v) if isinstance(v, list) else v for v in value)
    try:
        # A dictionary of our own need not be unpacked and copied on the way in.
        event = cls.__new__(cls)
        event.take(given)
        return event
    except TypeError as fault:
        raise BadEvent(f"{wire['kind']}: {fault}") from None
