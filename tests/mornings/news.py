"""What the lead hears during a morning besides outcomes: stats, moves, absences, people, couriers; drawn in advance."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from planner.domain.order_parts import OrderPart
from planner.domain.orders import Patient
from planner.domain.places import PickupKind, PlaceKind
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.domain.revisions.changes import (
    Away,
    Cancel,
    Change,
    Courier,
    Gone,
    Join,
    Late,
    Lost,
    Moved,
    NeverCame,
    NewOrders,
    StatOrders,
    Timing,
)
from tests.mornings.rates import Rates

STATS = ("POT", "LACT", "TNI", "CBC", "PT", "BMP", "BC", "TS", "CRP", "GLU")
"""Tests asked for at once (our choice)."""


@dataclass(frozen=True, slots=True)
class News:
    """Something that the lead hears of at a time; what it is about is chosen when it happens."""

    at_s: int
    kind: str


def news_of_the_morning(problem: Problem, num_visits: int, rates: Rates, rng: random.Random) -> list[News]:
    """Return what happens when, in order; stats come as a stream, the rest at any time."""
    begin_s, end_s = problem.start_s, problem.end_s
    news: list[News] = []
    hourly = rng.uniform(rates.stats_low, rates.stats_high) * len(problem.staff)
    at_s: float = begin_s
    while (at_s := at_s + rng.expovariate(hourly / 3600)) < end_s:
        news.append(News(round(at_s), "stat"))
    by_visit = {
        "moved": rates.moved / 2,
        "gone": rates.moved / 2,
        "drawn": rates.drawn_by_others,
        "cancel": rates.ward_news,
        "away": rates.ward_news,
    }
    kinds = [kind for kind, share in by_visit.items() for _ in range(num_visits) if rng.random() < share]
    kinds += [k for k in ("late", "lost", "join", "courier", "no courier") if rng.random() < rates.staff_news]
    news += [News(rng.randrange(begin_s, end_s), kind) for kind in kinds]
    others = random.Random(f"{rng.random()} others")
    for kind in ("list", "time", "wrong bed", "slip", "never came"):
        if others.random() < rates.staff_news:
            until_s = begin_s + (end_s - begin_s) // 4 if kind == "never came" else end_s
            news.append(News(others.randrange(begin_s, until_s), kind))
    return sorted(news, key=lambda n: (n.at_s, n.kind))


def changes_of(
    news: News, problem: Problem, plan: Plan, rng: random.Random, first: Problem, silent: Sequence[int] = ()
) -> list[Change]:
    """Return what the lead types; nothing when there is nobody whom it could concern.

    ``first`` is the round as it was planned: its list is read again. ``silent`` are those who report nothing.
    """
    if news.kind == "list":
        return [NewOrders(orders=first.orders, stated=frozenset({OrderPart.COLLECT_AT}))]
    if news.kind == "wrong bed":
        return [Gone(bed=_wrong_bed(problem)), Cancel(order_id="no such order")]
    if news.kind == "never came":
        return [NeverCame(name=problem.staff[rng.choice(silent)].initials)] if silent else []
    here = [p for p in problem.patients.values() if p.gone_s is None]
    waiting = _waiting(problem, plan, here) or here
    if not here:
        return []
    if news.kind == "stat":
        tests = tuple(rng.sample(STATS, rng.choice([1, 1, 2])))
        return [StatOrders(bed=problem.place_name(rng.choice(here).bed), tests=tests, is_again=rng.random() < 0.3)]
    patient = rng.choice(waiting)
    bed = problem.place_name(patient.bed)  # as a person types it: with its ward where there are several
    if news.kind == "moved":
        taken = {p.bed for p in here}
        free = [p.id for p in problem.places.values() if p.kind is PlaceKind.BED and p.id not in taken]
        return [Moved(bed=bed, to=problem.place_name(rng.choice(free)))] if free else []
    if news.kind in ("gone", "slip"):
        return [Gone(bed=bed)]
    mine = [o.id for o in problem.open_orders if o.patient_id == patient.id]
    if news.kind == "time":
        return [Timing(order_id=mine[0], at_wall_s=news.at_s + 60 * rng.randrange(5, 40))] if mine else []
    if news.kind in ("drawn", "cancel"):
        return [Cancel(order_id=o) for o in (mine if news.kind == "drawn" else mine[:1])]
    if news.kind == "away":
        from_s = news.at_s + 60 * rng.randrange(0, 60)
        return [Away(bed=bed, from_wall_s=from_s, to_wall_s=from_s + 60 * rng.randrange(10, 60))]
    return _of_people(news, problem, rng)


def _wrong_bed(problem: Problem) -> str:
    """Return a bed that nobody can know: a number that stands on several wards; where there is one ward, none."""
    numbers = Counter(place.label for place in problem.places.values() if place.kind is PlaceKind.BED)
    return next((label for label, count in numbers.items() if label and count > 1), "99Z")


def _waiting(problem: Problem, plan: Plan, here: Sequence[Patient]) -> list[Patient]:
    coming = {v.patient_id for route in plan.routes for v in route.visits if v.outcome is None}
    return [p for p in here if p.id in coming]


def _of_people(news: News, problem: Problem, rng: random.Random) -> list[Change]:
    who = rng.choice(problem.staff).initials
    if news.kind == "late":
        return [Late(name=who, minutes=rng.randrange(5, 30))]
    if news.kind == "lost":
        return [Lost(name=who)] if len(problem.staff) > 1 else []
    if news.kind == "join":
        return [Join(name="Extra Hand", from_wall_s=news.at_s + 60 * rng.randrange(0, 20))]
    couriers = [p for p in problem.pickups if p.kind is PickupKind.COURIER]
    if not couriers:
        return []
    place = rng.choice(couriers).place
    if news.kind == "courier":
        return [Courier(place=place, delay_s=60 * rng.randrange(5, 25))]
    return [Courier(place=place)]
