"""What logs come to together: the device's runs, the fleet's index, receipts kept elsewhere.

Rules: one place for every command that verifies; nothing here says that a log itself holds; each
witness is asked about every log named, and what it bears out is told as well as what it does not.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from audit import receipt
from audit.chain import Finding, findings
from audit.fleet.index import indexed
from audit.receipt import Receipt

NEWEST = "a newest run that was deleted shows only against a receipt kept elsewhere: --receipt FILE"


class Together(NamedTuple):
    """`findings` are what is wrong, `witnessed` one line for each log that a receipt bears out,
    `limits` what could not be seen this way."""

    findings: tuple[Finding, ...]
    witnessed: tuple[str, ...]
    limits: tuple[str, ...]


def look(paths: Sequence[Path], receipts: Sequence[Receipt]) -> Together:
    """What the logs that paths name come to together. Raises `FolderError`, `FleetError`."""
    found = [*findings(paths), *indexed(paths)]
    witnessed: list[str] = []
    for one in receipts:
        wrong, borne_out = receipt.against(one, paths)
        found += wrong
        witnessed += borne_out
    blind = not receipts and any(path.is_dir() for path in paths)
    return Together(tuple(found), tuple(witnessed), (NEWEST,) if blind else ())
