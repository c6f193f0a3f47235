"""Controls of hazards in planner/domain, taken out one by one."""

from __future__ import annotations

from tests.hazards.removal import Removal

REMOVALS: tuple[Removal, ...] = (
    Removal(
        hazards=("H01",),
        file="planner/domain/patients/ages.py",
        before="    return is_light or _is_in(patient.ward, problem.policy.blood.child_wards)",
        after="    return False",
        tests=("tests/unit/tubes/test_unsettled.py::test_a_childs_weight_means_the_rules_for_children",),
    ),
    Removal(
        hazards=("H03",),
        file="planner/domain/patients/blood_limits.py",
        before="    if patient.drawn_24h_ul is None:",
        after="    if False:",
        tests=("tests/unit/tubes/test_blood.py::test_near_the_limit_unknown_history_is_a_decision",),
    ),
    Removal(
        hazards=("H07",),
        file="planner/domain/beds.py",
        before="        self.has_several_wards = len({key for ward in wards if (key := name_parts(ward))}) > 1",
        after="        self.has_several_wards = False",
        tests=("tests/unit/domain/test_place_names.py::test_bed_of_several_wards_is_ward_and_bed",),
    ),
    Removal(
        hazards=("H15",),
        file="planner/domain/derived/two_samples.py",
        before="    return one.test == other.test or any(Handling.SECOND_SAMPLE in codes for codes in handling)",
        after="    return False",
        tests=("tests/unit/visits/test_grouping.py::test_second_sample_for_the_blood_bank_is_another_puncture",),
    ),
    Removal(
        hazards=("H15",),
        file="planner/domain/derived/two_samples.py",
        before="        if person == second\n",
        after="        if False\n",
        tests=(
            "tests/unit/visits/test_remarks.py::"
            "test_both_samples_by_one_person_need_a_decision_unless_the_policy_allows_it",
        ),
    ),
    Removal(
        hazards=("H66",),
        file="planner/domain/methods.py",
        before="        return patient.weight_g is not None and patient.weight_g < NEONATE_WEIGHT_BELOW_G",
        after="        return False",
        tests=("tests/unit/tubes/test_capillary.py::test_who_is_light_and_has_no_birth_date_may_be_a_newborn",),
    ),
    Removal(
        hazards=("H90",),
        file="planner/domain/derived/isolation.py",
        before="            may_be = Precaution.UNCLEAR in own and Precaution.AIRBORNE not in own\n",
        after="            may_be = False\n",
        tests=(
            "tests/unit/domain/test_isolation.py::test_room_that_may_be_protective_has_a_line_after_an_airborne_one",
        ),
    ),
)
