"""The states around a question that have a picture: limits, times that run, stations, standby.

Rules: every state is reached by words and keys in the demonstration.
"""

from __future__ import annotations

from tests.gallery.scenes import Scene, at, keys

LEVEL = Scene(
    "unmet-level",
    "The value stopped moving short of its limit",
    at("shutdown.cut_off_head", script="drill_head_hot"),
    (
        "copilot: 172",
        "affirm",
        "@+60s",
        "copilot: 171",
        "@+60s",
        "copilot: 171",
        "@+80s",
        "copilot: 170",
    ),
)


def limits() -> tuple[Scene, ...]:
    """Limits near, not met and computed; times that run; stations, ends and standby."""
    gust = at("engage.wind_highest_gust")
    return (
        Scene(
            "read-back",
            "A value out of its limit is read back",
            at("start.fuel_pressure"),
            ("copilot: 12",),
        ),
        Scene(
            "read-back-inside",
            "A value inside its limit, not surely heard, is read back",
            at("engage.oil_temperature"),
            ("unsure: copilot: 61",),
        ),
        Scene(
            "unmet-nobody",
            "Below the limit, nobody may accept",
            at("start.fuel_pressure"),
            ("copilot: 12", "affirm"),
        ),
        Scene(
            "unmet-commander",
            "Below the limit, the commander may accept",
            at("start.engine_rpm"),
            ("820", "affirm"),
        ),
        Scene("unmet-above", "Above the limit", at("start.engine_rpm"), ("1180", "affirm")),
        Scene(
            "unmet-maintenance",
            "Only maintenance clears it",
            at("warm_up.fuel_pressure"),
            ("copilot: 11", "affirm"),
        ),
        Scene("unmet-emergency", "Only as an emergency", gust, ("copilot: 41", "affirm")),
        Scene(
            "defect-noted",
            "An emergency acceptance has noted a defect",
            gust,
            ("copilot: 41", "affirm", 'commander: accept emergency "fire on the apron"'),
        ),
        Scene(
            "unmet-waits",
            "A limit that is met by waiting",
            at("shutdown.cut_off_head"),
            ("copilot: 171", "affirm"),
        ),
        LEVEL,
        Scene(
            "unmet-answer",
            "Not so, and maintenance only",
            at("before_start.fire_warning"),
            ("copilot: not so",),
        ),
        Scene(
            "unmet-typed",
            "The value now, half typed",
            at("start.engine_rpm"),
            ("820", "affirm", keys("9", "5")),
        ),
        Scene(
            "accepted",
            "The commander has accepted",
            at("start.engine_rpm"),
            ("820", "affirm", 'commander: accept "Needed for the safety of people"'),
        ),
        Scene(
            "computed",
            "A computed value out of its limit",
            at("fuel.fuel_planned"),
            ("copilot: 580", "copilot: 120", "copilot: 130"),
        ),
        Scene("computed-met", "After a computed value", at("run_up.heat_cold")),
        Scene("wait-condition", "A wait asks its condition", at("warm_up.warm")),
        Scene("wait-meanwhile", "Another step during a wait", at("warm_up.altimeters")),
        Scene(
            "waiting", "Nothing to do but wait", at("warm_up.hour_meter"), ("copilot: counting",)
        ),
        Scene(
            "waiting-asked",
            "The wait asks its condition again",
            at("warm_up.hour_meter"),
            ("copilot: counting", "@+60s"),
        ),
        Scene(
            "waiting-lost",
            "The condition of a wait was lost",
            at("warm_up.hour_meter"),
            ("copilot: counting", "condition lost"),
        ),
        Scene(
            "waiting-not-so",
            "A value outside the condition",
            at("warm_up.warm"),
            ("1300", "affirm"),
        ),
        Scene(
            "waiting-cooling",
            "A wait without a condition",
            at("shutdown.head_before_letting_go"),
            ("copilot: 176",),
        ),
        Scene("failed-start", "After a failed start", at("start.firing"), ("no start",)),
        Scene(
            "failed-start-cools",
            "The starter cools",
            at("start.firing"),
            ("no start", "magnetos off", "mixture cut-off"),
        ),
        Scene("by-time", "A by-time runs", at("start.oil_pressure_needle")),
        Scene("by-time-called", "A by-time calls", at("start.oil_pressure_needle"), ("@+21s",)),
        Scene("by-time-over", "A by-time ran out", at("start.oil_pressure_needle"), ("@+35s",)),
        Scene(
            "by-time-two",
            "Two by-times run",
            at("start.firing"),
            ("timer oil pressure after firing",),
        ),
        Scene(
            "by-time-reading", "A reading within a by-time", at("engage.joining_rotor"), ("@+31s",)
        ),
        Scene("station-first", "A station as it opens", at("brief.flight_brief"), ("closed",)),
        Scene("station-ticked", "A station, some ticked", at("outside_nose.oil_and_fuel_lines")),
        Scene(
            "station-fault",
            "A station with a fault",
            at("outside_nose.exhaust_collector"),
            ("copilot: fault exhaust collector",),
        ),
        Scene(
            "station-eight",
            "A station of eight, half of it ticked",
            at("outside_rotor.swashplate_and_links"),
        ),
        Scene("closing", "The end of a list, none open", at("fuel.fuel")),
        Scene("closing-open", "The end of a list, others of its group open", at("cabin.cabin")),
        Scene(
            "closing-refused",
            "The closing call is refused not so",
            at("fuel.fuel"),
            ("copilot: not so",),
        ),
        Scene(
            "closing-held",
            "What was put off holds the end of its own list",
            at("warm_up.oil_pressure"),
            ("copilot: 84",),
        ),
        Scene(
            "closing-held-not-met",
            "What was put off is not so at the end of its own list",
            at("warm_up.oil_pressure"),
            ("copilot: 84", "copilot: not so"),
        ),
        Scene(
            "closing-reopened",
            "A correction at the end of a list opens one of its own steps",
            at("warm_up.warm_up"),
            ("copilot: correct hour meter not so",),
        ),
        Scene(
            "turned-to",
            "Another list of the group",
            at("outside_nose.intake_and_cooling_inlets"),
            ("turn to rotor head",),
        ),
        Scene("standby", "Standing by", at("before_start.battery"), ("stand by", "@+40s")),
        Scene(
            "standby-long",
            "Standing by for over two minutes",
            at("before_start.battery"),
            ("stand by", "@+150s"),
        ),
        Scene(
            "standby-running",
            "Standing by while a by-time runs",
            at("start.oil_pressure_needle"),
            ("stand by", "@+12s"),
        ),
        Scene(
            "standby-resumed",
            "Going on after a long standby",
            at("before_start.battery"),
            ("stand by", "@+150s", "continue"),
        ),
        Scene("in-flight", "In flight", at("landing.mixture")),
        Scene(
            "lifted-open",
            "Lifted with steps open",
            at("before_take_off.servos"),
            ("mark take-off",),
        ),
        Scene(
            "discontinued",
            "Discontinued with the rotor turning",
            at("run_up.servos_off"),
            ("discontinue",),
        ),
        Scene(
            "discontinued-early",
            "Discontinued with nothing turning",
            at("before_start.battery"),
            ("discontinue",),
        ),
    )
