"""Readings: a number taken, read back where it matters, compared exactly, and its trend watched.

Rules: a value outside the plausible range or with more decimals than the instrument shows is
never taken; *affirm* is asked out of limits, and for a spoken value also near a limit, where it
decides a branch, or where the recogniser was unsure; a threshold ("below 80") meets a limit that
it implies and gives no number; an expired by-time makes the step unmet whatever the value.
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from functools import cache

from runner.engine.asking import Choosing, Pending, Trend
from runner.engine.draft import EXACT, Draft
from runner.engine.drills import open_drill
from runner.engine.errors import Refused
from runner.engine.events import Answer
from runner.engine.limits import Limit, Threshold, implies
from runner.engine.newer import read_anew
from runner.engine.passing import passed
from runner.engine.people import both_looked
from runner.engine.state import NEVER, How, Timer, Visit
from runner.engine.table import Reading, Step, Unmet
from runner.engine.waits import condition_read

POINTS_KEPT = 240


@cache
def _unit(decimals: int) -> Decimal:
    return Decimal((0, (1,), -decimals))


def parse(reading: Reading, text: str) -> Decimal:
    """The number of an answer; refuses what is no number, too fine, or implausible."""
    try:
        value = Decimal(text.strip())
    except InvalidOperation:
        raise Refused("not a number", reading.unit) from None
    if not value.is_finite() or len(text) > 20:
        raise Refused("not a number", reading.unit)
    if not reading.low <= value <= reading.high:
        raise Refused("implausible", f"{text} {reading.unit}", f"{reading.low} to {reading.high}")
    exact = value.quantize(_unit(reading.decimals), context=EXACT)
    if exact != value:
        raise Refused("decimals", text, str(reading.decimals))
    return exact if exact else exact.copy_abs()


def threshold(text: str) -> Threshold | None:
    """The threshold of an answer such as `below 80`, or None."""
    words = text.lower().split()
    if len(words) == 2 and words[0] in ("below", "above"):
        try:
            value = Decimal(words[1])
        except InvalidOperation:
            return None
        if value.is_finite():
            return Threshold("below" if words[0] == "below" else "above", value)
    return None


def reading_of(draft: Draft, step: Step, sub: int) -> tuple[Reading, Limit | None]:
    """The reading a question asks and its limit: the step's own, or a condition of its wait."""
    if step.wait is not None and sub >= 0:
        name, limit = step.wait.conditions[sub]
        return draft.table.readings[name], limit
    return draft.table.readings[step.reading], step.limit


def answer_reading(draft: Draft, visit: Visit, index: int, step: Step, event: Answer) -> None:
    """Takes a value for the reading in question."""
    sub = draft.question.sub
    if step.wait is not None and sub < 0:
        raise Refused("waiting")
    latch = visit.latches[index]
    if latch.how is How.UNMET and latch.value and step.unmet is Unmet.STOP:
        raise Refused("stopped")
    reading, limit = reading_of(draft, step, sub)
    limb = threshold(event.value)
    if limb is not None:
        _threshold(draft, visit.number, index, step, limit, limb, event)
        return
    why, text = drop(draft, step, event.value)
    value = parse(reading, text)
    if wants_affirm(draft, visit, index, step, value, limit, event):
        draft.pending = Pending(
            f"{why}|{value}", event.role, event.source, draft.question.place, draft.at
        )
        draft.tell("read back", step.id, str(value))
        return
    take(draft, visit.number, index, step, value, event.role, draft.at, why)


def drop(draft: Draft, step: Step, text: str) -> tuple[str, str]:
    """("drop 80", the value) for an answer called as a drop from its base, else ("", the text)."""
    words = text.lower().split() if step.drop_from else []
    if len(words) == 2 and words[0] == "drop":
        base = draft.values.get(step.drop_from)
        if not isinstance(base, Decimal):
            raise Refused("blocked", step.drop_from)
        reading = draft.table.readings[step.reading]
        fallen = parse(
            Reading("", "", reading.unit, reading.decimals, Decimal(0), reading.high), words[1]
        )
        return f"drop {words[1]}", str(EXACT.subtract(base, fallen))
    return "", text


def _threshold(
    draft: Draft, number: int, index: int, step: Step, limit: Limit | None, limb: Threshold,
    event: Answer,
) -> None:  # fmt: skip
    reading, _ = reading_of(draft, step, draft.question.sub)
    if not reading.low <= limb.value <= reading.high:
        raise Refused("implausible", str(limb.value), f"{reading.low} to {reading.high}")
    if draft.question.sub >= 0 or limit is None:
        raise Refused("not a value")
    if _number_wanted(draft, step.gives):
        raise Refused("not a value")
    if not implies(limb, limit):
        raise Refused("not an answer", limit.text())
    if not event.sure:
        raise Refused("unsure")
    text = f"{limb.side} {limb.value}"
    if both_looked(draft, step, (number, index, -1), event.role, text):
        # What was read before is no longer so, and nobody has said a number.
        draft.give(step.gives, None)
        _record(draft, number, index, step, text, met=True, at=draft.at, why="")
        read_anew(draft, step.reading, limb, (number, index))


def _number_wanted(draft: Draft, name: str) -> bool:
    """Whether a condition, a formula, a drop or the end of a drill reads this value."""
    if draft.table.dependents.get(name):
        return True
    return any(
        end.when is not None and name in end.when.names
        for drill in draft.table.drills
        for end in draft.table.flows[drill].ends
    )


