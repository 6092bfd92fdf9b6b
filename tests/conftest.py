"""What every test shares: hypothesis without a clock, and folders of its own for each test.

Rules: no test may depend on how fast the machine is, nor read or write what belongs to the person
who runs it.
"""

from __future__ import annotations

from itertools import count
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "latchword", deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True
)
settings.load_profile("latchword")

_HOMES = count(1)


@pytest.fixture(scope="session")
def project() -> Path:
    """The root of the source tree."""
    return Path(__file__).resolve().parent.parent


@pytest.fixture(scope="session")
def homes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the home folders of this session's tests are."""
    return tmp_path_factory.mktemp("homes")


@pytest.fixture(autouse=True)
def own_folders(homes: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A home for this test alone, not made before something writes there; no colour, no options.

    `HOME` and the XDG names are read on Linux and macOS, the others on Windows.
    """
    home = homes / str(next(_HOMES))
    for name in ("HOME", "USERPROFILE"):
        monkeypatch.setenv(name, str(home))
    for name, folder in (
        ("XDG_CONFIG_HOME", "config"),
        ("XDG_STATE_HOME", "state"),
        ("XDG_DATA_HOME", "data"),
        ("XDG_CACHE_HOME", "cache"),
        ("APPDATA", "roaming"),
        ("LOCALAPPDATA", "local"),
    ):
        monkeypatch.setenv(name, str(home / folder))
    for name in ("NO_COLOR", "FORCE_COLOR", "COLUMNS", "LINES"):
        monkeypatch.delenv(name, raising=False)
