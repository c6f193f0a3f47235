"""From a visit's orders to demands: what has to be drawn once, for which orders, into which containers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from planner.domain.catalogue import LabTest, TestCode, TubeCode
from planner.domain.draws import VisitRequest
from planner.domain.orders import Order, OrderId
from planner.domain.patients.ages import is_child, is_limited
from planner.domain.problem import Problem
from planner.tubes.cultures import child_set_ul
from planner.tubes.in_time import InTime
from planner.tubes.kinds import CAPILLARY_USES, Uses, allowed_sizes, is_capillary, is_culture_test, uses_for
from planner.tubes.options import Option, own_options
from planner.visits.draws import uncollected_weight


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """A test to be drawn once in a visit, for one order or several.

    ``need_ul`` is the test's least volume for this patient, ``add_ul`` what it adds to a tube that is filled for
    another test. A demand that shares has ``kinds``: (tube kind, place
    in the preference order from 0) in which it fits alone; one that does not has ``options``: whole sets of
    containers of its own. One with neither cannot be drawn. ``site`` is the puncture site, from 1.
    """

    test: LabTest
    orders: tuple[Order, ...]
    need_ul: int
    add_ul: int
    weight: int
    site: int = 1
    kinds: tuple[tuple[TubeCode, int], ...] = ()
    options: tuple[Option, ...] = ()

    @property
    def order_ids(self) -> tuple[OrderId, ...]:
        """The orders that it serves."""
        return tuple(order.id for order in self.orders)

    @property
    def can_be_drawn(self) -> bool:
        """True when some container serves it."""
        return bool(self.kinds or self.options)

    @property
    def key(self) -> tuple[str, int]:
        """Its place among the demands of a visit; unique there."""
        return self.test.code, self.site


def demands_of(problem: Problem, request: VisitRequest, uses: Uses | None = None) -> tuple[Demand, ...]:
    """Return the demands of a visit, by test code and site, whatever the order of its orders.

    Each order of a culture is a set of its own from its own site; of other tests equal orders are one demand. ``uses``
    says whom the tube sizes are for that may be taken; None: those of the patient's age.

    Raises
    ------
    ValueError
        If a visit holds two draws of one series that is not of culture sets.
    """
    groups: dict[tuple[TestCode, int], list[Order]] = defaultdict(list)
    num_sets: dict[TestCode, int] = defaultdict(int)
    for order in sorted(request.orders, key=lambda o: o.id):
        test = problem.test_of(order)
        if test.is_culture:
            num_sets[test.code] += 1
            groups[test.code, num_sets[test.code]].append(order)
        else:
            groups[test.code, 1].append(order)
    in_time = InTime(problem, request)
    patient = problem.patients[request.patient_id]
    chosen = uses_for(problem, patient) if uses is None else uses
    demands = (
        _with_containers(problem, _demand(problem, request, groups[key], key[1], max(1, num_sets[key[0]])), chosen)
        for key in sorted(groups)
    )
    return tuple(_without_late_kinds(demand, in_time) for demand in demands)


def _demand(problem: Problem, request: VisitRequest, orders: Sequence[Order], site: int, num_sets: int) -> Demand:
    test = problem.test_of(orders[0])
    series = [order.series for order in orders if order.series is not None]
    if len(series) != len(set(series)):
        raise ValueError(f"visit {request.id}: two draws of one series of {test.code} share a visit")
    ordered = tuple(sorted(orders, key=lambda o: o.id))
    least_ul = need_ul(problem, ordered[0], num_sets)
    return Demand(
        test=test,
        orders=ordered,
        need_ul=least_ul,
        add_ul=volumes_ul(problem, ordered[0])[1],
        weight=sum(uncollected_weight(problem, order) for order in ordered),
        site=site,
    )


def _without_late_kinds(demand: Demand, in_time: InTime) -> Demand:
    """Return the demand without kinds in which it cannot reach the laboratory in time, where that leaves any."""
    if demand.test.takes_first_choice or demand.test.one_kind_in_series:  # of a series: see `in_one_kind`
        return demand
    kinds = tuple(pair for pair in demand.kinds if in_time.allows(demand.test, pair[0]))
    options = tuple(o for o in demand.options if all(in_time.allows(demand.test, c.kind) for c in o.containers))
    return replace(demand, kinds=kinds or demand.kinds, options=options or demand.options)


def volumes_ul(problem: Problem, order: Order) -> tuple[int, int]:
    """Return what an order's test needs alone, and what it adds to a shared tube, drawn from its patient."""
    patient = problem.patient_of(order)
    return problem.test_of(order).volumes_ul(
        is_child=is_child(problem, patient), is_capillary=is_capillary(problem, patient)
    )


def need_ul(problem: Problem, order: Order, num_sets: int) -> int:
    """Return the least volume of an order's test for its patient; a child's culture goes by weight (``fill``)."""
    test, patient = problem.test_of(order), problem.patient_of(order)
    least_ul, _adds_ul = volumes_ul(problem, order)
    if patient.weight_g is None or not is_limited(problem, patient) or not is_culture_test(problem.catalogue, test):
        return least_ul
    age_days = patient.youngest_days(problem.clock.day)
    by_weight = child_set_ul(problem.policy.tubes.weight_table_cultures, patient.weight_g, age_days, num_sets)
    return min(least_ul, by_weight)


def _with_containers(problem: Problem, demand: Demand, uses: Uses) -> Demand:
    """Return the demand with the kinds it may share, or with its own sets of containers (rule ``volume``)."""
    if uses == CAPILLARY_USES and demand.test.capillary_min_volume_ul is None:
        return demand
    tubes = problem.catalogue.tubes
    fitting = tuple(
        (accepted[0], rank)
        for rank, accepted in enumerate(demand.test.accepts)
        if len(accepted) == 1 and demand.need_ul <= max(allowed_sizes(tubes[accepted[0]], uses), default=0)
    )
    first_only = demand.test.takes_first_choice
    if demand.test.share_group is not None and demand.test.containers == 1 and fitting:
        return replace(demand, kinds=fitting[:1] if first_only else fitting)
    options = own_options(problem.catalogue, demand.test, demand.need_ul, uses)
    return replace(demand, options=options[:1] if first_only else options)
