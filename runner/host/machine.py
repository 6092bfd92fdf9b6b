"""What this machine says of itself before a start: its battery, and its heat.

Rules: only what the system tells, never a guess (no time remaining unless it tells one); reading
never raises, whatever a file holds, and ends after `BUDGET_S`; a battery of something plugged in
(a mouse) is not the machine's; a sentence has at most `WIDEST` characters, so that the narrowest
screen shows it whole; where all is well, or nothing is told, there is none.

Sources: power supplies, Linux `Documentation/ABI/testing/sysfs-class-power`; trip points,
`Documentation/driver-api/thermal/sysfs-api.rst` (temperatures in thousandths of a degree Celsius);
Windows, SYSTEM_POWER_STATUS of the Win32 documentation; the lines of `pmset -g batt`, from memory.
"""

from __future__ import annotations

import contextlib
import re
import sys
import threading
import time
from collections.abc import Callable, Iterator
from enum import StrEnum
from pathlib import Path
from typing import NamedTuple

BUDGET_S = 0.05
"""The longest that reading may hold up a start; a sensor behind a slow bus is left out."""
DAY_PERCENT = 80
"""Below this a battery that nothing charges is mentioned: a day on the aircraft, with a screen
bright enough for the sun, is as long as a whole charge lasts (common practice, no published
source)."""
LOW_PERCENT = 20
"""Below this also a battery that is being charged: a plug that works loose ends the screen within
the hour (common practice, no published source)."""
HOT_MARGIN_C = 10
"""So near the temperature at which the system shuts itself down, heat is mentioned: the sun on a
dark case makes more of a difference within minutes (common practice, no published source)."""
TRIPS_C = (40, 150)
"""A trip point outside is none: drivers write 0 or -274 where they have no temperature."""
WIDEST = 40
EVERY_S = 60.0
TIMEOUT_S = 2.0
_SHORTEST_TIME_S, _LONGEST_TIME_S = 60, 48 * 3600
_SYS = Path("/sys/class")
_PMSET = ("/usr/bin/pmset", "-g", "batt")
_MAC = re.compile(r"^\s*-InternalBattery.*?\s(\d{1,3})%;\s*([^;]*);?(?:\s*(\d+):(\d\d) remaining)?")


class Feed(StrEnum):
    """What happens to a battery; `HELD` is plugged in and yet not charged."""

    CHARGING = "charging"
    FULL = "full"
    HELD = "plugged in, not charging"
    DRAINED = "not charging"
    UNTOLD = "charging or not is not told"


class Battery(NamedTuple):
    """A battery: percent of its charge, and the seconds that the system gives it, 0 where it gives
    none."""

    percent: int
    feed: Feed
    left_s: int = 0


class Zone(NamedTuple):
    """A place whose temperature is taken, whole degrees Celsius; `stops_at` is where the system
    shuts down, `slows_at` where it slows down, each None where there is none."""

    at: int
    stops_at: int | None = None
    slows_at: int | None = None


class Found(NamedTuple):
    """What the system told of itself."""

    batteries: tuple[Battery, ...] = ()
    zones: tuple[Zone, ...] = ()


def look(system: str = sys.platform, root: Path = _SYS) -> Found:
    """Asks this system; nothing where it does not tell, or is not known."""
    with contextlib.suppress(Exception):
        if system == "linux":
            return _linux(root)
        if system == "darwin":
            return Found(_mac(_pmset()))
        if system == "win32":
            return Found(_windows())
    return Found()


def is_quick(system: str = sys.platform) -> bool:
    """Whether asking is a matter of files or one call; else it needs a program, and has to wait
    until the first screen stands."""
    return system != "darwin"


def notes(found: Found) -> tuple[str, ...]:
    """The sentences for the crew."""
    return (*_of_battery(found.batteries), *_of_heat(found.zones))


