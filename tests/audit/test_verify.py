"""Verdicts: what the levels reach, the hook for replaying, memory, the command by itself."""

import ast
import io
import json
import os
import shutil
import subprocess
import sys
import tracemalloc
from collections.abc import Iterator
from pathlib import Path

import cryptography
import orjson
import pytest

from audit import durable
from audit.__main__ import default_trust, main
from audit.errors import FolderError, NotReplayed
from audit.folder import LogFolder
from audit.line import Line
from audit.trust import Trust, trust_key
from audit.verify import logs_of, states, verify
from audit.writer import LogWriter
from tests.audit.helpers import Clock, Forge, Person, check, event, opening, simple_log, trust_in

ROOT = Path(__file__).parents[2]


def test_the_hook_sees_every_line_and_the_documents(whole: tuple[Path, list[Person]]) -> None:
    log, people = whole
    seen: list[Line] = []

    def replay(lines: Iterator[Line], documents: Path) -> None:
        seen.extend(lines)
        assert (documents / seen[0].data["documents"][0]["sha256"]).exists()

    verdict = verify(log, level="replayed", trust=trust_in(people), replay=replay)
    assert (verdict.result, verdict.level) == ("closed", "replayed")
    assert verdict.counts()
    assert [line.seq for line in seen] == list(range(verdict.lines))
    assert b"".join(line.raw for line in seen) == log.read_bytes()


def test_what_the_hook_finds_is_rejected(whole: tuple[Path, list[Person]]) -> None:
    log, people = whole

    def replay(lines: Iterator[Line], documents: Path) -> tuple[int, str, str] | None:
        for line in lines:
            if line.seq == 5:
                return 4, "replay-outcome", "the list would not have allowed it"
        return None

    verdict = verify(log, level="replayed", trust=trust_in(people), replay=replay)
    assert (verdict.result, verdict.line, verdict.code) == ("rejected", 4, "replay-outcome")
    rows = log.read_bytes().splitlines(keepends=True)
    assert verdict.offset == sum(map(len, rows[:4]))
    assert not verdict.counts()


def test_a_fault_in_the_lines_goes_before_what_the_hook_says(
    tmp_path: Path, whole: tuple[Path, list[Person]]
) -> None:
    log, people = whole
    changed = tmp_path / log.name
    changed.write_bytes(log.read_bytes().replace(b'"count":13', b'"count":12'))

    def early(lines: Iterator[Line], documents: Path) -> tuple[int, str, str] | None:
        next(lines)
        return 0, "replay-early", "stopped reading at once"

    def swallowing(lines: Iterator[Line], documents: Path) -> None:
        for _ in lines:
            pass

    for hook in (early, swallowing):
        verdict = verify(changed, level="replayed", trust=trust_in(people), replay=hook)
        assert (verdict.result, verdict.code, verdict.line) == ("rejected", "count", 13)


def test_without_the_means_it_is_full_and_not_replayed(whole: tuple[Path, list[Person]]) -> None:
    log, people = whole

    def cannot(lines: Iterator[Line], documents: Path) -> None:
        next(lines)
        raise NotReplayed("a document is missing")

    for hook, why in ((None, "nothing here can run the lists"), (cannot, "a document is missing")):
        verdict = verify(log, level="replayed", trust=trust_in(people), replay=hook)
        assert (verdict.result, verdict.level) == ("closed", "full")
        assert f"full, not replayed: {why}" in verdict.notes
        assert not verdict.counts({"demonstration", "scripted"})


