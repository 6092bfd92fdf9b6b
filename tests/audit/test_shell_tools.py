"""Where verify.sh cannot run, its tests say which tool is too old, and which would do."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.audit.opinions import missing_tools

NEW = {
    "bash": "GNU bash, version 5.2.15(1)-release (x86_64-pc-linux-gnu)",
    "jq": "jq-1.6",
    "openssl": "OpenSSL 3.0.19 27 Jan 2026 (Library: OpenSSL 3.0.19 27 Jan 2026)",
    "ssh": "OpenSSH_9.2p1 Debian-2+deb12u6, OpenSSL 3.0.19 27 Jan 2026",
}
PLAIN = ("sed", "grep", "sha256sum", "base64", "cmp", "fold", "ssh-keygen")

pytestmark = pytest.mark.skipif(os.name == "nt", reason="its programs are no shell scripts")


@pytest.fixture
def tools(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder of programs that are found first and alone, and only tell their versions."""
    folder = tmp_path / "bin"
    folder.mkdir()
    for name in (*PLAIN, *NEW):
        tell(folder, name, NEW.get(name, ""))
    monkeypatch.setenv("PATH", str(folder))
    missing_tools.cache_clear()
    yield folder
    missing_tools.cache_clear()


def tell(folder: Path, name: str, version: str) -> None:
    path = folder / name
    path.write_text(f"#!/bin/sh\necho '{version}'\n", "utf-8")
    path.chmod(0o755)


def test_debian_12_can(tools: Path) -> None:
    """Debian 12: bash 5.2, jq 1.6, OpenSSL 3.0, OpenSSH 9.2 (as its packages say)."""
    assert missing_tools() == ""


@pytest.mark.parametrize(
    ("name", "said", "why"),
    [
        ("openssl", "OpenSSL 1.1.1w  11 Sep 2023", "openssl 3.0 or later (pkeyutl -rawin with "
         "Ed25519) is needed, not 'OpenSSL 1.1.1w  11 Sep 2023'"),
        ("openssl", "LibreSSL 3.3.6", "openssl 3.0 or later (pkeyutl -rawin with Ed25519) is "
         "needed, not 'LibreSSL 3.3.6'"),
        ("bash", "GNU bash, version 3.2.57(1)-release (arm64-apple-darwin23)",
         "bash 4.0 or later (arrays by name) is needed, not 'GNU bash, version 3.2.57(1)"),
        ("jq", "jq-1.4", "jq 1.5 or later (keys in order) is needed, not 'jq-1.4'"),
        ("ssh", "OpenSSH_8.9p1 Ubuntu-3, OpenSSL 3.0.2 15 Mar 2022",
         "ssh 9.1 or later (ssh-keygen -O verify-time=…Z) is needed, not 'OpenSSH_8.9p1 Ubuntu-3"),
    ],
)  # fmt: skip
def test_what_is_too_old_is_named_with_what_is_needed(
    tools: Path, name: str, said: str, why: str
) -> None:
    tell(tools, name, said)
    assert missing_tools().startswith(why)


@pytest.mark.parametrize(
    ("name", "said"), [("openssl", "OpenSSL 4.0.1 1 Oct 2027"), ("jq", "jq-2.0"),
                       ("ssh", "OpenSSH_10.0p2 Debian-7"), ("jq", "jq-1.7.1-apple")],
)  # fmt: skip
def test_what_is_newer_does_too(tools: Path, name: str, said: str) -> None:
    tell(tools, name, said)
    assert missing_tools() == ""


def test_everything_that_lacks_is_named(tools: Path) -> None:
    (tools / "fold").unlink()
    tell(tools, "jq", "jq-1.4")
    assert missing_tools() == (
        "fold is not installed; jq 1.5 or later (keys in order) is needed, not 'jq-1.4'"
    )
