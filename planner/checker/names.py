"""Does everything that a plan names exist in its problem? Without that, nothing can be computed."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Set

from planner.checker.broken import Broken
from planner.domain.plan import Plan, Visit
from planner.domain.problem import Problem


def unknown_name(problem: Problem, plan: Plan) -> Iterator[Broken]:
    """Phlebotomists, places, patients, orders, tube types and tests of the plan are those of the problem."""
    orders = {order.id for order in problem.orders}
    set_aside = {left.order_id for left in problem.set_aside}
    for number, route in enumerate(plan.routes, start=1):
        where = f"route {number}"
        if not 0 <= route.phlebotomist < len(problem.staff):
            yield Broken(
                f"{where}: phlebotomist {route.phlebotomist}, expected 0 to {len(problem.staff) - 1} (staff table)"
            )
        for index, stop in enumerate(route.stops, start=1):
            at = f"{where}, stop {index}"
            yield from _missing([stop.place], problem.places, f"{at}: place {{}} is not on the map")
            if isinstance(stop, Visit):
                yield from _of_visit(problem, stop, orders, set_aside if stop.outcome else set(), at)
    for left in plan.unplanned:
        yield from _missing([left.order_id], orders | set_aside, "unplanned: order {} is not in the problem")
    listed = [order_id for order_id, _ in plan.preferences_missed]
    yield from _missing(listed, orders, "preferences missed: order {} is not one to plan")


def _of_visit(problem: Problem, visit: Visit, orders: Set[str], past: Set[str], at: str) -> Iterator[Broken]:
    """A tube drawn in the past may name orders that have been set aside since."""
    known = orders | past
    yield from _missing([visit.patient_id], problem.patients, f"{at}: patient number is not in the problem")
    yield from _missing(visit.order_ids, orders, f"{at}: order {{}} is not one to plan")
    for planned in visit.tubes:
        tube = planned.tube
        yield from _missing([tube.tube], problem.catalogue.tubes, f"{at}: tube type {{}} is not in the catalogue")
        yield from _missing(tube.tests, problem.catalogue.tests, f"{at}: test {{}} is not in the catalogue")
        yield from _missing(tube.order_ids, known, f"{at}, tube {tube.tube}: order {{}} is not one to plan")


def _missing(names: Iterable[str], known: Container[str], text: str) -> Iterator[Broken]:
    return (Broken(text.format(name)) for name in names if name not in known)
