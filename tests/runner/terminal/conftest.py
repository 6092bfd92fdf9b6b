"""The hand-made views and desk, for every test of the terminal."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from runner.engine.effects import Listen
from tests.runner.terminal.keyboard import Keyboard

FAKES = Path(__file__).with_name("fakes.py")


def _load() -> ModuleType:
    name = "terminal_fakes"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, FAKES)
        if spec is None or spec.loader is None:
            raise ImportError(FAKES)
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


@pytest.fixture(scope="session")
def fakes() -> ModuleType:
    """The module of hand-made views."""
    return _load()


@pytest.fixture
def board(fakes: ModuleType) -> Any:
    """A keyboard over a view with what is given changed."""

    def make(listen: Listen | None = None, **changes: Any) -> Keyboard:
        return Keyboard(fakes.view(**changes), listen or fakes.listen())

    return make
