"""Which lists a command of the voice is about: a document, an aircraft's folder, a registration.

Rules: a path that is there is a path; anything else is the registration of an enrolled aircraft, as
`run` takes it; what is neither is told with both and the nearest.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from runner.commands.drawing import named
from runner.flow.faults import nearest_word
from runner.flow.loader import Loaded, load_aircraft
from runner.host import places
from runner.host.places import PlaceFault


class Lists(NamedTuple):
    """The documents of an aircraft, their folder, and which list or drill is meant; empty: all."""

    loaded: Loaded
    folder: Path
    flow: str


def lists_of(text: str) -> Lists:
    """What FLOW names. PlaceFault where it names nothing, FlowErrors where it is invalid."""
    path = Path(text)
    if not path.exists():
        try:
            folder, flow = places.find(text).documents, ""
        except PlaceFault as fault:
            raise PlaceFault(f"FLOW {text!r}: no such document or folder, and {fault}", 2) from None
    else:
        folder, flow = named(path)
    loaded = load_aircraft(places.folder_of_documents(folder))
    if flow and flow not in loaded.table.flows:
        near = nearest_word(flow, loaded.table.flows)
        hint = f"; did you mean {near}?" if near else ""
        raise PlaceFault(f"FLOW {text!r}: there is no list or drill {flow!r}{hint}")
    return Lists(loaded, folder, flow)


def lists_here() -> list[Lists]:
    """The lists of what is enrolled, else those of the demonstration."""
    folders = dict.fromkeys(aircraft.documents for aircraft in places.enrolled())
    return [
        Lists(load_aircraft(places.folder_of_documents(folder)), folder, "")
        for folder in folders or [places.shipped() / "corvane_c4"]
    ]
