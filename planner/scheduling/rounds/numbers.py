"""From a problem and its draws to the numbers of the scheduling problem."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from planner.domain.draws import Draw, Strength, Tube
from planner.domain.orders import Order, OrderId, Patient, PatientId, Precaution, TimeWindow
from planner.domain.places import PickupKind, PlaceId
from planner.domain.plan import Break, Visit
from planner.domain.problem import Problem
from planner.scheduling.rounds.draw_times import last_minutes_s, wished_spans
from planner.scheduling.rounds.tray_loads import TrayLoad
from planner.scheduling.timing.instance import (
    NEVER,
    NO_LIMIT_S,
    PRECAUTION_RANK,
    TRAY_WEIGHT,
    CollectorData,
    GapData,
    Instance,
    PickupData,
    PromiseData,
    SpecimenData,
    VisitData,
)
from planner.scheduling.timing.turns import isolation_turns
from planner.visits.draws import uncollected_weight
from planner.visits.posture import posture_gaps
from planner.visits.series import draw_gaps
from planner.visits.to_laboratory import OWN_RULES, dues_of_drawn_s, dues_s, first_draws_s, first_reach_s


def build_instance(problem: Problem, draws: Sequence[Draw], trays: Sequence[TrayLoad] = ()) -> Instance:
    """Return the numbers of a problem; visits in the order of the draws, behind them what is in the trays."""
    begins = [_begin(problem, k) for k in range(len(problem.staff))]
    places: list[PlaceId] = sorted(
        {d.request.bed for d in draws} | {p.place for p in problem.pickups} | {place for place, _free_s in begins}
    )
    node = {place: i for i, place in enumerate(places)}
    walk = tuple(tuple(_walk_s(problem, a, b) for b in places) for a in places)
    promised = _promises(problem, draws)
    wards = {ward: n for n, ward in enumerate(sorted({patient.ward for patient in problem.patients.values()}))}
    drawn = [
        _visit(problem, draw, node[draw.request.bed], promise, wards)
        for draw, promise in zip(draws, promised, strict=True)
    ]
    visits = (*drawn, *(_tray(problem, load, node) for load in trays))
    turns, exposures = isolation_turns(visits, walk)
    return Instance(
        start_s=problem.start_s,
        walk=walk,
        visits=visits,
        pickups=tuple(
            PickupData(
                node=node[p.place],
                takes_hand=p.kind is not PickupKind.TUBE,
                departures_s=p.departures_s,
                transit_s=p.transit_s,
            )
            for p in problem.pickups
        ),
        collectors=tuple(
            _collector(problem, k, node[place], free_s, wards) for k, (place, free_s) in enumerate(begins)
        ),
        handover_s=problem.policy.handover.handover_s,
        max_sends=problem.policy.handover.max_sends,
        same_bed=_same_bed(draws, drawn),
        gaps=_gaps(problem, draws),
        tray_limit=problem.policy.handover.tray_limit,
        change_s=problem.policy.replan.change_s,
        prices=problem.policy.prices,
        same_patient=_same_patient(draws),
        turns=turns,
        exposures=exposures,
    )


def _begin(problem: Problem, collector: int) -> tuple[PlaceId, int]:
    """Return where and when a collector begins, or goes on when the round has begun."""
    who = problem.staff[collector]
    if problem.replan is None:
        return who.starts_at, who.from_s
    past = problem.replan.past[collector]
    return past.place, past.free_s


def _promises(problem: Problem, draws: Sequence[Draw]) -> list[PromiseData | None]:
    """Return what the last sheet said of each draw: of the promised visit with most orders in common."""
    promised = problem.replan.kept_from if problem.replan else ()
    found: list[PromiseData | None] = []
    for draw in draws:
        ids = {order.id for order in draw.request.orders}
        shared = [(len(ids & set(p.order_ids)), -n) for n, p in enumerate(promised) if ids & set(p.order_ids)]
        if not shared:
            found.append(None)
            continue
        old = promised[-max(shared)[1]]
        found.append(PromiseData(collector=old.phlebotomist, position=old.position, start_s=old.due_s - draw.lead_s))
    return found


def _tray(problem: Problem, load: TrayLoad, node: Mapping[PlaceId, int]) -> VisitData:
    place, free_s = _begin(problem, load.collector)
    needed = problem.policy.round.needed_by_s
    ward = problem.patients[load.visit.patient_id].ward
    orders = load.orders(problem)
    drawn_s = load.visit.draw_s - free_s
    dues = dues_of_drawn_s(problem.policy, orders, load.visit.draw_s)
    return VisitData(
        node=node[place],
        service_s=0,
        windows=(TimeWindow(earliest_s=free_s, latest_s=free_s),),
        targets=(),
        weight=TRAY_WEIGHT,
        specimens=tuple(
            specimens
            for group in load.groups()
            for specimens in _specimens(
                problem, group, orders, NO_LIMIT_S if group[0] in load.too_old else drawn_s, dues
            )
        ),
        need_by_s=needed.get(ward, needed.get("*")),
        able=frozenset({load.collector}),
        is_tray=True,
    )


def _gaps(problem: Problem, draws: Sequence[Draw]) -> tuple[GapData, ...]:
    """Return the gaps between visits, as between their starts."""
    index = {draw.id: i for i, draw in enumerate(draws)}
    gaps = []
    for gap in (*draw_gaps(problem, draws), *posture_gaps(problem, draws)):
        i, j = index[gap.first], index[gap.second]
        lead_s = draws[i].lead_s - draws[j].lead_s
        gaps.append(GapData(first=i, second=j, least_s=gap.least_s + lead_s, most_s=gap.most_s + lead_s))
    return tuple(gaps)


def _same_bed(draws: Sequence[Draw], visits: Sequence[VisitData]) -> tuple[tuple[int, int], ...]:
    """Return the pairs of visits of one patient that some schedule could let overlap."""
    return tuple(
        (i, j)
        for j, later in enumerate(draws)
        for i, draw in enumerate(draws[:j])
        if draw.request.patient_id == later.request.patient_id
        and visits[i].windows[0].earliest_s < visits[j].windows[-1].latest_s + visits[j].service_s
        and visits[j].windows[0].earliest_s < visits[i].windows[-1].latest_s + visits[i].service_s
    )


def _collector(problem: Problem, collector: int, node: int, from_s: int, wards: Mapping[str, int]) -> CollectorData:
    """Return a phlebotomist's numbers; a break that does not fit into her shift, or is over, is none."""
    who = problem.staff[collector]
    made = problem.replan.past[collector].stops if problem.replan else ()
    has_rested = any(isinstance(stop, Break) for stop in made)
    been_on = [wards[problem.patients[stop.patient_id].ward] for stop in made if isinstance(stop, Visit)]
    until_s = max(from_s, who.until_s)  # who is free only after her shift makes no stop
    none = CollectorData(node=node, from_s=from_s, until_s=until_s, ward=been_on[-1] if been_on else None)
    if not who.break_s or has_rested:
        return none
    window = who.break_window or TimeWindow(earliest_s=who.from_s, latest_s=who.until_s)
    last_start_s = min(window.latest_s, who.until_s) - who.break_s
    if last_start_s < max(window.earliest_s, from_s):
        return none
    break_window = TimeWindow(earliest_s=window.earliest_s, latest_s=last_start_s)
    return replace(none, break_s=who.break_s, break_window=break_window)


