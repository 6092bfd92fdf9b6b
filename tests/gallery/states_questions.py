"""The states of a question that have a picture: each kind, and how far an answer has come.

Rules: every state is reached by words and keys in the demonstration; the longest texts are looked
for in its documents, so that a longer one is pictured as soon as it is written.
"""

from __future__ import annotations

from collections.abc import Callable

from runner.engine.steplines import expected
from runner.engine.table import Step
from tests.gallery.scenes import Scene, Start, Typed, at, keys
from tests.gallery.stage import Seat, loaded, played, step_names


def broken(seat: Seat) -> None:
    """Something in the program itself fails."""
    seat.fails(ValueError("a number where a list was due"))


def held(seat: Seat) -> None:
    """The key that was just pressed goes on repeating itself."""
    for _ in range(5):
        seat.clock.pass_ms(40)
        seat.hold("+")


def on_paper(seat: Seat) -> None:
    """Five steps from here on were done from the card."""
    first = seat.view.number
    seat.words(f"on paper {first} to {first + 4} revision {seat.view.revision}")


def _reached(step: Step) -> tuple[str, int] | None:
    """The script of the demonstration, and the flight, in which a step is asked."""
    flow = step.id.partition(".")[0]
    script = f"drill_{flow}" if flow in loaded().table.drills else "normal"
    for moment, name in zip(played(script), step_names(script), strict=True):
        if name == step.id:
            return script, moment.state.flight
    return None


def longest_challenge() -> Start:
    """Where the longest challenge that the demonstration calls is asked."""
    return _first_reached(lambda step: len(step.challenge))


def longest_response() -> Start:
    """Where the longest answer that the demonstration expects is asked."""
    table = loaded().table
    return _first_reached(lambda step: 0 if step.choices else len(expected(table, step)))


def longest_title() -> Start:
    """The first question of the list with the longest title."""
    titles = {flow.id: len(flow.title) for flow in loaded().table.flows.values()}
    return _first_reached(lambda step: titles[step.id.partition(".")[0]])


def _first_reached(size: Callable[[Step], int]) -> Start:
    for step in sorted(loaded().table.steps.values(), key=size, reverse=True):
        found = _reached(step)
        if found is not None:
            return at(step.id, script=found[0], flight=found[1])
    raise LookupError("the scripts of the demonstration ask nothing")


def questions() -> tuple[Scene, ...]:
    """Each kind of question, and how far an answer to it has come."""
    pump = at("start.fuel_pressure")
    return (
        Scene("asking", "A response is asked", at("before_start.tail_wheel")),
        Scene("asking-ground", "The ground answers", at("engage.ground")),
        Scene("asking-long", "The longest challenge of the demonstration", longest_challenge()),
        Scene("asking-long-answer", "The longest answer of the demonstration", longest_response()),
        Scene("asking-long-title", "The longest title of a list", longest_title()),
        Scene("critical", "A critical step", at("before_start.rotor_brake")),
        Scene(
            "called-again", "Called three times, waiting", at("before_start.throttle"), ("@+35s",)
        ),
        Scene("reading", "A reading with a range", pump),
        Scene("reading-at-least", "A reading with a lower limit", at("start.first_oil")),
        Scene("reading-below", "A reading with an upper limit", at("shutdown.brake_rpm")),
        Scene("reading-no-limit", "A reading without a limit", at("post_flight.hour_meter")),
        Scene(
            "reading-below-zero",
            "A reading below zero, half typed",
            at("brief.outside_air"),
            (keys("-", "1", "2"),),
        ),
        Scene(
            "reading-decimals",
            "A reading with decimals, half typed",
            at("warm_up.bus_voltage"),
            (keys("2", "8", ".", "1"),),
        ),
        Scene("typed-digits", "Digits typed, not yet sent", pump, (keys("1", "8"),)),
        Scene(
            "typed-too-soon",
            "Digits where none are asked",
            at("before_start.tail_wheel"),
            (keys("7"),),
        ),
        Scene(
            "typed-words",
            "Words typed, not yet sent",
            at("before_start.throttle"),
            (Typed("snag vibration left pedal"),),
        ),
        Scene(
            "typed-words-long",
            "More words than a row holds",
            at("before_start.throttle"),
            (Typed("snag " + "vibration in the left pedal, comes and goes with the power, " * 3),),
        ),
        Scene("echo", "The value of the reading before is echoed", at("start.throttle")),
        Scene("refused-answer", "An answer that is none", at("before_start.throttle"), ("open",)),
        Scene(
            "refused-responder",
            "The wrong person answers",
            at("before_start.wheel_chocks"),
            ("copilot: in, both sides",),
        ),
        Scene("refused-implausible", "A value that no instrument shows", pump, ("copilot: 900",)),
        Scene("refused-no-number", "Words where a number is asked", pump, ("copilot: fine",)),
        Scene("key-held", "A key that is held", at("before_start.throttle"), (keys("+"), held)),
        Scene("own-fault", "A fault of the program", at("before_start.throttle"), (broken,)),
        Scene("both-look", "Both look", at("engage.clutch_area_and_disc")),
        Scene(
            "both-look-one",
            "One of the two has looked",
            at("engage.clutch_area_and_disc"),
            ("commander: clear all round",),
        ),
        Scene("caution", "A caution", at("start.fire_crank_on_mixture_cut_off")),
        Scene(
            "caution-over",
            "A caution with key words",
            at("shutdown.no_brake_from_70_rpm_or_under_power"),
        ),
        Scene("remark", "A remark before a question", at("shutdown.engine_rpm")),
        Scene("choice", "A choice of five", at("start.prime")),
        Scene("choice-critical", "A critical choice", at("engage.needles")),
        Scene("choice-by-commander", "A choice by the commander", at("post_flight.snags")),
        Scene("not-so", "Not so", at("before_start.throttle"), ("not so",)),
        Scene("unable", "Unable", at("before_start.warning_lights"), ("copilot: unable",)),
        Scene(
            "corrected",
            "A correction",
            at("warm_up.head_temperature"),
            ("copilot: correct oil temperature 54",),
        ),
        Scene(
            "corrected-unmet",
            "A correction that takes the limit away",
            at("warm_up.head_temperature"),
            ("copilot: correct oil temperature 31",),
        ),
        Scene("put-off", "A step was put off", at("warm_up.hour_meter"), ("copilot: put off",)),
        Scene(
            "put-off-back",
            "What was put off comes back",
            at("cabin.escape_window_pins"),
            ("commander: out",),
        ),
        Scene("put-off-list", "What is put off, and where it comes back", at("cabin.crash_axe")),
        Scene(
            "put-off-refused",
            "A step that cannot be put off",
            at("before_start.throttle"),
            ("put off",),
        ),
        Scene(
            "on-paper", "Steps taken from the card", at("before_start.parking_brake"), (on_paper,)
        ),
        Scene(
            "snag", "A snag is kept", at("landing.fuel_selector"), ("snag vibration left pedal",)
        ),
    )
