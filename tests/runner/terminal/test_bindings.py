"""The keys of the library that the full screen does without: its editing keys."""

from __future__ import annotations

from prompt_toolkit.application import application
from prompt_toolkit.input import create_pipe_input
from prompt_toolkit.keys import Keys
from prompt_toolkit.output import DummyOutput

from runner.terminal import fullscreen


def test_the_screen_is_made_without_the_editing_keys_and_keeps_what_a_terminal_says() -> None:
    # what is put aside must be what the library makes its keys with
    assert "load_key_bindings" in vars(application)
    with create_pipe_input() as source:
        shell = fullscreen.FullScreen(source=source, sink=DummyOutput())
        app = shell._application()
    library, own = app._default_bindings.bindings, app.key_bindings
    assert own is not None
    keys = {key for binding in (*library, *own.bindings) for key in binding.keys}
    assert Keys.CPRResponse in keys
    assert Keys.Vt100MouseEvent in keys
    assert Keys.ControlA not in keys
    assert len(library) < 10
