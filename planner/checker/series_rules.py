"""Does each repeated draw keep its gap from the draw before it, and each posture its time?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise

from planner.checker.broken import Broken, Rule
from planner.checker.facts import Facts, VisitAt, series_turn
from planner.checker.windows import counts_from_stated
from planner.domain.catalogue import Handling
from planner.domain.orders import NoteSays, Order


@dataclass(frozen=True, slots=True)
class _Member:
    """A draw of a series in its turn: when it is drawn (None: left out), its order (None: made before the round)."""

    draw_s: int | None
    order: Order | None
    asked_s: int | None
    is_past: bool


def series_gap(facts: Facts) -> Iterator[Broken]:
    """Draws of a series come in their turn, each the sum of the gaps in between after the one drawn before it.

    A draw that is left out asks nothing, but its gaps count for the others. Of two draws of the past nothing is asked.
    """
    for members in _series(facts):
        drawn = [turn for turn, member in enumerate(members) if member.draw_s is not None]
        for first, second in pairwise(drawn):
            before, after = members[first], members[second]
            if after.is_past or after.order is None or after.draw_s is None or before.draw_s is None:
                continue
            apart_s = after.draw_s - before.draw_s
            if apart_s < 0:
                yield Broken(f"order {after.order.id}: drawn before an earlier one of its series", (after.order.id,))
            elif (wanted := _between_s(facts, members, first, second)) is not None:
                yield from _off(after.order, apart_s, *wanted)


def noted_apart(facts: Facts) -> Iterator[Broken]:
    """Two orders that a note, or the samples of their test, set apart share no draw."""
    for at in facts.visits:
        for one, two in combinations(at.orders, 2):
            if facts.test(one).is_culture or facts.test(two).is_culture:
                continue
            notes_differ = one.time_in_note != two.time_in_note
            if one.test == two.test:
                is_series = one.series is not None and one.series == two.series
                is_broken = not is_series and (notes_differ or _are_unmarked_samples(facts, one, two))
            else:
                group = facts.test(one).share_group
                is_broken = notes_differ and group is not None and group == facts.test(two).share_group
                is_broken &= any(
                    NoteSays.COUNTED in order.note_says and not _states_its_time(facts, order) for order in (one, two)
                )
            if is_broken:
                yield Broken(f"{at.where}: one draw for orders that are set apart in time", (one.id, two.id))


def _are_unmarked_samples(facts: Facts, *orders: Order) -> bool:
    return all(facts.test(order).serial_offsets and not order.series and not order.is_timed for order in orders)


def _states_its_time(facts: Facts, order: Order) -> bool:
    rule = facts.test(order).dose_rule
    return order.is_timed or (rule is not None and counts_from_stated(rule, order))


def _series(facts: Facts) -> Iterator[list[_Member]]:
    """Yield the members of each series in their turn: made before, made in the past of the round, to come."""
    found: dict[tuple[str, str, str], list[Order]] = {}
    for order in facts.problem.orders:
        if order.series is not None and not facts.test(order).is_culture:
            found.setdefault((order.patient_id, order.series, order.test), []).append(order)
    past = {o: at.visit.draw_s for at in facts.all_visits if at.visit.outcome is not None for o in at.visit.order_ids}
    coming = {o: at.visit.draw_s for at in facts.all_visits if at.visit.outcome is None for o in at.visit.order_ids}
    for (patient_id, series, test), orders in found.items():
        made = [
            _Member(draw.draw_s, None, draw.collect_at_s, True)
            for draw in facts.problem.earlier_draws
            if (draw.patient_id, draw.series, draw.test) == (patient_id, series, test)
        ]
        made += [_Member(past[o.id], o, o.collect_at_s, True) for o in orders if o.id in past]
        open_ones = sorted((order for order in orders if order.id not in past), key=series_turn)
        yield [
            *sorted(made, key=lambda member: member.draw_s or 0),
            *(_Member(coming.get(order.id), order, order.collect_at_s, False) for order in open_ones),
        ]


def _between_s(facts: Facts, members: list[_Member], first: int, second: int) -> tuple[int, int] | None:
    """Return the least and the most seconds between two turns; None when a gap in between is not stated."""
    after = members[second].order
    assert after is not None
    test = facts.test(after)
    protocol = next((p for p in test.serial_offsets if len(p) >= len(members)), None)
    tolerance_s = test.serial_tolerance_s
    if tolerance_s is None:
        tolerance_s = facts.problem.policy.windows.drug_tolerance_s
    apart_s = 0
    for turn in range(first, second):
        asked = [m.draw_s if m.asked_s is None and m.is_past else m.asked_s for m in members[turn : turn + 2]]
        if asked[0] is not None and asked[1] is not None:
            apart_s += asked[1] - asked[0]
        elif protocol is not None:
            apart_s += protocol[turn + 1] - protocol[turn]
        else:
            return None
    slack_s = tolerance_s * (second - first)
    return max(0, apart_s - slack_s), apart_s + slack_s


def _off(order: Order, apart_s: int, least_s: int, most_s: int) -> Iterator[Broken]:
    if not least_s <= apart_s <= most_s:
        yield Broken(
            f"order {order.id}: drawn {apart_s} s after the draw before it in its series, expected {least_s} to "
            f"{most_s} s",
            (order.id,),
        )


def posture(facts: Facts) -> Iterator[Broken]:
    """No draw asks a patient to have lain and to have been up; between two such draws there is time for the change.

    Half an hour of lying after an upright draw, two hours out of bed after one after lying. Of the past nothing is
    asked, but it binds what is to come.
    """
    asked: dict[str, list[tuple[int, bool, bool, VisitAt]]] = {}
    for at in facts.all_visits:
        wants = {handling for order in at.orders for handling in facts.test(order).handling}
        is_past = at.visit.outcome is not None
        if {Handling.SUPINE, Handling.UPRIGHT_2H} <= wants and not is_past:
            yield Broken(f"{at.where}: lying flat and out of bed for 2 hours in one draw", at.visit.order_ids)
        elif wants & {Handling.SUPINE, Handling.UPRIGHT_2H}:
            draw = (at.visit.draw_s, Handling.SUPINE in wants, is_past, at)
            asked.setdefault(at.visit.patient_id, []).append(draw)
    for draws in asked.values():
        in_time = sorted(draws, key=lambda draw: draw[0])
        for place, (draw_s, lies, is_past, at) in enumerate(in_time):
            for before_s, before_lies, _, before in in_time[:place]:
                wait_s = 30 * 60 if lies else 2 * 60 * 60
                if not is_past and lies != before_lies and draw_s - before_s < wait_s:
                    yield Broken(
                        f"{at.where}: drawn {draw_s - before_s} s after {before.where} in another posture, expected at "
                        f"least {wait_s} s",
                        at.visit.order_ids,
                    )


RULES: tuple[Rule, ...] = (series_gap, noted_apart, posture)
