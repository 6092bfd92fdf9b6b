"""What the machine says of its battery and its heat, on each system, and whatever a file holds.

What the files hold is spelled as in Linux `Documentation/ABI/testing/sysfs-class-power` and
`Documentation/driver-api/thermal/sysfs-api.rst`, the Windows structure as in the Win32
documentation of SYSTEM_POWER_STATUS; the lines of `pmset -g batt` are from memory.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import struct
import sys
import tempfile
import threading
from collections.abc import Mapping
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.host import machine
from runner.host.machine import (
    WIDEST,
    Battery,
    Feed,
    Found,
    Watch,
    Zone,
    described,
    look,
    notes,
)

Tree = Mapping[str, Mapping[str, str]]


def made(root: Path, tree: Tree) -> Path:
    for folder, files in tree.items():
        (root / folder).mkdir(parents=True, exist_ok=True)
        for name, text in files.items():
            (root / folder / name).write_text(text, "utf-8")
    return root


def battery(percent: str, status: str, **more: str) -> dict[str, str]:
    return {"type": "Battery\n", "capacity": f"{percent}\n", "status": f"{status}\n", **more}


@pytest.mark.parametrize(
    ("percent", "status", "said"),
    [
        ("34", "Discharging", ("BATTERY 34 %, NOT CHARGING",)),
        ("79", "Discharging", ("BATTERY 79 %, NOT CHARGING",)),
        ("80", "Discharging", ()),
        ("34", "Charging", ()),
        ("20", "Charging", ()),
        ("19", "Charging", ("BATTERY 19 %, CHARGING",)),
        ("60", "Not charging", ("BATTERY 60 %, PLUGGED IN, NOT CHARGING",)),
        ("34", "Unknown", ("BATTERY 34 %",)),
        ("34", "something new", ("BATTERY 34 %",)),
        ("100", "Full", ()),
        ("101", "Discharging", ()),
        ("-1", "Discharging", ()),
        ("", "Discharging", ()),
    ],
)
def test_a_battery_on_linux(
    tmp_path: Path, percent: str, status: str, said: tuple[str, ...]
) -> None:
    root = made(tmp_path, {"power_supply/BAT0": battery(percent, status)})
    assert notes(look("linux", root)) == said


@pytest.mark.parametrize(
    ("left", "said"),
    [
        ("7830", "THE SYSTEM GIVES IT 2 H 10 MIN"),
        ("3540", "THE SYSTEM GIVES IT 0 H 59 MIN"),
        ("0", ""),
        ("4294967295", ""),
        ("soon", ""),
    ],
)
def test_the_time_left_is_said_only_where_the_system_gives_one(
    tmp_path: Path, left: str, said: str
) -> None:
    tree = {"power_supply/BAT0": battery("50", "Discharging", time_to_empty_now=left)}
    lines = notes(look("linux", made(tmp_path, tree)))
    assert lines == ("BATTERY 50 %, NOT CHARGING", *([said] if said else []))


def test_what_is_not_the_machines_battery_is_left_out(tmp_path: Path) -> None:
    root = made(tmp_path, {
        "power_supply/mouse": battery("5", "Discharging", scope="Device\n"),
        "power_supply/BAT1": battery("5", "Discharging", present="0\n"),
        "power_supply/AC": {"type": "Mains\n", "online": "1\n"},
    })  # fmt: skip
    assert look("linux", root) == Found()


def test_two_batteries_hold_at_most_what_the_fuller_one_holds(tmp_path: Path) -> None:
    tree = {
        "power_supply/BAT0": battery("12", "Discharging", time_to_empty_now="600"),
        "power_supply/BAT1": battery("40", "Not charging"),
    }
    root = made(tmp_path, tree)
    assert notes(look("linux", root)) == ("FULLEST BATTERY 40 %, NOT CHARGING",)
    made(root, {"power_supply/BAT0": battery("12", "Charging")})
    assert notes(look("linux", root)) == ()
    made(root, {"power_supply/BAT0": battery("40", "what")})
    assert notes(look("linux", root)) == ("FULLEST BATTERY 40 %",)


def zone(temp: str, *trips: tuple[str, str]) -> dict[str, str]:
    files = {"type": "cpu\n", "temp": f"{temp}\n"}
    for number, (kind, at) in enumerate(trips):
        files[f"trip_point_{number}_type"] = f"{kind}\n"
        files[f"trip_point_{number}_temp"] = f"{at}\n"
    return files


@pytest.mark.parametrize(
    ("files", "said"),
    [
        (zone("61000", ("critical", "100000")), ()),
        (zone("89999", ("critical", "100000")), ()),
        (zone("90000", ("critical", "100000")), ("HOT: 10 C BELOW SHUTTING ITSELF DOWN",)),
        (zone("97400", ("passive", "85000"), ("critical", "100000")),
         ("HOT: 3 C BELOW SHUTTING ITSELF DOWN",)),
        (zone("120000", ("critical", "100000")), ("HOT: 0 C BELOW SHUTTING ITSELF DOWN",)),
        (zone("85000", ("active", "40000"), ("passive", "85000")),
         ("HOT: WHERE IT SLOWS DOWN TO COOL ITSELF",)),
        (zone("50000", ("active", "40000"), ("hot", "45000")), ()),
        (zone("61000", ("critical", "0"), ("critical", "-274000")), ()),
        (zone("-5000", ("critical", "100000")), ()),
        (zone("999999", ("critical", "100000")), ()),
        (zone("warm", ("critical", "100000")), ()),
        ({"trip_point_0_type": "critical", "trip_point_0_temp": "1"}, ()),
    ],
)  # fmt: skip
def test_heat_on_linux(tmp_path: Path, files: dict[str, str], said: tuple[str, ...]) -> None:
    root = made(tmp_path, {"thermal/thermal_zone0": files, "thermal/cooling_device0": files})
    assert notes(look("linux", root)) == said


def test_the_nearest_place_counts(tmp_path: Path) -> None:
    root = made(tmp_path, {
        "thermal/thermal_zone0": zone("96000", ("critical", "120000")),
        "thermal/thermal_zone1": zone("66000", ("critical", "70000")),
        "thermal/thermal_zone2": zone("96000"),
    })  # fmt: skip
    found = look("linux", root)
    assert notes(found) == ("HOT: 4 C BELOW SHUTTING ITSELF DOWN",)
    assert described(found) == "hottest place 96 C, shuts down at 120 C"


def test_the_time_for_reading_is_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A clock that goes 30 ms with every look at it: two files are read, and then no more."""
    root = made(tmp_path, {"power_supply/BAT0": battery("5", "Discharging")})
    assert look("linux", root).batteries
    gone = iter(range(0, 10_000_000, 30))
    monkeypatch.setattr(machine, "time", SimpleNamespace(monotonic=lambda: next(gone) / 1000))
    assert look("linux", root) == Found()
    assert next(gone) / 1000 < 1