def _walk_s(problem: Problem, from_place: PlaceId, to_place: PlaceId) -> int:
    try:
        return problem.walking.between(from_place, to_place)
    except KeyError:
        return NO_LIMIT_S


def _visit(problem: Problem, draw: Draw, node: int, promise: PromiseData | None, wards: Mapping[str, int]) -> VisitData:
    needed = problem.policy.round.needed_by_s
    patient = problem.patients[draw.request.patient_id]
    first_s, last_s = _turn_span(problem, draw)
    reach_s = first_reach_s(problem, draw.request.bed)
    ready_s = (NO_LIMIT_S if reach_s is None else reach_s) + draw.lead_s
    orders, order_windows = draw.request.orders, draw.request.order_windows
    stats_s, dues = (
        first_draws_s(orders, order_windows, ready_s),
        dues_s(problem.policy, orders, order_windows, ready_s),
    )
    return VisitData(
        node=node,
        service_s=draw.service_s,
        windows=draw.start_windows,
        targets=_merged_targets(draw),
        weight=sum(uncollected_weight(problem, o) for o in draw.request.orders),
        specimens=_specimens(problem, draw.tube_set.tubes, draw.request.orders, draw.lead_s, dues),
        need_by_s=needed.get(patient.ward, needed.get("*")),
        able=frozenset(
            i
            for i, who in enumerate(problem.staff)
            if draw.skills <= who.skills and who.goes_to(patient.ward) and i not in draw.not_by
        ),
        precaution=precaution_rank(patient),
        is_protective=Precaution.PROTECTIVE in patient.precautions,
        first_s=first_s,
        last_s=last_s,
        promise=promise,
        wish_s=min(stats_s.values()) - draw.lead_s if stats_s else None,
        last_minutes_s=last_minutes_s(problem, draw),
        wished=wished_spans(problem, draw),
        ward=wards[patient.ward],
        strange=frozenset(i for i, who in enumerate(problem.staff) if who.prefers_others(patient.ward)),
    )


