"""What a visit came to, as it was told: instants, orders that it brought, tubes that were filled."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.draws import DrawId
from planner.domain.orders import OrderId
from planner.domain.plan import Outcome, Visit
from planner.domain.revisions.reported import Reported
from planner.replanning.past.happened import as_planned, as_told, outcomes_told, shifted
from tests.builders import clock, make_order, make_problem
from tests.replan_builders import make_drawn_tube, make_visit

NOW_S = clock("05:42")


def a_visit() -> Visit:
    """P1 with O1 (CBC) and O2 (BMP), a tube each; at the bed 05:07:45, drawn 05:10, gone 05:12:45."""
    problem = make_problem([make_order("O1", "P1", "CBC"), make_order("O2", "P1", "BMP")])
    tubes = [
        (make_drawn_tube(["BMP"], ["O2"]), 3),
        (make_drawn_tube(["CBC"], ["O1"], "EDTA", draw_position=2), 3),
    ]
    return make_visit(problem, ["O1", "O2"], "05:10", tubes=tubes)


def told(outcome: Outcome, *orders: str, at: str | None = None) -> Reported:
    return Reported(
        order_ids=tuple(OrderId(o) for o in orders or ("O1", "O2")),
        draw_id=DrawId("P1-O1"),
        outcome=outcome,
        at_s=None if at is None else clock(at),
    )


def kinds(visit: Visit) -> list[str]:
    return [planned.tube.tube for planned in visit.tubes]


def test_untold_visit_brought_everything_at_its_time() -> None:
    visit = as_planned(a_visit())
    assert (visit.outcome, visit.order_ids, visit.draw_s) == (Outcome.COLLECTED, ("O1", "O2"), clock("05:10"))


def test_shift_moves_all_four_instants() -> None:
    visit = shifted(a_visit(), 60)
    assert (visit.arrive_s, visit.start_s) == (clock("05:08:45"), clock("05:08:45"))
    assert (visit.draw_s, visit.depart_s) == (clock("05:11"), clock("05:13:45"))


def test_collected_at_a_time_keeps_both_tubes() -> None:
    visit = as_told(a_visit(), [told(Outcome.COLLECTED, at="05:20")], NOW_S)
    assert (visit.draw_s, visit.depart_s, kinds(visit)) == (clock("05:20"), clock("05:22:45"), ["HEPG", "EDTA"])


def test_later_of_two_times_is_that_of_the_draw() -> None:
    reports = [told(Outcome.COLLECTED, "O1", at="05:20"), told(Outcome.COLLECTED, "O2", at="05:18")]
    assert as_told(a_visit(), reports, NOW_S).draw_s == clock("05:20")


def test_refused_as_a_whole_brings_nothing_and_fills_nothing() -> None:
    visit = as_told(a_visit(), [told(Outcome.REFUSED)], NOW_S)
    assert (visit.order_ids, visit.tried, visit.tubes, visit.outcome) == ((), ("O1", "O2"), (), Outcome.REFUSED)


def test_one_order_refused_the_other_is_drawn() -> None:
    reports = [told(Outcome.REFUSED, "O2"), told(Outcome.COLLECTED, "O1")]
    visit = as_told(a_visit(), reports, NOW_S)
    assert (visit.order_ids, visit.tried, kinds(visit)) == (("O1",), ("O2",), ["EDTA"])
    assert visit.outcome is Outcome.PARTIAL
    assert outcomes_told(visit, reports) == {"O2": Outcome.REFUSED}


def test_row_for_one_order_speaks_for_the_visit_where_nothing_else_is_said() -> None:
    assert as_told(a_visit(), [told(Outcome.AWAY, "O1")], NOW_S).tried == ("O1", "O2")


def test_partial_order_is_tried_and_its_tube_is_filled() -> None:
    visit = as_told(a_visit(), [told(Outcome.PARTIAL, "O2"), told(Outcome.COLLECTED, "O1")], NOW_S)
    assert (visit.order_ids, visit.tried, kinds(visit)) == (("O1",), ("O2",), ["HEPG", "EDTA"])


def test_failed_attempts_leave_no_tube() -> None:
    visit = as_told(a_visit(), [told(Outcome.UNSUCCESSFUL)], NOW_S)
    assert (visit.tubes, visit.outcome) == ((), Outcome.UNSUCCESSFUL)


def test_blood_of_a_recollected_order_was_drawn_all_the_same() -> None:
    # Its tube counts for the blood limit of a child: 4.5 mL are gone whether the laboratory can use them or not.
    visit = as_told(a_visit(), [told(Outcome.RECOLLECT, "O2"), told(Outcome.COLLECTED, "O1")], NOW_S)
    assert (visit.order_ids, visit.tried) == (("O1",), ("O2",))
    assert sum(planned.tube.volume_ul for planned in visit.tubes) == 9000
    whole = as_told(a_visit(), [told(Outcome.RECOLLECT)], NOW_S)
    assert (whole.order_ids, whole.outcome, kinds(whole)) == ((), Outcome.RECOLLECT, ["HEPG", "EDTA"])


def test_order_that_no_row_names_is_open_unless_its_tube_was_drawn() -> None:
    # Counted as drawn by the rows of others, an order whose row could not be read would be lost.
    visit = as_told(a_visit(), [told(Outcome.COLLECTED, "O1")], NOW_S)
    assert (visit.order_ids, visit.tried, kinds(visit)) == (("O1",), (), ["EDTA"])
    both = replace(
        a_visit(), tubes=tuple(replace(p, tube=replace(p.tube, order_ids=a_visit().order_ids)) for p in a_visit().tubes)
    )
    assert as_told(both, [told(Outcome.COLLECTED, "O1")], NOW_S).order_ids == ("O1", "O2")


def test_failed_order_is_not_drawn_by_the_rows_of_others() -> None:
    reports = [told(Outcome.UNSUCCESSFUL, "O2"), told(Outcome.COLLECTED, "O1")]
    visit = as_told(a_visit(), reports, NOW_S)
    assert (visit.order_ids, visit.tried) == (("O1",), ("O2",))


def test_tubes_that_are_told_are_those_in_the_tray() -> None:
    partly = replace(told(Outcome.PARTIAL, "O1", "O2", at="05:11"), tubes=(2,))
    assert kinds(as_told(a_visit(), [partly], NOW_S)) == ["EDTA"]
    nobody_knows = told(Outcome.PARTIAL, "O1", "O2", at="05:11")
    assert len(as_told(a_visit(), [nobody_knows], NOW_S).tubes) == 2
    none = replace(partly, tubes=())
    assert as_told(a_visit(), [none], NOW_S).tubes == ()


def test_arrival_and_departure_are_as_told() -> None:
    stay = replace(told(Outcome.COLLECTED, at="05:11:20"), arrived_s=clock("05:06:05"), left_s=clock("05:14:30"))
    visit = as_told(a_visit(), [stay], NOW_S)
    assert (visit.arrive_s, visit.start_s) == (clock("05:06:05"), clock("05:06:05"))
    assert (visit.draw_s, visit.depart_s) == (clock("05:11:20"), clock("05:14:30"))
    # What cannot be is not taken: nobody draws before they come, nor leaves before the draw, or after now.
    odd = replace(stay, arrived_s=clock("05:12"), left_s=clock("05:50"))
    visit = as_told(a_visit(), [odd], NOW_S)
    assert visit.start_s <= visit.draw_s <= visit.depart_s <= NOW_S


def test_tube_of_an_order_reported_without_tubes_stays_beside_one_reported_with_them() -> None:
    """A saved file names the EDTA tube of O1; O2 was typed: both hold blood, and neither may be lost."""
    reports = [replace(told(Outcome.COLLECTED, "O1"), tubes=(2,)), told(Outcome.COLLECTED, "O2")]
    assert kinds(as_told(a_visit(), reports, NOW_S)) == ["HEPG", "EDTA"]
    none = [replace(told(Outcome.PARTIAL, "O1"), tubes=()), told(Outcome.COLLECTED, "O2")]
    assert kinds(as_told(a_visit(), none, NOW_S)) == ["HEPG"]
