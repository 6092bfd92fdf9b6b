"""The names that the tests of expressions share, and the same names as the reference reads them."""

from __future__ import annotations

from cel_expr_python import cel as raw  # type: ignore[import-untyped]

from runner.engine.conditions import NameType

NAMES = {
    "hook": NameType("text", label="cargo hook", allowed=("FITTED", "NOT FITTED", "RIGGED")),
    "cold": NameType("truth", label="cold day"),
    "passengers": NameType("truth"),
    "oil_temp": NameType("number", 0, "°C"),
    "head_temp": NameType("number", 0, "°C"),
    "left": NameType("number", 2, "inHg"),
    "right": NameType("number", 2, "inHg"),
    "hours": NameType("number", 1, "h"),
    "starts": NameType("number", 0, "count"),
}
TYPES = {"text": raw.Type.STRING, "truth": raw.Type.BOOL, "number": raw.Type.DOUBLE}
RAW = raw.NewEnv(variables={name: TYPES[kind.kind] for name, kind in NAMES.items()})
