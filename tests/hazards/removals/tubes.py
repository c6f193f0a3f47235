"""Controls of hazards in planner/tubes, taken out one by one."""

from __future__ import annotations

from tests.hazards.removal import Removal

REMOVALS: tuple[Removal, ...] = (
    Removal(
        hazards=("H01",),
        file="planner/tubes/unsettled.py",
        before="    if is_age_open(problem, patient):",
        after="    if False:",
        tests=("tests/unit/tubes/test_unsettled.py::test_without_birth_date_a_person_decides",),
    ),
    Removal(
        hazards=("H02",),
        file="planner/tubes/unsettled.py",
        before="    return None if least_g <= patient.weight_g <= most_g else (least_g, most_g)",
        after="    return None",
        tests=("tests/unit/tubes/test_unsettled.py::test_weight_that_cannot_be_at_an_age_is_a_decision",),
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
        hazards=("H27",),
        file="planner/tubes/demands.py",
        before="        if test.is_culture:",
        after="        if False:",
        tests=("tests/unit/tubes/test_rules.py::test_each_culture_order_is_a_set_from_its_own_site",),
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
        hazards=("H66",),
        file="planner/tubes/unsettled.py",
        before="    if method is None:",
        after="    if False:",
        tests=("tests/unit/tubes/test_capillary.py::test_a_newborn_goes_by_policy_and_by_default_needs_a_decision",),
    ),
    Removal(
        hazards=("H66",),
        file="planner/tubes/optimiser.py",
        before="    if Handling.HEEL_ONLY in demand.test.handling and (demand.can_be_drawn or from_skin):",
        after="    if False:",
        tests=(
            "tests/unit/tubes/test_capillary.py::"
            "test_screening_card_is_a_heel_test_of_ward_staff_or_a_trained_person_whatever_the_way",
        ),
    ),
)
