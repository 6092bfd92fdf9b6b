"""Keys on the pages that lie over a list, and the numbered commands behind them.

Rules: a page is closed by back, `/` or "not so"; a digit picks the numbered line; what must never
be one key (accepting, discontinuing, leaving) has a page of its own that only a second, later key
confirms; drills open from every page at once.
"""

from __future__ import annotations

from runner.engine.effects import Listen, View
from runner.terminal.commands import PUT_OFF, SHEETS, Command, words
from runner.terminal.keystate import (
    ACCEPT_KEYS,
    APART_MS,
    BACK_KEYS,
    DRILL_KEY,
    GUARD_MS,
    MORE_KEY,
    NOT_SO_KEYS,
    Action,
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
    if command.page is not Page.NONE:
        same = keys.page is command.page
        return (shut(keys) if same else open_page(keys, command.page, now)), None
    if command.line:
        return open_line(keys, command.line, now, view), None
    said = words(command, view)
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
    if keys.held and key != "0":
        return keys, None
    if key in BACK_KEYS or (page is Page.MORE and key == MORE_KEY):
        return shut(keys), None
    if key == DRILL_KEY:
        return (shut(keys) if page is Page.DRILLS else open_page(keys, Page.DRILLS, now)), None
    if page in (Page.ACCEPT_SURE, Page.DISCONTINUE, Page.LEAVE):
        return _second(keys, key, now, view)
    if key == MORE_KEY:
        return open_page(keys, Page.MORE, now), None
    if page is Page.MORE and len(key) == 1 and key.isalpha():
        return open_line(keys, key, now, view), None
    if key in NOT_SO_KEYS:
        return shut(keys), None
    if not (len(key) == 1 and key.isdigit()):
        return keys, None
    return _page_digit(keys, int(key), now, view, listen)


def _page_digit(keys: KeyState, digit: int, now: int, view: View, listen: Listen) -> Result:
    page = keys.page
    if page is Page.MORE:
        sheet = keys.offset % len(SHEETS)
        if digit == 0:
            return keys._replace(offset=(sheet + 1) % len(SHEETS)), None
        return command_key(keys, SHEETS[sheet][digit - 1], now, view)
    texts = page_texts(page, view, listen)
    if digit == 0:
        more = keys.offset + keys.per_page
        return keys._replace(offset=more if more < len(texts) else 0), None
    at = keys.offset + digit - 1
    if digit > keys.per_page or at >= len(texts):
        return say(keys, f"NO NUMBER {digit} HERE")
    if page is Page.ACCEPT:
        return open_page(keys, Page.ACCEPT_SURE, now)._replace(reason=texts[at]), None
    if page is Page.OPTIONS:
        reason = not_accepted(keys, now)
        if not reason and now - keys.page_at < APART_MS:
            reason = "TOO SOON: PRESS AGAIN"
        return refuse(keys, reason, now) if reason else option(keys, texts[at], now, view)
    prefix = {Page.DRILLS: "drill ", Page.TIMERS: "timer ", Page.FAULT: "fault "}.get(page)
    if prefix is None:
        return keys, None
    return send(keys, prefix + texts[at], view.ask)


def page_texts(page: Page, view: View, listen: Listen) -> tuple[str, ...]:
    """What stands on a numbered page, in order."""
    if page is Page.DRILLS:
        return tuple(title for _, title in view.drills)
    if page is Page.TIMERS:
        return tuple(title for _, title in view.timers)
    if page is Page.FAULT:
        return tuple(text for _, text in station_items(view, listen))
    if page is Page.ACCEPT:
        return view.reasons
    return view.options if page is Page.OPTIONS else ()


def _second(keys: KeyState, key: str, now: int, view: View) -> Result:
    """The second key of what must never be one key."""
    page, reason = keys.page, keys.reason
    if key not in ACCEPT_KEYS:
        return shut(keys), None
    # To accept passes a step, and so wants more than a sleeve may do.
    wait = APART_MS if page is Page.ACCEPT_SURE else GUARD_MS
    if now - keys.burst_at < GUARD_MS or now - keys.page_at < wait:
        return refuse(keys, "TOO SOON: PRESS AGAIN", now)
    keys = keys._replace(answer_at=now)
    if page is Page.LEAVE:
        return shut(keys), Action(Do.LEAVE)
    if page is Page.DISCONTINUE:
        return send(keys, "discontinue", view.ask)
    kind = "accept emergency" if view.accept_class == "emergency only" else "accept"
    return send(keys, f'commander: {kind} "{reason}"', view.ask)
