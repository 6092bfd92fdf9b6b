"""Runs by voice that are let go, and with them every thread."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from audit.folder import LogFolder

if TYPE_CHECKING:
    from tests.runner.conversation.talk import Talk


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[LogFolder]:
    with LogFolder.open(tmp_path / "logs") as opened:
        yield opened


@pytest.fixture
def make(folder: LogFolder) -> Iterator[Callable[..., Talk]]:
    from tests.runner.conversation.talk import Talk

    made: list[Talk] = []

    def one(**given: Any) -> Talk:
        made.append(Talk(folder, **given))
        return made[-1]

    yield one
    for talk in made:
        talk.end()
    left = {thread.name for thread in threading.enumerate()}
    assert not left & {"voice starts", "voice holds", "voice judges", "microphone"}


@pytest.fixture
def talk(make: Callable[..., Talk]) -> Talk:
    from tests.runner.conversation.talk import STATION

    return make(lines=STATION).start()
