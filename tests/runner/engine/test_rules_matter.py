"""A rule taken out of the engine fails a test: each is taken out here, one at a time.

A mutant is caught by generated runs under the monitor (`RUNS`), or by the named checks beside it.
The engine as it stands must pass what catches the mutants, or nothing would be shown.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from runner.engine import (
    answers,
    deciding,
    drills,
    flights,
    interruptions,
    mistakes,
    newer,
    passing,
    people,
    progress,
    readings,
    waits,
)
from runner.engine.draft import Draft
from runner.engine.state import NEVER, How, ordinary
from tests.flows import test_corvane_defects
from tests.runner.engine import (
    test_acceptance,
    test_answers,
    test_closing,
    test_corrections,
    test_drills,
    test_flights,
    test_free_events,
    test_interruptions,
    test_laws,
    test_mistakes,
    test_newer,
    test_readings,
    test_waits,
)
from tests.runner.engine.generator import aircraft
from tests.runner.engine.mutants import (
    always_moving,
    any_class,
    any_number,
    any_reason,
    any_revision,
    any_role_accepts,
    ask_stays,
    bounds_included,
    closes_anyhow,
    correction_keeps_acceptance,
    correction_passes_both,
    counted_unseen,
    end_unread,
    everywhere,
    floor_stays,
    late_events_taken,
    left_reads_closed,
    memory_skipped,
    met_by_anything,
    never_back,
    nothing,
    passes,
    put_off_twice,
    stale_taken,
    unknown_is_false,
    values_stay,
    wakes_are_lost,
)
from tests.runner.engine.willing import starts

Patch = pytest.MonkeyPatch
Check = Callable[[], None]
NOTICED = (AssertionError, LookupError, pytest.fail.Exception)


RUNS: tuple[Check, ...] = ()
A, R, W, C, P, D, F = (
    test_answers, test_readings, test_waits, test_corrections, test_acceptance, test_drills,
    test_flights,
)  # fmt: skip
N, L, E, X = test_interruptions, test_laws, test_free_events, test_closing

MUTANTS: dict[str, tuple[Callable[[Patch], None], tuple[Check, ...]]] = {
    "what is put off passes": (
        passes(How.PUT_OFF),
        (lambda: X.test_no_list_closes_over_a_step_that_is_not_passed(How.PUT_OFF),),
    ),
    "what is put off does not come back": (
        never_back, (P.test_without_a_trigger_it_comes_back_before_the_closing_call,),
    ),
    "what is unmet passes": (passes(How.UNMET), RUNS),
    "what is open passes": (passes(How.OPEN), RUNS),
    "what was not done passes": (
        passes(How.NOT_DONE),
        (lambda: X.test_no_list_closes_over_a_step_that_is_not_passed(How.NOT_DONE),),
    ),
    "paper satisfies every step": (
        lambda patch: everywhere(patch, ordinary, lambda step: True), RUNS,
    ),
    "an earlier question may be answered": (
        stale_taken, (A.test_an_answer_spoken_before_the_question_changed_answers_nothing,),
    ),
    "any number is a reading": (
        any_number, (lambda: R.test_a_reading_outside_its_plausible_range_is_never_taken("321"),),
    ),
    "any acceptance class will do": (any_class, RUNS),
    "anybody accepts": (any_role_accepts, RUNS),
    "any reason will do": (any_reason, (P.test_an_acceptance_wants_one_of_the_aircrafts_reasons,)),
    "what depends on a value is not decided again": (
        lambda patch: everywhere(patch, deciding.dependents, nothing),
        (C.test_a_correction_that_changes_a_condition_opens_and_drops_steps,),
    ),
    "the floor is not raised": (
        floor_stays, (F.test_what_lies_below_the_floor_is_never_decided_again,),
    ),
    "the end of a wait reads no condition": (end_unread, RUNS),
    "time counts before its conditions were seen to hold": (
        counted_unseen,
        (W.test_a_condition_that_is_broken_starts_the_wait_again_from_now,),
    ),
    "a late value is in time": (
        lambda patch: everywhere(patch, readings.in_time, lambda draft, step: True), RUNS,
    ),
    "a by-time ended by anything was met": (
        met_by_anything, (W.test_a_by_time_that_a_drill_ended_was_not_met_in_time,),
    ),
    "a by-time that runs out leaves its step open": (
        wakes_are_lost, (W.test_a_by_time_that_runs_out_makes_its_step_unmet_before_any_answer,),
    ),
    "what came back is put off again": (
        put_off_twice,
        (P.test_what_was_put_off_comes_back_at_its_trigger_and_then_cannot_be_put_off,),
    ),
    "one pair of eyes is two": (
        lambda patch: everywhere(patch, people.both_looked, lambda *_: True), RUNS,
    ),
    "anybody answers": (
        lambda patch: everywhere(patch, people.check_role, nothing),
        (A.test_the_wrong_person_answers_nothing,),
    ),
    "a correction is a second look": (
        correction_passes_both, (C.test_one_persons_correction_is_no_second_look,),
    ),
    "any word is an answer": (
        lambda patch: everywhere(patch, answers.allowed, nothing),
        (A.test_roger_answers_a_caution_and_nothing_else,),
    ),
    "a critical step hears anything": (
        lambda patch: everywhere(patch, answers.surely, nothing),
        (A.test_a_critical_step_never_takes_what_was_not_surely_heard,),
    ),
    "nothing out of limits is affirmed": (
        lambda patch: everywhere(patch, readings.wants_affirm, lambda *_: False),
        (R.test_the_first_value_out_of_limits_is_affirmed_and_the_next_ones_are_not,),
    ),
    "what was read back goes to any step": (
        lambda patch: patch.setattr(progress, "_keep_to", nothing),
        (R.test_what_was_read_back_belongs_to_its_own_step,),
    ),
    "a value stays when its step is opened": (
        values_stay, (N.test_from_its_top_every_answer_of_the_section_is_asked_again,),
    ),
    "an acceptance stands on any value": (
        correction_keeps_acceptance,
        (C.test_an_accepted_computed_value_is_decided_again_with_its_inputs,),
    ),
    "an unknown condition is a false one": (
        unknown_is_false, (P.test_what_a_step_waits_for_comes_back_when_it_is_needed,),
    ),
    "a list closes over what is open": (closes_anyhow, RUNS),
    "what was left behind reads closed": (
        left_reads_closed, (D.test_discontinue_leaves_lists_not_done_and_never_closed,),
    ),
    "a reading never grows old": (
        lambda patch: everywhere(patch, interruptions.freshness, lambda table, visit: []), RUNS,
    ),
    "a newer value leaves a later limit met": (
        lambda patch: everywhere(patch, newer.read_anew, lambda *_, **__: False),
        (lambda: test_newer.test_the_newer_value_is_held_against_the_limit_exactly("130", True),
         test_newer.test_a_head_asked_again_too_hot_is_not_cut_off),
    ),
    "what is read elsewhere is no newer value": (
        lambda patch: patch.setattr(newer, "_superseded", nothing),
        (test_newer.test_a_value_read_out_unasked_opens_the_limit_that_it_does_not_meet,
         test_newer.test_a_value_read_in_a_drill_opens_the_limit_of_the_list_that_is_held),
    ),
    "a drill makes nothing void": (
        lambda patch: everywhere(patch, drills.void, lambda *_: set()),
        (D.test_continue_here_recalls_the_place_and_asks_again_what_it_made_void,),
    ),
    "memory items are not waited for": (
        memory_skipped, (D.test_memory_items_come_first_and_are_verified_one_by_one,),
    ),
    "paper outlives a section from its top": (
        lambda patch: everywhere(patch, deciding.without_step, lambda ranges, number: ranges),
        (N.test_what_was_done_on_paper_is_asked_again_from_the_top,),
    ),
    "what is due may come late": (
        late_events_taken, (L.test_nothing_is_taken_after_a_moment_that_was_due,),
    ),
    "the number of a question never changes": (
        ask_stays, (L.test_pasting_three_right_answers_answers_one_step,),
    ),
    "an open bound is included": (bounds_included, RUNS),
    "what happened ends no validity": (
        lambda patch: everywhere(patch, flights.happened, nothing),
        (F.test_what_is_still_valid_is_skipped_and_what_happened_ends_it,),
    ),
    "the next flight may begin at any time": (
        lambda patch: everywhere(patch, flights.allows_next, lambda draft: True),
        (F.test_the_next_flight_begins_only_after_a_list_that_allows_it,),
    ),
    "an unknown stop ages nothing": (
        lambda patch: patch.setattr(interruptions, "_anew", nothing),
        (N.test_after_a_stop_of_unknown_length_nothing_is_in_time_and_nothing_is_fresh,),
    ),
    "no value ever stops moving": (
        always_moving,
        (R.test_a_value_that_stops_moving_short_of_its_limit_is_noticed_with_the_choices,),
    ),
    "an interruption ends no wait": (
        lambda patch: everywhere(patch, waits.interrupted, nothing),
        (W.test_a_standby_and_a_drill_end_a_conditioned_wait,),
    ),
    "a list is entered undecided": (
        lambda patch: patch.setattr(flights, "decide_visit", nothing),
        (E.test_a_mark_made_before_its_list_is_entered_counts_for_it,),
    ),
    "an emergency leaves no defect": (
        lambda patch: patch.setattr(Draft, "defect", nothing),
        (P.test_no_go_on_the_ground_wants_the_emergency_words_and_opens_a_defect,),
    ),
    "what follows an answer is not done": (
        lambda patch: everywhere(patch, passing.passed, nothing),
        (D.test_discontinue_in_flight_leads_to_the_landing_list,
         W.test_a_met_by_time_calls_no_more),
    ),
    "a mark of another flight counts": (
        lambda patch: everywhere(
            patch, deciding.mark_standing,
            lambda draft, what: next((m.when for m in draft.marks if m.what == what), NEVER),
        ),
        (F.test_a_mark_of_an_earlier_flight_answers_nothing,),
    ),
    "in flight the crew is dragged back": (
        lambda patch: patch.setattr(progress, "_not_dragged_back", nothing),
        (C.test_in_flight_what_a_correction_opens_waits_for_the_lists_end,),
    ),
    "facts are not asked after a stop": (
        lambda patch: patch.setattr(interruptions, "_offer_fact", nothing),
        (N.test_after_a_stop_three_facts_are_asked_first,),
    ),
    "what turns is believed against the log": (
        lambda patch: everywhere(patch, passing.contradicts, lambda *_: False),
        (test_corvane_defects.test_a_rotor_that_the_log_knows_turning_stands_only_by_affirm,),
    ),
    "any option of a choice is possible": (
        lambda patch: everywhere(patch, deciding.may_choose, lambda *_: True),
        (test_corvane_defects.test_a_snag_noted_after_none_was_said_asks_again,),
    ),
    "a drill begun may have been a mistake": (
        lambda patch: patch.setattr(mistakes, "steps_passed", lambda *_: False),
        (test_mistakes.test_nothing_goes_back_once_anything_is_done,),
    ),
    "paper of any revision counts": (
        any_revision, (E.test_paper_of_another_revision_or_range_satisfies_nothing,),
    ),
}  # fmt: skip


def judged(tries: int) -> list[str]:
    """Faults that the monitor finds in generated runs of the two small aircraft."""
    for attempt in range(tries):
        for name in ("tiny", "probe"):
            for number, origin in enumerate(starts(aircraft(name), range(20))):
                run = origin.fork(hash((attempt, number))).go(60)
                if run.monitor is not None and run.monitor.faults:
                    return run.monitor.faults
    return []


def test_the_engine_as_it_stands_passes_what_catches_the_mutants() -> None:
    assert judged(6) == []
    for _, checks in MUTANTS.values():
        for check in checks:
            check()


@pytest.mark.parametrize("name", list(MUTANTS))
def test_a_rule_taken_out_is_noticed(name: str, monkeypatch: Patch) -> None:
    mutate, checks = MUTANTS[name]
    mutate(monkeypatch)
    if checks:
        for check in checks:
            with pytest.raises(NOTICED):
                check()
    else:
        assert judged(40), f"{name}: the monitor saw nothing"