def test_an_unclosed_log_can_be_replayed(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    writer.event(event(), clock())
    log = folder.path_of(writer.run)
    verdict = verify(log, level="replayed", trust=trust_in(crew), replay=lambda lines, path: None)
    assert (verdict.result, verdict.level) == ("unclosed", "replayed")
    assert verdict.why == "left open after line 3"


def test_the_boundary_proves_nothing_after_the_last_person(crew: list[Person]) -> None:
    forge = Forge(crew).open().add("event", event())
    verdict = check(forge.log, crew, "boundary")
    assert verdict.why == "left open after line 3; nothing proven after line 0"
    forge.resume().add("event", event())
    assert "nothing proven after line 0" in check(forge.log, crew, "boundary").why
    forge.sign("resume-sig", crew[0], 4)
    verdict = check(forge.log, crew, "boundary")
    assert verdict.why == ("left open; signature owed by Åsa Lind; nothing proven after line 5")
    torn = check(forge.log + b"x", crew, "boundary")
    assert torn.why == "line 7 is incomplete; nothing proven after line 5"
    nothing = Forge(crew)
    nothing.add("open", nothing.opening())
    verdict = check(nothing.log, crew, "boundary")
    assert verdict.why == "opening signature owed by Maren Holt, Åsa Lind; nothing proven"


def test_the_boundary_and_full_agree_on_good_logs(whole: tuple[Path, list[Person]]) -> None:
    log, people = whole
    full, boundary = check(log, people), check(log, people, "boundary")
    assert (full.result, full.lines, full.head) == (boundary.result, boundary.lines, boundary.head)
    assert full.opening == boundary.opening
    assert (boundary.level, full.level) == ("boundary", "full")
    assert boundary.counts()


def test_the_boundary_leaves_lines_own_signatures_to_full(crew: list[Person]) -> None:
    stranger = Forge(crew).key
    forge = Forge(crew).open().add("event", event(), key=stranger).close()
    assert check(forge.log, crew, "boundary").result == "closed"
    assert check(forge.log, crew).code == "signature"


def test_the_boundary_takes_one_spelling_of_a_signature_too(crew: list[Person]) -> None:
    log = Forge(crew).open().close().log
    assert log.endswith(b'=="}\n')
    for byte in b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/":
        changed = log[:-6] + bytes([byte]) + log[-5:]
        verdict = check(changed, crew, "boundary")
        assert verdict.result == ("closed" if changed == log else "rejected")
        assert check(changed, crew).result == ("closed" if changed == log else "rejected")


@pytest.mark.parametrize("changes", [{"seq": 9}, {"prev": "0" * 64}, {"next": ""}, {"type": "x"}])
def test_the_boundary_checks_an_events_place(crew: list[Person], changes: dict[str, str]) -> None:
    log = Forge(crew).open().add("event", event(), **changes).log
    assert check(log, crew, "boundary").result == "rejected"


def test_the_boundary_reads_crew_changes(crew: list[Person]) -> None:
    relief = Person("Tor Berg")
    change = {"key": relief.public_line, "name": relief.name, "role": "copilot"}
    forge = Forge(crew).open().add("event", event(crew_change=change)).add("event", event())
    forge.add("close", {"acceptances": [], "count": 5})
    for person in crew:
        forge.sign("close-sig", person, 5)
    assert check(forge.log, crew, "boundary").why.startswith("signature owed by Tor Berg")
    forge.sign("close-sig", relief, 5, next="")
    assert check(forge.log, [*crew, relief], "boundary").counts()


def test_an_unclosed_log_says_who_is_not_trusted(crew: list[Person]) -> None:
    forge = Forge(crew).open()
    assert check(forge.log, crew[:1]).notes == ("not by trusted keys: Åsa Lind",)
    assert check(forge.log, crew).notes == ()


def test_what_is_no_log_is_rejected_or_torn(tmp_path: Path) -> None:
    for content, result in (
        (b"", "torn"),
        (b'{"bo', "torn"),
        (b"\x00\x01binary", "rejected"),
        (b"junk\n", "rejected"),
        (b"\n", "rejected"),
        (b"x" * (2 << 20), "rejected"),
    ):
        path = tmp_path / "x.jsonl"
        path.write_bytes(content)
        for level in ("boundary", "full", "replayed"):
            verdict = verify(path, level=level, trust=None, replay=lambda lines, path: None)
            assert (verdict.result, verdict.lines) == (result, 0)
            assert verdict.opening == {}
    with pytest.raises(FolderError, match="cannot be read"):
        verify(tmp_path / "missing", level="full", trust=None)


def test_a_renamed_log_says_whose_it_is(
    tmp_path: Path, folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    log = simple_log(folder, crew, clock)
    other = tmp_path / "other.jsonl"
    other.write_bytes(log.read_bytes())
    assert check(other, crew).notes == (f"the file is not named after its run, {log.stem}",)


def test_misuse_is_said(whole: tuple[Path, list[Person]]) -> None:
    log, people = whole
    with pytest.raises(ValueError, match="boundary, full, replayed"):
        verify(log, level="best", trust=None)
    state = next(iter(states(log, level="full", trust=trust_in(people))))
    with pytest.raises(ValueError, match="own level"):
        verify(log, level="boundary", trust=None, start=state)
    with pytest.raises(ValueError, match="no replay"):
        verify(log, level="full", trust=None, start=state, replay=lambda lines, path: None)


def test_memory_does_not_grow_with_the_log(
    folder: LogFolder, crew: list[Person], clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(durable, "sync", lambda fd: None)
    peaks = []
    for events in (300, 3_000):
        log = simple_log(folder, crew, clock, events=events)
        for level in ("boundary", "full"):
            check(log, crew, level)
            tracemalloc.start()
            assert check(log, crew, level).result == "closed"
            peaks.append(tracemalloc.get_traced_memory()[1])
            tracemalloc.stop()
    # ten times the log (1.5 MB): not 60 kB more
    assert peaks[2] < peaks[0] + 60_000
    assert peaks[3] < peaks[1] + 60_000


@pytest.fixture
def desk(tmp_path: Path, crew: list[Person], clock: Clock) -> tuple[Path, Path, list[Path]]:
    """A folder with two good logs, and the list of who is trusted."""
    trust = tmp_path / "allowed_signers"
    for person in crew:
        trust_key(trust, person.name, person.public_line)
    with LogFolder.open(tmp_path / "logs") as folder:
        logs = [simple_log(folder, crew, clock) for _ in range(2)]
    return tmp_path / "logs", trust, logs


def test_the_command(
    desk: tuple[Path, Path, list[Path]], capsys: pytest.CaptureFixture[str]
) -> None:
    folder, trust, logs = desk
    assert main(["verify", str(folder), "--trust", str(trust)]) == 0
    out = capsys.readouterr().out.splitlines()
    assert [row.split()[0] for row in out] == ["closed", "closed"]
    assert main(["verify", str(logs[0]), "--trust", str(trust), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert (answer["result"], answer["run"], answer["run_seq"]) == ("closed", logs[0].stem, 1)
    assert main(["verify", str(folder), "--level", "replayed", "--trust", str(trust)]) == 1
    assert "full, not replayed" in capsys.readouterr().out
    assert main(["verify", str(folder / "none.jsonl"), "--trust", str(trust)]) == 4
    assert main(["verify", str(folder / "documents"), "--trust", str(trust)]) == 4
    assert main(["verify", str(logs[0]), "--trust", str(folder / "none")]) == 4
    assert "cannot be read" in capsys.readouterr().err
    with pytest.raises(SystemExit) as caught:
        main(["verify"])
    assert caught.value.code == 2
    logs[0].unlink()
    assert main(["verify", str(folder), "--trust", str(trust)]) == 1
    assert "missing: run 1" in capsys.readouterr().out


def test_nobody_is_trusted_by_a_file_beside_the_log(
    desk: tuple[Path, Path, list[Path]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    folder, trust, _ = desk
    for name in ("XDG_CONFIG_HOME", "LOCALAPPDATA", "HOME", "USERPROFILE"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    (folder / "allowed_signers").write_bytes(trust.read_bytes())
    assert main(["verify", str(folder)]) == 1
    captured = capsys.readouterr()
    assert captured.out.startswith("untrusted ")
    assert "nobody is trusted" in captured.err
    default_trust().parent.mkdir(parents=True)
    default_trust().write_bytes(trust.read_bytes())
    assert main(["verify", str(folder)]) == 0


def test_a_mode_counts_only_if_named(
    tmp_path: Path, crew: list[Person], clock: Clock, capsys: pytest.CaptureFixture[str]
) -> None:
    trust = tmp_path / "allowed_signers"
    for person in crew:
        trust_key(trust, person.name, person.public_line, demonstration=True)
    with LogFolder.open(tmp_path / "logs") as folder:
        log = str(simple_log(folder, crew, clock, modes=["crew", "scripted"]))
    words = ["verify", log, "--trust", str(trust)]
    assert main(words) == 1
    assert "labelled demonstration, scripted" in capsys.readouterr().out
    assert main([*words, "--also", "demonstration"]) == 1
    assert main([*words, "--also", "demonstration,scripted"]) == 0


def _site_packages(tmp_path: Path) -> Path:
    """A folder with `cryptography` (and what it is built on) and `orjson`, nothing else."""
    needed = tmp_path / "needed"
    needed.mkdir()
    origin = Path(str(cryptography.__file__)).parents[1]
    for pattern in ("cryptography", "orjson", "_cffi_backend*", "cffi", "typing_extensions.py"):
        for path in origin.glob(pattern):
            (needed / path.name).symlink_to(path)
    assert Path(str(orjson.__file__)).parents[1] == origin
    return needed


@pytest.mark.skipif(sys.platform == "win32", reason="needs symbolic links")
def test_a_copy_of_the_package_alone_verifies(
    desk: tuple[Path, Path, list[Path]], tmp_path: Path
) -> None:
    _, trust, logs = desk
    copy = tmp_path / "copy"
    shutil.copytree(
        ROOT / "audit", copy / "audit", ignore=shutil.ignore_patterns("__pycache__", "*.md", "*.sh")
    )
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    env = {"PYTHONPATH": os.pathsep.join([str(copy), str(_site_packages(tmp_path))])}
    words = [sys.executable, "-S", "-m", "audit", "verify"]
    for log, code in ((logs[0], 0), (ROOT / "audit" / "FORMAT.md", 1)):
        done = subprocess.run(
            [*words, str(log), "--trust", str(trust)],
            capture_output=True,
            text=True,
            cwd=elsewhere,
            env=env,
            check=False,
        )
        assert done.returncode == code, done.stderr
        assert done.stdout.startswith("rejected" if code else "closed"), done.stderr


def test_the_package_imports_nothing_else() -> None:
    allowed = {*sys.stdlib_module_names, "audit", "cryptography", "orjson"}
    clocks = {"time", "sched"}
    for path in sorted((ROOT / "audit").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            for name in names:
                assert name.split(".")[0] in allowed - clocks, f"{path.name} imports {name}"
            if isinstance(node, ast.Attribute):
                # a clock is read by the host only
                assert node.attr not in {"now", "utcnow", "today", "monotonic"}, path.name


def test_logs_of_a_folder_are_its_logs(desk: tuple[Path, Path, list[Path]]) -> None:
    folder, _, logs = desk
    assert logs_of(folder) == sorted(logs)
    assert logs_of(logs[0]) == [logs[0]]


def test_a_stream_has_nothing_beside_it(whole: tuple[Path, list[Person]]) -> None:
    log, people = whole
    stream = io.BytesIO(log.read_bytes())
    verdict = verify(stream, level="replayed", trust=trust_in(people), replay=lambda a, b: None)
    assert (verdict.result, verdict.level) == ("closed", "full")
    assert verify(stream, level="full", trust=Trust()).result == "untrusted"
