"""Gives the planner a tiny round: a `Problem` and the draws of its beds, made from the same numbers."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.catalogue import Handling, TestCode, TransportMode, TubeCode
from planner.domain.draws import Bound, Device, Draw, DrawId, Ends, Needle, OrderWindow, Tube, TubeSet, VisitRequest
from planner.domain.orders import Order, OrderId, PatientId, Precaution, Priority, TimeWindow
from planner.domain.places import Pickup, PickupKind, PlaceId, PlaceKind
from planner.domain.plan import Outcome, PlannedTube, Visit
from planner.domain.policy import Policy
from planner.domain.price_policy import PricePolicy
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past, Promised, Replan
from planner.domain.staff import Phlebotomist
from tests.builders import make_order, make_patient, make_place, make_problem
from tests.reference.tiny import LATE, TURNS, UNCOLLECTED, TinyOrder, TinyRound, TinyVisit


def to_planner(tiny: TinyRound) -> tuple[Problem, tuple[Draw, ...]]:
    """Return the problem and its draws; visit i is that of patient P<i> unless it names another; its n-th order is
    O<i>-<n>."""
    orders = [_order(i, visit, n) for i, visit in enumerate(tiny.visits) for n in range(len(visit.orders))]
    patients = [
        make_patient(f"P{i}", visit.bed, ward=visit.ward, needs=visit.needs, precautions=_precautions(visit))
        for i, visit in enumerate(tiny.visits)
        if visit.patient is None
    ]
    problem = make_problem(
        orders,
        patients,
        places=[make_place(p, PlaceKind.BED) for p in tiny.places],
        walking=tiny.walk_s,
        staff=[
            Phlebotomist(
                name=f"Name {n}",
                initials=f"N{n}",
                from_s=p.from_s,
                until_s=p.until_s,
                starts_at=PlaceId(p.place),
                skills=p.skills,
                wards=p.wards,
                prefers=p.prefers,
                break_s=p.rest_s,
                break_window=None if p.rest is None else TimeWindow(earliest_s=p.rest[0], latest_s=p.rest[1]),
            )
            for n, p in enumerate(tiny.people)
        ],
        pickups=[
            Pickup(
                place=PlaceId(o.place),
                kind=PickupKind(o.kind),
                departures_s=o.departures_s,
                transit_s=o.transit_s,
            )
            for o in tiny.outlets
        ],
        policy=_policy(tiny),
    )
    problem = replace(problem, replan=_replan(problem, tiny))
    return problem, tuple(_draw(problem, i, visit) for i, visit in enumerate(tiny.visits) if visit.tray_of is None)


def _replan(problem: Problem, tiny: TinyRound) -> Replan | None:
    """Return what a last sheet had promised and what is carried; None where it had promised, and is, nothing."""
    if all(visit.promise is None and visit.tray_of is None for visit in tiny.visits):
        return None
    return Replan(
        parent=1,
        now_s=min(p.from_s for p in tiny.people),
        past=tuple(
            Past(phlebotomist=n, stops=_carried(problem, tiny, n), place=PlaceId(p.place), free_s=p.from_s)
            for n, p in enumerate(tiny.people)
        ),
        promised=tuple(
            Promised(
                draw_id=DrawId(f"P{i}#1"),
                patient_id=PatientId(f"P{i}"),
                place=PlaceId(visit.bed),
                order_ids=tuple(OrderId(f"O{i}-{n}") for n in range(len(visit.orders))),
                phlebotomist=visit.promise[0],
                position=visit.promise[1],
                draw_s=visit.promise[2],
            )
            for i, visit in enumerate(tiny.visits)
            if visit.promise is not None
        ),
    )


def _carried(problem: Problem, tiny: TinyRound, person: int) -> tuple[Visit, ...]:
    """Return the past visits whose specimens a person carries, as visits that were over when she goes on."""
    made: list[Visit] = []
    for i, visit in enumerate(tiny.visits):
        if visit.tray_of != person:
            continue
        draw = _draw(problem, i, visit)
        drawn_s = visit.starts[0][0] + visit.lead_s
        made.append(
            Visit(
                draw_id=draw.id,
                patient_id=draw.request.patient_id,
                place=draw.request.bed,
                order_ids=tuple(order.id for order in draw.request.orders),
                arrive_s=drawn_s,
                start_s=drawn_s,
                draw_s=drawn_s,
                depart_s=drawn_s,
                tubes=tuple(PlannedTube(tube=tube, handover=None) for tube in draw.tube_set.tubes),
                needle=draw.tube_set.needle,
                outcome=Outcome.COLLECTED,
            )
        )
    return tuple(made)


def _precautions(visit: TinyVisit) -> frozenset[Precaution]:
    name = TURNS[visit.turn]
    return frozenset() if name is None else frozenset({Precaution(name)})


def _policy(tiny: TinyRound) -> Policy:
    policy = Policy()
    return replace(
        policy,
        round=replace(policy.round, needed_by_s={} if tiny.need_by_s is None else {"*": tiny.need_by_s}),
        replan=replace(policy.replan, change_s=tiny.change_s),
        prices=PricePolicy(
            puncture_s=tiny.prices.puncture_s,
            moved_stop_s=tiny.prices.moved_stop_s,
            to_lab=tiny.prices.to_lab,
            stat_wait_pct=tiny.prices.stat_wait_pct,
            last_minutes_pct=tiny.prices.last_minutes_pct,
            off_time_pct=0,  # the brute forces know only what grows with time
            arrival_pct=tiny.prices.arrival_pct,
            finish_pct=tiny.prices.finish_pct,
            share=tiny.prices.share,
            ward_change_s=tiny.prices.ward_change_s,
            other_ward_s=tiny.prices.other_ward_s,
            isolation_s=tiny.prices.isolation_s,
            protective_after_airborne_s=tiny.prices.exposed_s,
        ),
        windows=replace(
            policy.windows,
            drug_tolerance_s=tiny.tolerance_s,
            stat_to_lab_s=tiny.stat_to_lab_s,
            last_minutes_s=tiny.last_minutes_s,
            asap_to_lab_s=tiny.asap_to_lab_s,
        ),
        handover=replace(
            policy.handover, handover_s=tiny.handover_s, max_sends=tiny.max_sends, tray_limit=tiny.tray_limit
        ),
        weights=replace(
            policy.weights,
            uncollected={Priority(k): w for k, w in UNCOLLECTED.items()},
            late={Priority(k): w for k, w in LATE.items()},
            uncollected_timed=0,  # the brute force knows priorities only
        ),
    )


def _order(i: int, visit: TinyVisit, n: int) -> Order:
    """Return an order; the first of a visit of a series is the series'."""
    order = visit.orders[n]
    made = make_order(
        f"O{i}-{n}",
        f"P{i if visit.patient is None else visit.patient}",
        "PFN" if order.by_hand else "CBC",
        priority=Priority(order.priority),
    )
    if visit.wanted_s is None or n:
        return made
    return replace(made, series="S", collect_at_s=visit.wanted_s)


