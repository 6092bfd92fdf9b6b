"""Every end of every drill of the demonstration, and hands that answer a drill to that end.

Rules: `ENDS` says by the choices of a crew how an end is reached, and a test holds it against the
documents; the keys come from the screen (what the row of keys offers, the numbers before choices);
a value is one that no limit of a drill minds; a wait is let pass as the screen counts it.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from tests.terminal_crew import LOOKS, TYPING, first_key
from tests.terminal_driver import Terminal
from tests.terminal_eye import table

LONGEST_DRILL = 30
VALUES = {"RPM TO BURN IT CLEAR": "2200"}
"""What is read where `ANY_VALUE` would be out of limits, by the challenge."""
ANY_VALUE = "20"


class Way(NamedTuple):
    """A drill and one of its ends, by their titles, and what is chosen on the way there."""

    drill: str
    end: str
    choices: tuple[str, ...]
    airborne: bool = False


ENDS = (
    Way("Carburettor icing", "Power is back", ("POWER IS BACK",)),
    Way("Carburettor icing", "Power stays low", ("POWER STAYS LOW",)),
    Way("Clutch or needles wrong", "Once more", ("ENGAGE ONCE MORE",)),
    Way("Clutch or needles wrong", "Left, engine stopped", ("ENGINE STOPPED",)),
    Way("Clutch or needles wrong", "Landing now", ("LANDING NOW",), True),
    Way("Droop stop not in", "All in now", ("ALL IN NOW", "NO CONTACT")),
    Way("Droop stop not in", "Stayed out, no contact", ("STAYED OUT", "NO CONTACT")),
    Way("Droop stop not in", "Blade met the boom", ("STAYED OUT", "BLADE CONTACT")),
    Way("Electrical smoke", "Smoke clears", ("SMOKE CLEARS",)),
    Way("Electrical smoke", "Smoke stays", ("SMOKE STAYS",)),
    Way("Rotor engagement runaway", "Slowing, never over 225", ("ROTOR SLOWING", "NOT REACHED")),
    Way("Rotor engagement runaway", "Over 225 or cut off", ("STILL FAST", "LIMIT PASSED")),
    Way("Fire in start", "Fire out, engine stopped", ("FIRE OUT",)),
    Way("Fire in start", "Not out, aircraft left", ("STILL BURNING",)),
    Way("Gearbox hot", "Back within limits", ("BACK WITHIN LIMITS",)),
    Way("Gearbox hot", "Stays hot", ("STAYS HOT",)),
    Way("Gearbox hot", "Pressure lost", ("PRESSURE LOST",)),
    Way("Generator failure", "Charging again", ("CHARGING AGAIN",)),
    Way("Generator failure", "On the battery", ("ON THE BATTERY",)),
    Way("Ground resonance", "Calm on the ground", ("THROTTLE CLOSED", "CALM ON THE GROUND")),
    Way("Ground resonance", "Calm in the hover", ("LIFTED OFF", "CALM IN THE HOVER"), True),
    Way("Ground resonance", "Damage seen", ("THROTTLE CLOSED", "DAMAGE SEEN")),
    Way("Gust at rotor start", "No contact, wind down", ("WIND IS DOWN",)),
    Way("Gust at rotor start", "No contact, wind stays", ("WIND STAYS",)),
    Way("Gust at rotor start", "Contact or doubt", ("CONTACT OR DOUBT",)),
    Way("Head will not cool", "Falling again", ("FALLING AGAIN",)),
    Way("Head will not cool", "Cut off hot", ("CUT OFF HOT",)),
    Way("Head will not cool", "Too hot, landing or shutting down", ("LEAVING OFF",)),
    Way("Hydraulic lock felt", "Drained, turns free", ("DRAINED AND FREE",)),
    Way("Hydraulic lock felt", "Still hard or forced", ("STILL HARD",)),
    Way("Hydraulic lock felt", "Not on the ground", ("DRAINED AND FREE",), True),
    Way("Magneto out of limits", "Measure again", ("RUNS ROUGH", "MEASURE AGAIN")),
    Way("Magneto out of limits", "No drop, magneto live", ("NO DROP", "LEAVE IT")),
    Way("Magneto out of limits", "Rough in the air", ("RUNS ROUGH", "MEASURE AGAIN"), True),
    Way("Magneto out of limits", "Left as it is", ("DROP TOO LARGE", "LEAVE IT")),
    Way("Oil pressure low", "Engine stopped", ("ENGINE STOPPED",)),
    Way("Oil pressure low", "Landing now", ("LANDING NOW",), True),
    Way("Over-primed", "Cleared", ("NOSE CLEAR",)),
    Way("Over-primed", "Fuel under the nose", ("FUEL ON THE GROUND",)),
    Way("Over-primed", "Not on the ground", ("NOSE CLEAR",), True),
    Way("Servo failure", "A switch was off", ("SWITCH WAS OFF",)),
    Way("Servo failure", "On one system only", ("ONE SYSTEM ONLY",)),
    Way("Servo failure", "Controls heavy", ("CONTROLS HEAVY",)),
)  # fmt: skip


def take(screen: Terminal, way: Way) -> None:
    """Answers the drill that stands, from its memory items to its end."""
    mark = f"DRILL: {way.drill.upper()}"
    screen.see_text(mark)
    wanted = list(way.choices)
    for _ in range(LONGEST_DRILL):
        if mark not in screen.text():
            assert wanted == [], screen.text()
            return
        _answer(screen, wanted)
    raise AssertionError("the drill has no end:\n" + "\n".join(screen.lines()))


def _answer(screen: Terminal, wanted: list[str]) -> None:
    """One step of a drill, by the key that the screen offers for it."""
    offered, stood = first_key(screen.hint()), screen.face()
    left = re.search(r"(\d+):(\d\d) LEFT", screen.text())
    if left and offered.startswith("DRILLS"):
        screen.passes(1000 * (60 * int(left[1]) + int(left[2])))
    elif offered == "NUMBER CHOOSES":
        number = re.search(rf" (\d) {wanted[0]}\b", screen.text())
        assert number, f"{wanted[0]} is offered nowhere:\n" + "\n".join(screen.lines())
        wanted.pop(0)
        screen.key(number[1], after_ms=1000)
    elif offered == "VALUE, ENTER":
        value = next((v for words, v in VALUES.items() if words in screen.text()), ANY_VALUE)
        screen.key(value, "enter", after_ms=1000)
    elif offered.startswith(LOOKS):
        screen.key(offered.removeprefix(LOOKS).split()[0], after_ms=1000)
    else:
        assert offered.endswith(" +"), f"no key for this: {offered}\n" + "\n".join(screen.lines())
        screen.key("+", after_ms=1000)

    def taken() -> bool:
        return screen.face() != stood and not screen.hint().startswith(TYPING)

    screen.see(taken, "what came of the key")


def kind(way: Way) -> str:
    """Where the documents say that an end leads: "continue", "restart", "discontinue" ..."""
    flow = next(f for f in table().flows.values() if f.drill and f.title == way.drill)
    return next(end.kind.value for end in flow.ends if end.label == way.end)
