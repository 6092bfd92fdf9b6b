"""Are the runs of a device all there, once each, in their order?

Rules: looks at first lines and final heads only; whether a log itself holds is `verify`'s business.
Any mixture of devices and folders is taken device by device; what is missing is asked for only
where a folder was named, not of logs named one by one. The deletion of the newest run shows
nowhere among the logs that are left: that takes a witness elsewhere.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

from audit.errors import FolderError
from audit.folder import DEVICE_FILE, RunInfo, device_of, read_info
from audit.verify import logs_of

_BLOCK = 1 << 16


class Finding(NamedTuple):
    """One thing that is wrong with logs taken together.

    `code` is stable: `missing`, `doubled`, `forked`, `unchained`, `foreign` or `device` here,
    `receipt` from a receipt; `run_seq` is the run concerned (0 where a file is no device's run);
    `why` is a sentence.
    """

    code: str
    device: str
    run_seq: int
    why: str

    def text(self) -> str:
        """One line for people, the code first."""
        return f"{self.code}: {self.why}"


def distinct(paths: Iterable[Path]) -> list[Path]:
    """The logs that paths name, each file once, in the order named."""
    return list({log.resolve(): log for path in paths for log in logs_of(path)}.values())


def findings(paths: Sequence[Path]) -> list[Finding]:
    """What is missing from, doubled, forked or strange among the logs that paths name."""
    found: list[Finding] = []
    devices: dict[str, list[RunInfo]] = defaultdict(list)
    whole: set[str] = set()
    # a path that is a log has nothing beneath it, and is the home of none
    folders = {path.resolve(): _device_beside(path) for path in paths}
    for log in distinct(paths):
        info = info_of(log)
        if info is None:
            found.append(Finding("foreign", "", 0, f"{log.name} does not begin as a log"))
            continue
        devices[info.device].append(info)
        home = log.resolve().parent
        if home not in folders:
            continue
        whole.add(info.device)
        if folders[home] not in (None, info.device):
            why = f"{log.name} is a run of another device than {DEVICE_FILE} beside it"
            found.append(Finding("device", info.device, info.run_seq, why))
    for device, infos in sorted(devices.items()):
        found += _of_device(device, infos, complete=device in whole)
    return found


def info_of(log: Path) -> RunInfo | None:
    """What a log says of itself; `None` if it does not begin as one."""
    try:
        return read_info(log)
    except OSError as error:
        raise FolderError(f"{log}: cannot be read: {error.strerror or error}") from None


def short(device: str) -> str:
    """A device for people."""
    return f"device {device[:12]}"


def _device_beside(folder: Path) -> str | None:
    if not (folder / DEVICE_FILE).exists():
        return None
    try:
        return device_of(folder)
    except OSError as error:
        path = folder / DEVICE_FILE
        raise FolderError(f"{path}: cannot be read: {error.strerror or error}") from None


def _of_device(device: str, infos: list[RunInfo], *, complete: bool) -> list[Finding]:
    found = []
    infos = sorted(infos, key=lambda info: (info.run_seq, info.run, info.path.name))
    expected = 1
    before: list[RunInfo] = []
    for run_seq, group in groupby(infos, key=lambda info: info.run_seq):
        here = list(group)
        if complete and run_seq > expected:
            found.append(_missing(device, expected, here[0]))
        for other in here[1:]:
            found.append(_twice(device, here[0], other))
        if before and before[0].run_seq == run_seq - 1:
            found += [
                Finding("unchained", device, run_seq, _parted(device, info, before))
                for info in here
                if not any(_follows(info, earlier) for earlier in before)
            ]
        before, expected = here, run_seq + 1
    return found


def _missing(device: str, first: int, later: RunInfo) -> Finding:
    last = later.run_seq - 1
    which = f"run {first}" if last == first else f"runs {first} to {last}"
    why = f"{which} of {short(device)}; {later.run} begins where {later.prev_run} ended"
    return Finding("missing", device, first, why)


def _twice(device: str, one: RunInfo, other: RunInfo) -> Finding:
    which = f"run {one.run_seq} of {short(device)}"
    places = f"{one.path} and {other.path}"
    shorter, longer = sorted((one.path, other.path), key=lambda path: path.stat().st_size)
    if not _begins_with(longer, shorter):
        why = f"{places} are both {which}, with different lines"
        return Finding("forked", device, one.run_seq, why)
    why = f"{places} are the same {which}"
    if one.head != other.head:
        why = f"{shorter} is an earlier state of {longer}, {which}"
    return Finding("doubled", device, one.run_seq, why)


def _begins_with(longer: Path, shorter: Path) -> bool:
    with longer.open("rb") as theirs, shorter.open("rb") as ours:
        while block := ours.read(_BLOCK):
            if theirs.read(len(block)) != block:
                return False
    return True


def _follows(later: RunInfo, earlier: RunInfo) -> bool:
    return later.prev_run == earlier.run and later.prev == earlier.head


def _parted(device: str, later: RunInfo, before: list[RunInfo]) -> str:
    names = " or ".join(info.run for info in before)
    return (
        f"{later.run} does not begin where {names} of {short(device)} ends: "
        "one of them was cut, lengthened or replaced"
    )
