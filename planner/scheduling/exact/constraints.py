"""One function a rule of the round, under the name that the rule book and the checker use."""

from __future__ import annotations

from ortools.sat.python import cp_model

from planner.scheduling.exact.tighten import Tight
from planner.scheduling.exact.variables import HandoverSlot, RoundVars, RouteVars, num_copies
from planner.scheduling.timing.instance import Instance

Expression = cp_model.LinearExpr | int


def once(model: cp_model.CpModel, instance: Instance, v: RoundVars) -> None:
    """Each visit is made at most once, by somebody who has the skills."""
    for i in range(len(instance.visits)):
        model.add_exactly_one([*(r.serves[i] for r in v.routes if i in r.serves), v.is_planned[i].negated()])


def circuit(model: cp_model.CpModel, v: RoundVars) -> None:
    """The stops of a collector form one round trip through her start; a stop that she does not make is a loop."""
    for route in v.routes:
        loops = [(1 + i, 1 + i, made.negated()) for i, made in route.serves.items()]
        first = 1 + len(v.start_s)
        loops += [(first + h, first + h, made.negated()) for h, made in route.uses.items()]
        loops.append((0, 0, route.is_used.negated()))
        if route.takes_break is not None:
            rest = 1 + len(v.start_s) + v.num_slots
            loops.append((rest, rest, route.takes_break.negated()))
        model.add_circuit([*((a, b, literal) for (a, b), literal in route.arcs.items()), *loops])


def walking(
    model: cp_model.CpModel, instance: Instance, v: RoundVars, collector: int, slots: tuple[HandoverSlot, ...]
) -> None:
    """A stop starts no earlier than the one before has ended and the way is walked (no-overlap along a route)."""
    route = v.routes[collector]
    for (a, b), literal in route.arcs.items():
        end = _end(instance, v, route, collector, a)
        if b == 0:
            model.add(route.finish_s >= end).only_enforce_if(literal)
            continue
        walk_s = way_s(instance, collector, slots, a, b)
        model.add(_start(v, route, b) >= end + walk_s).only_enforce_if(literal)


def order(model: cp_model.CpModel, instance: Instance, v: RoundVars, tight: Tight) -> None:
    """What surely comes first, comes first, by the shortest way, within the narrowed windows (all implied)."""
    for i in range(len(instance.visits)):
        model.add_linear_constraint(v.start_s[i], tight.earliest_s[i], tight.latest_s[i])
        before = tight.before[i] - {len(instance.visits)}
        for first in sorted(before - {a for b in before for a in tight.before[b]}):
            model.add(v.start_s[i] >= v.start_s[first] + tight.least_s[first][i])


def shift(model: cp_model.CpModel, instance: Instance, v: RoundVars) -> None:
    """Nothing ends after the collector's shift; an unused collector is done when she begins."""
    for who, route in zip(instance.collectors, v.routes, strict=True):
        model.add(route.finish_s <= who.until_s)
        model.add(route.finish_s == who.from_s).only_enforce_if(route.is_used.negated())
        for i, serves in route.serves.items():
            model.add(route.finish_s >= v.start_s[i] + instance.visits[i].service_s).only_enforce_if(serves)


def one_at_the_bed(model: cp_model.CpModel, instance: Instance, v: RoundVars) -> None:
    """Two visits of one patient do not overlap, whoever makes them."""
    for i, j in instance.same_bed:
        first = model.new_bool_var(f"before[{i},{j}]")
        both = [v.is_planned[i], v.is_planned[j]]
        model.add(v.start_s[i] + instance.visits[i].service_s <= v.start_s[j]).only_enforce_if([*both, first])
        model.add(v.start_s[j] + instance.visits[j].service_s <= v.start_s[i]).only_enforce_if([*both, first.negated()])


def breaks(model: cp_model.CpModel, instance: Instance, v: RoundVars) -> None:
    """Who has a break takes it, unless the route is over while the whole break still fits behind it."""
    for who, route in zip(instance.collectors, v.routes, strict=True):
        if route.takes_break is not None and who.break_window is not None:
            without = [route.is_used, route.takes_break.negated()]
            model.add(route.finish_s <= who.break_window.latest_s).only_enforce_if(without)
            model.add_implication(route.takes_break, route.is_used)


def handover(model: cp_model.CpModel, instance: Instance, v: RoundVars, slots: tuple[HandoverSlot, ...]) -> None:
    """All specimens of a planned visit are given away once, later on the same route; no stop is made for nothing."""
    takers: dict[tuple[int, int], list[cp_model.IntVar]] = {}
    mine: dict[tuple[int, int, int], list[cp_model.IntVar]] = {}
    users: dict[tuple[int, int], list[cp_model.IntVar]] = {}
    for (i, n, k, h), takes in v.takes.items():
        route = v.routes[k]
        takers.setdefault((i, n), []).append(takes)
        mine.setdefault((i, n, k), []).append(takes)
        users.setdefault((k, h), []).append(takes)
        model.add_implication(takes, route.serves[i])
        model.add_implication(takes, route.uses[h])
        model.add(route.handover_start_s[h] >= v.start_s[i] + instance.visits[i].service_s).only_enforce_if(takes)
    for i, visit in enumerate(instance.visits):
        for n in range(len(visit.specimens)):
            options = takers.get((i, n), [])
            model.add(sum(options) == v.is_planned[i])
            for k, route in enumerate(v.routes):
                if i in route.serves:
                    model.add(sum(mine.get((i, n, k), [])) == route.serves[i])
    for k, route in enumerate(v.routes):
        for h, uses in route.uses.items():
            model.add_bool_or([*users.get((k, h), []), uses.negated()])
            if slots[h].copy:
                model.add_implication(uses, route.uses[h - 1])
                after = route.handover_start_s[h - 1] + instance.handover_s
                model.add(route.handover_start_s[h] >= after).only_enforce_if(uses)