def described(found: Found) -> str:
    """All that was told, in one line; empty where nothing was."""
    said = [f"battery {one.percent} %, {one.feed}" for one in found.batteries]
    if found.zones:
        hottest = max(found.zones, key=lambda zone: zone.at)
        stops = f", shuts down at {hottest.stops_at} C" if hottest.stops_at is not None else ""
        said.append(f"hottest place {hottest.at} C{stops}")
    return "; ".join(said)


class Watch:
    """Looks once a minute while used as a context; `told` gets the notes, and none when `over()`
    says that the start is past: what is no longer looked at is no longer said.

    The first look is before the context is entered where it is quick, else when the first screen
    has had `after_s` to stand.
    """

    def __init__(
        self, told: Callable[[tuple[str, ...]], None], over: Callable[[], bool],
        looks: Callable[[], Found] = look, *, quick: bool | None = None, after_s: float = 1.0,
        every_s: float = EVERY_S,
    ) -> None:  # fmt: skip
        self._told, self._over, self._looks = told, over, looks
        self._quick = is_quick() if quick is None else quick
        self._after_s, self._every_s = after_s, every_s
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._work, name="machine", daemon=True)

    def __enter__(self) -> None:
        if self._quick:
            self._told(notes(self._looks()))
        self._thread.start()

    def __exit__(self, *_: object) -> None:
        self._stop.set()

    def _work(self) -> None:
        wait = self._every_s if self._quick else self._after_s
        while not self._stop.wait(wait):
            if self._over():
                self._told(())
                return
            self._told(notes(self._looks()))
            wait = self._every_s


# Sentences ------------------------------------------------------------------------------------


