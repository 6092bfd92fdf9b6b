"""Keys on the pages that lie over a list, and the numbered commands behind them.

Rules: a page is closed by back or `/`; "not so" answers a question and is said to close none, but
where a second key is asked any other key declines, that one too; a digit picks the numbered line
that is on the screen, 0 and page down turn, page up turns back; what must never be one key
(accepting, discontinuing, leaving, the wrong aircraft, a range on paper) has a page of its own that
only a second, later key confirms; drills open from every page at once.
"""

from __future__ import annotations

from runner.engine.effects import Listen, Prompt, View
from runner.terminal.commands import COMMAND_SHEETS, PUT_OFF, at_the_end, is_wrong_aircraft, words
from runner.terminal.keystate import (
    ACCEPT_KEYS,
    APART_MS,
    BACK_KEYS,
    DRILL_KEY,
    GUARD_MS,
    MORE_KEY,
    NOT_SO_KEYS,
    SECOND,
    Action,
    Command,
    Do,
    KeyState,
    Page,
    Result,
    answer,
    not_accepted,
    open_page,
    refuse,
    say,
    send,
    shut,
)
from runner.terminal.paperkeys import on_card, paper_words
from runner.terminal.turning import DIGITS, ends_for, numbers, sheet_at, turned

TURN_KEYS = ("0", "pagedown", "pageup")
SEATS = ("commander", "copilot", "ground")


def option(keys: KeyState, text: str, now: int, view: View) -> Result:
    """An offered text; an acceptance goes through its own page."""
    said = text.casefold()
    if said.startswith(("accept", "commander accepts", "continue, emergency only")):
        return accept_page(keys, now, view), None
    return answer(keys, text, view.ask, now)


def accept_page(keys: KeyState, now: int, view: View) -> KeyState:
    if not view.accept_class:
        return shut(keys)._replace(note="NOTHING HERE MAY BE ACCEPTED", denied=True)
    if view.accept_class == "maintenance only":
        note = "MAINTENANCE ONLY: AN ENTRY OF MAINTENANCE CLEARS IT"
        return shut(keys)._replace(note=note, denied=True)
    return open_page(keys, Page.ACCEPT, now)


def station_items(view: View, listen: Listen) -> tuple[tuple[str, str], ...]:
    """Items of a station in the order of their numbers: key and text."""
    if view.items:
        return tuple((line.key, line.challenge) for line in view.items)
    return listen.items


def command_key(keys: KeyState, command: Command, now: int, view: View) -> Result:
    """What a numbered command does, by its function key or on the `/` page."""
    if command.page is Page.ACCEPT:
        return accept_page(keys, now, view), None
    if command.page is Page.TIMERS and len(view.timers) == 1:
        return send(keys, f"timer {view.timers[0][1]}", view.ask)
    if command.page is Page.TIMERS and not view.timers:
        return say(shut(keys), "NO TIMER BELONGS TO THIS LIST")
    if command.page is Page.CORRECT and not corrections(view):
        return say(shut(keys), "NOTHING IS ANSWERED YET")
    if command.page is Page.LISTS and not other_lists(view):
        return say(shut(keys), "NO OTHER LIST OF THIS GROUP IS OPEN")
    if command.page is Page.RECEIPT and view.prompt is not Prompt.CLOSED:
        return say(shut(keys), "THE RECEIPT COMES WHERE THE LISTS ARE CLOSED")
    if command.page is not Page.NONE:
        same = keys.page is command.page
        return (shut(keys) if same else open_page(keys, command.page, now)), None
    if command.line:
        return open_line(keys, command.line, now, view), None
    said = words(command, view)
    if said == "next flight" and is_wrong_aircraft(view):
        return say(shut(keys), "WRONG AIRCRAFT: THIS RUN HAS ENDED")
    if said == "theme":
        return shut(keys), Action(Do.THEME)
    if command is PUT_OFF and not view.may_put_off:
        return say(shut(keys), "THIS STEP CANNOT BE PUT OFF")
    if said not in ANSWERING:
        return send(keys, said, view.ask)
    reason = not_accepted(keys, now)
    return refuse(shut(keys), reason, now) if reason else answer(keys, said, view.ask, now)


ANSWERING = ("affirm", "put off", "unable")
"""Commands that move the list on, and so are no quicker than an answer."""


def open_line(keys: KeyState, begun: str, now: int, view: View) -> KeyState:
    """The state with a line of words that is begun."""
    return shut(keys)._replace(
        line=begun, line_ask=view.ask, typed="", typed_at=now, edited_at=now, early=False
    )


