"""The verifiers that share nothing with the package, asked the same question as the package's own.

Both are files to be run; the Python one is also loaded by its path, with its arithmetic remembered
from call to call, for it is asked many thousand times about nearly the same log.
"""

from __future__ import annotations

import importlib.util
import io
import re
import shutil
import subprocess
from functools import cache, lru_cache
from pathlib import Path
from types import ModuleType

from audit import sshsig
from audit.stamps import wall_text
from audit.trust import Trust
from audit.verdict import Verdict
from tests.audit.helpers import Person

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
    for name in ("public",):
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


def keygen_takes(person: Person, signers: Path, at: str) -> bool:
    """What `ssh-keygen` says of a closing signature of somebody made at a time."""
    path = signers.with_name("signature")
    path.write_text(sshsig.armor(person.sign(sshsig.CLOSE, b"m\n")), "ascii")
    done = subprocess.run(
        ["ssh-keygen", "-Y", "verify", "-f", str(signers), "-I", person.name, "-n", sshsig.CLOSE,
         "-s", str(path), "-O", f"verify-time={at}"],
        input=b"m\n", capture_output=True, check=False,
    )  # fmt: skip
    return done.returncode == 0


# what verify.sh uses, and from which version on; how each tells its version
_TOOLS = {
    "bash": ((4, 0), ("--version",), r"version (\d+)\.(\d+)", "arrays by name"),
    "jq": ((1, 5), ("--version",), r"jq-(\d+)\.(\d+)", "keys in order"),
    "openssl": ((3, 0), ("version",), r"^OpenSSL (\d+)\.(\d+)", "pkeyutl -rawin with Ed25519"),
    "ssh": ((9, 1), ("-V",), r"OpenSSH\D*(\d+)\.(\d+)", "ssh-keygen -O verify-time=…Z"),
}


@cache
def missing_tools() -> str:
    """Why the shell verifier cannot run here, exactly; empty if it can."""
    tools = ("sed", "grep", "sha256sum", "base64", "cmp", "fold", "ssh-keygen", *_TOOLS)
    lacking = [f"{tool} is not installed" for tool in tools if shutil.which(tool) is None]
    for tool, (least, words, pattern, why) in _TOOLS.items():
        if shutil.which(tool) is None:
            continue
        done = subprocess.run([tool, *words], capture_output=True, text=True, check=False)
        said = (done.stdout + done.stderr).strip().partition("\n")[0]
        found = re.search(pattern, said)
        if found is None or (int(found[1]), int(found[2])) < least:
            lacking.append(f"{tool} {least[0]}.{least[1]} or later ({why}) is needed, not {said!r}")
    return "; ".join(lacking)


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