def _of_battery(batteries: tuple[Battery, ...]) -> Iterator[str]:
    if not batteries:
        return
    # What all hold together is not told; the fullest is the most that it can be.
    one = max(batteries, key=lambda battery: battery.percent)
    alone = len(batteries) == 1
    name = "BATTERY" if alone else "FULLEST BATTERY"
    feeds = {battery.feed for battery in batteries}
    if feeds & {Feed.CHARGING, Feed.FULL}:
        if one.percent < LOW_PERCENT:
            yield f"{name} {one.percent} %, CHARGING"
    elif one.percent < DAY_PERCENT:
        if Feed.UNTOLD in feeds:
            yield f"{name} {one.percent} %"
        elif alone and one.feed is Feed.HELD:
            yield f"{name} {one.percent} %, PLUGGED IN, NOT CHARGING"
        else:
            yield f"{name} {one.percent} %, NOT CHARGING"
        if alone and one.left_s:
            hours, minutes = divmod(one.left_s // 60, 60)
            yield f"THE SYSTEM GIVES IT {hours} H {minutes:02d} MIN"


def _of_heat(zones: tuple[Zone, ...]) -> Iterator[str]:
    near = min((z.stops_at - z.at for z in zones if z.stops_at is not None), default=None)
    if near is not None and near <= HOT_MARGIN_C:
        yield f"HOT: {max(0, near)} C BELOW SHUTTING ITSELF DOWN"
    elif any(z.slows_at is not None and z.at >= z.slows_at for z in zones):
        yield "HOT: WHERE IT SLOWS DOWN TO COOL ITSELF"


# Linux ----------------------------------------------------------------------------------------


class _Reader:
    """Short files of the system, until the time is over."""

    def __init__(self) -> None:
        self._until = time.monotonic() + BUDGET_S

    def text(self, path: Path) -> str:
        """What stands in a file; empty where it cannot be read, or the time is over."""
        try:
            if time.monotonic() > self._until or not path.is_file():
                return ""
            with path.open("rb") as stream:
                return stream.read(64).decode("ascii", "replace").strip()
        except OSError:
            return ""

    def number(self, path: Path) -> int | None:
        """The whole number in a file."""
        text = self.text(path)
        return int(text) if re.fullmatch(r"-?[0-9]{1,12}", text) else None


def _linux(root: Path) -> Found:
    reader = _Reader()
    batteries = (_battery(path, reader) for path in _folders(root / "power_supply"))
    zones = (_zone(path, reader) for path in _folders(root / "thermal", "thermal_zone"))
    return Found(
        tuple(one for one in batteries if one is not None),
        tuple(one for one in zones if one is not None),
    )


def _folders(path: Path, start: str = "") -> list[Path]:
    try:
        return sorted(one for one in path.iterdir() if one.name.startswith(start))
    except OSError:
        return []


def _battery(path: Path, reader: _Reader) -> Battery | None:
    if reader.text(path / "type") != "Battery" or reader.text(path / "scope") == "Device":
        return None
    percent = reader.number(path / "capacity")
    if percent is None or not 0 <= percent <= 100 or reader.text(path / "present") == "0":
        return None
    status = reader.text(path / "status")
    feed = {
        "Charging": Feed.CHARGING, "Discharging": Feed.DRAINED, "Not charging": Feed.HELD,
        "Full": Feed.FULL,
    }.get(status, Feed.UNTOLD)  # fmt: skip
    left = reader.number(path / "time_to_empty_now") if status == "Discharging" else None
    return Battery(percent, feed, _seconds(left))


def _zone(path: Path, reader: _Reader) -> Zone | None:
    temperature = reader.number(path / "temp")
    if temperature is None:
        return None
    at = temperature // 1000
    stops: list[int] = []
    slows: list[int] = []
    for number in range(16):
        kind = reader.text(path / f"trip_point_{number}_type")
        trip = reader.number(path / f"trip_point_{number}_temp")
        if not kind:
            break
        if trip is not None and TRIPS_C[0] <= trip // 1000 <= TRIPS_C[1]:
            if kind == "critical":
                stops.append(trip // 1000)
            elif kind == "passive":
                slows.append(trip // 1000)
    if not TRIPS_C[0] - 100 <= at <= TRIPS_C[1]:
        return None
    return Zone(at, min(stops, default=None), min(slows, default=None))


def _seconds(told: int | None) -> int:
    return told if told is not None and _SHORTEST_TIME_S <= told <= _LONGEST_TIME_S else 0


# macOS and Windows ----------------------------------------------------------------------------


def _pmset() -> str:
    import subprocess

    done = subprocess.run(
        _PMSET, stdin=subprocess.DEVNULL, capture_output=True, timeout=TIMEOUT_S, check=False
    )
    return done.stdout.decode("utf-8", "replace")


def _mac(text: str) -> tuple[Battery, ...]:
    found = []
    for line in text.splitlines():
        match = _MAC.match(line)
        if match is None or int(match[1]) > 100:
            continue
        feed = {
            "charging": Feed.CHARGING, "finishing charge": Feed.CHARGING, "charged": Feed.FULL,
            "discharging": Feed.DRAINED, "AC attached": Feed.HELD,
        }.get(match[2].strip(), Feed.UNTOLD)  # fmt: skip
        told = int(match[3]) * 3600 + int(match[4]) * 60 if match[3] else None
        left = _seconds(told) if feed is Feed.DRAINED else 0
        found.append(Battery(int(match[1]), feed, left))
    return tuple(found)


def _windows() -> tuple[Battery, ...]:
    import ctypes

    class Status(ctypes.Structure):
        _fields_ = (
            ("line", ctypes.c_ubyte), ("flag", ctypes.c_ubyte), ("percent", ctypes.c_ubyte),
            ("reserved", ctypes.c_ubyte), ("left", ctypes.c_uint32), ("full", ctypes.c_uint32),
        )  # fmt: skip

    status = Status()
    library = getattr(ctypes, "windll").kernel32  # noqa: B009 - there is one on Windows alone
    if not library.GetSystemPowerStatus(ctypes.byref(status)):
        return ()
    # 255: nothing is known; 128: there is no battery.
    if status.flag == 255 or status.flag & 128 or status.percent > 100:
        return ()
    plugged = Feed.FULL if status.percent == 100 else Feed.HELD
    feed = {0: Feed.DRAINED, 1: plugged}.get(status.line, Feed.UNTOLD)
    if status.flag & 8:
        feed = Feed.CHARGING
    left = _seconds(status.left) if feed is Feed.DRAINED else 0
    return (Battery(status.percent, feed, left),)