def test_what_no_reader_should_wait_for_is_not_read(tmp_path: Path) -> None:
    if sys.platform == "win32":
        pytest.skip("no pipes with a name there")
    root = made(tmp_path, {"power_supply/BAT0": battery("5", "Discharging")})
    (root / "power_supply/BAT0/status").unlink()
    os.mkfifo(root / "power_supply/BAT0/status")
    assert notes(look("linux", root)) == ("BATTERY 5 %",)


FILES = (
    "type", "scope", "present", "capacity", "status", "time_to_empty_now", "temp",
    "trip_point_0_type", "trip_point_0_temp", "trip_point_1_type", "trip_point_1_temp",
)  # fmt: skip
JUNK = st.one_of(
    st.binary(max_size=80),
    st.sampled_from([b"Battery", b"Discharging", b"Charging", b"critical", b"passive", b"1"]),
    st.integers(-(10**13), 10**13).map(lambda n: str(n).encode()),
    st.integers(0, 130_000).map(lambda n: str(n).encode()),
)
FOLDERS = st.sampled_from(["power_supply/A", "power_supply/B", "thermal/thermal_zone0"])


@given(st.dictionaries(FOLDERS, st.dictionaries(st.sampled_from(FILES), JUNK)))
def test_whatever_the_files_hold(tree: dict[str, dict[str, bytes]]) -> None:
    root = Path(tempfile.mkdtemp())
    try:
        for folder, files in tree.items():
            (root / folder).mkdir(parents=True)
            for name, junk in files.items():
                (root / folder / name).write_bytes(junk)
        found = look("linux", root)
    finally:
        shutil.rmtree(root)
    for line in notes(found):
        assert line.isprintable()
        assert len(line) <= WIDEST
    assert described(found).isprintable()