def _turn_span(problem: Problem, draw: Draw) -> tuple[int, int]:
    """Return the first and the last start of a draw that its own times allow, the targets included."""
    ends = [
        end
        for window in draw.request.order_windows
        for end in window.ends
        if end.rule in OWN_RULES and end.strength is Strength.HARD
    ]
    first_s = max([problem.begin_s, *(end.earliest_s for end in ends if end.earliest_s is not None)])
    lasts_s = [end.latest_s for end in ends if end.latest_s is not None] + [target_s for target_s, _w in draw.targets]
    return first_s - draw.lead_s, min([NEVER, *lasts_s]) - draw.lead_s


def _same_patient(draws: Sequence[Draw]) -> tuple[tuple[int, ...], ...]:
    """Return the draws of each patient who has more than one."""
    mine: dict[PatientId, list[int]] = {}
    for i, draw in enumerate(draws):
        mine.setdefault(draw.request.patient_id, []).append(i)
    return tuple(tuple(group) for group in mine.values() if len(group) > 1)


def precaution_rank(patient: Patient) -> int:
    """Return the place of a patient in the order of rule ``precautions``; beside protective, unclear does not count."""
    unclear = {Precaution.UNCLEAR} if Precaution.PROTECTIVE in patient.precautions else set()
    return max((PRECAUTION_RANK[p] for p in patient.precautions - unclear), default=PRECAUTION_RANK[None])


def _specimens(
    problem: Problem, tubes: Iterable[Tube], orders: Iterable[Order], begin_s: int, dues: Mapping[OrderId, int]
) -> tuple[SpecimenData, ...]:
    """Return the tubes in those that may go by any pickup and those by hand only.

    ``begin_s`` is how long after the start of the visit they are drawn (negative: before), ``dues`` when those of some
    orders should be in the laboratory.
    """
    weights = problem.policy.weights.late
    found: list[SpecimenData] = []
    for by_hand in (False, True):
        mine = [t for t in tubes if not t.is_discard and t.by_hand is by_hand]
        if not mine:
            continue
        served = {order_id for t in mine for order_id in t.order_ids}
        mine_orders = [order for order in orders if order.id in served]
        to_lab: dict[int, int] = {}
        for order in mine_orders:
            if (due_s := dues.get(order.id)) is not None:
                to_lab[due_s] = to_lab.get(due_s, 0) + weights[order.priority]
        limits = [NO_LIMIT_S if t.stability_s is None else t.stability_s for t in mine]
        found.append(
            SpecimenData(
                by_hand=by_hand,
                limit_s=min(limits) + begin_s,
                need_weight=sum(weights[order.priority] for order in mine_orders),
                num_tubes=len(mine),
                to_lab=tuple(sorted(to_lab.items())),
            )
        )
    return tuple(found)


def _merged_targets(draw: Draw) -> tuple[tuple[int, int], ...]:
    """Return the targets of the *start*, one a second, weights added."""
    merged: dict[int, int] = {}
    for target_s, weight in draw.targets:
        merged[target_s - draw.lead_s] = merged.get(target_s - draw.lead_s, 0) + weight
    return tuple(sorted(merged.items()))