def courier(model: cp_model.CpModel, instance: Instance, v: RoundVars, slots: tuple[HandoverSlot, ...]) -> None:
    """What is given to a courier leaves with the next departure: the hand-over ends after the one before it."""
    for route in v.routes:
        for h, uses in route.uses.items():
            if slots[h].departs_s is not None:
                end = route.handover_start_s[h] + instance.handover_s
                model.add_linear_constraint(end, slots[h].first_end_s, slots[h].last_end_s).only_enforce_if(uses)


def stability(model: cp_model.CpModel, instance: Instance, v: RoundVars, slots: tuple[HandoverSlot, ...]) -> None:
    """Specimens reach the laboratory within the shortest stability among them."""
    for (i, n, k, h), takes in v.takes.items():
        arrival = _arrival(instance, v, slots, k, h)
        model.add(arrival - v.start_s[i] <= instance.visits[i].specimens[n].limit_s).only_enforce_if(takes)
        model.add(v.lab_arrival_s[i, n] >= arrival).only_enforce_if(takes)


def series_gap(model: cp_model.CpModel, instance: Instance, v: RoundVars) -> None:
    """The next draw of a series keeps its gap from the one before it, if both are made."""
    for gap in instance.gaps:
        both = [v.is_planned[gap.first], v.is_planned[gap.second]]
        between_s = v.start_s[gap.second] - v.start_s[gap.first]
        model.add_linear_constraint(between_s, gap.least_s, gap.most_s).only_enforce_if(both)


def tray_limit(model: cp_model.CpModel, instance: Instance, v: RoundVars, slots: tuple[HandoverSlot, ...]) -> None:
    """Nobody carries more tubes at once than the tray holds; what was in it before the round went on is apart.

    Who gives to a departure more often than the model has hand-overs for may do as she likes (see `num_copies`).
    """
    if instance.tray_limit is None:
        return
    copies = num_copies(instance)
    last = {
        h for h, s in enumerate(slots) if s.departs_s is not None and 1 < copies == s.copy + 1 < len(instance.visits)
    }
    for k, route in enumerate(v.routes):
        spans: list[cp_model.IntervalVar] = []
        tubes: list[int] = []
        beyond = [uses for h, uses in route.uses.items() if h in last]
        for (i, n, vk, h), takes in v.takes.items():
            if vk != k or instance.visits[i].is_tray:
                continue
            held_s = model.new_int_var(0, v.horizon_s, f"held_s[{i},{n},{k},{h}]")
            name = f"held[{i},{n},{k},{h}]"
            counts = takes
            if beyond:
                counts = model.new_bool_var(f"counts[{i},{n},{k},{h}]")
                model.add_bool_or([counts, takes.negated(), *beyond])
            spans.append(model.new_optional_interval_var(v.start_s[i], held_s, route.handover_start_s[h], counts, name))
            tubes.append(instance.visits[i].specimens[n].num_tubes)
        model.add_cumulative(spans, tubes, instance.tray_limit)


def trays(model: cp_model.CpModel, instance: Instance, v: RoundVars) -> None:
    """What is in a tray already is given away."""
    for i, visit in enumerate(instance.visits):
        if visit.is_tray:
            model.add(v.is_planned[i] == 1)


def _start(v: RoundVars, route: RouteVars, node: int) -> Expression:
    num_visits = len(v.start_s)
    if node <= num_visits:
        return v.start_s[node - 1]
    slot = node - 1 - num_visits
    if slot < v.num_slots:
        return route.handover_start_s[slot]
    assert route.break_start_s is not None
    return route.break_start_s


def _end(instance: Instance, v: RoundVars, route: RouteVars, collector: int, node: int) -> Expression:
    who = instance.collectors[collector]
    if node == 0:
        return who.from_s
    num_visits = len(v.start_s)
    if node <= num_visits:
        return v.start_s[node - 1] + instance.visits[node - 1].service_s
    is_break = node - 1 - num_visits >= v.num_slots
    return _start(v, route, node) + (who.break_s if is_break else instance.handover_s)


def way_s(instance: Instance, collector: int, slots: tuple[HandoverSlot, ...], a: int, b: int) -> int:
    """Return the walking time from node to node; from a break the shortest from anywhere, to a break none."""
    num_visits = len(instance.visits)
    rest = 1 + num_visits + len(slots)

    def place(node: int) -> int:
        if node == 0:
            return instance.collectors[collector].node
        if node <= num_visits:
            return instance.visits[node - 1].node
        return instance.pickups[slots[node - 1 - num_visits].pickup].node

    if b in (0, rest):
        return 0
    if a == rest:
        return min(row[place(b)] for row in instance.walk)
    return instance.walk[place(a)][place(b)]


def _arrival(
    instance: Instance, v: RoundVars, slots: tuple[HandoverSlot, ...], collector: int, slot: int
) -> Expression:
    pickup = instance.pickups[slots[slot].pickup]
    departs_s = slots[slot].departs_s
    if departs_s is not None:
        return departs_s + pickup.transit_s
    return v.routes[collector].handover_start_s[slot] + instance.handover_s + pickup.transit_s