@given(
    st.lists(st.builds(
        Battery, st.integers(0, 100), st.sampled_from(Feed), st.integers(0, 48 * 3600),
    ), max_size=4),
    st.lists(st.builds(
        Zone, st.integers(-60, 150), st.none() | st.integers(40, 150),
        st.none() | st.integers(40, 150),
    ), max_size=4),
)  # fmt: skip
def test_every_sentence_fits_the_narrowest_screen(
    batteries: list[Battery], zones: list[Zone]
) -> None:
    said = notes(Found(tuple(batteries), tuple(zones)))
    assert all(0 < len(line) <= WIDEST for line in said)
    fed = any(one.feed in (Feed.CHARGING, Feed.FULL) for one in batteries)
    assert not (fed and any("NOT CHARGING" in line for line in said))


def test_a_system_without_the_folders_says_nothing(tmp_path: Path) -> None:
    assert look("linux", tmp_path / "none") == Found()
    assert look("plan9", tmp_path) == Found()
    assert described(Found()) == ""
    assert notes(Found()) == ()


# macOS ----------------------------------------------------------------------------------------

DRAINED = """Now drawing from 'Battery Power'
 -InternalBattery-0 (id=4653155)\t58%; discharging; 4:24 remaining present: true
"""


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (DRAINED, ("BATTERY 58 %, NOT CHARGING", "THE SYSTEM GIVES IT 4 H 24 MIN")),
        (DRAINED.replace("4:24 remaining", "(no estimate)"), ("BATTERY 58 %, NOT CHARGING",)),
        (DRAINED.replace("discharging", "charging"), ()),
        (DRAINED.replace("58%; discharging; 4:24 remaining", "58%; AC attached; not charging"),
         ("BATTERY 58 %, PLUGGED IN, NOT CHARGING",)),
        (DRAINED.replace("58%; discharging; 4:24", "100%; charged; 0:00"), ()),
        (DRAINED.replace("58%", "758%"), ()),
        (DRAINED.replace("InternalBattery-0", "A mouse"), ()),
        ("", ()),
    ],
)  # fmt: skip
def test_macos(monkeypatch: pytest.MonkeyPatch, text: str, said: tuple[str, ...]) -> None:
    monkeypatch.setattr(machine, "_pmset", lambda: text)
    assert notes(look("darwin")) == said


@pytest.mark.parametrize("fault", [OSError("none"), TimeoutError(), UnicodeError()])
def test_macos_without_its_program(monkeypatch: pytest.MonkeyPatch, fault: Exception) -> None:
    def broken() -> str:
        raise fault

    monkeypatch.setattr(machine, "_pmset", broken)
    assert look("darwin") == Found()


@pytest.mark.skipif(sys.platform == "win32", reason="no scripts with a first line there")
@pytest.mark.parametrize("end", ["", "exit 1", "exec sleep 1000"])
def test_macos_by_a_program(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, end: str) -> None:
    program = tmp_path / "pmset"
    program.write_text(f"#!/bin/sh\ncat <<'E'\n{DRAINED}E\n{end}\n", "utf-8")
    program.chmod(0o700)
    monkeypatch.setattr(machine, "_PMSET", (str(program),))
    monkeypatch.setattr(machine, "TIMEOUT_S", 0.2 if "sleep" in end else 30)
    batteries = look("darwin").batteries
    assert batteries == (() if "sleep" in end else (Battery(58, Feed.DRAINED, 15840),))


@given(st.text(st.characters(max_codepoint=127), max_size=200))
def test_whatever_that_program_prints(text: str) -> None:
    for junk in (text, f" -InternalBattery-0 {text}", f" -InternalBattery-0\t58%; {text}"):
        assert all(0 <= one.percent <= 100 for one in machine._mac(junk))


# Windows --------------------------------------------------------------------------------------


