"""The states that have a reference picture: drills, and pages that lie over a list.

Rules: every page that a key or a numbered command opens has its picture here without being named,
as soon as the program has it; what follows on a page is named.
"""

from __future__ import annotations

from collections.abc import Callable

from runner.terminal.commands import COMMAND_SHEETS
from runner.terminal.keystate import DRILL_KEY, MORE_KEY, Page
from tests.gallery.scenes import Opens, Scene, at, keys, pages_of_commands
from tests.gallery.stage import loaded
from tests.gallery.states_limits import LEVEL

UNMET = ("820", "affirm")
AFTER_SECURE = at("secure.wheel_chocks")


def longest_drill() -> str:
    """The title of the drill with the most memory items."""
    table = loaded().table
    most = max(table.drills, key=lambda d: sum(step.memory for step in table.flows[d].steps))
    return table.flows[most].title


def drills() -> tuple[Scene, ...]:
    """A drill from its key to its outcome."""
    clutch = at("engage.needles")
    hot = at("head_hot.head_result", script="drill_head_hot")
    return (
        Scene("drills", "The drills, first sheet", at("start.firing"), (keys(DRILL_KEY),)),
        Scene(
            "drills-next", "The drills, turned once", at("start.firing"), (keys(DRILL_KEY, "0"),)
        ),
        Scene(
            "drills-no-number",
            "A number that the page does not have",
            at("start.firing"),
            (keys(DRILL_KEY, "0", "9"),),
        ),
        Scene(
            "memory-items",
            "The memory items of the longest drill",
            at("start.firing"),
            (f"drill {longest_drill()}",),
        ),
        Scene(
            "memory-items-replaced",
            "The memory items of a drill that took the place of another's",
            at("start.firing"),
            ("drill oil pressure low", f"drill {longest_drill()}"),
        ),
        Scene(
            "memory-items-by-time",
            "Memory items while a by-time is over",
            at("start.oil_pressure_needle"),
            ("@+35s", "drill oil pressure low"),
        ),
        Scene(
            "drill-no-memory",
            "A drill without memory items",
            at("run_up.servos_off"),
            ("drill generator failure",),
        ),
        Scene(
            "drill-step",
            "The first memory item, verified",
            clutch,
            ("drill clutch or needles wrong", "memory items done"),
        ),
        Scene(
            "drill-reading",
            "A reading in a drill",
            at("clutch_fault.rotor_now", script="drill_clutch_fault"),
        ),
        Scene(
            "drill-outcome",
            "The outcome of a drill is chosen",
            at("clutch_fault.clutch_result", script="drill_clutch_fault"),
        ),
        Scene(
            "drill-wait", "A wait in a drill", at("head_hot.head_cools", script="drill_head_hot")
        ),
        Scene("drill-outcome-after-reading", "The outcome of another drill", hot),
        Scene(
            "drill-ended",
            "A drill has ended, its list begins anew",
            at("clutch_fault.clutch_result", script="drill_clutch_fault"),
            ("commander: engine stopped", "copilot: 150", "mixture cut-off", "stopped", "closed"),
        ),
        Scene(
            "drill-in-flight", "A drill in flight", at("landing.mixture"), ("drill servo failure",)
        ),
        Scene(
            "drill-in-drill",
            "A drill takes the place of another",
            clutch,
            ("drill clutch or needles wrong", "drill fire in start"),
        ),
    )


