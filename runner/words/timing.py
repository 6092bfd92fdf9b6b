"""Times as people read them: run time, minutes and hours of flight.

Rules: minutes are stored and added, hours are only shown; a time is cut off, never rounded up, so
that nothing is shown as over before it is.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Context, Decimal

_CONTEXT = Context(prec=28)


def clock_text(ms: int) -> str:
    """Run time in ms as `h:mm:ss`."""
    seconds = max(0, ms) // 1000
    return f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"


def hours(minutes: int) -> Decimal:
    """Minutes as hours with one decimal: for showing only, sums are made of minutes."""
    exact = _CONTEXT.divide(Decimal(minutes), Decimal(60))
    return exact.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP, context=_CONTEXT)
