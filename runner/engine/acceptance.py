"""Going on with an unmet limit or an open item: put off, accepted, unable, and the choices.

Rules: only the author decides who may let a step go by; the commander accepts with one of the
aircraft's reasons; an emergency acceptance opens a defect; maintenance only is never accepted,
a maintenance entry makes the step be asked anew; what came back cannot be put off again.
"""

from __future__ import annotations

from runner.engine.answers import answer, normal
from runner.engine.asking import PLACED, Choosing
from runner.engine.deciding import reopen
from runner.engine.draft import Draft
from runner.engine.drills import chosen_end, discontinue, open_drill
from runner.engine.errors import Refused
from runner.engine.events import Accept, Answer
from runner.engine.interruptions import FACTS, chosen
from runner.engine.progress import why_aside
from runner.engine.state import How, Latch, blocked
from runner.engine.table import AcceptClass, Kind, Step
from runner.engine.words import find


def put_off(draft: Draft) -> None:
    """Sets the step in question aside; it comes back at its trigger or at its list's end."""
    visit, index, step, latch = draft.here()
    _free_to_leave(draft)
    if not step.may_put_off or draft.question.sub >= 0:
        raise Refused("may not put off")
    if latch.back:
        raise Refused("already back")
    if blocked(latch):
        raise Refused("blocked", latch.why)
    why = why_aside(latch)
    draft.choosing = None
    draft.looks = ()
    draft.latch(visit.number, index, latch._replace(how=How.PUT_OFF, why=why, at=draft.at))
    draft.tell("put off", step.id)


def _free_to_leave(draft: Draft) -> None:
    """Refuses where the choice that stands is not about the step: it must be made first."""
    choosing = draft.choosing
    if choosing is not None and choosing.kind not in PLACED:
        raise Refused("choose", ", ".join(choosing.options))


def accept(draft: Draft) -> None:
    """The commander lets the step in question go by, in the class that its author wrote."""
    event = draft.event
    if not isinstance(event, Accept):
        raise TypeError(event)
    if not event.sure:
        raise Refused("unsure")
    visit, index, step, latch = draft.here()
    _free_to_leave(draft)
    if step.kind in (Kind.CLOSING, Kind.REMARK) or latch.how not in (How.OPEN, How.UNMET):
        raise Refused("nothing to accept")
    if step.accept is None:
        raise Refused("nobody may accept")
    if blocked(latch) and step.kind is not Kind.COMPUTED:
        raise Refused("blocked", latch.why)
    if step.accept is AcceptClass.MAINTENANCE:
        raise Refused("maintenance only")
    if event.role != "commander" and not draft.alone():
        raise Refused("commander only")
    if step.accept is AcceptClass.EMERGENCY and not event.emergency:
        raise Refused("emergency only")
    reason = " ".join(event.reason.split())
    if step.accept is AcceptClass.COMMANDER:
        known = {normal(r): r for r in draft.table.reasons}
        if normal(reason) not in known:
            raise Refused("reason", "; ".join(draft.table.reasons))
        reason = known[normal(reason)]
    elif not reason:
        raise Refused("text")
    draft.clear_pending()
    if visit.wait is not None and visit.wait.step == index:
        draft.put(visit._replace(wait=None))
    draft.latch(visit.number, index, Latch(How.ACCEPTED, latch.value, draft.at, reason, latch.back))
    for timer in (step.within, *step.ends):
        if timer:
            draft.stop_timer(timer)
    for moment in step.notes:
        # What waits since this moment must not count from an earlier one.
        draft.note(moment)
    draft.count("accepted_items", 1)
    draft.tell("accepted", step.id, step.accept.value, latch.value, reason)
    if step.accept is AcceptClass.EMERGENCY:
        draft.defect(f"{step.challenge}: continued, emergency only ({reason})", step.id)


def maintenance(draft: Draft, note: str) -> None:
    """A maintenance entry: what only it clears is asked anew, a computed value from its inputs."""
    draft.tell("noted", "maintenance", note)
    for visit in list(draft.live()):
        for index, step in enumerate(draft.flow(visit).steps):
            latch = draft.visit(visit.number).latches[index]
            if step.accept is not AcceptClass.MAINTENANCE or latch.how is not How.UNMET:
                continue
            _inputs_anew(draft, step)
            reopen(draft, visit.number, index)
            draft.keep_defects(
                tuple(d._replace(open=False) if d.where == step.id else d for d in draft.defects)
            )


def _inputs_anew(draft: Draft, step: Step) -> None:
    if step.formula is None:
        return
    for visit in list(draft.live()):
        for index, other in enumerate(draft.flow(visit).steps):
            if other.gives in step.formula.names:
                reopen(draft, visit.number, index)


def unable(draft: Draft) -> None:
    """Opens the choice of what to do instead."""
    _, _, step, latch = draft.here()
    if step.kind in (Kind.CLOSING, Kind.CAUTION):
        raise Refused("unable here")
    options = []
    if step.may_put_off and not latch.back and draft.question.sub < 0:
        options.append("PUT OFF")
    if step.drill:
        options.append("DRILL " + draft.table.flows[step.drill].title.upper())
    options += ["DEFECT", "GO BACK"]
    draft.choosing = Choosing("unable", tuple(options), draft.question.place)
    draft.tell("choose", "unable", *options)


def choose(draft: Draft) -> None:
    """An option of a choice that the engine offered."""
    event = draft.event
    choosing = draft.choosing
    if not isinstance(event, Answer) or choosing is None:
        raise Refused("nothing asked")
    said = normal(event.value)
    if said not in map(normal, choosing.options):
        if choosing.kind == "plateau":
            # A new value is the shortest way of saying "wait on".
            _value_instead(draft, choosing)
            return
        raise Refused("choose", ", ".join(choosing.options))
    option = next(o for o in choosing.options if normal(o) == said)
    if choosing.kind == "end":
        chosen_end(draft, option)
    elif choosing.kind == "resume" or choosing.kind in FACTS:
        if not chosen(draft, choosing.kind, option):
            return
    else:
        draft.choosing = None
        _instead(draft, option)
    draft.tell("chosen", option)


def _value_instead(draft: Draft, choosing: Choosing) -> None:
    draft.choosing = None
    try:
        answer(draft)
    except Refused as refusal:
        if refusal.code == "not a number":
            raise Refused("choose", ", ".join(choosing.options)) from None
        raise


def _instead(draft: Draft, option: str) -> None:
    if option == "WAIT ON" and draft.trend is not None:
        # Patience begins anew when the crew says so, not when it was noticed.
        draft.trend = draft.trend._replace(noticed=draft.at)
    elif option == "PUT OFF":
        put_off(draft)
    elif option == "DISCONTINUE":
        discontinue(draft)
    elif option.startswith("DRILL "):
        drills = ((d, draft.table.flows[d].title) for d in draft.table.drills)
        open_drill(draft, find(option[6:], drills) or "")
    elif option == "DEFECT":
        visit, index, step, latch = draft.here()
        draft.defect(f"unable: {step.challenge}", step.id)
        if latch.how is How.OPEN and not latch.why and step.kind is not Kind.WAIT:
            draft.latch(
                visit.number, index, Latch(How.UNMET, latch.value, draft.at, "unable", latch.back)
            )
            draft.tell("unmet", step.id, "unable")


def drop_choice(draft: Draft) -> None:
    """*Disregard* or *negative* to a choice: only what changes nothing can be dropped so."""
    choosing = draft.choosing
    if choosing is None or choosing.kind not in PLACED:
        raise Refused("choose", ", ".join(choosing.options) if choosing else "")
    draft.choosing = None
    draft.tell("dropped")
