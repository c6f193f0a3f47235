"""Controls of hazards in planner/replanning, taken out one by one."""

from __future__ import annotations

from tests.hazards.removal import Removal

REMOVALS: tuple[Removal, ...] = (
    Removal(
        hazards=("H20",),
        file="planner/replanning/changes/order_parts.py",
        before="_with(before, {p: part_of(listed, p) for p in differing})",
        after="before",
        tests=("tests/unit/replanning/test_events.py::test_changed_attribute_of_a_listed_order_is_applied_and_said",),
    ),
    Removal(
        hazards=("H52",),
        file="planner/replanning/past/open_visits.py",
        before="    return problem.has_stat(visit.order_ids)",
        after="    return False",
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
        hazards=("H91",),
        file="planner/replanning/changes/order_parts.py",
        before="    _change(work, before, before.with_note_of(listed), Channel.ORDER_LIST)\n",
        after="",
        tests=(
            "tests/unit/replanning/test_list_changes.py::test_another_note_of_an_order_of_the_round_is_applied_unless_it_is_drawn",
        ),
    ),
    Removal(
        hazards=("H91",),
        file="planner/replanning/changes/listed_orders.py",
        before="            do(work, PatientSaid(patient=said), Channel.ORDER_LIST)\n",
        after="            pass\n",
        tests=(
            "tests/unit/library/test_said_later.py::test_what_a_later_list_says_reaches_known_orders_and_their_patients",
        ),
    ),
)
