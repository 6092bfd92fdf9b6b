from collections.abc import Iterator
from pathlib import Path

import pytest

from audit.folder import LogFolder
from tests.audit.helpers import Clock, Person, full_log


@pytest.fixture
def crew() -> list[Person]:
    return [Person("Maren Holt"), Person("Åsa Lind")]


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[LogFolder]:
    with LogFolder.open(tmp_path / "logs") as opened:
        yield opened


@pytest.fixture(scope="session")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Person]]:
    """A closed log with every type of line, and its people; not to be changed."""
    return full_log(tmp_path_factory.mktemp("whole") / "logs")
