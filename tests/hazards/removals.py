"""What takes the control of a hazard away: one small change of one file, and the tests that then fail."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Removal:
    """A control taken out: ``before`` stands exactly once in ``file`` and becomes ``after``.

    ``tests`` are node ids out of the rows of these hazards, few enough to be quick.
    """

    hazards: tuple[str, ...]
    file: str
    before: str
    after: str
    tests: tuple[str, ...]


REMOVALS: tuple[Removal, ...] = (
    Removal(
        hazards=("H01",),
        file="planner/tubes/unsettled.py",
        before="    if is_age_open(problem, patient):",
        after="    if False:",
        tests=("tests/unit/tubes/test_unsettled.py::test_without_birth_date_a_person_decides",),
    ),
    Removal(
        hazards=("H01",),
        file="planner/domain/ages.py",
        before="    return is_light or _is_in(patient.ward, problem.policy.blood.child_wards)",
        after="    return False",
        tests=("tests/unit/tubes/test_unsettled.py::test_a_childs_weight_means_the_rules_for_children",),
    ),
    Removal(
        hazards=("H02",),
        file="planner/tubes/unsettled.py",
        before="    return None if least_g <= patient.weight_g <= most_g else (least_g, most_g)",
        after="    return None",
        tests=("tests/unit/tubes/test_unsettled.py::test_weight_that_cannot_be_at_an_age_is_a_decision",),
    ),
    Removal(
        hazards=("H02",),
        file="planner/exporters/view/context.py",
        before='        details.append(f"{patient.weight_g / 1000:.1f} kg")',
        after="        pass",
        tests=(
            "tests/unit/exporters/test_visit_notes.py::test_birth_date_is_printed_as_far_as_it_is_known_with_the_weight_used",
        ),
    ),
    Removal(
        hazards=("H03",),
        file="planner/domain/blood_limits.py",
        before="    if patient.drawn_24h_ul is None:",
        after="    if False:",
        tests=("tests/unit/tubes/test_blood.py::test_near_the_limit_unknown_history_is_a_decision",),
    ),
    Removal(
        hazards=("H03",),
        file="planner/exporters/view/blood.py",
        before='    return ("Nurse: how much blood was drawn in the last 24 h? ____ mL",)',
        after="    return ()",
        tests=(
            "tests/unit/exporters/test_visit_notes.py::test_the_card_asks_for_a_childs_earlier_blood_where_it_is_not_on_file",
        ),
    ),
    Removal(
        hazards=("H04",),
        file="planner/tubes/unsettled.py",
        before="    if is_limited(problem, patient) and patient.weight_g is None:",
        after="    if False:",
        tests=("tests/unit/tubes/test_blood.py::test_child_without_weight_needs_a_decision",),
    ),
    Removal(
        hazards=("H05",),
        file="planner/tubes/precedence.py",
        before="-_IMPORTANCES.index(problem.test_of(order).importance)",
        after="0",
        tests=(
            "tests/unit/tubes/test_precedence.py::test_transfusion_sample_is_drawn_before_any_number_of_trace_metals",
        ),
    ),
    Removal(
        hazards=("H07",),
        file="planner/domain/beds.py",
        before="        self.has_several_wards = len({key for ward in wards if (key := _key(ward))}) > 1",
        after="        self.has_several_wards = False",
        tests=("tests/unit/domain/test_place_names.py::test_bed_of_several_wards_is_ward_and_bed",),
    ),
    Removal(
        hazards=("H08",),
        file="planner/loaders/build/identities.py",
        before="        found[number] = replace(patients[number], alerts=(*patients[number].alerts, alert))",
        after="        found[number] = patients[number]",
        tests=("tests/unit/loaders/build/test_identities.py::test_names_alike_are_alerts_that_name_the_bed_only",),
    ),
    Removal(
        hazards=("H09",),
        file="planner/loaders/build/patient_cells.py",
        before="        self.draft.fault = SetAside(Reason.IDENTITY_CONFLICT, message)",
        after="        return",
        tests=("tests/unit/loaders/build/test_patients.py::test_identity_conflict_sets_the_whole_patient_aside",),
    ),
    Removal(
        hazards=("H10",),
        file="planner/loaders/build/beds.py",
        before="        if len(group) < 2:",
        after="        if len(group) < 99:",
        tests=("tests/unit/loaders/build/test_patients.py::test_two_patients_in_one_bed",),
    ),
    Removal(
        hazards=("H11",),
        file="planner/loaders/build/identities.py",
        before='            report.add("identifier-missing", Severity.WARNING, message, order_ids=ids)',
        after="            pass",
        tests=("tests/unit/loaders/build/test_identities.py::test_missing_birth_date_is_a_warning",),
    ),
    Removal(
        hazards=("H11",),
        file="planner/exporters/view/context.py",
        before='    born = "not on file" if',
        after='    born = "" if',
        tests=(
            "tests/unit/exporters/test_visit_notes.py::test_birth_date_is_printed_as_far_as_it_is_known_with_the_weight_used",
        ),
    ),
    Removal(
        hazards=("H12",),
        file="planner/exporters/view/words.py",
        before="Ask name and birth date; compare with wristband and number; tick. ",
        after="",
        tests=("tests/hazards/test_printed.py::test_two_identifiers_are_asked_for_and_compared",),
    ),
    Removal(
        hazards=("H12", "H13"),
        file="planner/exporters/view/words.py",
        before="away, refused, no wristband, another name, ",
        after="away, refused, ",
        tests=("tests/hazards/test_printed.py::test_another_name_or_no_wristband_is_not_drawn",),
    ),
    Removal(
        hazards=("H13",),
        file="planner/exporters/view/visits.py",
        before="*identity_words(context, patient), ",
        after="",
        tests=(
            "tests/unit/exporters/test_visit_notes.py::test_child_too_young_to_state_a_name_is_identified_by_parent_or_nurse",
        ),
    ),
    Removal(
        hazards=("H13", "H39"),
        file="planner/exporters/view/visits.py",
        before="    alerts = [context.clean(alert) for alert in patient.alerts]",
        after="    alerts: list[str] = []",
        tests=("tests/hazards/test_printed.py::test_alerts_are_printed_on_the_card",),
    ),
    Removal(
        hazards=("H13", "H39", "H43"),
        file="planner/exporters/view/cares.py",
        before="            do[care.do] = None",
        after="            pass",
        tests=("tests/unit/exporters/test_cares.py::test_word_leads_to_what_to_do",),
    ),
    Removal(
        hazards=("H14",),
        file="planner/exporters/view/words.py",
        before="Label beside the patient after filling. ",
        after="",
        tests=("tests/hazards/test_printed.py::test_labels_are_written_beside_the_patient_after_filling",),
    ),
    Removal(
        hazards=("H15",),
        file="planner/domain/two_samples.py",
        before="    return one.test == other.test or any(Handling.SECOND_SAMPLE in codes for codes in handling)",
        after="    return False",
        tests=("tests/unit/visits/test_grouping.py::test_second_sample_for_the_blood_bank_is_another_puncture",),
    ),
    Removal(
        hazards=("H15",),
        file="planner/exporters/view/visits.py",
        before="            *_second_samples(context, visit),\n",
        after="",
        tests=("tests/unit/visits/test_remarks.py::test_two_samples_for_the_blood_bank_are_two_punctures_and_said",),
    ),
    Removal(
        hazards=("H15",),
        file="planner/domain/two_samples.py",
        before="        if person == second\n",
        after="        if False\n",
        tests=(
            "tests/unit/visits/test_remarks.py::"
            "test_both_samples_by_one_person_need_a_decision_unless_the_policy_allows_it",
        ),
    ),
    Removal(
        hazards=("H16", "H17"),
        file="planner/visits/window_rules.py",
        before="    return not is_stat(order) or (rule.holds_stat and dose_base_s(order, rule.kind) is not None)",
        after="    return True",
        tests=(
            "tests/unit/visits/test_windows.py::test_no_monitoring_window_postpones_or_sets_aside_a_stat",
            "tests/unit/exporters/test_bedside_questions.py::test_stat_is_drawn_whatever_the_answer_is",
        ),
    ),
    Removal(
        hazards=("H17",),
        file="planner/exporters/view/doses.py",
        before="    if any(not q.decides for q in questions) and not decides:",
        after="    if False:",
        tests=("tests/unit/exporters/test_bedside_questions.py::test_stat_is_drawn_whatever_the_answer_is",),
    ),
    Removal(
        hazards=("H18",),
        file="planner/visits/window_rules.py",
        before="        Priority.STAT: policy.stat_target_s,\n",
        after="",
        tests=("tests/unit/visits/test_windows.py::test_urgent_order_has_a_target_from_when_it_is_known",),
    ),
    Removal(
        hazards=("H19",),
        file="planner/exporters/view/visits.py",
        before="                limit=_limit(context, visit, tubes),",
        after='                limit="",',
        tests=("tests/unit/exporters/test_view.py::test_the_handover_to_catch_is_named_with_the_last_moment",),
    ),
    Removal(
        hazards=("H19", "H46"),
        file="planner/scheduling/timing/timing.py",
        before="            if starts_s[position] < arrival_s - specimens.limit_s:",
        after="            if False:",
        tests=("tests/unit/scheduling/test_unplanned.py::test_stability_that_no_handover_can_keep",),
    ),
    Removal(
        hazards=("H20",),
        file="planner/replanning/changes/order_parts.py",
        before="_with(before, {p: part_of(listed, p) for p in differing})",
        after="before",
        tests=("tests/unit/replanning/test_events.py::test_changed_attribute_of_a_listed_order_is_applied_and_said",),
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
        hazards=("H25",),
        file="planner/exporters/view/bedside.py",
        before="after this sample the nurse gives the {given}. ",
        after="",
        tests=(
            "tests/unit/exporters/test_bedside_words.py::test_drink_is_given_by_the_nurse_after_the_first_sample_and_the_others_count_from_it",
        ),
    ),
    Removal(
        hazards=("H26",),
        file="planner/visits/together.py",
        before="    if one.is_timed and other.is_timed and _stated(one) != _stated(other):",
        after="    if False:",
        tests=("tests/unit/visits/test_grouping.py::test_two_stated_times_of_one_test_are_two_draws",),
    ),
    Removal(
        hazards=("H27",),
        file="planner/tubes/demands.py",
        before="        if test.is_culture:",
        after="        if False:",
        tests=("tests/unit/tubes/test_rules.py::test_each_culture_order_is_a_set_from_its_own_site",),
    ),
    Removal(
        hazards=("H29",),
        file="planner/exporters/view/words.py",
        before="    Handling.BEFORE_ANTIBIOTICS,\n",
        after="",
        tests=("tests/unit/exporters/test_view.py::test_every_code_has_its_words",),
    ),
    Removal(
        hazards=("H29",),
        file="planner/exporters/view/visits.py",
        before="            *_notes(context, orders),\n",
        after="",
        tests=("tests/unit/exporters/test_visit_notes.py::test_note_of_an_order_is_printed_clean",),
    ),
    Removal(
        hazards=("H32",),
        file="planner/tubes/discard.py",
        before="    return is_winged and not any(draw_key(kind) < first for kind, _ in contents)",
        after="    return False",
        tests=("tests/unit/tubes/test_draw_order.py::test_discard",),
    ),
    Removal(
        hazards=("H33",),
        file="planner/tubes/assemble.py",
        before="            draw_key(kind, from_skin=from_skin),\n",
        after="",
        tests=("tests/unit/tubes/test_draw_order.py::test_order_of_draw_is_the_published_one",),
    ),
    Removal(
        hazards=("H34",),
        file="planner/exporters/view/words.py",
        before="TEST_HANDLING = (Handling.NO_HEPARIN_LINE,)",
        after="TEST_HANDLING = ()",
        tests=("tests/unit/exporters/test_view.py::test_every_code_has_its_words",),
    ),
    Removal(
        hazards=("H35",),
        file="planner/exporters/view/words.py",
        before="Infusion: other arm; in both: the nurse stops it 2 minutes, draw below it.",
        after="",
        tests=("tests/hazards/test_printed.py::test_infusion_is_kept_away_from",),
    ),
    Removal(
        hazards=("H36",),
        file="planner/exporters/view/cares.py",
        before="    if len(barred) != 1:",
        after="    if True:",
        tests=("tests/unit/exporters/test_cares.py::test_arm_that_is_barred_says_which_to_draw_from",),
    ),
    Removal(
        hazards=("H36",),
        file="planner/exporters/view/words.py",
        before='arms not "\n    "to be used?',
        after='"\n    "',
        tests=("tests/hazards/test_printed.py::test_arms_that_may_not_be_used_are_asked_about",),
    ),
    Removal(
        hazards=("H39",),
        file="planner/exporters/view/supplies.py",
        before="Pair of latex-free gloves",
        after="Pair of gloves for this patient",
        tests=("tests/unit/exporters/test_cares.py::test_latex_stands_in_the_supplies",),
    ),
    Removal(
        hazards=("H40",),
        file="planner/pipeline.py",
        before="(*isolation_findings(problem, outcome.plan), ",
        after="(",
        tests=(
            "tests/unit/domain/test_isolation.py::test_protective_after_airborne_is_a_decision_and_stands_on_the_card",
        ),
    ),
    Removal(
        hazards=("H40",),
        file="planner/exporters/view/visits.py",
        before="            *isolation_words(context, route, visit),\n",
        after="",
        tests=(
            "tests/unit/domain/test_isolation.py::test_protective_after_airborne_is_a_decision_and_stands_on_the_card",
        ),
    ),
    Removal(
        hazards=("H43",),
        file="planner/exporters/view/words.py",
        before="sharps box, ",
        after="",
        tests=("tests/hazards/test_printed.py::test_sharps_box_is_among_the_supplies",),
    ),
    Removal(
        hazards=("H43",),
        file="planner/exporters/view/words.py",
        before="wash at once with soap and water, ",
        after="",
        tests=("tests/hazards/test_printed.py::test_what_to_do_after_a_needlestick_is_said",),
    ),
    Removal(
        hazards=("H23",),
        file="planner/exporters/view/doses.py",
        before='        text += f" {limits}: {_NOT_DRAWN}."',
        after="        pass",
        tests=("tests/unit/exporters/test_bedside_questions.py::test_level_asks_for_the_instant_that_it_counts_from",),
    ),
    Removal(
        hazards=("H82",),
        file="planner/exporters/view/lacking.py",
        before="            if number > before:",
        after="            if False:",
        tests=(
            "tests/unit/exporters/test_note_alone.py::test_who_takes_on_a_patient_is_told_what_is_not_among_the_things_loaded",
        ),
    ),
    Removal(
        hazards=("H83",),
        file="planner/exporters/view/due.py",
        before="        if promised.draw_s <= replan.now_s and own.intersection(promised.order_ids):",
        after="        if False:",
        tests=(
            "tests/unit/exporters/test_note_alone.py::test_stat_not_reported_and_moved_is_asked_about_in_both_notes_first",
        ),
    ),
    Removal(
        hazards=("H53", "H84"),
        file="planner/exporters/view/note.py",
        before="                *_careful(cards[number]),\n",
        after="",
        tests=("tests/unit/exporters/test_note_alone.py::test_every_stop_of_a_note_says_what_its_card_says",),
    ),
    Removal(
        hazards=("H43",),
        file="planner/laboratory/cautions.txt",
        before="Stop at once on refusal, pain shooting along the arm, arterial blood or fainting.",
        after="",
        tests=("tests/hazards/test_printed.py::test_attempts_end_and_what_stops_a_draw_at_once_is_said",),
    ),
    Removal(
        hazards=("H46",),
        file="planner/exporters/view/handovers.py",
        before="Courier missed: phone the lead",
        after="",
        tests=("tests/unit/exporters/test_stranger.py::test_a_courier_with_no_time_to_spare_makes_the_last_bed_tight",),
    ),
    Removal(
        hazards=("H49",),
        file="planner/exporters/view/words.py",
        before="NEWEST SHEET? Ask the lead before you start.",
        after="",
        tests=("tests/hazards/test_printed.py::test_newest_sheet_is_asked_for",),
    ),
    Removal(
        hazards=("H49", "H50"),
        file="planner/exporters/view/build.py",
        before=", replaces r{replan.parent}",
        after="",
        tests=("tests/unit/exporters/test_replan_sheet.py::test_every_page_says_what_it_replaces",),
    ),
    Removal(
        hazards=("H50", "H51"),
        file="planner/exporters/workbook/writer.py",
        before="   Page &P of &N",
        after="",
        tests=("tests/unit/exporters/test_print.py::test_every_page_is_numbered_and_says_whose_it_is",),
    ),
    Removal(
        hazards=("H51",),
        file="planner/exporters/view/routes.py",
        before="        f\"{count_words(len(visits), 'visit')}",
        after='        f"',
        tests=("tests/hazards/test_printed.py::test_number_of_visits_stands_above_the_stops",),
    ),
    Removal(
        hazards=("H52",),
        file="planner/replanning/past/freeze.py",
        before="    return any(order.priority is Priority.STAT for order in problem.orders if order.id in mine)",
        after="    return False and bool(mine)",
        tests=("tests/unit/replanning/test_freeze.py::test_stat_is_never_assumed_drawn",),
    ),
    Removal(
        hazards=("H52",),
        file="planner/replanning/past/unreported.py",
        before="    if number > limit:",
        after="    if number > 99 + limit:",
        tests=(
            "tests/unit/replanning/test_unreported.py::test_more_assumptions_than_the_policy_allows_are_asked_about",
        ),
    ),
    Removal(
        hazards=("H53",),
        file="planner/exporters/view/note.py",
        before='        f"Patient {card.name}, born {card.born}, number {card.patient_number}.",\n        *_careful',
        after="        *_careful",
        tests=(
            "tests/unit/exporters/test_replan_sheet.py::test_a_stop_new_to_her_comes_with_all_that_her_old_sheet_lacks",
        ),
    ),
    Removal(
        hazards=("H55",),
        file="planner/units.py",
        before="(aware.astimezone(UTC) - self.midnight)",
        after="(aware.replace(tzinfo=None) - datetime.combine(self.day, time(0)))",
        tests=("tests/unit/loaders/values/test_nights.py::test_policy_times_on_the_days_the_clocks_change",),
    ),
    Removal(
        hazards=("H56",),
        file="planner/exporters/view/build.py",
        before="    if days in (0, 1):",
        after="    if True:",
        tests=("tests/unit/exporters/test_stranger.py::test_a_sheet_of_another_day_says_so",),
    ),
    Removal(
        hazards=("H60",),
        file="planner/laboratory/cautions.txt",
        before="Tubes, volumes and time limits are general values. ",
        after="",
        tests=("tests/hazards/test_printed.py::test_values_are_called_general_and_the_laboratory_goes_before_them",),
    ),
    Removal(
        hazards=("H61",),
        file="planner/exporters/view/visits.py",
        before="        bedside=bedside_words(context, route, visit),",
        after="        bedside=(),",
        tests=(
            "tests/unit/exporters/test_bedside_words.py::test_words_of_the_row_are_printed_once_with_the_tests_that_say_them",
        ),
    ),
    Removal(
        hazards=("H62",),
        file="planner/loaders/catalogue/meaning.py",
        before="        return self.tests[0] if len(self.tests) == 1 and not self.ask else None",
        after="        return self.tests[0]",
        tests=(
            "tests/unit/loaders/catalogue/test_everyday_codes.py::test_doubtful_code_is_set_aside_with_the_candidates",
        ),
    ),
    Removal(
        hazards=("H66",),
        file="planner/tubes/unsettled.py",
        before="    if method is None:",
        after="    if False:",
        tests=("tests/unit/tubes/test_capillary.py::test_a_newborn_goes_by_policy_and_by_default_needs_a_decision",),
    ),
    Removal(
        hazards=("H66",),
        file="planner/domain/methods.py",
        before="        return patient.weight_g is not None and patient.weight_g < NEONATE_WEIGHT_BELOW_G",
        after="        return False",
        tests=("tests/unit/tubes/test_capillary.py::test_who_is_light_and_has_no_birth_date_may_be_a_newborn",),
    ),
    Removal(
        hazards=("H67",),
        file="planner/scheduling/timing/timing.py",
        before="        mine = tuple(hand if s.by_hand else free for s in visit.specimens)",
        after="        mine = tuple(free for s in visit.specimens)",
        tests=("tests/unit/scheduling/test_timing.py::test_specimen_for_hand_delivery_never_goes_by_station",),
    ),
    Removal(
        hazards=("H69",),
        file="planner/loaders/build/orders.py",
        before="        _set_aside_unknown_test(draft, fields, tests)\n",
        after="",
        tests=("tests/unit/loaders/test_nothing_is_lost.py::test_every_row_is_planned_or_set_aside",),
    ),
    Removal(
        hazards=("H70",),
        file="planner/loaders/__init__.py",
        before="    if policy_errors(report) and not options.ignores_policy:",
        after="    if False:",
        tests=("tests/unit/loaders/test_unread.py::test_nothing_given_is_left_out_without_a_decision",),
    ),
    Removal(
        hazards=("H71",),
        file="planner/pipeline.py",
        before="            if not more or len(left_out) == len(problem.open_orders):",
        after="            if True:",
        tests=("tests/unit/test_refused.py::test_order_that_the_checker_names_waits_and_the_others_are_planned",),
    ),
    Removal(
        hazards=("H72",),
        file="planner/pipeline.py",
        before="    if not report.is_clean:",
        after="    if False:",
        tests=("tests/unit/test_refused.py::test_plan_of_the_library_is_refused_as_before",),
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
        hazards=("H74",),
        file="planner/loaders/build/orders.py",
        before="        elif reason := words[text]:",
        after="        elif False:",
        tests=("tests/unit/loaders/build/test_orders.py::test_orders_that_are_not_ours_are_listed",),
    ),
    Removal(
        hazards=("H74",),
        file="planner/replanning/changes/listed_orders.py",
        before="(before.reason in _SETTLED or _is_cancelled(work, order.id))",
        after="before.reason in _SETTLED",
        tests=(
            "tests/unit/replanning/test_events.py::test_order_cancelled_by_phone_stays_cancelled_when_the_list_still_has_it",
        ),
    ),
    Removal(
        hazards=("H75",),
        file="planner/replanning/changes/listed_orders.py",
        before="        Reason.REFUSED,\n",
        after="",
        tests=(
            "tests/unit/replanning/test_events.py::test_who_refused_stays_refused_when_the_whole_list_is_read_again",
        ),
    ),
    Removal(
        hazards=("H75",),
        file="planner/replanning/past/outcomes.py",
        before='    Outcome.REFUSED: (Reason.REFUSED, "refused at {at}"),\n',
        after="",
        tests=(
            "tests/unit/replanning/test_next_problem.py::test_refused_order_is_listed_in_this_revision_and_in_the_next",
        ),
    ),
    Removal(
        hazards=("H76",),
        file="planner/loaders/formats/csv_files.py",
        before="    return match[1].strip() if match else text",
        after='    return (match[1].strip() if match else text).lstrip("0")',
        tests=("tests/unit/loaders/build/test_orders.py::test_identifiers_survive",),
    ),
    Removal(
        hazards=("H77",),
        file="planner/loaders/values/date_columns.py",
        before="    if day_first or (dotted and not month_first):",
        after="    if True:",
        tests=("tests/unit/loaders/values/test_dates.py::test_ambiguous_column_names_the_option",),
    ),
    Removal(
        hazards=("H78",),
        file="planner/loaders/during/settle.py",
        before="    if len(set(times)) < len(group):",
        after="    if False:",
        tests=("tests/unit/loaders/during/test_progress.py::test_two_outcomes_of_one_order_are_not_used",),
    ),
    Removal(
        hazards=("H79",),
        file="planner/library/replanning.py",
        before="        if refused and (not apply_rest or not (following.problem.replan.events or self.is_undo)):",
        after="        if False:",
        tests=(
            "tests/end_to_end/test_replan.py::test_command_that_is_not_understood_changes_nothing_and_says_what_was_meant",
        ),
    ),
    Removal(
        hazards=("H80",),
        file="planner/exporters/view/lists.py",
        before="    return tuple(sorted(lines, key=lambda line: line.rank))",
        after="    return tuple(lines)",
        tests=(
            "tests/unit/exporters/test_decision_priority.py::test_stat_is_named_and_comes_first_in_the_list",
            "tests/unit/exporters/test_decision_priority.py::test_workbook_and_page_name_the_stat_first",
        ),
    ),
    Removal(
        hazards=("H80",),
        file="planner/loaders/build/problem.py",
        before="            priority=stated_priority(draft.record),",
        after="",
        tests=("tests/unit/exporters/test_decision_priority.py::test_loader_fills_the_priority_of_what_is_set_aside",),
    ),
    Removal(
        hazards=("H80", "H17"),
        file="planner/exporters/view/build.py",
        before="            *planned_decisions(context, findings),\n",
        after="",
        tests=("tests/unit/exporters/test_planned_decisions.py::test_held_stat_is_the_first_decision",),
    ),
    Removal(
        hazards=("H81",),
        file="planner/loaders/tables/read_table.py",
        before='    report.add("safety-column-unmapped", Severity.ERROR, message, source=where)',
        after='    report.add("safety-column-unmapped", Severity.WARNING, message, source=where)',
        tests=(
            "tests/unit/loaders/tables/test_near_safety.py::test_it_is_a_decision_and_asked_on_every_card_that_has_a_value",
        ),
    ),
    Removal(
        hazards=("H81",),
        file="planner/exporters/view/cares.py",
        before=" for text in patient.unclear)",
        after=" for text in ())",
        tests=(
            "tests/unit/loaders/tables/test_near_safety.py::test_it_is_a_decision_and_asked_on_every_card_that_has_a_value",
        ),
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
        before=" and heparin and barred | heparin >= _EVERY:",
        after=" and False:",
        tests=(
            "tests/unit/visits/test_arms.py::test_heparin_in_every_arm_left_sets_clotting_tests_aside_and_no_other",
        ),
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
)
