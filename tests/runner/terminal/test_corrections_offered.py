"""What the page of corrections offers: answers of the crew, and nothing that was computed."""

from __future__ import annotations

from types import ModuleType

from runner.engine.effects import Line
from runner.terminal.pagekeys import corrections


def test_a_computed_value_is_not_offered_for_correction(fakes: ModuleType) -> None:
    given = Line(7, "Left", "", "1500", "answered", key="magnetos.left")
    drop = Line(8, "Left drop", "25 to 125", "60", "answered", key="magnetos.left_drop")
    for computed, offered in ((False, ["correct Left drop ", "correct Left "]),
                              (True, ["correct Left "])):  # fmt: skip
        view = fakes.view(before=(given, drop._replace(computed=computed)), latest=None)
        assert [command.line for command in corrections(view)] == offered