def _draw(problem: Problem, i: int, visit: TinyVisit) -> Draw:
    orders = tuple(problem.order(f"O{i}-{n}") for n in range(len(visit.orders)))
    draw_windows = tuple(TimeWindow(earliest_s=a + visit.lead_s, latest_s=b + visit.lead_s) for a, b in visit.starts)
    first = Bound(at_s=draw_windows[0].earliest_s, rule="round")
    last = Bound(at_s=draw_windows[-1].latest_s, rule="round")
    own = Ends(rule="requested", earliest_s=first.at_s, latest_s=last.at_s)
    return Draw(
        request=VisitRequest(
            id=DrawId(f"P{i}#1"),
            patient_id=orders[0].patient_id,
            bed=PlaceId(visit.bed),
            orders=orders,
            windows=draw_windows,
            order_windows=tuple(
                OrderWindow(
                    order_id=o.id,
                    windows=draw_windows,
                    earliest=first,
                    latest=last,
                    target=None if its.target_s is None else Bound(at_s=its.target_s, rule="priority"),
                    ends=(own,),
                )
                for o, its in zip(orders, visit.orders, strict=True)
            ),
        ),
        tube_set=TubeSet(
            tubes=tuple(
                _tube(order, tiny, n) for n, (order, tiny) in enumerate(zip(orders, visit.orders, strict=True))
            ),
            needle=Needle(gauge=21, device=Device.STRAIGHT),
            num_separate=len(orders),
            separate_ul=0,
        ),
        lead_s=visit.lead_s,
        service_s=visit.service_s,
        start_windows=tuple(TimeWindow(earliest_s=a, latest_s=b) for a, b in visit.starts),
        targets=tuple((o.target_s, LATE[o.priority]) for o in visit.orders if o.target_s is not None),
        uncollected_weight=sum(UNCOLLECTED[o.priority] for o in visit.orders),
        skills=visit.needs,
    )


def _tube(order: Order, tiny: TinyOrder, n: int) -> Tube:
    return Tube(
        tube=TubeCode("CIT" if tiny.by_hand else "EDTA"),
        size_ul=2000,
        volume_ul=2000,
        draw_position=n + 1,
        tests=(TestCode(order.test),),
        order_ids=(order.id,),
        mode=TransportMode.ROOM,
        handling=frozenset({Handling.HAND_DELIVER}) if tiny.by_hand else frozenset(),
        stability_s=tiny.stability_s,
    )
