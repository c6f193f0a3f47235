"""Stats that cannot be drawn in time: who could be there first, and what has to give way; worked out by hand."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.draws import DrawId
from planner.domain.orders import Order, OrderId, PatientId, Priority, TimeWindow
from planner.domain.places import PlaceId
from planner.domain.plan import Plan, Reason
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past, Promised, Replan
from planner.findings import Finding
from planner.pipeline import plan_round
from planner.prepared import prepare_round
from planner.replanning.urgent.impossible import _Telling, impossible_stats
from planner.replanning.urgent.put_first import PutFirst
from planner.solving.params import SolveParams
from tests.builders import clock, make_order, make_phlebotomist, make_problem

PARAMS = SolveParams(effort="quick", proves=False)  # as `replan` plans
NOW = "05:42"

# A visit with one tube: 75 s to identify, 60 s to prepare, so the draw is 135 s after the begin; 300 s in all. Ten
# seconds of walking between neighbouring beds. A stat is wanted within 15 minutes: by 05:57 when it is told at 05:42.


def begun(*orders: Order, free: dict[str, str], places: dict[str, str], until: str = "09:00") -> Problem:
    """Return a round that has begun: everybody is free at a time and stands at a bed."""
    staff = [make_phlebotomist(initials, until_s=clock(until)) for initials in free]
    problem = make_problem(orders, staff=staff)
    past = tuple(
        Past(phlebotomist=n, stops=(), place=PlaceId(places[who]), free_s=clock(at))
        for n, (who, at) in enumerate(free.items())
    )
    return replace(problem, replan=Replan(parent=1, now_s=clock(NOW), past=past))


def stat(test: str = "LFT", **changes: object) -> Order:
    return make_order("S1", "P2", test, priority=Priority.STAT, ordered_s=clock(NOW), **changes)


def told(problem: Problem) -> list[Finding]:
    made = plan_round(problem, PARAMS)
    return list(impossible_stats(problem, made.plan, made.windows, made.draws))


def test_stat_in_time_is_not_spoken_of() -> None:
    assert told(begun(stat(), free={"AB": NOW}, places={"AB": "B1"})) == []


def test_round_without_stats_is_not_spoken_of() -> None:
    assert told(begun(make_order("O1", "P1", "LFT"), free={"AB": NOW}, places={"AB": "B1"})) == []


def test_late_stat_names_who_is_there_first_and_when() -> None:
    # AB is free at 06:10 at B1, CD at 06:20 at B2: at B2 by 06:10:10 and 06:20, drawing at 06:12:25 and 06:22:15.
    (finding,) = told(begun(stat(), free={"AB": "06:10", "CD": "06:20"}, places={"AB": "B1", "CD": "B2"}))
    assert finding.order_ids == ("S1",)
    assert finding.message == (
        "stat LFT at bed B2: planned for 06:12, wanted by 05:57. First there: AB could draw at 06:12, nobody else "
        "late or left out; CD could draw at 06:22, nobody else late or left out"
    )


def test_stop_that_would_move_to_another_person_is_counted() -> None:
    problem = begun(stat(), free={"AB": "06:10", "CD": "06:20"}, places={"AB": "B1", "CD": "B2"})
    assert problem.replan is not None
    own = Promised(
        draw_id=DrawId("P2/1"),
        patient_id=PatientId("P2"),
        place=PlaceId("B2"),
        order_ids=(OrderId("S1"),),
        phlebotomist=0,
        position=0,
        draw_s=clock("06:12"),
    )
    (finding,) = told(replace(problem, replan=replace(problem.replan, promised=(own,))))
    assert finding.message.endswith(
        "First there: AB could draw at 06:12, nobody else late or left out; CD could draw at 06:22, nobody else late "
        "or left out, moves 1 more stop"
    )


def test_what_would_have_to_be_dropped_is_named() -> None:
    # AB is free at 05:42 at B1 until 05:52. A timed draw weighs less than the stat only while a stat weighs more; two
    # stats of P1 (2 x 100) outweigh one of P2: in ten minutes only one visit of five minutes and its hand-over fits
    # (B1 05:42:00 to 05:47, then B2 05:47:10 to 05:52:10, over at 05:52).
    first = [
        make_order(f"T{n}", "P1", t, priority=Priority.STAT, ordered_s=clock(NOW)) for n, t in ((1, "LFT"), (2, "TNT"))
    ]
    problem = begun(*first, stat(), free={"AB": NOW}, places={"AB": "B1"}, until="05:52")
    made = plan_round(problem, PARAMS)
    plan = made.plan
    assert {u.order_id: u.reason for u in plan.unplanned} == {"S1": Reason.NO_TIME}
    (finding,) = impossible_stats(problem, plan, made.windows, made.draws)
    # B2 is 10 s from B1: drawn at 05:42:10 + 135 s.
    assert (
        "not planned, wanted by 05:57. First there: AB could draw at 05:44, then not drawn: bed B1" in finding.message
    )


def test_what_would_be_late_is_named_with_its_minutes() -> None:
    # T1 at B1 is timed for 05:44:15 (05:30 + 14:15 of tolerance); AB at B1 draws it at 05:44:15. S1 was asked for at
    # 05:28, so was wanted by 05:43, which nobody can do: its ten weights a second beat those of T1 only if T1's are
    # fewer. Put first, S1 is drawn at 05:44:25, and T1 at 05:42:10 + 300 + 10 + 135 s = 05:49:35.
    late = stat()
    late = replace(late, ordered_s=clock("05:28"))
    others = [
        make_order(f"T{n}", "P1", t, priority=Priority.STAT, ordered_s=clock("05:29:15"))
        for n, t in ((1, "LFT"), (2, "TNT"))
    ]
    problem = begun(*others, late, free={"AB": NOW}, places={"AB": "B1"})
    made = plan_round(problem, PARAMS)
    plan = made.plan
    drawn_s = {o: v.draw_s for v in plan.routes[0].visits for o in v.order_ids}
    assert drawn_s == {
        OrderId("T1"): clock("05:44:15"),
        OrderId("T2"): clock("05:44:15"),
        # What two stats wait for is handed over first: 50 s to the station, 60 s there, 40 s back to B2.
        OrderId("S1"): clock("05:47") + 150 + 135,
    }
    (finding,) = impossible_stats(problem, plan, made.windows, made.draws)
    # T1 and T2 were wanted by 05:44:15: 05:49:35 is 320 s later, six minutes begun.
    assert "AB could draw at 05:44, then later past their time: bed B1 by 6 min" in finding.message


def test_specimen_that_cannot_keep_is_said_to_be_too_old() -> None:
    # LACT keeps 30 min on ice; the only courier leaves 09:00 and is in the laboratory at 09:10; the shift ends 06:30.
    problem = begun(stat("LACT"), free={"AB": NOW}, places={"AB": "B1"}, until="06:30")
    last = tuple(replace(p, departures_s=(clock("09:00"),)) for p in problem.pickups if p.departures_s)
    (finding,) = told(replace(problem, pickups=last))
    assert "AB could draw at 05:44, but its specimen would be too old in the laboratory at 09:10" in finding.message


def test_that_nobody_can_is_said() -> None:
    (finding,) = told(begun(stat(), free={"AB": "09:00"}, places={"AB": "B1"}))
    assert "First there: nobody, whatever is left out: " in finding.message
    assert finding.message.endswith("within the shift; ask the ward for another time, or find another collector")


def test_stat_at_a_patient_who_is_away_says_who_would_be_there() -> None:
    problem = begun(stat(), free={"AB": NOW}, places={"AB": "B1"})
    patients = {
        i: replace(p, away=(TimeWindow(earliest_s=clock("05:30"), latest_s=clock("09:30")),))
        for i, p in problem.patients.items()
    }
    (finding,) = told(replace(problem, patients=patients))
    assert "AB could draw at 05:44" in finding.message


def test_bed_that_is_late_with_two_visits_is_named_once() -> None:
    # A draw wanted by 05:30 and one at 08:00 cannot be one visit: rounded up, 780 s are 13 minutes and 400 s are 7.
    orders = [
        make_order("T1", "P1", collect_from_s=clock("05:00"), collect_to_s=clock("05:30")),
        make_order("T2", "P1", collect_at_s=clock("08:00")),
    ]
    problem = make_problem(orders)
    draws = prepare_round(problem, PARAMS).draws
    assert len(draws) == 2
    way = PutFirst(
        phlebotomist=0,
        draw_s=clock("05:50"),
        lab_arrival_s=0,
        is_too_old=False,
        dropped=(),
        later={draws[0].id: 780, draws[1].id: 400},
    )
    words = _Telling(problem, Plan(routes=(), unplanned=(), goals=()), draws)._way(way)
    assert words == "AB could draw at 05:50, then later past their time: bed B1 by 13 min and 7 min"
