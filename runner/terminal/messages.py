"""Why nothing goes on, what was read back, what was said, and what a key did not do.

Rules: a refusal and an urgent text never yield; what the screen shows in a place of its own is not
said a second time; every text says its kind first.
"""

from __future__ import annotations

from runner.engine.effects import Prompt, Say, View, Voice
from runner.terminal.aside import Aside, Message
from runner.terminal.clock import Clock
from runner.terminal.fill import NEVER, Part
from runner.terminal.rows import Tone, block
from runner.terminal.saidlines import labelled
from runner.terminal.statuswords import LATE, reason

RUNS = ("CLOCK RUNS", "WAIT RUNS")
"""That something runs is said by its time left, which stands there from then on."""
UNLABELLED = (Voice.OUTCOME, Voice.STATUS, Voice.DRILL)
"""What says itself what it is; the screen has no room for more."""


def message_parts(view: View, aside: Aside, clock: Clock, width: int) -> list[Part]:
    """Why nothing goes on, what was read back, what was said, what a key did not do."""
    parts: list[Part] = []

    def add(name: str, text: str, tone: Tone, yields: int = NEVER) -> None:
        rows = block(text, width, tone, 2)
        parts.append(Part(name, (rows,), yields=yields))

    if view.read_back:
        unit = view.gauge.unit if view.gauge is not None else ""
        add("read back", f"READ BACK: {view.read_back} {unit}".rstrip(), Tone.STRONG)
    unmet = view.prompt is Prompt.UNMET or bool(view.unmet_why)
    if unmet:
        # Of a value the scale says why, but not that it came too late.
        tells = view.unmet_why == LATE or not _reads(view)
        why = f": {reason(view.unmet_why)}" if view.unmet_why and tells else ""
        when = _moment(view, clock)
        add("unmet", f"NOT MET{when}{why}", Tone.CAUTION)
    if view.blocked:
        add("blocked", f"HELD: {view.blocked}", Tone.CAUTION)
    if unmet or view.blocked:
        add("ways", ways_on(view, aside), Tone.TEXT, _ways_yield(view))
    told = (view.read_back, view.unmet_why, view.blocked)
    for said in aside.messages:
        if said.text not in told and not _stands_already(said, view):
            add("said", _label(said), _tone(said), _yields(said, view, unmet))
    if view.drill_hint and not _names(view, aside):
        over = any(one.over and not one.muted for one in view.running)
        text = f"DRILL FOR THIS: {view.drill_hint}"
        add("drill hint", text, Tone.WARNING if over else Tone.TEXT, NEVER if over else 3)
    if aside.keys.note:
        add("key note", aside.keys.note, Tone.STRONG)
    return parts


def _names(view: View, aside: Aside) -> bool:
    """Whether an urgent text or a choice that stands here names the drill already."""
    texts = [said.text for said in aside.messages if said.urgent]
    return any(view.drill_hint.upper() in text.upper() for text in (*texts, *view.options))


def _ways_yield(view: View) -> int:
    """That somebody may accept stays where the challenge moves for it; that nobody may is said last
    of what can be done."""
    if view.accept_class:
        return 16
    return 12 if view.may_put_off or view.stops else 9


def ways_on(view: View, aside: Aside) -> str:
    """What can be done about what holds the list, beside giving the answer."""
    listen = aside.listen
    told = []
    if view.stops:
        away = aside.keymap.shown("f9")
        told.append(f"THE LIST STOPS HERE: CORRECT / 0 6, DRILL *, DISCONTINUE {away}.")
    elif view.gauge is not None and not (listen.number or listen.responses or view.options):
        told.append("COMPUTED: CORRECT WHAT IT COMES FROM")
    accept = aside.keymap.shown("f8")
    if view.accept_class == "maintenance only":
        told.append("ONLY MAINTENANCE CLEARS IT: / 0 0 6")
    elif view.accept_class == "emergency only":
        told.append(f"COMMANDER, EMERGENCY ONLY: {accept}")
    elif view.accept_class:
        told.append(f"COMMANDER MAY ACCEPT: {accept}")
    else:
        told.append("NOBODY MAY ACCEPT IT")
    if view.may_put_off:
        told.append(f"PUT OFF {aside.keymap.shown('f4')}")
    return "   ".join(told)


def _moment(view: View, clock: Clock) -> str:
    """When the value was read, to the second: the same value read again is seen to be new."""
    at = view.gauge.at if view.gauge is not None else None
    return f", READ {clock.utc(at, seconds=True)}" if at is not None else ""


def _stands_already(said: Message, view: View) -> bool:
    """Whether the screen shows in its own place what was said."""
    return (
        (said.kind is Voice.READ_BACK and bool(view.read_back))
        or (said.kind is Voice.CAUTION and view.prompt is Prompt.CAUTION)
        or (said.kind is Voice.DRILL and view.prompt is Prompt.MEMORY_ITEMS)
        or (said.kind is Voice.OUTCOME and said.text.endswith("NOT MET") and _reads(view))
        or (said.kind is Voice.STATUS and view.prompt is Prompt.STANDBY)
        or (view.prompt is Prompt.CLOSED and said.text.startswith("NO LIST IS LEFT"))
        or (bool(view.options) and said.text.startswith("CHOOSE:"))
        or (said.kind is Voice.TIMER and said.text.startswith(RUNS) and bool(view.running))
        or (said.kind is Voice.STATUS and said.text.upper() == f"LIST: {view.title.upper()}")
        or (said.text.startswith("FIRST SCREEN READ") and view.prompt is not Prompt.FIRST_PAGE)
        or (said.kind is Voice.ECHO and _was_answered(view))
    )


def only_calls(said: Say, view: View) -> bool:
    """Whether it is the call of the question that stands: said once more, it is no message, and
    puts none away."""
    return (
        said.kind is Voice.CALL
        or (said.kind is Voice.READ_BACK and bool(view.read_back))
        or (said.kind is Voice.CAUTION and view.prompt is Prompt.CAUTION)
    )


def _was_answered(view: View) -> bool:
    """Whether the answer that was heard stands above, as the step before."""
    looked = view.who == "both" and len(view.waiting_for) == 1
    needed = [line.status for line in view.before if line.status != "not required"]
    return not looked and bool(needed) and needed[-1] == "answered"


def _reads(view: View) -> bool:
    return view.gauge is not None and bool(view.gauge.value)


def _label(said: Message) -> str:
    return said.text if said.kind in UNLABELLED else labelled(said.kind, said.text)


def _tone(said: Message) -> Tone:
    if said.urgent:
        return Tone.WARNING
    if said.kind is Voice.CAUTION:
        return Tone.CAUTION
    return Tone.STRONG if said.kind is Voice.REFUSED else Tone.TEXT


def _yields(said: Message, view: View, unmet: bool) -> int:
    if said.urgent or (said.kind is Voice.REFUSED and not unmet):
        return NEVER
    if "DEFECT" in said.text and view.prompt is not Prompt.STATION:
        return NEVER  # a station shows the fault at its item
    if view.prompt is Prompt.CHOOSING:
        return 21  # why it is asked
    return {Voice.ECHO: 1, Voice.STATUS: 1, Voice.REMARK: 4, Voice.OUTCOME: 5}.get(said.kind, 24)
