"""What the answer of a step brings with it, beside being an answer.

Rules: this runs once for each time a step comes to be answered: what turns, counters, moments and
by-times change here and nowhere else; acceptance and paper bring nothing of it, since nobody has
said that it is so (an acceptance notes its moment, so that no wait counts from an earlier one).
What an answer enters in the technical log stays known until the next flight, though the counter
begins at zero. A by-time that runs out makes the steps unmet that had to be met while it ran.
"""

from __future__ import annotations

from decimal import Decimal

from runner.engine.book import Book
from runner.engine.draft import Draft
from runner.engine.state import NEVER, How, Latch, Timer, blocked, may_pass
from runner.engine.table import Step, Table

_ENTERED = " entered"


def passed(draft: Draft, step: Step, *, marked: bool = False) -> None:
    """Performs what the author wrote beside the answer of this step; a mark is made only once."""
    for what, now in step.turns:
        turn(draft, what, now)
    for name, by in step.adds:
        draft.count(name, by)
    kept = entering(step)
    for name in step.clears:
        if kept:
            draft.count(entered(name), int(draft.values.get(name, Decimal(0))))
        draft.give(name, Decimal(0))
    for moment in step.notes:
        draft.note(moment)
    for name in step.ends:
        draft.stop_timer(name)
    if step.within:
        draft.stop_timer(step.within, met=True)
    if step.timer:
        start_timer(draft, step.timer)
    if step.mark and not marked:
        fly(draft, step.mark, draft.at)


def entering(step: Step) -> bool:
    """Whether this answer says that counts stand in the technical log.

    It is asked because of what it clears.
    """
    when = step.own_when
    return when is not None and not when.names.isdisjoint(step.clears)


def entered(name: str) -> str:
    """The name by which what was entered of a counter in this flight is known.

    It is no name that a document can write.
    """
    return f"{name}{_ENTERED}"


def flight_begins(draft: Draft) -> None:
    """What an earlier flight entered, or left standing as run out, is that flight's."""
    for name in [known for known in draft.values if known.endswith(_ENTERED)]:
        draft.give(name, None)
    end_left_over(draft, standing=True)


def end_left_over(draft: Draft, *, standing: bool = False) -> None:
    """Ends each by-time that ran out and that no live step answers, once the engine is `standing`.

    It stays run out: nothing is met by it, and only the list that starts it begins it anew.
    """
    if draft.engine and not standing:
        return
    over = [n for n, timer in draft.timers.items() if timer.over and timer.ended == NEVER]
    if not over:
        return
    live = [step for visit in draft.live() for step in draft.flow(visit).steps]
    answered = {name for step in live for name in (step.timer, step.within, *step.ends)}
    for name in sorted(set(over) - answered):
        draft.stop_timer(name)


def fly(draft: Draft, what: str, when: int) -> None:
    """The aircraft has taken off or landed, if it had not before; this answers every live step."""
    if (what == "take-off") != draft.airborne:
        take_mark(draft, what, when)


def take_mark(draft: Draft, what: str, when: int) -> None:
    """Take-off or landing: the truth, the mark, and every live step that this mark answers."""
    up = what == "take-off"
    if up != draft.airborne:
        draft.airborne = up
        draft.give("airborne", up)
    draft.marked(what, when)
    draft.tell("marked", what, str(when))
    for visit in list(draft.live()):
        for index, step in enumerate(draft.flow(visit).steps):
            latch = draft.visit(visit.number).latches[index]
            if step.mark == what and not blocked(latch) and not may_pass(step, latch):
                answer = Latch(How.ANSWERED, what.upper(), when, "mark", latch.back)
                draft.latch(visit.number, index, answer)
                draft.tell("met", step.id, what)
                passed(draft, step, marked=True)


def start_timer(draft: Draft, name: str) -> None:
    """Starts a by-time, again if it was met before or its step was asked anew.

    One that runs or ran out is not touched.
    """
    timer = draft.timers.get(name)
    if timer is None or timer.again or timer.ended != NEVER:
        drill = draft.drill
        muted = drill is not None and name in draft.flow(drill).mutes
        draft.timer(name, Timer(draft.at, muted=muted))
        draft.tell("timer started", name)


def resume_timer(draft: Draft, name: str) -> None:
    """A by-time that was met by a value now found wrong runs on, or has run out meanwhile."""
    timer = draft.timers.get(name)
    if timer is not None and timer.ended != NEVER and not timer.over:
        over = timer.began + draft.table.timers[name].length <= draft.at
        draft.timer(name, timer._replace(ended=NEVER, over=over, met=False))
        if over:
            draft.tell("timer over", name)


def turn(draft: Draft, what: str, now: bool) -> None:
    """Engine or rotor starts or stops: the truths, the moment, and the counters of hours."""
    before = draft.engine if what == "engine" else draft.rotor
    if what == "engine":
        draft.engine = now
        draft.give("engine_running", now)
    else:
        draft.rotor = now
        draft.give("rotor_turning", now)
    if before != now:
        event = f"{what} {'start' if now else 'stop'}"
        draft.marked(event, draft.at)
        draft.tell("marked", event, str(draft.at))
    if before != now and not now:
        draft.moments = draft.moments.having(f"{what} stopped", draft.at)
        end_left_over(draft)


def contradicts(draft: Draft, turns: tuple[tuple[str, bool], ...]) -> bool:
    """Whether what is said to turn or to stand is other than what the log knows."""
    known = {"engine": draft.engine, "rotor": draft.rotor}
    return any(known[what] != now for what, now in turns)


def timers_due(draft: Draft) -> bool:
    """Makes the calls of every by-time that has come to them, and runs out those at their end."""
    changed = False
    for name in sorted(draft.timers):
        timer: Timer = draft.timers[name]
        if timer.over or timer.ended != NEVER:
            continue
        rule = draft.table.timers[name]
        calls = sum(1 for call in rule.calls if timer.began + call <= draft.at)
        over = timer.began + rule.length <= draft.at
        if calls == timer.calls and not over:
            continue
        draft.timer(name, timer._replace(calls=calls, over=over))
        if over:
            draft.tell("timer over", name)
            run_out(draft, name)
            end_left_over(draft)
        else:
            draft.tell("timer call", name, str(rule.calls[calls - 1] // 1000))
        changed = True
    return changed


def run_out(draft: Draft, name: str) -> None:
    """Makes every live step unmet that had to be met before this by-time ran out."""
    for visit in list(draft.live()):
        for index, step in enumerate(draft.flow(visit).steps):
            latch = visit.latches[index]
            if step.within == name and latch.how is How.OPEN and not blocked(latch):
                draft.latch(visit.number, index, Latch(How.UNMET, "", draft.at, "late", latch.back))
                draft.tell("unmet", step.id, "", "late")


_last: tuple[Table | None, Book | None, tuple[int, ...]] = (None, None, ())


def timer_deadlines(table: Table, timers: Book) -> tuple[int, ...]:
    """When the running by-times want to be woken; found anew only where they changed."""
    global _last
    of, held, known = _last
    if held is timers and of is table:
        return known
    found = []
    for name, timer in timers.items():
        if timer.ended != NEVER or timer.over:
            continue
        rule = table.timers[name]
        upcoming = [timer.began + c for c in rule.calls[timer.calls :]]
        found.append(min([*upcoming, timer.began + rule.length]))
    known = tuple(found)
    _last = (table, timers, known)
    return known