def over() -> tuple[Scene, ...]:
    """Pages that a key lays over the list, and what follows on them."""
    accepts = at("start.engine_rpm")
    gust = at("engage.wind_highest_gust")
    named = (
        Scene(
            "page-options",
            "Choices behind the decimal point",
            LEVEL.start,
            (*LEVEL.doings, keys(".")),
        ),
        Scene(
            "page-lists",
            "Another list of the group: which?",
            at("outside_nose.oil_and_fuel_lines"),
            (Opens(Page.LISTS),),
        ),
        Scene(
            "page-on-paper-typed",
            "The first number of the card stands, the last is being typed",
            at("before_start.parking_brake"),
            (Opens(Page.PAPER), keys("1", "5", "7", "enter", "1", "6")),
        ),
        Scene(
            "page-on-paper-second",
            "Who vouches for what was done on paper?",
            at("before_start.parking_brake"),
            (Opens(Page.PAPER), keys("1", "5", "7", "enter", "1", "6", "1", "enter")),
        ),
        Scene(
            "page-fault",
            "A fault on a station: which item?",
            at("outside_nose.oil_and_fuel_lines"),
            (keys("-"),),
        ),
        Scene(
            "page-accept-second",
            "The second key of an acceptance",
            accepts,
            (*UNMET, Opens(Page.ACCEPT), keys("3")),
        ),
        Scene(
            "page-accept-emergency-second",
            "The second key, as an emergency only",
            gust,
            ("copilot: 41", "affirm", Opens(Page.ACCEPT), keys("2")),
        ),
        Scene(
            "page-accept-maintenance",
            "Maintenance only: nothing to accept",
            at("warm_up.fuel_pressure"),
            ("copilot: 11", "affirm", Opens(Page.ACCEPT)),
        ),
        Scene(
            "page-accept-nobody",
            "Nobody may accept",
            at("start.fuel_pressure"),
            ("copilot: 12", "affirm", Opens(Page.ACCEPT)),
        ),
        Scene(
            "page-keys-reading",
            "The keys at a reading",
            at("start.fuel_pressure"),
            (Opens(Page.KEYS),),
        ),
        Scene(
            "page-keys-station",
            "The keys at a station",
            at("outside_nose.oil_and_fuel_lines"),
            (Opens(Page.KEYS),),
        ),
        Scene(
            "page-keys-waiting",
            "The keys in a wait",
            at("warm_up.hour_meter"),
            ("copilot: counting", Opens(Page.KEYS)),
        ),
        Scene(
            "page-keys-first-page",
            "The keys on the first page",
            at("", opening=at("").opening),
            (Opens(Page.KEYS),),
        ),
        Scene(
            "page-discontinue-too-soon",
            "The second key comes too soon",
            at("run_up.servos_off"),
            (Opens(Page.DISCONTINUE), _at_once("+")),
        ),
        *(
            Scene(
                f"more-{number}",
                f"The numbered commands, sheet {number}",
                at("before_start.throttle"),
                (keys(MORE_KEY, *"0" * (number - 1)),),
            )
            for number in range(1, len(COMMAND_SHEETS) + 1)
        ),
        Scene(
            "more-in-flight",
            "The numbered commands, in flight",
            at("landing.mixture"),
            (keys(MORE_KEY),),
        ),
    )
    return (*named, *_of_commands())


def _at_once(name: str) -> Callable[..., None]:
    return lambda seat: seat.hold(name)


_ONCE = (Page.DRILLS, Page.LISTS, Page.RECEIPT)
"""Pages that have scenes of their own, and need none in the middle of a list."""
_SAME_ALL_DAY = (
    Page.ACCEPT, Page.DISCONTINUE, Page.LEAVE, Page.KEYS, Page.TIMERS, Page.PAPER, Page.DOCUMENTS,
    Page.CREW, Page.HAPPENED,
)  # fmt: skip
_LONG = (Page.DOCUMENTS, Page.FLIGHTS, Page.COPY, Page.KEYS, Page.OPEN, Page.CREW)
"""Pages of which a cockpit's screen shows no more than a part."""


_WHERE = {Page.ACCEPT: at("start.engine_rpm"), Page.TIMERS: at("start.firing")}
"""Where a page has something to show."""


def _of_commands() -> tuple[Scene, ...]:
    """Every page that a numbered command opens: in the middle of a list, late in the day, and
    turned on where it has more."""
    scenes: list[Scene] = []
    for page in pages_of_commands():
        if page in _ONCE:
            continue
        name = f"page-{page.value.split(',')[0].replace(' ', '-')}"
        shows = f"The page {page.value}"
        early = _WHERE.get(page, at("before_start.throttle"))
        before = UNMET if page is Page.ACCEPT else ()
        scenes.append(Scene(name, shows, early, (*before, Opens(page))))
        if page not in _SAME_ALL_DAY:
            late = f"{shows}, late in the day"
            scenes.append(Scene(f"{name}-late", late, AFTER_SECURE, (Opens(page),)))
        if page in _LONG:
            turned = f"{shows}, turned on"
            scenes.append(Scene(f"{name}-next", turned, AFTER_SECURE, (Opens(page), keys("0"))))
    return tuple(scenes)
