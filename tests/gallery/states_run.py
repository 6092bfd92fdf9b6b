"""The states of the whole run that have a picture: first page, bands, stops, crew, ends.

Rules: every state is reached by words and keys in the demonstration; what a run can only be opened
with, as modes, defects that were left and documents that changed, stands in its opening.
"""

from __future__ import annotations

from runner.engine.events import Recovered
from runner.terminal.shell import Document
from tests.gallery.scenes import Scene, Start, at, keys
from tests.gallery.stage import CREW, Opening, Seat
from tests.gallery.states_bands import bands

PAPERS = (
    Document("Corvane C-4", "6", "5c1d77e0"),
    Document("Before start", "6", "91b0aa42", ("commander", "copilot")),
    Document("Start", "6", "0e6f13c8", ("copilot",)),
    Document("Head will not cool", "6", "c4d2f95b", ("copilot",)),
)
CARRIED = (
    ("defect:engage.droop_stops", "Droop stop slow on one blade, to be watched"),
    ("defect:post_flight.snags", "Vibration left pedal"),
    ("counter:start_attempts", "1"),
)
GROUNDED = (
    ("grounded:magneto_fault", "Left magneto live with the selector off; aircraft not to be run"),
)
WEAK = ("Battery of this machine at 18 percent, not charging.", "This machine is hot: 81 °C.")
NEW = tuple(paper._replace(changed_for=("commander", "copilot")) for paper in PAPERS)
EVERYTHING = Opening(papers=PAPERS, carried=CARRIED, machine=WEAK)
ALONE = (("commander", "Ines Marlow"),)


def stopped(seat: Seat) -> None:
    """The program was stopped for ten minutes and the run is taken up again."""
    seat.clock.pass_ms(600_000)
    seat.run_.take(lambda now: Recovered(now, 600_000, True))


def lost(seat: Seat) -> None:
    """The disk takes nothing more."""
    seat.run_.recorder.lose("no space left on the device")


def whole_run() -> tuple[Scene, ...]:
    """First page, crew, stops, ends: what concerns the run and not one question."""
    started = ("commander: page read", "copilot: page read")
    solo = Opening(modes=("solo", "demonstration"), crew=ALONE)
    single = Opening(modes=("single-pilot", "demonstration"), crew=(CREW[0], CREW[2]))
    trial = Opening(modes=("crew", "draft", "rehearsal"))
    return (
        Scene("first-page", "First page, both have still to read it", Start()),
        Scene("first-page-one-read", "One of the two has read it", Start(), started[:1]),
        Scene(
            "first-page-changed",
            "Documents changed since the last run",
            Start(opening=Opening(papers=PAPERS)),
        ),
        Scene(
            "first-page-carried",
            "Defects left by the run before",
            Start(opening=Opening(carried=CARRIED)),
        ),
        Scene(
            "first-page-grounded",
            "A grounding defect left by the run before",
            Start(opening=Opening(carried=GROUNDED)),
        ),
        Scene("first-page-machine", "A weak machine", Start(opening=Opening(machine=WEAK))),
        Scene(
            "first-page-everything",
            "Changed documents, defects and a weak machine at once",
            Start(opening=EVERYTHING),
        ),
        Scene(
            "first-page-all-new",
            "Every document is new to everybody, with defects and a weak machine",
            Start(opening=EVERYTHING._replace(papers=NEW)),
        ),
        *(
            Scene(
                f"first-page-sheet-{number}",
                f"Changed documents, defects and a weak machine: turned on {number - 1} times",
                Start(opening=EVERYTHING),
                (keys(*"0" * (number - 1)),),
            )
            for number in (2, 3)
        ),
        Scene("first-page-not-so", "The key of not so on the first page", Start(), (keys("-"),)),
        Scene("first-page-wrong", "Wrong aircraft", Start(), ("commander: wrong aircraft",)),
        Scene("first-page-single-pilot", "First page of one pilot", Start(opening=single)),
        Scene(
            "band-solo",
            "Solo: one trainee for every role",
            Start(opening=solo),
            ("commander: page read",),
        ),
        Scene(
            "band-single-pilot",
            "One pilot aboard",
            Start(opening=single),
            ("commander: page read",),
        ),
        Scene("band-draft-rehearsal", "Draft documents, rehearsed", Start(opening=trial), started),
        Scene(
            "band-one-list",
            "One list only",
            Start(opening=Opening(only="fuel")),
            started,
        ),
        Scene(
            "recording-lost", "The recording is lost", at("before_start.throttle"), (lost, "closed")
        ),
        Scene(
            "recording-lost-at-limit",
            "The recording is lost, and a limit is not met",
            at("engage.wind_highest_gust"),
            (lost, "copilot: 40", "affirm"),
        ),
        Scene(
            "bands-all",
            "Every band at once, in flight",
            at(
                "landing.mixture",
                opening=Opening(modes=("crew", "demonstration", "draft", "rehearsal", "scripted")),
            ),
            (lost, "mixture rich"),
        ),
        *bands(),
        Scene("after-stop-engine", "Taken up again: engine?", at("run_up.servos_off"), (stopped,)),
        Scene(
            "after-stop-rotor",
            "Taken up again: rotor?",
            at("run_up.servos_off"),
            (stopped, keys("2")),
        ),
        Scene(
            "after-stop-airborne",
            "Taken up again: airborne?",
            at("run_up.servos_off"),
            (stopped, keys("2", "2")),
        ),
        Scene(
            "after-stop-where",
            "Taken up again: where to go on?",
            at("run_up.servos_off"),
            (stopped, keys("2", "2", "1")),
        ),
        Scene(
            "crew-change",
            "A newcomer takes a seat",
            at("before_start.battery"),
            ("crew copilot: Ada Venn",),
        ),
        Scene("hand-over", "The duties are exchanged", at("before_start.throttle"), ("hand over",)),
        Scene("next-flight", "The second flight begins", at("brief.weather_and_notices", flight=2)),
        Scene(
            "next-flight-turned",
            "What the second flight skips, turned on",
            at("brief.weather_and_notices", flight=2),
            (keys("0"),),
        ),
        Scene(
            "still-valid",
            "Second flight: lists that are still valid",
            at("hook.hook_safe_light", flight=2),
        ),
        Scene("end-of-run", "No list is open", Start("end")),
        Scene(
            "next-flight-may-begin",
            "The next flight may begin in place of the list that is asked",
            at("secure.wheel_chocks"),
        ),
        Scene("receipt", "The receipt of the log so far", Start("end"), (keys("4"),)),
        Scene("receipt-next", "The receipt, turned on", Start("end"), (keys("4", "0"),)),
        Scene("end-of-day", "The second key of the end of the day", Start("end"), (keys("+"),)),
        Scene(
            "end-of-run-defect", "The end of a day with a defect", Start("end", "drill_head_hot")
        ),
        Scene(
            "end-of-day-refused",
            "The day does not end with lists open",
            at("before_start.throttle"),
            ("end of day",),
        ),
    )
