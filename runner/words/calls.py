"""What is said after an event: outcomes and calls in the crew's words.

Rules: pure; numbers are echoed digit by digit; a refusal says what was not taken and what can be
done; the next call comes last and only if the question changed; nothing here decides anything.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal

from runner.engine.effects import Effect, Listen, Prompt, Say, Show, Sound, View, Voice
from runner.engine.events import Confirm, Event, SayAgain
from runner.engine.listening import listen
from runner.engine.outcomes import Item, Outcome, sentence
from runner.engine.reasons import Values, why_not
from runner.engine.state import How, State
from runner.engine.table import Table
from runner.engine.views import WHOLE_RUN, view
from runner.words.numbers import say_number
from runner.words.onpaper import on_paper

_NUMBER = re.compile(r"-?[0-9]{1,40}(?:\.[0-9]{1,40})?")
Teller = Callable[[Table, Item], tuple[str, Voice]]
NOT_SO = "NOT SO, STILL ASKED"
"""Of a step: "open" beside one would read as the position of what it asks for."""


def spoken(text: str) -> str:
    """A value as it is read back: digits alone, words as they are."""
    first, _, rest = text.partition(" ")
    if first in ("below", "above", "drop") and _NUMBER.fullmatch(rest):
        return f"{first.upper()} {spoken(rest)}"
    if not _NUMBER.fullmatch(text):
        return text.upper()
    return say_number(Decimal(text), len(text.partition(".")[2]))


def _challenge(table: Table, step_id: str) -> str:
    step = table.steps.get(step_id)
    return step.challenge if step is not None else step_id


def _title(table: Table, flow_id: str) -> str:
    flow = table.flows.get(flow_id)
    return flow.title.upper() if flow is not None else flow_id.upper()


def _met(table: Table, item: Item) -> tuple[str, Voice]:
    return (spoken(item[2]) if item[2:] and item[2] else "DONE"), Voice.ECHO


def _unmet(table: Table, item: Item) -> tuple[str, Voice]:
    step = table.steps.get(item[1])
    if step is None or item[2] in ("not so", "unable"):
        return f"{_challenge(table, item[1])}: {NOT_SO}", Voice.OUTCOME
    if item[3:] == ("late",):
        value = f"{spoken(item[2])}, " if item[2] else ""
        return f"{_challenge(table, item[1])}: {value}TOO LATE, NOT MET", Voice.OUTCOME
    limit = f", LIMIT {step.limit.text()}" if step.limit is not None else ""
    return f"{_challenge(table, item[1])}: {spoken(item[2])}{limit}, NOT MET", Voice.OUTCOME


def _noted(table: Table, item: Item) -> tuple[str, Voice]:
    reading = table.readings.get(item[1])
    if reading is None:
        return f"NOTED, {item[1].upper()}: {item[2]}", Voice.STATUS
    return f"NOTED, {reading.label.upper()}: {spoken(item[2])}", Voice.STATUS


def _why(table: Table, item: Item, values: Values) -> str:
    """Why the list or step of a "not required" is not: by what is known after the event."""
    step, flow = table.steps.get(item[1]), table.flows.get(item[1])
    condition = step.when if step is not None else flow.when if flow is not None else None
    return why_not(condition, values) if condition is not None else item[2]


TELLERS: dict[str, Teller] = {
    "met": _met,
    "unmet": _unmet,
    "read back": lambda t, i: (
        f"{WHOLE_RUN.get(i[1]) or _challenge(t, i[1])}: {spoken(i[2])}. AFFIRM?", Voice.READ_BACK
    ),
    "put off": lambda t, i: (f"PUT OFF: {_challenge(t, i[1])}", Voice.OUTCOME),
    "back": lambda t, i: (f"BACK FROM PUT OFF: {_challenge(t, i[1])}", Voice.OUTCOME),
    "computed": lambda t, i: (f"{_challenge(t, i[1])}: {spoken(i[2])}", Voice.OUTCOME),
    "accepted": lambda t, i: (
        "COMMANDER ACCEPTS: " + ", ".join(
            part for part in (_challenge(t, i[1]), spoken(i[3]), i[4]) if part
        ), Voice.OUTCOME
    ),
    "reopened": lambda t, i: (
        f"REOPENED: {_challenge(t, i[1]) if '.' in i[1] else _title(t, i[1])}", Voice.OUTCOME
    ),
    "not required": lambda t, i: (
        f"NOT REQUIRED: {_challenge(t, i[1]) if '.' in i[1] else _title(t, i[1])}", Voice.STATUS
    ),
    "left behind": lambda t, i: (f"LEFT, NOT DONE: {_title(t, i[1])}, {i[2]}", Voice.STATUS),
    "entered": lambda t, i: (
        "" if t.flows[i[1]].drill else f"LIST: {_title(t, i[1])}", Voice.STATUS
    ),
    "list closed": lambda t, i: (f"{_title(t, i[1])} LIST CLOSED, NONE OPEN", Voice.OUTCOME),
    "wait started": lambda t, i: (f"WAIT RUNS: {_challenge(t, i[1])}", Voice.TIMER),
    "wait kept": lambda t, i: (f"WAIT GOES ON: {_challenge(t, i[1])}", Voice.TIMER),
    "wait broken": lambda t, i: (
        f"CONDITION LOST, WAIT STARTS AGAIN: {_challenge(t, i[1])}", Voice.TIMER
    ),
    "wait done": lambda t, i: (f"WAIT OVER: {_challenge(t, i[1])}", Voice.TIMER),
    "drill in": lambda t, i: (f"DRILL: {_title(t, i[1])}", Voice.DRILL),
    "drill out": lambda t, i: (f"DRILL ENDED: {_title(t, i[1])}, {i[3]}", Voice.DRILL),
    "drill undone": lambda t, i: (f"DRILL LEFT, OPENED BY MISTAKE: {_title(t, i[1])}", Voice.DRILL),
    "memory done": lambda t, i: ("MEMORY ITEMS, ONE BY ONE", Voice.DRILL),
    "choose": lambda t, i: ("CHOOSE: " + " / ".join(i[2:]).upper(), Voice.OUTCOME),
    "chosen": lambda t, i: (f"CHOSEN: {i[1]}", Voice.ECHO),
    "dropped": lambda t, i: ("DISREGARDED", Voice.ECHO),
    "standby": lambda t, i: ("STANDING BY", Voice.STATUS),
    "resumed": lambda t, i: ("GOING ON", Voice.STATUS),
    "corrected": lambda t, i: (
        f"{_challenge(t, i[1])}: WAS {spoken(i[2]) or 'NOTHING'}, NOW {spoken(i[3])}",
        Voice.READ_BACK,
    ),
    "withdrawn": lambda t, i: (f"DEFECT WITHDRAWN: {i[2]}", Voice.READ_BACK),
    "so now": lambda t, i: (f"{_challenge(t, i[1])}: WAS NOT SO, NOW {i[2]}", Voice.READ_BACK),
    "flagged": lambda t, i: (f"FLAGGED FOR THE COMMANDER: {i[1]}", Voice.OUTCOME),
    "timer started": lambda t, i: (f"CLOCK RUNS: {t.timers[i[1]].label}", Voice.TIMER),
    "timer call": lambda t, i: (f"{spoken(i[2])} SECONDS: {t.timers[i[1]].label}", Voice.TIMER),
    "timer over": lambda t, i: (_over(t, i[1]), Voice.TIMER),
    "timer met": lambda t, i: (f"IN TIME: {t.timers[i[1]].label}", Voice.TIMER),
    "plateau": lambda t, i: (
        f"{_challenge(t, i[1])} HAS STOPPED MOVING SHORT OF ITS LIMIT", Voice.OUTCOME
    ),
    "marked": lambda t, i: (f"{i[1].upper()} MARKED", Voice.OUTCOME),
    "lifted": lambda t, i: (_lifted(t, i), Voice.OUTCOME),
    "noted": _noted,
    "paper": lambda t, i: (f"ON PAPER: {i[1]} TO {i[2]}", Voice.OUTCOME),
    "crew": lambda t, i: (f"{i[1].upper()}: {i[2]}", Voice.STATUS),
    "happened": lambda t, i: (_happened(t, i), Voice.STATUS),
    "lapsed": lambda t, i: (
        "NO LONGER VALID, FOR THE NEXT FLIGHT: " + ", ".join(_title(t, f) for f in i[1:]),
        Voice.STATUS,
    ),
    "flight": lambda t, i: (f"FLIGHT {i[1]}", Voice.STATUS),
    "turned": lambda t, i: (f"LIST: {_title(t, i[1])}", Voice.STATUS),
    "opened": lambda t, i: ("RUN OPENED", Voice.STATUS),
    "page read": lambda t, i: (f"FIRST SCREEN READ BY {i[1].upper()}", Voice.STATUS),
    "recovered": lambda t, i: ("RUN TAKEN UP AGAIN", Voice.STATUS),
    "said": lambda t, i: ("", Voice.STATUS),
    "due": lambda t, i: ("", Voice.STATUS),
    "one of two": lambda t, i: (f"{i[2].upper()} HAS LOOKED", Voice.ECHO),
    "day closed": lambda t, i: ("NO LIST IS LEFT: END OF DAY", Voice.STATUS),
    "fault": lambda t, i: (
        f"A FAULT OF THE PROGRAM ({i[1]}); NOTHING WAS TAKEN. GO ON, BY CARD IF IT COMES AGAIN",
        Voice.REFUSED,
    ),
}  # fmt: skip


def _happened(table: Table, item: Item) -> str:
    """What happened and what that undoes; a flight's beginning is said by an item of its own."""
    again = ", ".join(_title(table, flow) for flow in item[2:])
    what = "" if item[1] == "flight" else item[1].upper()
    return ", ".join(part for part in (what, f"TO BE DONE AGAIN: {again}" if again else "") if part)