class Kernel:
    """Stands in for the library of the system: fills in what it was made with."""

    def __init__(self, *fields: int, done: int = 1) -> None:
        self._fields = struct.pack("=BBBBII", *fields)
        self._done = done

    def GetSystemPowerStatus(self, pointer: object) -> int:  # noqa: N802 - its name there
        ctypes.memmove(cast(Any, pointer), self._fields, len(self._fields))
        return self._done


UNKNOWN_S = 0xFFFF_FFFF


@pytest.mark.parametrize(
    ("kernel", "said"),
    [
        (Kernel(0, 0, 34, 0, 7800, UNKNOWN_S),
         ("BATTERY 34 %, NOT CHARGING", "THE SYSTEM GIVES IT 2 H 10 MIN")),
        (Kernel(0, 2, 34, 0, UNKNOWN_S, UNKNOWN_S), ("BATTERY 34 %, NOT CHARGING",)),
        (Kernel(1, 8, 34, 0, UNKNOWN_S, UNKNOWN_S), ()),
        (Kernel(1, 8 + 4, 4, 0, UNKNOWN_S, UNKNOWN_S), ("BATTERY 4 %, CHARGING",)),
        (Kernel(1, 0, 60, 0, UNKNOWN_S, UNKNOWN_S), ("BATTERY 60 %, PLUGGED IN, NOT CHARGING",)),
        (Kernel(255, 0, 60, 0, UNKNOWN_S, UNKNOWN_S), ("BATTERY 60 %",)),
        (Kernel(1, 1, 100, 0, UNKNOWN_S, UNKNOWN_S), ()),
        (Kernel(0, 128, 34, 0, 0, 0), ()),
        (Kernel(0, 255, 34, 0, 0, 0), ()),
        (Kernel(0, 0, 255, 0, 0, 0), ()),
        (Kernel(0, 0, 34, 0, 0, 0, done=0), ()),
    ],
)  # fmt: skip
def test_windows(monkeypatch: pytest.MonkeyPatch, kernel: Kernel, said: tuple[str, ...]) -> None:
    library = SimpleNamespace(kernel32=kernel)
    monkeypatch.setattr(ctypes, "windll", library, raising=False)
    assert notes(look("win32")) == said


# The watch ------------------------------------------------------------------------------------


class Told:
    """Takes notes, and lets a test wait for the next."""

    def __init__(self) -> None:
        self.notes: list[tuple[str, ...]] = []
        self._came = threading.Semaphore(0)

    def __call__(self, said: tuple[str, ...]) -> None:
        self.notes.append(said)
        self._came.release()

    def next(self) -> tuple[str, ...]:
        assert self._came.acquire(timeout=30)
        return self.notes[-1]

    def until(self, said: tuple[str, ...]) -> None:
        for _ in range(10_000):
            if self.next() == said:
                return
        raise AssertionError(f"never told: {said}; {self.notes[-1]}")


LOW = Found((Battery(10, Feed.DRAINED),))


def test_a_quick_look_is_there_before_the_screen_and_others_follow() -> None:
    stands = [LOW]
    told = Told()
    with Watch(told, lambda: not stands, lambda: stands[0], quick=True, every_s=0.001):
        assert told.notes[0] == ("BATTERY 10 %, NOT CHARGING",)
        for feed, said in (
            (Feed.CHARGING, ("BATTERY 10 %, CHARGING",)),
            (Feed.UNTOLD, ("BATTERY 10 %",)),
        ):
            stands[0] = Found((Battery(10, feed),))
            told.until(said)


def test_a_slow_look_waits_for_the_screen() -> None:
    told = Told()
    with Watch(told, lambda: False, lambda: LOW, quick=False, after_s=0.001, every_s=1e6):
        assert told.next() == ("BATTERY 10 %, NOT CHARGING",)
    with Watch(told, lambda: False, lambda: LOW, quick=False, after_s=1e6):
        pass
    assert len(told.notes) == 1


def test_past_the_start_nothing_is_said() -> None:
    told = Told()
    with Watch(told, lambda: True, lambda: LOW, quick=True, every_s=0.001):
        assert told.next() in ((), ("BATTERY 10 %, NOT CHARGING",))
        assert told.next() == ()
    assert len(told.notes) == 2