def on_page(keys: KeyState, key: str, now: int, view: View, listen: Listen) -> Result:
    """A key while a page lies over the list."""
    page = keys.page
    begun = page is Page.PAPER and bool(keys.typed)
    # The second of two equal digits of a number is typed sooner than a held key is told apart.
    again = begun and key.isdigit() and not keys.bounced
    if keys.held and not again and (begun or key not in TURN_KEYS):
        return keys, None
    if page is Page.PAPER and (key in "0123456789.," or key in ("enter", "backspace")):
        result = on_card(keys, key, now, view)
        if result is not None:
            return result
    if key in BACK_KEYS or key == MORE_KEY:
        return shut(keys), None
    if key == DRILL_KEY:
        return (shut(keys) if page is Page.DRILLS else open_page(keys, Page.DRILLS, now)), None
    if page in SECOND:
        return _second(keys, key, now, view)
    if page is Page.MORE and len(key) == 1 and key.isalpha():
        return open_line(keys, key, now, view), None
    if key in NOT_SO_KEYS:
        return say(keys, "NOT SO IS NO ANSWER HERE; / GOES BACK")
    if keys.begins and key in ACCEPT_KEYS:
        # It stands for no answer, and the same key at once after it is none either.
        return shut(keys)._replace(answer_at=now), None
    if key in TURN_KEYS:
        starts = _starts(keys, len(page_lines(keys, view, listen)))
        sheet = turned(sheet_at(starts, keys.offset), len(starts), key == "pageup")
        return keys._replace(offset=starts[sheet]), None
    if not (len(key) == 1 and key.isdigit()):
        return keys, None
    return _page_digit(keys, int(key), now, view, listen)


def _page_digit(keys: KeyState, digit: int, now: int, view: View, listen: Listen) -> Result:
    page = keys.page
    if page is Page.MORE:
        numbered = COMMAND_SHEETS[keys.offset % len(COMMAND_SHEETS)]
        if digit > len(numbered):
            return say(keys, f"NO NUMBER {digit} HERE")
        return command_key(keys, numbered[digit - 1], now, view)
    found = page_lines(keys, view, listen)
    sheet = sheet_at(_starts(keys, len(found)), keys.offset)
    at = numbers(ends_for(keys, len(found)), sheet, digit)
    if at is None or at >= len(found):
        other = 1 <= digit <= len(found) <= DIGITS
        other_sheet = f"{digit} IS ON ANOTHER SHEET: TURN BY 0"
        return say(keys, other_sheet if other else f"NO NUMBER {digit} HERE")
    # A drill opens whatever has changed since; anything else is only done while it is still so.
    if page is not Page.DRILLS and found[at] not in lines(page, view, listen):
        return say(keys, "THAT HAS CHANGED: OPEN THE PAGE AGAIN")
    if page is Page.ACCEPT:
        return open_page(keys, Page.ACCEPT_SURE, now)._replace(reason=found[at].label), None
    if page is Page.OPTIONS:
        reason = not_accepted(keys, now)
        if not reason and now - keys.page_at < APART_MS:
            reason = "TOO SOON: PRESS AGAIN"
        return refuse(keys, reason, now) if reason else option(keys, found[at].send, now, view)
    return command_key(keys, found[at], now, view)


def _starts(keys: KeyState, total: int) -> tuple[int, ...]:
    """Where the sheets of the page begin; counted in sheets where nothing is drawn."""
    return keys.cut.starts or tuple(range(len(ends_for(keys, total))))


def on_sheet(keys: KeyState, digit: int, total: int) -> int | None:
    """Which of so many numbered lines of the question a digit means on the sheet that stands."""
    return numbers(ends_for(keys, total), keys.sheet, digit)


def numbered_end(keys: KeyState, digit: int, now: int, view: View) -> Result:
    """A digit where the lists are closed: the next flight, or a page to look at."""
    offered = at_the_end(view)
    at = on_sheet(keys, digit, len(offered))
    if at is None or at >= len(offered):
        return say(keys, f"NO NUMBER {digit} HERE")
    reason = not_accepted(keys, now)
    return refuse(keys, reason, now) if reason else command_key(keys, offered[at], now, view)


def as_opened(before: KeyState, keys: KeyState, view: View, listen: Listen) -> KeyState:
    """The state after a key, with the numbered lines of a page that this key has opened."""
    if keys.page is Page.NONE or (keys.page is before.page and keys.page_at == before.page_at):
        return keys
    return keys._replace(lines=lines(keys.page, view, listen))