def _lifted(table: Table, item: Item) -> str:
    """How many lists were not begun and how many items open, and nine of them, the lists first."""
    items, lists = int(item[1]), int(item[2])
    counted = [f"{lists} LIST{'S' * (lists > 1)} NOT BEGUN"] if lists else []
    counted += [f"{items} OPEN"] if items else []
    named = [_title(table, flow) for flow in item[3 : 3 + lists]] + [*item[3 + lists :]]
    more = lists + items - len(named[:9])
    rest = f" AND {more} MORE" if more else ""
    return f"LIFTED, {', '.join(counted)}: {', '.join(named[:9])}{rest}"


def _over(table: Table, name: str) -> str:
    rule = table.timers[name]
    text = rule.says or f"TIME IS OVER: {rule.label}"
    if rule.drill:
        flow = table.flows[rule.drill]
        first = flow.steps[0]
        text += f". DRILL {flow.title.upper()}: {first.challenge} {first.response}"
    return text


def tell(table: Table, item: Item) -> Say | None:
    """What one item of an outcome sounds like; None for silence."""
    if item[0] == "refused":
        return Say(sentence(item[1], item[2:]), Voice.REFUSED)
    text, kind = TELLERS[item[0]](table, item)
    return Say(text, kind) if text else None


def call(shown: View) -> Say | None:
    """The call of the question that stands."""
    prompt = shown.prompt
    if prompt in (Prompt.CLOSED, Prompt.WAITING, Prompt.STANDBY, Prompt.FIRST_PAGE):
        return None
    if prompt is Prompt.MEMORY_ITEMS:
        return Say("MEMORY ITEMS DONE?", Voice.CALL)
    if prompt is Prompt.CHOOSING:
        return Say(" / ".join(shown.options) + "?", Voice.CALL)
    if prompt is Prompt.READ_BACK:
        return Say(f"{shown.challenge}: {spoken(shown.read_back)}. AFFIRM?", Voice.READ_BACK)
    if prompt is Prompt.CAUTION:
        return Say(f"CAUTION: {shown.challenge}", Voice.CAUTION)
    return Say(f"{shown.challenge.upper()}?", Voice.CALL)


