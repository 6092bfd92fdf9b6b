"""A day by hand: lists, drills, a station, what was kept, flights and figures, for the tests.

Rules: data only; `fakes` gives it to every test, beside the views that are made of it.
"""

from __future__ import annotations

from typing import Any

from runner.engine.effects import CardRange, Figure, FlightLine, KeptLine, Line, ListLine
from runner.terminal.shell import Document

LISTS = (
    ListLine("documents", "Documents and release", "still valid", closed_at=0),
    ListLine("outside", "Outside inspection", "closed", closed_at=900_000),
    ListLine("hook", "Cargo hook", "not required", why="no hook"),
    ListLine("before_start", "Before start", "current"),
    ListLine("start", "Start", "to come"),
    ListLine("engage", "Rotor engagement", "to come"),
)
DRILLS = tuple(
    (name.replace(" ", "_").lower(), name)
    for name in (
        "Fire in start",
        "Hydraulic lock felt",
        "Over-primed",
        "Oil pressure low",
        "Rotor engagement runaway",
        "Clutch slip or needles not joining",
        "Magneto out of limits",
        "Servo failure",
        "Ground resonance",
        "Gearbox hot",
        "Head temperature will not come down",
        "Droop stop not in",
    )
)
REASONS = (
    "Instrument known to read wrong",
    "Confirmed by a second instrument",
    "Operation cannot wait",
    "Agreed with maintenance by radio",
    "Other, written after shutdown",
)
PUT_OFF = (
    Line(12, "Right side fuel drain", "CLEAR", "", "put off", "before Rotor engagement"),
    Line(28, "Cabin heater", "OFF", "", "put off", ""),
)
STATION = tuple(
    Line(40 + n, challenge, expected, expected if status == "answered" else "", status, key=f"s{n}")
    for n, (challenge, expected, status) in enumerate(
        (
            ("Nose cowl latches", "SECURE", "answered"),
            ("Engine oil level", "ABOVE MINIMUM", "open"),
            ("Induction air screen", "CLEAR", "answered"),
            ("Exhaust collector", "NO CRACKS", "open"),
            ("Nose wheel tyre", "SERVICEABLE", "unmet"),
            ("Strut extension", "TWO FINGERS", "open"),
            ("Battery door", "LATCHED", "open"),
            ("Pitot cover", "OFF", "open"),
            ("Forward fuel drain", "CLEAR", "open"),
        )
    )
)
MEMORY = (
    "Starter KEEP ENGAGED",
    "Mixture IDLE CUT-OFF",
    "Throttle FULL OPEN",
    "Fuel selector OFF",
    "Boost pump OFF",
    "Fire guard CALL",
    "Rotor brake ON if turning",
)


KEPT: dict[str, Any] = {
    "put_off": PUT_OFF,
    "open_lines": (
        *PUT_OFF,
        Line(35, "Wheel brakes", "PARKED", "", "open", key="before_start.wheel_brakes"),
        Line(51, "Left magneto drop", "AT MOST 120 rpm", "150", "unmet", key="start.left_drop"),
    ),
    "accepted": (Line(36, "Throttle", "CLOSED", "OPEN", "accepted", REASONS[2]),),
    "snags": ("vibration, left pedal",),
    "defects": ("Landing lamp out",),
    "flags": ("Oil temperature corrected behind a closed list",),
    "kept": (
        KeptLine(
            "snag", "vibration, left pedal", 660_000, "Before start", ("Oil temperature 54 °C",)
        ),
        KeptLine("defect", "Landing lamp out", -1),
        KeptLine("flag", "Oil temperature corrected behind a closed list", 720_000, "Start"),
    ),
    "marks": (("take-off", 600_000), ("landing", 900_000)),
}
_OF_A_FLIGHT = (
    ("Engine start", "06:13", "UTC"),
    ("Rotor start", "06:16", "UTC"),
    ("Take-off", "06:23", "UTC"),
    ("Landing", "06:49", "UTC"),
    ("Engine", "40", "min"),
    ("Flight", "26", "min"),
    ("Fuel at start", "540", "L"),
    ("Oil added", "", "L"),
)
FIGURES = (
    *(Figure(*figure, flight) for flight in (1, 2) for figure in _OF_A_FLIGHT),
    Figure("Landings", "2"),
    Figure("Starts", "2"),
)
CARD = (
    CardRange("Documents and release", 1, 9),
    CardRange("Before start", 31, 47),
    CardRange("Start", 48, 60),
)
FLIGHTS = (
    FlightLine(1, 0, False, (("take-off", 600_000), ("landing", 900_000)), LISTS),
    FlightLine(
        2,
        1_200_000,
        True,
        (),
        (
            LISTS[0]._replace(until="maintenance"),
            LISTS[1]._replace(
                status="still valid", until="refuelled, or stopped more than 30 minutes"
            ),
            LISTS[2],
            LISTS[3],
            ListLine("after", "After landing", "not done", why="flown on"),
        ),
    ),
)
DOCUMENTS = (
    Document("Corvane C-4", "6", "0a1b2c3d", ("commander", "copilot")),
    *(
        Document(line.title, "6", f"{n:08x}", ("copilot",) if n % 2 else ())
        for n, line in enumerate(LISTS, 1)
    ),
)
