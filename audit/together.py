"""What logs come to together: the device's runs, the fleet's index, receipts kept elsewhere.

Rules: one place for every command that verifies; nothing here says that a log itself holds; each
witness is asked about every log named, and what it bears out is told as well as what it does not; a
witness is what whoever verifies has named, and a checkpoint one only with its key.
"""

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

from audit import receipt
from audit.chain import Finding, distinct, findings, info_of
from audit.fleet.checkpoint import key_given
from audit.fleet.index import indexed
from audit.fleet.named import Named, contradicted, named
from audit.receipt import Receipt

NEWEST = "a newest run that was deleted shows only against a receipt kept elsewhere: --receipt FILE"

PAIR = "--checkpoint FILE and --vkey KEY go together: a checkpoint counts by the key that you name"


class Together(NamedTuple):
    """`findings` are what is wrong, `witnessed` one line for each log that a receipt bears out,
    `limits` what could not be seen this way."""

    findings: tuple[Finding, ...]
    witnessed: tuple[str, ...]
    limits: tuple[str, ...]


def fleet(files: Iterable[Path], key: str) -> tuple[Named, ...]:
    """The checkpoints and proofs in files, by the key of notes given. Raises `FleetError`,
    `FolderError`."""
    return tuple(named(path, [key_given(key)]) for path in files)


def look(
    paths: Sequence[Path], receipts: Sequence[Receipt], fleet: Sequence[Named] = ()
) -> Together:
    """What the logs that paths name come to together. Raises `FolderError`, `FleetError`."""
    found = [*findings(paths), *indexed(paths)]
    witnessed: list[str] = []
    for one in receipts:
        wrong, borne_out = receipt.against(one, paths)
        found += wrong
        witnessed += borne_out
    whole = any(path.is_dir() for path in paths)
    if fleet:
        infos = [info for info in map(info_of, distinct(paths)) if info is not None]
        for signed in fleet:
            found += contradicted(signed, infos, whole=whole)
    blind = whole and not receipts
    # the index of a folder and a checkpoint that was named may tell the same
    return Together(tuple(dict.fromkeys(found)), tuple(witnessed), (NEWEST,) if blind else ())
