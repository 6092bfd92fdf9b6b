"""Are the runs of a device all there, once each, in their order?

Rules: looks at first lines and final heads only; whether a log itself holds is `verify`'s business.
A deletion of the newest run shows nowhere in a folder: that takes a witness outside it.
"""

import os
from collections import defaultdict
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

from audit.errors import FolderError
from audit.folder import SUFFIX, RunInfo, read_info


class Finding(NamedTuple):
    """`code` is `missing`, `doubled`, `forked` or `foreign`; `run_seq` is the run concerned
    (0 where a file is none of a device's runs); `why` is a sentence."""

    code: str
    device: str
    run_seq: int
    why: str


def gaps(folder: Path) -> list[Finding]:
    """What is missing from, doubled in or forked among the logs of a folder, device by device."""
    devices: dict[str, list[RunInfo]] = defaultdict(list)
    findings = []
    for path in sorted(folder.glob(f"*{SUFFIX}")):
        try:
            info = read_info(path)
        except OSError as error:
            raise FolderError(f"{path}: cannot be read: {os.strerror(error.errno or 0)}") from None
        if info is None:
            findings.append(Finding("foreign", "", 0, f"{path.name} does not begin as a log"))
        else:
            devices[info.device].append(info)
    for device, infos in sorted(devices.items()):
        findings += _of_device(device, sorted(infos, key=lambda info: (info.run_seq, info.run)))
    return findings


def _of_device(device: str, infos: list[RunInfo]) -> list[Finding]:
    findings = []
    name = f"device {device[:12]}"
    expected = 1
    for info in infos:
        if info.run_seq > expected:
            last = info.run_seq - 1
            which = f"run {expected}" if last == expected else f"runs {expected} to {last}"
            findings.append(Finding("missing", device, expected, f"missing: {which} of {name}"))
        expected = info.run_seq + 1
    for earlier, later in pairwise(infos):
        if earlier.run_seq == later.run_seq:
            why = f"doubled: {earlier.run} and {later.run} are both run {later.run_seq} of {name}"
            findings.append(Finding("doubled", device, later.run_seq, why))
        elif later.run_seq == earlier.run_seq + 1 and (
            later.prev_run != earlier.run or later.prev != earlier.head
        ):
            why = f"forked: {later.run} does not begin where {earlier.run} of {name} ends"
            findings.append(Finding("forked", device, later.run_seq, why))
    return findings
