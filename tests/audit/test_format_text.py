"""FORMAT.md says what is built: its codes, line types, namespaces and limits are the code's."""

import ast
import re
from pathlib import Path

from audit import canonical, countersign, line, receipt, shapes, sshsig
from audit.fleet import proofs
from audit.fleet.checkpoint import FOLDER, SUFFIX
from audit.fleet.index import LEAVES
from audit.verdict import RESULTS
from audit.verify import LEVELS

AUDIT = Path(__file__).parents[2] / "audit"
TEXT = (AUDIT / "FORMAT.md").read_text("utf-8")
VERIFYING = (
    "beside",
    "canonical",
    "checker",
    "course",
    "curve",
    "line",
    "shapes",
    "sshsig",
    "stamps",
)
# given where the code is not a literal, or not by a `Fault`
OTHERS = {"attachment", "residue", "countersign"}


def test_every_code_is_listed_and_no_other() -> None:
    raised = set(OTHERS)
    for name in VERIFYING:
        for node in ast.walk(ast.parse((AUDIT / f"{name}.py").read_text("utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "Fault":
                code = node.args[0]
                if isinstance(code, ast.Constant):
                    raised.add(str(code.value))
    listed = re.search(r"Codes: `([^`]*)`", TEXT)
    assert listed is not None
    assert sorted(listed[1].split()) == sorted(raised)


def test_words_and_limits_are_the_codes() -> None:
    for word in (*line.TYPES, *sshsig.NAMESPACES, *RESULTS, *LEVELS):
        assert f"`{word}`" in TEXT or f"**{word}**" in TEXT, word
    for mode in (*shapes.CREW_MODES, *shapes.OTHER_MODES):
        assert f"`{mode}`" in TEXT, mode
    assert line.DOMAIN == b"latchword/audit/entry@v1\n"
    assert "`latchword/audit/entry@v1`, one LF" in TEXT
    assert line.LONGEST == 1 << 20
    assert "at most 1 MiB" in TEXT
    assert canonical.DEEPEST == 32
    assert "at most 32 levels" in TEXT
    assert canonical.HEARD_LIMIT == 200
    assert "at most 200 characters" in TEXT


def test_the_codes_of_logs_taken_together_are_listed_and_no_other() -> None:
    given = set()
    for name in ("chain", "receipt", "fleet/index"):
        for node in ast.walk(ast.parse((AUDIT / f"{name}.py").read_text("utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "Finding":
                given.add(ast.literal_eval(node.args[0]))
    part = TEXT.partition("## Logs taken together")[2].partition("## ")[0]
    listed = re.findall(r"^\| `([a-z]+)` \|", part, re.MULTILINE)
    assert sorted(listed) == sorted(given)


def test_the_words_of_witnesses_are_the_codes() -> None:
    assert f"    {receipt.MARK}DEVICE/RUN/RUN_SEQ/LINE/STATE/TIME/HEAD" in TEXT
    assert f"    {receipt.SHORT}RUN/LINE/STATE/TIME/HEAD" in TEXT
    assert f"`<run>{countersign.SUFFIX}`" in TEXT
    assert f"1 to {countersign.LONGEST_NOTE} characters" in TEXT
    for word in (*countersign.VERDICTS, proofs.CONSISTENCY, f"{FOLDER}/{LEAVES}"):
        assert f"`{word}`" in TEXT
    assert f"`{FOLDER}/*{SUFFIX}`" in TEXT
