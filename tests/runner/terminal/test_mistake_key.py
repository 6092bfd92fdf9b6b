"""BACK on the page of memory items leaves a drill opened by mistake, and no other."""

from __future__ import annotations

from types import ModuleType

import pytest

from runner.engine.effects import Prompt
from runner.terminal.aside import Size


@pytest.mark.parametrize("key", ["backspace", "escape"])
def test_back_leaves_a_drill_of_which_nothing_is_done(fakes: ModuleType, key: str) -> None:
    for may_be, sent in ((True, ["drill opened by mistake"]), (False, [])):
        view = fakes.view(prompt=Prompt.MEMORY_ITEMS, is_drill=True, may_be_mistake=may_be)
        pad = fakes.Pad(view, Size(40, 12))
        pad.key(key)
        assert pad.sent == sent
        assert ("WRONG" in pad.screen) is may_be