def wants_affirm(
    draft: Draft, visit: Visit, index: int, step: Step, value: Decimal,
    limit: Limit | None, event: Answer,
) -> bool:  # fmt: skip
    """Whether this value is read back before it is taken."""
    if not event.sure:
        return True
    sub = draft.question.sub
    repeated = visit.latches[index].how is How.UNMET or (
        visit.wait is not None and bool(visit.wait.last)
    )
    if limit is not None and not limit.meets(value):
        # The first value out of limits is affirmed; the next ones on its way back are not, and
        # what branches or stops always is.
        return not repeated or (sub < 0 and step.unmet is not Unmet.WAIT)
    if event.source != "voice":
        return False
    reading, _ = reading_of(draft, step, sub)
    if limit is not None and limit.near(value, reading.near):
        return True
    ids = draft.table.dependents.get(step.gives, frozenset()) if sub < 0 else frozenset()
    return any(
        s.when is not None and step.gives in s.when.names
        for s in (draft.table.steps[i] for i in ids)
    )


def take(
    draft: Draft, number: int, index: int, step: Step, value: Decimal, role: str, at: int,
    why: str = "",
) -> None:  # fmt: skip
    """Takes a value, read at `at`; one pair of eyes is enough to find it unmet."""
    sub = draft.question.sub
    _, limit = reading_of(draft, step, sub)
    met = limit is None or limit.meets(value)
    if met and not both_looked(draft, step, (number, index, sub), role, str(value)):
        return
    if step.wait is not None:
        condition_read(draft, number, sub, value, at)
        read_anew(draft, step.wait.conditions[sub][0], value, (number, index))
        return
    draft.give_at((number, index), step.gives, value)
    # Before what an unmet value leads to: a drill that ends in a restart leaves nothing to open.
    read_anew(draft, step.reading, value, (number, index))
    _record(draft, number, index, step, str(value), met=met, at=at, why=why)


def in_time(draft: Draft, step: Step) -> bool:
    """Whether the by-time of a step was met or is not past; one that never started was not."""
    if not step.within:
        return True
    timer: Timer | None = draft.timers.get(step.within)
    if timer is None or timer.over:
        return False
    return timer.met or draft.at < timer.began + draft.table.timers[step.within].length


def _record(
    draft: Draft, number: int, index: int, step: Step, text: str, *, met: bool, at: int, why: str
) -> None:
    late = met and not in_time(draft, step)
    if met and not late:
        draft.come(number, index, How.ANSWERED, text, at, why)
        draft.tell("met", step.id, text)
        draft.trend = None
        passed(draft, step)
        return
    draft.come(number, index, How.UNMET, text, at, "late" if late else why)
    draft.tell("unmet", step.id, text, *(("late",) if late else ()))
    if step.unmet is Unmet.BRANCH:
        open_drill(draft, step.branch)
    elif step.unmet is Unmet.WAIT and not late:
        follow(draft, number, index, step, text)


def follow(draft: Draft, number: int, index: int, step: Step, text: str) -> None:
    """Adds a value to the trend of an unmet limit and notices when it stops moving."""
    trend = draft.trend
    if trend is None or (trend.visit, trend.step) != (number, index):
        trend = Trend(number, index, draft.at)
    points = (*trend.points, (draft.at, text))[-POINTS_KEPT:]
    draft.trend = trend._replace(points=points)
    reading = draft.table.readings[step.reading]
    if step.limit is not None and reading.plateau is not None:
        # After "wait on" the window begins anew: only what came since is judged.
        fresh = [(at, Decimal(v)) for at, v in points if at >= trend.noticed]
        if is_plateau(fresh, step.limit, reading.plateau.less_than, reading.plateau.over, draft.at):
            notice(draft, step)


def is_plateau(
    points: list[tuple[int, Decimal]], limit: Limit, less_than: Decimal, over: int, now: int
) -> bool:
    """Whether the best of the last `over` ms is not `less_than` better than the best before."""
    before = [value for at, value in points if at <= now - over]
    window = [value for at, value in points if at > now - over]
    if not before or not window:
        return False
    had, has = limit.distance(_best(limit, before)), limit.distance(_best(limit, window))
    return EXACT.subtract(had, has) < less_than


def _best(limit: Limit, values: list[Decimal]) -> Decimal:
    best = values[0]
    for value in values[1:]:
        best = limit.better(best, value)
    return best


def notice(draft: Draft, step: Step) -> None:
    """Says that the value has stopped moving short of its limit, and offers the choices."""
    if draft.trend is not None:
        draft.trend = draft.trend._replace(noticed=draft.at)
    options = ["WAIT ON"]
    if step.drill:
        options.append("DRILL " + draft.table.flows[step.drill].title.upper())
    options.append("DISCONTINUE")
    draft.choosing = Choosing("plateau", tuple(options), draft.question.place)
    draft.tell("plateau", step.id)


def notice_deadline(draft_trend: Trend | None, reading: Reading | None) -> int | None:
    """When a limit that waits is noticed without any reading."""
    if draft_trend is None or reading is None or reading.notice_after is None:
        return None
    since = draft_trend.began if draft_trend.noticed == NEVER else draft_trend.noticed
    return since + reading.notice_after
