"""Who answers a step, and whether both who must look have looked.

Rules: a step names a duty, a person, or both pilots; an unnamed speaker will do except where both
must look; the two who look give the same answer, each once, and a different one takes the place of
the first; one person alone answers for every role.
"""

from __future__ import annotations

from runner.engine.asking import Look, Spot
from runner.engine.draft import Draft
from runner.engine.errors import Refused
from runner.engine.table import Step, Who

# A member through its class costs many times a name of its own (see `state`).
_BOTH, _HANDLING, _MONITORING = Who.BOTH, Who.HANDLING, Who.MONITORING


def responders(draft: Draft, step: Step) -> tuple[str, ...]:
    """The roles that may answer a step; two for what both look at."""
    if step.who is _BOTH:
        return ("commander", "copilot")
    if step.who is _HANDLING:
        return (draft.handling,)
    if step.who is _MONITORING:
        return (draft.monitoring(),)
    return (step.who.value,)


def both_look(draft: Draft, step: Step) -> bool:
    """Whether this step wants an answer of each pilot."""
    return step.who is _BOTH and not draft.alone()


def check_role(draft: Draft, step: Step, role: str) -> None:
    """Refuses an answer of the wrong person; an unnamed speaker will do, both looks apart."""
    if draft.alone():
        return
    if not role:
        if step.who is _BOTH:
            raise Refused("say who")
        return
    if role in ("commander", "copilot"):
        for seat, _ in draft.crew:
            if seat == role:
                break
        else:
            raise Refused("not aboard", role)
    allowed = responders(draft, step)
    if role not in allowed:
        raise Refused("wrong responder", " and the ".join(allowed))


def both_looked(draft: Draft, step: Step, spot: Spot, role: str, text: str) -> bool:
    """Notes one look of two; True once the place has all it wants."""
    if step.who is not _BOTH or not both_look(draft, step):
        return True
    here = [look for look in draft.looks if look.spot == spot]
    others = tuple(look for look in draft.looks if look.spot != spot)
    if any(look.role != role and look.text == text for look in here):
        draft.looks = others
        return True
    if any(look.role == role and look.text == text for look in here):
        raise Refused("already looked", role)
    draft.looks = (*others, Look(spot, role, text))
    draft.tell("one of two", step.id, role, text)
    return False
