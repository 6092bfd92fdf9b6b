import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from audit.folder import LogFolder
from audit.trust import Trust
from audit.verdict import Verdict
from audit.verify import verify
from tests.audit.helpers import Clock, Person, full_log
from tests.audit.opinions import ask_python, difference, signers_text

ASKED_TWICE = {
    "test_attempts", "test_lines_of_another_shape", "test_course_of_runs", "test_recovery",
    "test_writer", "test_writer_lost",
}  # fmt: skip


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


@pytest.fixture(autouse=True)
def second_opinion(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every log that these tests have checked in full is given to the independent verifier too."""
    if request.path.stem not in ASKED_TWICE:
        return

    def both(source: Any, *, level: str, trust: Trust | None, **more: Any) -> Verdict:
        verdict = verify(source, level=level, trust=trust, **more)
        if level == "full" and not more:
            log = source.getvalue() if isinstance(source, io.BytesIO) else source.read_bytes()
            answer = ask_python(log, signers_text(trust or Trust()))
            assert difference(log, verdict, answer) == ""
        return verdict

    monkeypatch.setattr("tests.audit.helpers.verify", both)
