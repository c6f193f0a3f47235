"""Controls of hazards in the rooms that have few, taken out one by one."""

from __future__ import annotations

from tests.hazards.removal import Removal

REMOVALS: tuple[Removal, ...] = (
    Removal(
        hazards=("H19", "H46"),
        file="planner/scheduling/timing/kernel.py",
        before="                if starts[p] < first_s:",
        after="                if False:",
        tests=("tests/unit/scheduling/test_unplanned.py::test_stability_that_no_handover_can_keep",),
    ),
    Removal(
        hazards=("H67",),
        file="planner/scheduling/timing/kernel.py",
        before="            takers[n] = first_hand[p] if by_hand else first_free[p]",
        after="            takers[n] = first_free[p]",
        tests=("tests/unit/scheduling/test_timing.py::test_both_kinds_of_specimen_go_their_own_ways",),
    ),
    Removal(
        hazards=("H40",),
        file="planner/pipeline.py",
        before="(*isolation_findings(problem, outcome.plan), ",
        after="(*(), ",
        tests=(
            "tests/unit/domain/test_isolation.py::test_protective_after_airborne_is_a_decision_and_stands_on_the_card",
        ),
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
        hazards=("H43",),
        file="planner/laboratory/what_if.csv",
        before="Wash at once with soap and water, ",
        after="",
        tests=("tests/hazards/test_printed.py::test_what_to_do_after_a_needlestick_is_said",),
    ),
    Removal(
        hazards=("H43",),
        file="planner/laboratory/cautions.txt",
        before="Stop at once on refusal, pain shooting along the arm, arterial blood or fainting.",
        after="",
        tests=("tests/hazards/test_printed.py::test_attempts_end_and_what_stops_a_draw_at_once_is_said",),
    ),
    Removal(
        hazards=("H60",),
        file="planner/laboratory/cautions.txt",
        before="Tubes, volumes and time limits are general values. ",
        after="",
        tests=("tests/hazards/test_printed.py::test_values_are_called_general_and_the_laboratory_goes_before_them",),
    ),
    Removal(
        hazards=("H89",),
        file="planner/laboratory/note_words.csv",
        before="high_hazard,patient,vhf; haemorrhagic fever;",
        after="high_hazard,patient,",
        tests=(
            "tests/unit/visits/test_notes.py::test_condition_is_recognised_whole",
            "tests/unit/exporters/test_cares.py::test_bed_to_keep_out_of_says_so_first_and_nothing_is_worn_for_it",
        ),
    ),
    Removal(
        hazards=("H87",),
        file="planner/laboratory/alert_words.csv",
        before="jehovah; jehovahs; jehovah s; ",
        after="",
        tests=("tests/unit/exporters/test_cares.py::test_word_in_doubt_is_asked",),
    ),
    Removal(
        hazards=("H39",),
        file="planner/laboratory/alert_words.csv",
        before="latexallergie; ",
        after="",
        tests=("tests/unit/exporters/test_cares.py::test_word_leads_to_what_to_do",),
    ),
    Removal(
        hazards=("H55",),
        file="planner/units.py",
        before="(aware.astimezone(UTC) - self.midnight)",
        after="(aware.replace(tzinfo=None) - datetime.combine(self.day, time(0)))",
        tests=("tests/unit/loaders/values/test_nights.py::test_policy_times_on_the_days_the_clocks_change",),
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
        hazards=("H40", "H90"),
        file="planner/scheduling/rounds/numbers.py",
        before="for p in patient.precautions - unclear)",
        after="for p in patient.precautions)",
        tests=(
            "tests/unit/loaders/build/test_isolation_words.py::test_known_protective_word_is_first_beside_a_word_that_is_not_known",
        ),
    ),
    Removal(
        hazards=("H90",),
        file="planner/scheduling/timing/instance.py",
        before="    Precaution.UNCLEAR: 4,\n",
        after="    Precaution.UNCLEAR: 1,\n",
        tests=(
            "tests/unit/loaders/build/test_isolation_words.py::test_room_that_is_not_clear_has_the_turn_of_the_last",
        ),
    ),
    Removal(
        hazards=("H91",),
        file="planner/library/replanning.py",
        before="with_prices(with_texts(following.problem), self.prices)",
        after="with_prices(following.problem, self.prices)",
        tests=(
            "tests/unit/library/test_said_later.py::test_what_a_later_list_says_reaches_known_orders_and_their_patients",
        ),
    ),
    Removal(
        hazards=("H15",),
        file="planner/pipeline.py",
        before="    prepared, outcome = _by_two_people(searched, prepared, outcome, params, listener)\n",
        after="",
        tests=("tests/unit/visits/test_remarks.py::test_second_sample_is_drawn_by_another_person_where_one_is_there",),
    ),
)