def page_lines(keys: KeyState, view: View, listen: Listen) -> tuple[Command, ...]:
    """The numbered lines of the page that stands: those with which it was opened."""
    return keys.lines if keys.lines is not None else lines(keys.page, view, listen)


def lines(page: Page, view: View, listen: Listen) -> tuple[Command, ...]:
    """The numbered lines of a page, in order."""
    if page is Page.DRILLS:
        return tuple(Command(title, send=f"drill {title}") for _, title in view.drills)
    if page is Page.TIMERS:
        return tuple(Command(title, send=f"timer {title}") for _, title in view.timers)
    if page is Page.FAULT:
        items = station_items(view, listen)
        return tuple(Command(text, send=f"fault {text}") for _, text in items)
    if page is Page.ACCEPT:
        return tuple(Command(reason) for reason in view.reasons)
    if page is Page.OPTIONS:
        return tuple(Command(text, send=text) for text in view.options)
    if page is Page.LISTS:
        return tuple(Command(title, send=f"turn to {title}") for title in other_lists(view))
    if page is Page.HAPPENED:
        # An entry of maintenance has words of its own to it.
        what = [one for one in view.happenings if one != "maintenance"]
        return tuple(Command(one.upper(), send=f"happened {one}") for one in what)
    if page is Page.CORRECT:
        return corrections(view)
    if page is Page.CREW:
        return takeovers(view)
    return (
        tuple(command for sheet in COMMAND_SHEETS for command in sheet) if page is Page.MORE else ()
    )


def other_lists(view: View) -> tuple[str, ...]:
    """The lists that may be turned to: open beside the current one."""
    return tuple(line.title for line in view.lists if line.status == "open")


GIVEN = ("answered", "unmet", "accepted")
"""How a step stands whose answer may be corrected."""


def corrections(view: View) -> tuple[Command, ...]:
    """What is read back, the last answer, and what was answered in this list, the latest first;
    each with its step and its value, and none of them twice."""
    given = [line for line in reversed(view.before) if line.status in GIVEN and not line.computed]
    if view.latest is not None:
        given = [view.latest, *(line for line in given if line.key != view.latest.key)]
    named = [
        Command(
            f"{line.challenge} ({line.number})" + (f", WAS {line.answer}" if line.answer else ""),
            line=f"correct {line.challenge} ",
        )
        for line in given
    ]
    if view.read_back:
        step = f"{view.challenge} ({view.number}), READ BACK {view.read_back}"
        return (Command(step, line="correction "), *named)
    return tuple(named)


def takeovers(view: View) -> tuple[Command, ...]:
    """What may change in the crew: the duties, and who has a role."""
    names = dict(view.crew)
    others = [role for role, _ in view.crew if role in SEATS[:2] and role != view.handling]
    out = []
    if view.handling and others:
        text = f"HAND OVER: HANDLING TO {others[0].upper()}"
        out.append(Command(text, send="hand over"))
    for role in SEATS:
        text = f"{role.upper()}: SOMEBODY TAKES OVER" if role in names else f"{role.upper()} JOINS"
        out.append(Command(text, line=f"crew {role}: "))
    return tuple(out)


def _second(keys: KeyState, key: str, now: int, view: View) -> Result:
    """The second key of what must never be one key."""
    page, reason, role = keys.page, keys.reason, ""
    if page is Page.PAPER_SURE and key.isdigit() and 1 <= int(key) <= len(view.crew):
        role = view.crew[int(key) - 1][0]
    elif key not in ACCEPT_KEYS:
        return shut(keys), None
    # What passes a step wants more than a sleeve may do.
    wait = APART_MS if page in (Page.ACCEPT_SURE, Page.PAPER_SURE) else GUARD_MS
    if now - keys.burst_at < GUARD_MS or now - keys.page_at < wait:
        return refuse(keys, "TOO SOON: PRESS AGAIN", now)
    keys = keys._replace(answer_at=now)
    if page is Page.LEAVE:
        return shut(keys), Action(Do.LEAVE)
    if page is Page.DISCONTINUE:
        return send(keys, "discontinue", view.ask)
    if page in (Page.WRONG, Page.END):
        return send(keys, "wrong aircraft" if page is Page.WRONG else "end of day", view.ask)
    if page is Page.PAPER_SURE:
        return send(keys, paper_words(keys, view, role), view.ask)
    kind = "accept emergency" if view.accept_class == "emergency only" else "accept"
    return send(keys, f'commander: {kind} "{reason}"', view.ask)
