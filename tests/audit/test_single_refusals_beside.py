"""Refusals that stand alone, of what stands beside logs and over many of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit import countersign
from audit.errors import Fault, FleetError
from audit.fleet import checkpoint, index
from audit.folder import LogFolder
from tests.audit.fleet.keeper import sign
from tests.audit.helpers import Clock, Person, check, simple_log


class Liar(Person):
    """Signs something else than it is asked to."""

    def sign(self, namespace: str, message: bytes) -> bytes:
        return super().sign(namespace, message + b"x")


def test_a_word_that_its_key_did_not_sign_is_not_written(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    log = simple_log(folder, crew, clock)
    found = check(log, crew)
    with pytest.raises(Fault) as caught:
        countersign.give(log, found, "accepted", "x", Liar("Ida Rask"), clock())
    assert caught.value.code == "person-signature"
    assert not countersign.file_of(log).exists()


def test_a_file_that_is_no_log_is_no_leaf(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    simple_log(folder, crew, clock)
    (folder.path / "a-note.jsonl").write_bytes(b"no log\n")
    signed = sign(folder.path)
    assert (signed.added, signed.checkpoint.size) == (1, 1)
    assert index.indexed([folder.path]) == []


def test_a_checkpoint_that_is_none_is_named_by_its_file(tmp_path: Path) -> None:
    path = tmp_path / checkpoint.FOLDER / f"x{checkpoint.SUFFIX}"
    path.parent.mkdir()
    path.write_text("no note\n", "utf-8")
    with pytest.raises(FleetError, match=f"x{checkpoint.SUFFIX}: "):
        list(checkpoint.beside(tmp_path))
