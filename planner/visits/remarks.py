"""What is worth saying of the visits of a plan: stats that a rule holds up, orders that share a draw or never do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from planner.domain.beds import names_listed
from planner.domain.derived.merges import merges_of
from planner.domain.derived.two_samples import are_two_samples
from planner.domain.draws import OrderWindow
from planner.domain.orders import Order
from planner.domain.plan import Plan, Visit
from planner.domain.problem import Problem
from planner.findings import Finding, Severity
from planner.visits.notes import note_findings
from planner.visits.window_rules import dose_ends, is_held, is_stat
from planner.visits.windows import window_of

_MOST_BEDS = 4


def visit_findings(problem: Problem, plan: Plan) -> list[Finding]:
    """Return what a person should know or decide about the visits to come."""
    drawn = [
        (problem.order(order_id), visit.draw_s)
        for route in plan.routes
        for visit in route.visits
        if visit.outcome is None
        for order_id in visit.order_ids
    ]
    orders = [order for order, _ in drawn]
    return [
        *_held_stats(problem, orders),
        *_stats_behind(problem, plan),
        *_missing_samples(problem, orders),
        *note_findings(problem, drawn),
        *_merges(problem, plan),
        *_second_samples(problem, orders),
    ]


def _held_stats(problem: Problem, orders: list[Order]) -> Iterator[Finding]:
    """Yield a finding for each stat that its dose rule holds back: a person decides whether to draw at once."""
    clock = problem.clock
    for order in orders:
        if not is_stat(order) or not is_held(problem.test_of(order), order):
            continue
        for ends in dose_ends(problem, order):
            if ends.earliest_s is not None and ends.earliest_s > problem.begin_s:
                message = (
                    f"order {order.id}, bed {_bed(problem, order)}: stat {order.test} is held until "
                    f"{clock.format_clock(ends.earliest_s)}, because a level before that says nothing after the single "
                    f"dose on file. Decide: is that time certain? If not, or if taken over some time, draw at once"
                )
                yield Finding(code="stat-held", severity=Severity.WARNING, message=message, order_ids=(order.id,))


def _stats_behind(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Yield a finding for each stat past its target that the same person draws after a visit without a stat.

    To leave nothing out comes before lateness: a level whose hard end is near may go first, or would not be drawn at
    all. Whether a stat may wait for that, a person decides. In a round that has begun `stat-impossible` says it.
    """
    if problem.replan is not None:
        return
    for route in plan.routes:
        before: list[Visit] = []
        for visit in route.visits:
            stats = [order for i in visit.order_ids if is_stat(order := problem.order(i))]
            if not stats:
                before.append(visit)
                continue
            late = [order for order in stats if _is_late(problem, order, visit.draw_s)]
            if late and before:
                yield _behind(problem, late, visit, before)


def _is_late(problem: Problem, order: Order, draw_s: int) -> bool:
    window = window_of(problem, order)
    return isinstance(window, OrderWindow) and window.target_s is not None and draw_s > window.target_s


def _behind(problem: Problem, late: Sequence[Order], visit: Visit, before: Sequence[Visit]) -> Finding:
    clock = problem.clock
    target_s = min(w.target_s for o in late if isinstance(w := window_of(problem, o), OrderWindow) and w.target_s)
    names = [problem.place_name(other.place) for other in before[:_MOST_BEDS]]
    more = f" and {len(before) - _MOST_BEDS} more" if len(before) > _MOST_BEDS else ""
    tests = ", ".join(dict.fromkeys(order.test for order in late))
    message = (
        f"bed {problem.place_name(visit.place)}: stat {tests} is drawn at {clock.format_clock(visit.draw_s)}, wanted "
        f"by {clock.format_clock(target_s)}, after bed{'s' * (len(before) > 1)} {names_listed(names)}{more}. That "
        "leaves the fewest orders undrawn. Decide: the stat first, even if a bed before it then misses its time, or "
        "somebody else for one of them"
    )
    return Finding(
        code="stat-behind", severity=Severity.WARNING, message=message, order_ids=tuple(order.id for order in late)
    )


def _missing_samples(problem: Problem, orders: Sequence[Order]) -> Iterator[Finding]:
    """Yield a finding for each test with a drink or an injection of which the list has not all samples."""
    groups: dict[tuple[str, str, str | None], list[Order]] = {}
    for order in orders:
        test = problem.test_of(order)
        if test.counts_from is not None and test.serial_offsets:
            groups.setdefault((order.patient_id, order.test, order.series), []).append(order)
    for key, own in groups.items():
        first, test = own[0], problem.test_of(own[0])
        listed = sum((o.patient_id, o.test, o.series) == key for o in problem.orders)
        listed += sum((d.patient_id, d.test, d.series) == key for d in problem.earlier_draws)
        needed = min(len(offsets) for offsets in test.serial_offsets)
        if listed < needed:
            message = (
                f"order {first.id}, bed {_bed(problem, first)}: {first.test} has {needed} samples, and the list orders "
                f"{listed}. Ask: who draws the others, and when? Order them in one series, or do not begin the test"
            )
            ids = tuple(order.id for order in own)
            yield Finding(code="samples-missing", severity=Severity.WARNING, message=message, order_ids=ids)


def _merges(problem: Problem, plan: Plan) -> Iterator[Finding]:
    for merge in merges_of(problem, plan):
        order = problem.order(merge.order_ids[0])
        message = (
            f"bed {_bed(problem, order)}: one draw of {merge.test} serves orders {', '.join(merge.order_ids)}; state a "
            "time in each order if two results are wanted"
        )
        yield Finding(code="orders-merged", severity=Severity.NOTE, message=message, order_ids=merge.order_ids)


def _second_samples(problem: Problem, orders: list[Order]) -> Iterator[Finding]:
    """Yield a finding for each pair of samples for the blood bank: two punctures, two identifications."""
    in_turn = sorted(orders, key=lambda order: (order.patient_id, order.test, order.id))
    for one, other in combinations(in_turn, 2):
        if one.patient_id == other.patient_id and are_two_samples(problem, one, other):
            message = (
                f"bed {_bed(problem, one)}: orders {one.id} and {other.id} are two samples for the blood bank, in "
                "two punctures, each after its own identification. Ask the blood bank whether another person must draw "
                "the second"
            )
            yield Finding(
                code="second-sample-planned", severity=Severity.WARNING, message=message, order_ids=(one.id, other.id)
            )


def _bed(problem: Problem, order: Order) -> str:
    return problem.place_name(problem.patient_of(order).bed)
