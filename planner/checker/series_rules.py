"""Does each repeated draw keep its gap from the draw before it?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from planner.checker.broken import Broken, Rule
from planner.checker.facts import Facts
from planner.domain.orders import Order


@dataclass(frozen=True, slots=True)
class _Made:
    """A draw of a series: when, and for which of the round's orders (None: one made before the round)."""

    draw_s: int
    order: Order | None
    is_past: bool


def series_gap(facts: Facts) -> Iterator[Broken]:
    """Two neighbouring draws of a series are as far apart as asked for, within the tolerance.

    Of two draws of the past nothing is asked any more. An order of the series that is not drawn leaves no gap.
    """
    for name, orders in _series(facts).items():
        places = _places(orders)
        made = _made(facts, name, orders)
        total = len(made) + sum(order.id not in {m.order.id for m in made if m.order} for order in orders)
        num_before = sum(m.order is None for m in made)
        for before, after in pairwise(made):
            if after.is_past or after.order is None:
                continue
            steps = 1 if before.order is None else places[after.order.id] - places[before.order.id]
            if steps < 0:
                yield Broken(f"order {after.order.id}: drawn after a later one of its series", (after.order.id,))
            if steps != 1:
                continue
            wanted = _wanted_s(facts, before.order, after.order, num_before + places[after.order.id], total)
            if wanted is not None:
                yield from _off(facts, after.order, after.draw_s - before.draw_s, *wanted)


def _series(facts: Facts) -> dict[tuple[str, str, str], list[Order]]:
    found: dict[tuple[str, str, str], list[Order]] = {}
    for order in facts.problem.orders:
        if order.series is not None and not facts.test(order).is_culture:
            found.setdefault((order.patient_id, order.series, order.test), []).append(order)
    return found


def _places(orders: list[Order]) -> dict[str, int]:
    """Return the place of every order in its series: by stated time, those without one last, then by number."""

    def turn(order: Order) -> tuple[int, int, str]:
        for stated_s in (order.collect_at_s, order.collect_from_s):
            if stated_s is not None:
                return 0, stated_s, order.id
        return 1, 0, order.id

    return {order.id: place for place, order in enumerate(sorted(orders, key=turn))}


def _made(facts: Facts, name: tuple[str, str, str], orders: list[Order]) -> list[_Made]:
    """Return the draws of a series, made before the round, in its past, or to come, as the clock has them."""
    ids = {order.id: order for order in orders}
    made = [
        _Made(draw.draw_s, None, True)
        for draw in facts.problem.earlier_draws
        if (draw.patient_id, draw.series, draw.test) == name
    ]
    for at in facts.all_visits:
        made += [
            _Made(at.visit.draw_s, ids[order_id], at.visit.outcome is not None)
            for order_id in at.visit.order_ids
            if order_id in ids
        ]
    return sorted(made, key=lambda m: m.draw_s)


def _wanted_s(facts: Facts, before: Order | None, after: Order, number: int, total: int) -> tuple[int, int] | None:
    """Return the least and the most seconds between two draws; None when nothing states them."""
    test = facts.test(after)
    tolerance_s = facts.problem.policy.windows.drug_tolerance_s
    if test.serial_tolerance_s is not None:
        tolerance_s = test.serial_tolerance_s
    if before is not None and before.collect_at_s is not None and after.collect_at_s is not None:
        apart_s = after.collect_at_s - before.collect_at_s
    else:
        for protocol in test.serial_offsets:
            if len(protocol) >= total:
                apart_s = protocol[number] - protocol[number - 1]
                break
        else:
            return None
    return max(0, apart_s - tolerance_s), apart_s + tolerance_s


def _off(facts: Facts, order: Order, apart_s: int, least_s: int, most_s: int) -> Iterator[Broken]:
    if not least_s <= apart_s <= most_s:
        yield Broken(
            f"order {order.id}: drawn {apart_s} s after the draw before it in its series, expected {least_s} to "
            f"{most_s} s",
            (order.id,),
        )


RULES: tuple[Rule, ...] = (series_gap,)
