"""Controls of hazards in planner/visits, taken out one by one."""

from __future__ import annotations

from tests.hazards.removal import Removal

REMOVALS: tuple[Removal, ...] = (
    Removal(
        hazards=("H19",),
        file="planner/visits/to_laboratory.py",
        before="    stats = {order.id: order for order in orders if order.priority is Priority.STAT}",
        after="    stats: dict[OrderId, Order] = {}",
        tests=(
            "tests/unit/scheduling/test_stat_clock.py::test_stat_is_drawn_and_brought_before_a_routine_bed_on_the_way",
        ),
    ),
    Removal(
        hazards=("H16", "H17"),
        file="planner/visits/window_rules.py",
        before="    return not is_stat(order) or (rule.holds_stat and dose_base_s(order, rule.kind) is not None)",
        after="    return True",
        tests=(
            "tests/unit/visits/test_stat_windows.py::test_no_monitoring_window_postpones_or_sets_aside_a_stat",
            "tests/unit/exporters/test_bedside_questions.py::test_stat_is_drawn_whatever_the_answer_is",
        ),
    ),
    Removal(
        hazards=("H18",),
        file="planner/visits/window_rules.py",
        before="        Priority.STAT: policy.stat_target_s,\n",
        after="",
        tests=("tests/unit/visits/test_windows.py::test_urgent_order_has_a_target_from_when_it_is_known",),
    ),
    Removal(
        hazards=("H21",),
        file="planner/visits/window_rules.py",
        before="        latest_s = target_s + (0 if is_dosed else problem.policy.windows.timed_give_up_s)",
        after="        latest_s = target_s + problem.policy.windows.timed_give_up_s",
        tests=(
            "tests/unit/visits/test_windows.py::test_timed_level_without_its_dose_follows_the_stated_time_and_ends_with_its_tolerance",
        ),
    ),
    Removal(
        hazards=("H22",),
        file="planner/visits/window_rules.py",
        before="    ends += [] if order.next_dose_s is None else [order.next_dose_s]",
        after="    ends += []",
        tests=("tests/unit/visits/test_windows.py::test_next_dose_ends_every_window_after_a_dose",),
    ),
    Removal(
        hazards=("H23",),
        file="planner/visits/questions.py",
        before="    DoseKind.POST_END: Asked.INFUSION_END,",
        after="    DoseKind.POST_END: Asked.LAST_DOSE,",
        tests=("tests/unit/exporters/test_bedside_questions.py::test_level_asks_for_the_instant_that_it_counts_from",),
    ),
    Removal(
        hazards=("H26",),
        file="planner/visits/noted.py",
        before="    if one.is_timed and other.is_timed and _stated(one) != _stated(other):",
        after="    if False:",
        tests=("tests/unit/visits/test_grouping.py::test_two_stated_times_of_one_test_are_two_draws",),
    ),
    Removal(
        hazards=("H29",),
        file="planner/visits/notes.py",
        before="        return any(at_s < draw_s for at_s in order.antibiotic_s)",
        after="        return False",
        tests=("tests/unit/visits/test_notes.py::test_culture_after_an_antibiotic_that_a_text_times_is_a_decision",),
    ),
    Removal(
        hazards=("H73",),
        file="planner/visits/window_rules.py",
        before="order.collect_at_s - tolerance_s, order",
        after="None, order",
        tests=(
            "tests/unit/visits/test_windows.py::test_stated_instant_has_thirty_minutes_and_is_given_up_an_hour_later",
        ),
    ),
    Removal(
        hazards=("H36",),
        file="planner/visits/arms.py",
        before="        elif len(closed) == 1 and unexplained - closed:",
        after="        elif False:",
        tests=("tests/unit/visits/test_arms.py::test_arm_that_is_left_and_named_without_a_known_reason_is_a_decision",),
    ),
    Removal(
        hazards=("H36",),
        file="planner/visits/arms.py",
        before="        elif closed and not patient.arms_barred and patient.has_sideless_reason:",
        after="        elif False:",
        tests=("tests/unit/visits/test_arms.py::test_reason_without_a_side_beside_a_closed_arm_is_a_decision",),
    ),
    Removal(
        hazards=("H36",),
        file="planner/visits/arms.py",
        before="    if barred >= _EVERY:",
        after="    if False:",
        tests=(
            "tests/unit/visits/test_arms.py::test_both_arms_barred_in_words_set_the_patient_of_that_bed_aside",
            "tests/unit/visits/test_arms.py::test_note_of_one_order_holds_for_all_of_the_patient",
        ),
    ),
    Removal(
        hazards=("H34",),
        file="planner/visits/arms.py",
        before="elif running and closed >= _EVERY:",
        after="elif False:",
        tests=("tests/unit/visits/test_arms.py::test_what_runs_into_every_arm_left_is_a_decision",),
    ),
    Removal(
        hazards=("H26",),
        file="planner/visits/series.py",
        before="problem.policy.windows.stated_spacing_pct // 100",
        after="0",
        tests=(
            "tests/unit/visits/test_stated_spacing.py::test_two_stated_times_keep_four_fifths_of_their_gap",
            "tests/unit/visits/test_stated_spacing.py::test_second_draw_keeps_its_distance_from_one_that_was_made",
        ),
    ),
    Removal(
        hazards=("H83",),
        file="planner/visits/together.py",
        before=" or is_unanswered_alone(problem, one, other)",
        after="",
        tests=("tests/unit/visits/test_unanswered.py::test_what_was_ordered_later_is_a_visit_of_its_own",),
    ),
    Removal(
        hazards=("H18",),
        file="planner/visits/grouping.py",
        before="    last_s = max(first_s, window.target_s) if is_stat(order) else window.target_s\n",
        after="    last_s = window.target_s\n",
        tests=("tests/unit/visits/test_grouping.py::test_late_stat_shares_only_its_first_moment",),
    ),
    Removal(
        hazards=("H18",),
        file="planner/visits/remarks.py",
        before="            if late and before:",
        after="            if False:",
        tests=(
            "tests/unit/visits/test_stat_behind.py::test_level_that_would_not_be_drawn_goes_first_and_a_person_decides",
        ),
    ),
    Removal(
        hazards=("H25",),
        file="planner/visits/remarks.py",
        before="        if listed < needed:",
        after="        if False:",
        tests=("tests/unit/visits/test_missing_samples.py::test_fewer_orders_than_samples_is_a_decision",),
    ),
    Removal(
        hazards=("H26",),
        file="planner/visits/noted.py",
        before="    return one.time_in_note != other.time_in_note or _is_sample_unmarked(problem, one, other)",
        after="    return _is_sample_unmarked(problem, one, other)",
        tests=(
            "tests/unit/visits/test_noted.py::test_samples_set_apart_are_never_one_draw",
            "tests/end_to_end/test_noted_apart.py::test_samples_that_only_notes_tell_apart_are_decisions_of_their_bed",
        ),
    ),
    Removal(
        hazards=("H25",),
        file="planner/visits/noted.py",
        before="    return one.time_in_note != other.time_in_note or _is_sample_unmarked(problem, one, other)",
        after="    return one.time_in_note != other.time_in_note",
        tests=("tests/unit/visits/test_noted.py::test_samples_set_apart_are_never_one_draw",),
    ),
    Removal(
        hazards=("H29",),
        file="planner/visits/window_rules.py",
        before='        yield Ends(rule="antibiotic", target_s=order.next_dose_s)',
        after="        yield from ()",
        tests=("tests/unit/visits/test_antibiotic.py::test_stated_dose_is_the_target_of_that_culture_alone",),
    ),
    Removal(
        hazards=("H88",),
        file="planner/visits/notes.py",
        before="        return any(at_s <= draw_s for at_s in order.elsewhere_s)",
        after="        return False",
        tests=(
            "tests/unit/visits/test_notes.py::test_patient_who_is_elsewhere_before_the_draw_or_has_left_is_a_decision",
        ),
    ),
    Removal(
        hazards=("H66",),
        file="planner/visits/notes.py",
        before="        return method_of(patient, problem.clock.day, problem.policy.blood) is not Method.CAPILLARY",
        after="        return False",
        tests=(
            "tests/unit/visits/test_notes.py::"
            "test_heel_prick_by_a_text_is_a_decision_where_the_plan_draws_from_a_vein_and_a_fast_is_asked",
        ),
    ),
)
