"""One linear expression per tier of goals, which the solver makes small, and one function per part of it."""

from __future__ import annotations

from collections.abc import Callable

from ortools.sat.python import cp_model

from planner.domain.goals import PARTS, Part, Tier
from planner.scheduling.exact.variables import HandoverSlot, RoundVars
from planner.scheduling.timing.instance import Instance
from planner.scheduling.timing.solution import part_prices
from planner.scheduling.timing.turns import Turns

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


def second_punctures(model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Number of visits beyond each patient's first."""
    terms: list[Expression] = []
    for n, group in enumerate(instance.same_patient):
        beyond = model.new_int_var(0, len(group) - 1, f"second_punctures[{n}]")
        model.add(beyond >= sum(v.is_planned[i] for i in group) - 1)
        terms.append(beyond)
    return sum(terms)


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


def stat_to_lab(model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Weighted seconds of stat and asap specimens past when they should be in the laboratory."""
    terms: list[Expression] = []
    for i, visit in enumerate(instance.visits):
        for n, specimens in enumerate(visit.specimens):
            for due_s, weight in specimens.to_lab:
                past_s = model.new_int_var(0, max(0, v.horizon_s - due_s), f"past_due_s[{i},{n},{due_s}]")
                model.add(past_s >= v.lab_arrival_s[i, n] - due_s).only_enforce_if(v.is_planned[i])
                terms.append(weight * past_s)
    return sum(terms)


def stat_wait(model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Seconds by which planned stats are drawn later than they could be."""
    wishes = ((i, visit.wish_s) for i, visit in enumerate(instance.visits))
    return sum(_past(model, instance, v, i, (wish_s, 1), "stat_wait_s") for i, wish_s in wishes if wish_s is not None)


def last_minutes(model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Seconds by which planned draws come within the last minutes before a hard end of their orders."""
    firsts = ((i, visit.last_minutes_s) for i, visit in enumerate(instance.visits))
    return sum(
        _past(model, instance, v, i, (from_s, 1), "last_minutes_s") for i, from_s in firsts if from_s is not None
    )


def off_time(model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Seconds by which planned draws lie before or behind stated and preferred times."""
    terms: list[Expression] = []
    for i, visit in enumerate(instance.visits):
        for first_s, last_s in visit.wished:
            terms += [] if first_s is None else [_past(model, instance, v, i, (first_s, -1), "too_soon_s")]
            terms += [] if last_s is None else [_past(model, instance, v, i, (last_s, 1), "too_late_s")]
    return sum(terms)


def _past(
    model: cp_model.CpModel, instance: Instance, v: RoundVars, i: int, end: tuple[int, int], name: str
) -> Expression:
    """Return the seconds by which a planned visit starts past (sign 1) or before (-1) a second."""
    at_s, sign = end
    windows = instance.visits[i].windows
    most_s = windows[-1].latest_s - at_s if sign > 0 else at_s - windows[0].earliest_s
    if most_s <= 0:
        return 0
    past_s = model.new_int_var(0, most_s, f"{name}[{i},{at_s}]")
    model.add(past_s >= sign * (v.start_s[i] - at_s)).only_enforce_if(v.is_planned[i])
    return past_s


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


def ward_changes(model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Visits on another ward than the visit before on the same route, the last one made included.

    Hand-overs, breaks and trays lie on none: ``left[node, ward]`` holds at such a stop if the last visit before it was
    on this ward.
    """
    ward_of = {1 + i: visit.ward for i, visit in enumerate(instance.visits) if not visit.is_tray}
    begins = [who.ward for who in instance.collectors]
    wards = sorted({*ward_of.values(), *(ward for ward in begins if ward is not None)})
    if len(wards) < 2:
        return 0
    terms: list[Expression] = []
    for k, (begin, route) in enumerate(zip(begins, v.routes, strict=True)):
        from_ward = ward_of if begin is None else {0: begin, **ward_of}
        between = {node for arc in route.arcs for node in arc if node and node not in ward_of}
        left = {(node, ward): model.new_bool_var(f"left[{node},{ward},{k}]") for node in between for ward in wards}
        for (a, b), arc in route.arcs.items():
            if a == b or b == 0 or (a == 0 and begin is None):
                continue
            if a in from_ward and b in ward_of:
                terms += [arc] if from_ward[a] != ward_of[b] else []
            elif a in from_ward:
                model.add_implication(arc, left[b, from_ward[a]])
            elif b in ward_of:
                is_change = model.new_bool_var(f"is_ward_change[{a},{b},{k}]")
                for ward in wards:
                    if ward != ward_of[b]:
                        model.add_bool_or([is_change, arc.negated(), left[a, ward].negated()])
                terms.append(is_change)
            else:
                for ward in wards:
                    model.add_bool_or([left[b, ward], arc.negated(), left[a, ward].negated()])
    return sum(terms)


def other_wards(_model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Visits by somebody who prefers other wards."""
    return sum(
        serves
        for k, route in enumerate(v.routes)
        for i, serves in route.serves.items()
        if k in instance.visits[i].strange
    )


def precautions(model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Pairs of visits of one collector of which the first should come after the second."""
    return _pairs(model, instance.turns, v, "out_of_turn")


def protective_after_airborne(model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Pairs of visits of one collector: a patient in protective isolation after one in airborne isolation."""
    return _pairs(model, instance.exposures, v, "exposed")


def _pairs(model: cp_model.CpModel, turns: Turns, v: RoundVars, name: str) -> Expression:
    terms: list[Expression] = []
    for k, route in enumerate(v.routes):
        for j, mask in enumerate(turns.before):
            for i in range(len(turns.before)):
                if not mask >> i & 1 or i not in route.serves or j not in route.serves:
                    continue
                is_wrong = model.new_bool_var(f"{name}[{i},{j},{k}]")
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


def share(model: cp_model.CpModel, instance: Instance, v: RoundVars, _slots: Slots) -> Expression:
    """Hundredths of a second by which the busiest works more at beds than a fair share."""
    total_s = sum(visit.service_s for visit in instance.visits)
    above = model.new_int_var(0, 100 * total_s, "above_share")
    all_s = sum(visit.service_s * v.is_planned[i] for i, visit in enumerate(instance.visits))
    for route, pct in zip(v.routes, instance.shares_pct, strict=True):
        own_s = sum(instance.visits[i].service_s * serves for i, serves in route.serves.items())
        model.add(above >= 100 * own_s - pct * all_s)
    return above


Term = Callable[[cp_model.CpModel, Instance, RoundVars, Slots], Expression]

TERMS: dict[Part, Term] = {
    Part.UNCOLLECTED: uncollected,
    Part.LATE: late,
    Part.DELIVERY: delivery,
    Part.STAT_TO_LAB: stat_to_lab,
    Part.SECOND_PUNCTURES: second_punctures,
    Part.CHANGES: changes,
    Part.TIME: time,
    Part.STAT_WAIT: stat_wait,
    Part.LAST_MINUTES: last_minutes,
    Part.OFF_TIME: off_time,
    Part.ARRIVAL: arrival,
    Part.FINISH: finish,
    Part.SHARE: share,
    Part.WARD_CHANGES: ward_changes,
    Part.OTHER_WARDS: other_wards,
    Part.PRECAUTIONS: precautions,
    Part.PROTECTIVE_AFTER_AIRBORNE: protective_after_airborne,
}


def tier(model: cp_model.CpModel, instance: Instance, v: RoundVars, slots: Slots, which: Tier) -> Expression:
    """Return what a round counts in a tier: its parts, each at its price (a part without one is not modelled)."""
    prices = part_prices(instance)
    return sum(prices[part] * TERMS[part](model, instance, v, slots) for part in PARTS[which] if prices[part])
