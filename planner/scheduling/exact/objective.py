"""One function a goal of the round: the linear expression that the solver makes small."""

from __future__ import annotations

from collections.abc import Callable

from ortools.sat.python import cp_model

from planner.scheduling.exact.variables import HandoverSlot, RoundVars
from planner.scheduling.timing.instance import Instance

Slots = tuple[HandoverSlot, ...]
Expression = cp_model.LinearExprT


def uncollected(_model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Weight of the orders that no visit serves."""
    return sum(visit.weight * (1 - v.is_planned[i]) for i, visit in enumerate(instance.visits))


def late(model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Weighted seconds past the soft ends of planned visits."""
    terms: list[Expression] = []
    for i, visit in enumerate(instance.visits):
        latest_s = visit.windows[-1].latest_s
        for target_s, weight in visit.targets:
            if latest_s <= target_s:
                continue
            past_s = model.new_int_var(0, latest_s - target_s, f"late_s[{i},{target_s}]")
            model.add(past_s >= v.start_s[i] - target_s).only_enforce_if(v.is_planned[i])
            terms.append(weight * past_s)
    return sum(terms)


def punctures(_model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Number of visits."""
    return sum(is_planned for i, is_planned in v.is_planned.items() if not instance.visits[i].is_tray)


def delivery(model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Weighted seconds past the ward's need-by time at the laboratory."""
    terms: list[Expression] = []
    for i, visit in enumerate(instance.visits):
        need_by_s = visit.need_by_s
        if need_by_s is None:
            continue
        for n, specimens in enumerate(visit.specimens):
            if specimens.need_weight == 0:
                continue
            past_s = model.new_int_var(0, max(0, v.horizon_s - need_by_s), f"past_need_s[{i},{n}]")
            model.add(past_s >= v.lab_arrival_s[i, n] - need_by_s).only_enforce_if(v.is_planned[i])
            terms.append(specimens.need_weight * past_s)
    return sum(terms)


def changes(model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Promised visits made by another collector, out of their order, or later by more than ``change_s``."""
    promised = [(i, visit.promise) for i, visit in enumerate(instance.visits) if visit.promise is not None]
    terms: list[Expression] = []
    for i, promise in promised:
        is_changed = model.new_bool_var(f"is_changed[{i}]")
        made = v.is_planned[i]
        model.add_implication(is_changed, made)
        serves = v.routes[promise.collector].serves.get(i)
        if serves is None:
            model.add(is_changed >= made)
        else:
            kept = [serves, is_changed.negated()]
            model.add_bool_or([is_changed, serves, made.negated()])
            model.add(v.start_s[i] <= promise.start_s + instance.change_s).only_enforce_if(kept)
            for j, other in promised:
                if other.collector == promise.collector and other.position > promise.position:
                    beside = v.routes[promise.collector].serves.get(j)
                    if beside is not None:
                        model.add(v.start_s[j] > v.start_s[i]).only_enforce_if([*kept, beside])
        terms.append(is_changed)
    return sum(terms)


def precautions(model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Pairs of visits of one collector of which the first should come after the second."""
    visits = [(i, visit.precaution) for i, visit in enumerate(instance.visits) if not visit.is_tray]
    terms: list[Expression] = []
    for k, route in enumerate(v.routes):
        for i, rank in visits:
            for j, later in visits:
                if rank <= later or i not in route.serves or j not in route.serves:
                    continue
                is_wrong = model.new_bool_var(f"out_of_turn[{i},{j},{k}]")
                both = [route.serves[i], route.serves[j], is_wrong.negated()]
                model.add(v.start_s[i] > v.start_s[j]).only_enforce_if(both)
                terms.append(is_wrong)
    return sum(terms)


def arrival(model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Sum over planned visits of the seconds until all their specimens are in the laboratory."""
    terms: list[Expression] = []
    for i, visit in enumerate(instance.visits):
        if not visit.specimens:
            continue
        brought_s = model.new_int_var(0, v.horizon_s - instance.start_s, f"brought_s[{i}]")
        for n in range(len(visit.specimens)):
            model.add(brought_s >= v.lab_arrival_s[i, n] - instance.start_s).only_enforce_if(v.is_planned[i])
        terms.append(brought_s)
    return sum(terms)


def time(_model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Walking, waiting and handing over: what of the routes' spans is not spent at a bed."""
    return sum(
        route.finish_s - who.from_s - sum(instance.visits[i].service_s * serves for i, serves in route.serves.items())
        for who, route in zip(instance.collectors, v.routes, strict=True)
    )


def finish(model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Seconds from the begin of the round to the last departure of anybody."""
    last_s = model.new_int_var(0, v.horizon_s - instance.start_s, "last_finish_s")
    for route in v.routes:
        model.add(last_s >= route.finish_s - instance.start_s).only_enforce_if(route.is_used)
    return last_s


Term = Callable[[cp_model.CpModel, Instance, RoundVars, Slots], Expression]

GOALS: tuple[Term, ...] = (
    uncollected,
    late,
    punctures,
    delivery,
    changes,
    precautions,
    arrival,
    time,
    finish,
)
"""In the order of `planner.scheduling.timing.solution.GOALS`."""
