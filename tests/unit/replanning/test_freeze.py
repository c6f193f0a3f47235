"""Who is where when a round is replanned: nobody told, told late, early, out of order; hand-overs and breaks."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.orders import Priority, TimeWindow
from planner.domain.places import PlaceId
from planner.domain.plan import Break, Handover, Outcome, Plan, Stop, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past, Replan
from planner.domain.revisions.reported import Reported
from planner.replanning.past.freeze import freeze
from tests.builders import clock, make_phlebotomist, make_problem
from tests.replan_builders import make_handover, make_plan
from tests.unit.replanning.frozen_rounds import a_round, beds, by_itself, past_at, times, told, visit


def test_before_anything_has_begun_everybody_is_where_she_starts() -> None:
    past = past_at("04:50")
    assert (past.stops, past.place, past.free_s) == ((), "BASE", clock("05:00"))


def test_nothing_told_the_plan_is_taken_to_have_been_kept() -> None:
    past = past_at("05:30")
    assert beds(past) == ["B1", "B2"]
    assert past.assumed == {0, 1}
    assert times(past) == [(clock("05:07:45"), clock("05:12:45")), (clock("05:17:45"), clock("05:22:45"))]
    assert [s.outcome for s in past.stops if isinstance(s, Visit)] == [Outcome.COLLECTED] * 2


def test_the_visit_under_way_stays_and_she_is_free_after_it() -> None:
    # 05:20 lies in 05:17:45 to 05:22:45.
    past = past_at("05:20")
    assert (beds(past), past.place, past.free_s) == (["B1", "B2"], "B2", clock("05:22:45"))


def test_a_visit_that_begins_this_second_has_begun_and_one_second_later_has_not() -> None:
    assert beds(past_at("05:17:45")) == ["B1", "B2"]
    assert beds(past_at("05:17:44")) == ["B1"]


def test_who_is_on_her_way_goes_on_from_where_she_gets_to() -> None:
    # She left B2 at 05:22:45; the shelf is 3 positions on, 30 s: at 05:23 she is between them, at 05:23:15 there.
    past = past_at("05:23")
    assert (past.place, past.free_s) == ("PICKUP", clock("05:23:15"))


def test_who_waits_at_the_next_stop_is_there() -> None:
    past = past_at("05:40")
    assert (beds(past), past.place, past.free_s) == (["B1", "B2"], "PICKUP", clock("05:40"))


def test_tubes_not_given_away_by_now_are_in_the_tray_and_given_ones_are_not() -> None:
    def handovers(past: Past) -> list[int | None]:
        return [p.handover for stop in past.stops if isinstance(stop, Visit) for p in stop.tubes]

    assert handovers(past_at("05:40")) == [None, None]
    assert handovers(past_at("05:56")) == [2, 2]


def test_what_is_told_is_believed_and_what_is_not_told_is_to_come() -> None:
    # B1 reported as drawn, and B2 was due to end at 05:22:45: it is still to come, by whoever stands there.
    past = past_at("05:30", told(1))
    assert (beds(past), past.assumed, past.place, past.free_s) == (["B1"], frozenset(), "B2", clock("05:30"))


def test_one_visit_told_by_itself_says_nothing_of_the_others() -> None:
    # B3 is refused at 06:11 on the phone: nobody is sent back to B1 and B2, which were due before it.
    past = past_at("06:12", by_itself(3, at="06:11"))
    assert (beds(past), past.assumed) == (["B1", "B2", "PICKUP", "B3"], {0, 1, 2})
    # A list that names B3 alone says that B1 and B2 are not done.
    assert beds(past_at("06:12", told(3, Outcome.REFUSED, "06:11"))) == ["PICKUP", "B3"]


def test_who_goes_on_after_a_visit_told_by_itself_is_assumed_to_keep_the_plan() -> None:
    # At 05:30 B2, due to end at 05:22:45, counts as done although only the refusal at B1 is told.
    past = past_at("05:30", by_itself(1, at="05:10"))
    assert (beds(past), past.assumed) == (["B1", "B2"], {1})


def test_stat_before_a_visit_told_by_itself_is_not_assumed_drawn() -> None:
    past = past_at("06:12", by_itself(3, at="06:11"), the_round=with_stat(2))
    assert beds(past) == ["B1", "PICKUP", "B3"]


def test_visit_not_due_yet_is_to_come_when_a_later_one_is_told_by_itself() -> None:
    past = past_at("05:15", by_itself(3, at="05:14"))
    assert "B2" not in beds(past)


def test_the_visit_under_way_stays_although_only_another_is_told() -> None:
    # B2 lasts from 05:17:45 to 05:22:45.
    past = past_at("05:20", told(1))
    assert (beds(past), past.assumed, past.free_s) == (["B1", "B2"], {1}, clock("05:22:45"))


def test_visit_that_was_under_way_is_to_come_when_another_one_is_told_later() -> None:
    first = replanned(a_round(), "05:20", told(1))
    assert beds(past_at("06:20", told(3, at="06:10"), the_round=first)) == ["B1", "PICKUP", "B3"]
    assert beds(past_at("06:05", the_round=first)) == ["B1", "B2", "PICKUP"]  # nothing told: the plan was kept


def with_stat(number: int) -> tuple[Problem, Plan]:
    """The round in which one order is stat."""
    problem, plan = a_round()
    orders = tuple(replace(o, priority=Priority.STAT) if o.id == f"O{number}" else o for o in problem.orders)
    return replace(problem, orders=orders), plan


def test_stat_is_never_assumed_drawn() -> None:
    past = past_at("05:40", the_round=with_stat(1))
    assert (beds(past), past.assumed, past.place) == (["B2"], {0}, "PICKUP")
    past = past_at("05:30", the_round=with_stat(2))
    assert (beds(past), past.assumed, past.place) == (["B1"], {0}, "PICKUP")


def test_stat_under_way_stays_and_is_to_come_when_it_is_over_and_nobody_told_it() -> None:
    first = replanned(with_stat(2), "05:20")
    assert beds(past_at("05:20", the_round=with_stat(2))) == ["B1", "B2"]
    assert beds(past_at("05:22", the_round=first)) == ["B1", "B2"]
    assert beds(past_at("05:30", the_round=first)) == ["B1"]
    assert beds(past_at("05:30", by_itself(2, Outcome.COLLECTED), the_round=first)) == ["B1", "B2"]


def test_told_later_than_planned_shifts_her_and_the_visit_that_she_is_at() -> None:
    # B1 drawn at 05:25: there until 05:25 + 165 s = 05:27:45; B2 is 10 s on, 05:27:55, for 300 s: until 05:32:55.
    past = past_at("05:30", told(1, at="05:25"))
    assert times(past) == [(clock("05:22:45"), clock("05:27:45")), (clock("05:27:55"), clock("05:32:55"))]
    assert past.free_s == clock("05:32:55")


def test_told_earlier_than_planned_counts_at_the_time_told() -> None:
    past = past_at("05:12", told(1, at="05:05"))
    first = past.stops[0]
    assert isinstance(first, Visit)
    assert (first.draw_s, first.depart_s) == (clock("05:05"), clock("05:07:45"))


def test_told_before_its_time_and_without_one_was_drawn_now() -> None:
    past = past_at("05:08", told(1))
    first = past.stops[0]
    assert isinstance(first, Visit)
    assert (first.draw_s, past.free_s) == (clock("05:08"), clock("05:10:45"))


def test_visits_told_out_of_order_stand_in_the_order_of_their_times_and_she_is_at_the_last() -> None:
    past = past_at("05:40", told(1, at="05:30"), told(2, at="05:10"))
    # B1 last, until 05:30 + 165 s; then the shelf, 40 s on: there at 05:33:25, and waiting.
    assert beds(past) == ["B2", "B1"]
    assert (past.place, past.free_s) == ("PICKUP", clock("05:40"))
    just_done = past_at("05:32", told(1, at="05:30"), told(2, at="05:10"))
    assert (beds(just_done), just_done.place, just_done.free_s) == (["B2", "B1"], "B1", clock("05:32:45"))


def test_a_visit_passed_over_is_to_come() -> None:
    past = past_at("05:23", told(2, at="05:20"))
    assert beds(past) == ["B2"]


def test_who_was_away_or_refused_costs_no_time_after_the_attempt() -> None:
    past = past_at("05:11", told(1, Outcome.REFUSED, "05:10"))
    first = past.stops[0]
    assert isinstance(first, Visit)
    assert (first.depart_s, first.order_ids, first.tried, first.tubes) == (clock("05:11"), (), ("O1",), ())


def test_a_hand_over_that_came_too_late_takes_the_next_courier() -> None:
    # B2 drawn at 05:57: there until 05:59:45, at the shelf 06:00:15 to 06:01:15: the courier of 06:00 is gone.
    past = past_at("06:05", told(1), told(2, at="05:57"))
    stop = past.stops[2]
    assert isinstance(stop, Handover)
    assert (stop.start_s, stop.departs_s, stop.lab_arrival_s) == (clock("06:00:15"), clock("07:00"), clock("07:10"))


def test_a_hand_over_after_the_last_courier_has_not_taken_place() -> None:
    problem, plan = a_round()
    only = tuple(replace(p, departures_s=p.departures_s[:1]) if p.departures_s else p for p in problem.pickups)
    past = past_at("06:05", told(1), told(2, at="05:57"), the_round=(replace(problem, pickups=only), plan))
    assert beds(past) == ["B1", "B2"]
    assert [p.handover for stop in past.stops if isinstance(stop, Visit) for p in stop.tubes] == [None, None]
    assert past.place == "PICKUP"


def test_a_hand_over_before_a_visit_that_was_made_was_made() -> None:
    # B3 told as drawn at 06:00, ten minutes early: the shelf lies before it, and is taken to have been as planned.
    past = past_at("06:05", told(1), told(2), told(3, at="06:00"))
    assert beds(past) == ["B1", "B2", "PICKUP", "B3"]
    assert past.assumed == {2}


def with_break(window: tuple[str, str] = ("05:30", "06:00")) -> tuple[Problem, Plan]:
    """AB with a break of 10 minutes, planned 05:30 to 05:40 after B2 (then nothing but B3)."""
    span = TimeWindow(earliest_s=clock(window[0]), latest_s=clock(window[1]))
    problem = make_problem(staff=[make_phlebotomist(break_window=span, break_s=600)])
    rest = Break(place=PlaceId("B2"), arrive_s=clock("05:22:45"), start_s=clock("05:30"), depart_s=clock("05:40"))
    stops: list[Stop] = [visit(problem, 1, "05:10"), visit(problem, 2, "05:20"), rest, visit(problem, 3, "06:10")]
    return problem, make_plan(stops)


def test_a_break_that_has_begun_is_taken_in_full() -> None:
    past = past_at("05:32", the_round=with_break())
    assert isinstance(past.stops[-1], Break)
    assert (past.place, past.free_s) == ("B2", clock("05:40"))


def test_a_break_to_come_is_not_in_the_past() -> None:
    past = past_at("05:29", the_round=with_break())
    assert (beds(past), past.free_s) == (["B1", "B2"], clock("05:29"))


def replanned(the_round: tuple[Problem, Plan], now: str, *reports: Reported) -> tuple[Problem, Plan]:
    """Return the round as a revision at ``now`` leaves it when nothing to come changes."""
    problem, plan = the_round
    past = freeze(problem, plan, reports, clock(now))
    replan = Replan(parent=1, now_s=clock(now), past=past)
    stops: list[Stop] = []
    for one, route in zip(past, plan.routes, strict=True):
        made = {stop.place for stop in one.stops}
        old = {s.draw_id: s for s in route.visits}
        stops = [replace(s, tubes=old[s.draw_id].tubes) if isinstance(s, Visit) and s.tubes else s for s in one.stops]
        stops += [
            stop for stop in route.stops[len(one.stops) :] if stop.place not in made or isinstance(stop, Handover)
        ]
    return replace(problem, replan=replan), make_plan(stops)


def test_a_second_replan_keeps_the_first_ones_past() -> None:
    first = replanned(a_round(), "05:30", told(1, at="05:11"), told(2, at="05:19"))
    assert first[0].replan is not None
    before = first[0].replan.past[0]
    after = past_at("06:20", the_round=first)
    assert beds(after) == ["B1", "B2", "PICKUP", "B3"]
    for old, new in zip(before.stops, after.stops, strict=False):
        assert isinstance(old, Visit)
        assert isinstance(new, Visit)
        assert replace(new, tubes=old.tubes) == old
        assert [p.handover for p in new.tubes] == [2]


def test_nothing_told_this_time_the_plan_was_kept_whatever_was_told_before() -> None:
    # Told at 05:30, and nothing at 06:40: B3 (06:10) and B4 (06:30) are due, so assumed; the sheet says so.
    first = replanned(a_round(), "05:30", told(1), told(2))
    past = past_at("06:40", the_round=first)
    assert beds(past) == ["B1", "B2", "PICKUP", "B3", "B4"]
    assert past.assumed == {2, 3, 4}


def test_what_was_assumed_can_be_told() -> None:
    first = replanned(a_round(), "05:30")
    past = past_at("05:45", by_itself(2, Outcome.AWAY, "05:21"), the_round=first)
    second = past.stops[1]
    assert isinstance(second, Visit)
    assert (second.outcome, second.order_ids, second.tried) == (Outcome.AWAY, (), ("O2",))
    assert past.assumed == {0}


def test_what_was_assumed_and_is_not_on_a_list_is_still_to_come() -> None:
    """README: once --done names a visit of a phlebotomist, their other visits are still to come."""
    first = replanned(a_round(), "05:30")
    assert first[0].replan is not None and first[0].replan.past[0].assumed == {0, 1}
    past = past_at("05:45", told(2), the_round=first)
    assert (beds(past), past.assumed) == (["B2"], frozenset())
    past = past_at("05:45", told(1), the_round=first)
    assert (beds(past), past.assumed) == (["B1"], frozenset())


def test_what_was_told_before_stays_when_a_later_list_does_not_repeat_it() -> None:
    first = replanned(a_round(), "05:30", told(1))
    assert beds(past_at("05:45", told(2), the_round=first)) == ["B1", "B2"]


def test_what_was_told_stays_when_it_is_told_otherwise() -> None:
    first = replanned(a_round(), "05:30", told(1, at="05:11"), told(2, at="05:19"))
    past = past_at("05:45", told(2, Outcome.AWAY, "05:21"), the_round=first)
    assert [s.outcome for s in past.stops if isinstance(s, Visit)] == [Outcome.COLLECTED] * 2


def test_everybody_has_an_entry_and_only_who_is_told_about_is_believed() -> None:
    problem = make_problem(staff=[make_phlebotomist("AB"), make_phlebotomist("CD")])
    plan = make_plan(
        [visit(problem, 1, "05:10"), visit(problem, 2, "05:20")],
        [visit(problem, 3, "05:10"), visit(problem, 4, "05:20")],
    )
    ab, cd = freeze(problem, plan, [told(1)], clock("05:40"))
    assert (beds(ab), beds(cd)) == (["B1"], ["B3", "B4"])
    assert (ab.assumed, cd.assumed) == (frozenset(), {0, 1})
    assert [ab.phlebotomist, cd.phlebotomist] == [0, 1]


def test_who_is_held_up_is_not_free_before_her_time() -> None:
    problem, plan = replanned(a_round(), "05:30")
    assert problem.replan is not None
    held = replace(problem.replan.past[0], free_s=clock("06:20"))
    problem = replace(problem, replan=replace(problem.replan, past=(held,)))
    past = past_at("06:15", the_round=(problem, plan))
    assert (beds(past), past.free_s) == (["B1", "B2"], clock("06:20"))


def test_bed_visited_out_of_turn_makes_no_hand_over_that_is_due_later() -> None:
    """AB goes to B4 at 05:24, an hour early: the courier of 05:55 is not met, and what B1 gave is in the tray."""
    problem, plan = a_round()
    second = make_handover("PICKUP", depart="06:00", departs="06:30", arrival="06:40")
    third = make_handover("PICKUP", depart="06:02", departs="07:00", arrival="07:10")
    first, *rest = plan.routes[0].stops
    plan = make_plan([first, *rest[:2], second, third, *rest[2:]])
    past = past_at("05:30", replace(told(4, at="05:24"), is_by_itself=True), the_round=(problem, plan))
    assert not [stop for stop in past.stops if isinstance(stop, Handover)]
    made = [stop for stop in past.stops if isinstance(stop, Visit)]
    assert [stop.draw_id for stop in made] == ["P1-O1", "P2-O2", "P4-O4"]
    assert [tube.handover for stop in made for tube in stop.tubes] == [None, None, None]


def test_who_is_ahead_of_the_sheet_in_order_has_made_the_hand_over_on_the_way() -> None:
    """All but the last bed are reported, B3 at 05:40, half an hour early: the courier's shelf lies on the way."""
    reports = [told(1, at="05:05"), told(2, at="05:15"), told(3, at="05:40")]
    past = past_at("05:45", *reports)
    (shelf,) = (stop for stop in past.stops if isinstance(stop, Handover))
    assert shelf.depart_s <= clock("05:45")
