"""A keeper of a fleet's key, for the tests of the fleet."""

from __future__ import annotations

from pathlib import Path

from audit.fleet.index import Leaf, Signed, make
from audit.fleet.note import Verifier
from audit.folder import read_info
from tests.audit.helpers import Person

ORIGIN = "tarn-valley.example/fleet"
KEEPER = Person("Fleet Keeper")
VERIFIER = Verifier(ORIGIN, KEEPER.key)


def sign(path: Path) -> Signed:
    return make(path, VERIFIER, KEEPER.private.sign)


def leaf(path: Path) -> Leaf:
    one = read_info(path)
    assert one is not None
    return Leaf(one.device, one.run_seq, one.run, one.head)
