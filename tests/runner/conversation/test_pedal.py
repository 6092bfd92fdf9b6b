"""A pedal is read as the kernel tells of it: presses, releases, nothing else."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.conversation.pedal import EVENT, NoPedal, Pedal, told
from tests.runner.speech.sound import until

KEY, RELATIVE, SYNC = 1, 2, 0


def event(kind: int, value: int) -> bytes:
    """One event of key 0x130."""
    return EVENT.pack(1, 2, kind, 0x130, value)


@given(st.lists(st.tuples(st.sampled_from((KEY, RELATIVE, SYNC)), st.integers(0, 2))), st.data())
def test_presses_and_releases_come_out_however_the_bytes_are_cut(
    events: list[tuple[int, int]], data: st.DataObject
) -> None:
    content = b"".join(event(*one) for one in events)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(content)), max_size=5)))
    found: list[bool] = []
    rest = b""
    for begin, end in zip([0, *cuts], [*cuts, len(content)], strict=True):
        one = told(rest + content[begin:end])
        found += one.downs
        rest = one.rest
    assert found == [value == 1 for kind, value in events if kind == KEY and value in (0, 1)]
    assert rest == b""


@pytest.mark.skipif(sys.platform == "win32", reason="no such devices there")
def test_a_device_that_goes_away_comes_up_and_is_told_of(tmp_path: Path) -> None:
    pipe = tmp_path / "pedal"
    os.mkfifo(pipe)
    pressed: list[bool] = []
    gone: list[str] = []
    pedal = Pedal(pipe, pressed.append, gone.append)
    writer = os.open(pipe, os.O_WRONLY)
    pedal.start()
    os.write(writer, event(KEY, 1) + event(SYNC, 0) + event(KEY, 2))
    until(lambda: pressed == [True], "the press")
    os.write(writer, event(KEY, 0)[:7])
    os.write(writer, event(KEY, 0)[7:] + event(KEY, 1))
    until(lambda: pressed == [True, False, True], "the release, and another press")
    os.close(writer)
    until(lambda: gone, "a word on the loss")
    until(lambda: pressed[-1] is False, "the key that came up")
    assert gone[0].startswith(f"NO PEDAL: {pipe}: ")
    pedal.stop()


@pytest.mark.skipif(sys.platform == "win32", reason="no such devices there")
def test_a_pedal_that_is_stopped_while_it_is_down_comes_up(tmp_path: Path) -> None:
    pipe = tmp_path / "pedal"
    os.mkfifo(pipe)
    pressed: list[bool] = []
    gone: list[str] = []
    pedal = Pedal(pipe, pressed.append, gone.append)
    writer = os.open(pipe, os.O_WRONLY)
    pedal.start()
    os.write(writer, event(KEY, 1))
    until(lambda: pressed == [True], "the press")
    pedal.stop()
    assert pressed == [True, False]
    assert not gone
    os.close(writer)


def test_no_device_is_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(NoPedal, match=r"cannot be read .*TAB talks all the same"):
        Pedal(tmp_path / "none", lambda down: None, lambda text: None)