def last_answered(table: Table, state: State) -> Say | None:
    """What was answered last in the list that is taken up again."""
    found: tuple[int, str] | None = None
    for visit in state.visits:
        if visit.number != state.focus:
            continue
        for step, latch in zip(table.flows[visit.flow].steps, visit.latches, strict=True):
            if (
                latch.how is How.ANSWERED
                and step.asked
                and (found is None or latch.entry > found[0])
            ):
                found = latch.entry, f"LAST ANSWERED: {step.challenge}, {spoken(latch.value)}"
    return Say(found[1], Voice.STATUS) if found is not None else None


def effects(
    table: Table, before: State, event: Event, outcome: Outcome, after: State
) -> tuple[Effect, ...]:
    """Everything the shells are asked for after an event, in order."""
    said: list[Effect] = []
    for item in outcome:
        text = tell(table, item)
        if text is not None and item[0] == "not required":
            text = Say(f"{text.text}, {_why(table, item, after.values)}", text.kind)
        if text is not None and item[0] == "paper":
            text = Say(on_paper(table, item, after), text.kind)
        if text is not None:
            said.append(text)
    kinds = {item[0] for item in outcome}
    if "resumed" in kinds or (kinds & {"drill out", "drill undone"} and after.drill is None):
        last = last_answered(table, after)
        if last is not None:
            said.append(last)
    shown = view(table, after)
    changed = after.ask != before.ask or isinstance(event, SayAgain | Confirm)
    # What is read back was said by its outcome just now; asked for again it is said again.
    told = shown.prompt is Prompt.READ_BACK and "read back" in kinds
    calling = call(shown) if changed and not told else None
    if calling is not None:
        said.append(calling)
    if kinds & {"timer over", "drill in"}:
        said.append(Sound("warning"))
    elif kinds & {"timer call", "plateau", "wait broken", "lifted"}:
        said.append(Sound("caution"))
    elif "refused" in kinds or "fault" in kinds:
        said.append(Sound("refused"))
    return (*said, Show(shown), listen_effect(table, after))


def listen_effect(table: Table, state: State) -> Listen:
    """What may answer now."""
    return listen(table, state)
