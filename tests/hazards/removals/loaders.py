"""Controls of hazards in planner/loaders, taken out one by one."""

from __future__ import annotations

from tests.hazards.removal import Removal

REMOVALS: tuple[Removal, ...] = (
    Removal(
        hazards=("H08",),
        file="planner/loaders/build/identities.py",
        before="        found[number] = replace(patients[number], alerts=tuple(alerts))",
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
        before="            report.add(code, Severity.WARNING, message, source=rows[lacking[0].id].at(column), "
        "order_ids=ids)",
        after="            pass",
        tests=("tests/unit/loaders/build/test_identities.py::test_missing_birth_date_is_a_warning",),
    ),
    Removal(
        hazards=("H34",),
        file="planner/loaders/build/said.py",
        before="            *((Reach.ALERTS, text) for text in alerts),\n",
        after="",
        tests=("tests/unit/visits/test_notes.py::test_alert_of_heparin_against_the_test_without_it_is_a_decision",),
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
        hazards=("H74",),
        file="planner/loaders/build/orders.py",
        before="        elif reason := words[text]:",
        after="        elif False:",
        tests=("tests/unit/loaders/build/test_orders.py::test_orders_that_are_not_ours_are_listed",),
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
        hazards=("H80",),
        file="planner/loaders/build/problem.py",
        before="            priority=stated_priority(draft.record),",
        after="",
        tests=("tests/unit/exporters/test_decision_priority.py::test_loader_fills_the_priority_of_what_is_set_aside",),
    ),
    Removal(
        hazards=("H81",),
        file="planner/loaders/tables/read_table.py",
        before='    report.add("safety-column-unmapped", Severity.ERROR, message, source=replace(where, '
        "column=heading))",
        after='    report.add("safety-column-unmapped", Severity.WARNING, message, source=where)',
        tests=(
            "tests/unit/loaders/tables/test_near_safety.py::test_it_is_a_decision_and_asked_on_every_card_that_has_a_value",
        ),
    ),
    Removal(
        hazards=("H11",),
        file="planner/loaders/build/identities.py",
        before='if len(lacking) == len(drawn) else "identifier-gap"',
        after='if lacking else "identifier-gap"',
        tests=(
            "tests/unit/loaders/build/test_identities.py::test_gap_among_patients_whose_birth_date_is_known_is_a_decision",
        ),
    ),
    Removal(
        hazards=("H85",),
        file="planner/loaders/build/chilled.py",
        before='report.add("chilled-by-alert", Severity.WARNING, message, source=orders[0].source, order_ids=',
        after="print(",
        tests=("tests/unit/loaders/build/test_chilled.py::test_uric_acid_under_rasburicase_is_a_decision",),
    ),
    Removal(
        hazards=("H90",),
        file="planner/loaders/build/problem.py",
        before="        report_unknown_precautions(people.values(), usable, planned, name, self.report)\n",
        after="",
        tests=(
            "tests/unit/loaders/build/test_isolation_words.py::test_word_that_is_not_known_stands_among_the_decisions_with_its_bed_and_orders",
        ),
    ),
    Removal(
        hazards=("H90",),
        file="planner/loaders/build/patient_cells.py",
        before="                    known.add(Precaution.UNCLEAR)\n",
        after="",
        tests=(
            "tests/unit/loaders/build/test_isolation_words.py::test_word_that_is_not_understood_is_planned_as_the_strictest_and_decided",
        ),
    ),
    Removal(
        hazards=("H90",),
        file="planner/loaders/build/patient_cells.py",
        before="            more.add(Precaution.UNCLEAR)\n",
        after="            pass\n",
        tests=(
            "tests/unit/loaders/build/test_isolation_words.py::test_infection_among_the_alerts_counts_as_the_strictest_until_somebody_asks",
        ),
    ),
    Removal(
        hazards=("H85",),
        file="planner/loaders/build/said.py",
        before="        if order.id not in drawn:\n",
        after="        if False:\n",
        tests=("tests/unit/loaders/build/test_chilled.py::test_it_is_planned_in_a_chilled_tube_of_its_own_on_ice",),
    ),
)
