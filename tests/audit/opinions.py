"""The verifiers that share nothing with the package, asked the same question as the package's own.

Both are files to be run; the Python one is also loaded by its path, with its arithmetic remembered
from call to call, for it is asked many thousand times about nearly the same log.
"""

from __future__ import annotations

import importlib.util
import io
import shutil
import subprocess
from functools import cache, lru_cache
from pathlib import Path
from types import ModuleType

from audit import sshsig
from audit.stamps import wall_text
from audit.trust import Trust
from audit.verdict import Verdict

AUDIT = Path(__file__).parents[2] / "audit"
PYTHON = AUDIT / "verify_independent.py"
SHELL = AUDIT / "verify.sh"
# what the docstring of verify_independent.py says that it does not check: shapes, characters,
# clocks, roles, and what is beside the log
UNCHECKED = {"shape", "profile", "stamp", "name", "roster", "document", "approval"}
UNCHECKED |= {"attachment", "residue", "checkpoint", "countersign"}
# the same of verify.sh
UNCHECKED_BY_SHELL = UNCHECKED | {"weak-key", "acceptance"}


@cache
def independent() -> ModuleType:
    """The module verify_independent, by its path."""
    spec = importlib.util.spec_from_file_location("verify_independent", PYTHON)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    for name in ("public", "verify", "trusted"):
        setattr(module, name, lru_cache(maxsize=1 << 14)(getattr(module, name)))
    return module


def signers_text(trust: Trust) -> str:
    """The allowed_signers file of a trust, in the spelling of FORMAT.md."""
    rows = []
    for line in trust.lines:
        options = f'namespaces="{line.namespaces or ",".join(sshsig.NAMESPACES)}"'
        for name, moment in (("after", line.valid_after_ms), ("before", line.valid_before_ms)):
            if moment is not None:
                digits = "".join(filter(str.isdigit, wall_text(moment)))[:14]
                options += f',valid-{name}="{digits}Z"'
        rows.append(f'"{line.principals}" {options} {sshsig.public_line(line.key)}\n')
    return "".join(rows)


def ask_python(log: bytes, signers: str) -> str:
    """The whole answer of the independent verifier."""
    answer: str = independent().judge(io.BytesIO(log), signers)
    return answer


def ask_shell(log: Path, signers: Path) -> tuple[str, int]:
    """The whole answer of the shell verifier, and its exit code."""
    done = subprocess.run(
        ["bash", str(SHELL), str(log), str(signers)], capture_output=True, text=True, check=False
    )
    assert done.stderr == ""
    return done.stdout.rstrip("\n"), done.returncode


def missing_tools() -> str:
    """Why the shell verifier cannot run here; empty if it can."""
    tools = ("bash", "sed", "jq", "sha256sum", "base64", "cmp", "openssl", "ssh-keygen")
    for tool in tools:
        if shutil.which(tool) is None:
            return f"{tool} is not installed"
    words = subprocess.run(["openssl", "version"], capture_output=True, text=True, check=False)
    if not words.stdout.startswith("OpenSSL 3"):
        return f"needs OpenSSL 3, not {words.stdout.strip()}"
    return ""


def difference(log: bytes, verdict: Verdict, answer: str, unchecked: set[str] = UNCHECKED) -> str:
    """How `answer` differs from our verdict in a way that its file does not announce, or ``""``."""
    ours, other = verdict.result, answer.split(":")[0]
    if ours == other:
        same_line = ours != "rejected" or answer.startswith(f"rejected: line {verdict.line}:")
        return "" if same_line else f"{answer!r}, ours at line {verdict.line}: {verdict.code}"
    if ours == "rejected":
        # an approval and a checkpoint inside the opening are not looked into
        inside = verdict.line == 0 and (b'"approval":{' in log or b'"checkpoint":{' in log)
        if verdict.code in unchecked or (inside and verdict.code in ("base64", "sshsig")):
            return ""
        if b"\n" not in log and other == "torn":
            return ""  # neither has a line to speak of
    return f"{answer!r}, ours: {ours} {verdict.code} {verdict.why}"
