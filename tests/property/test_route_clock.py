"""The compiled timing of a route against the same method in plain Python, on random routes with every rule.

``ROUTES=100000 python -m pytest tests/property/test_route_clock.py`` tries so many; a thousand else.
"""

from __future__ import annotations

import os
import random
from collections import Counter

import pytest

from planner.domain.orders import TimeWindow
from planner.domain.price_policy import PricePolicy
from planner.scheduling.rounds.alone import made_alone
from planner.scheduling.timing.instance import (
    BREAK,
    NO_LIMIT_S,
    CollectorData,
    GapData,
    Instance,
    PickupData,
    PromiseData,
    SpecimenData,
    VisitData,
)
from planner.scheduling.timing.timing import Floors, Stops, empty_handovers, fits, time_route
from planner.scheduling.timing.turns import isolation_turns
from tests.reference.plain_clock import plain_fits, plain_time

ROUTES = int(os.environ.get("ROUTES", "1000"))
ROUTES_A_ROUND = 25
NODES = 12


def random_instance(rng: random.Random) -> Instance:
    """Return a round of some ten visits in which every rule of a route can bind."""
    walk = tuple(tuple(0 if a == b else rng.randrange(5, 120) for b in range(NODES)) for a in range(NODES))
    visits = tuple(_visit(rng) for _ in range(rng.randint(4, 14)))
    turns, exposures = isolation_turns(visits, walk)
    return Instance(
        start_s=1000,
        walk=walk,
        visits=visits,
        pickups=tuple(_pickup(rng) for _ in range(rng.randint(1, 4))),
        collectors=tuple(_collector(rng) for _ in range(2)),
        handover_s=rng.choice([0, 60]),
        max_sends=rng.randint(1, 4),
        gaps=(GapData(first=0, second=1, least_s=300, most_s=900),),
        same_patient=((0, 1), (2, 3)),
        tray_limit=rng.choice([None, None, 3, 6]),
        change_s=300,
        prices=PricePolicy(
            arrival_pct=rng.choice([0, 7]), ward_change_s=rng.choice([0, 60]), other_ward_s=rng.choice([0, 50])
        ),
        turns=turns,
        exposures=exposures,
    )


def _visit(rng: random.Random) -> VisitData:
    earliest_s = rng.choice([1000, 1000, rng.randrange(1000, 5000)])
    ends_s = sorted(rng.sample(range(earliest_s + 300, 12_000), 3))
    windows = [(earliest_s, ends_s[0]), (ends_s[1], ends_s[2])] if rng.random() < 0.4 else [(earliest_s, ends_s[2])]
    is_tray = rng.random() < 0.05
    return VisitData(
        node=rng.randrange(NODES),
        service_s=0 if is_tray else rng.randrange(60, 600),
        windows=tuple(TimeWindow(earliest_s=a, latest_s=b) for a, b in windows),
        targets=tuple(sorted((rng.randrange(1000, 9000), rng.randint(1, 9)) for _ in range(rng.randint(0, 2)))),
        weight=rng.randint(1, 9),
        specimens=tuple(_specimen(rng, by_hand) for by_hand in rng.choice([(False,), (True,), (False, True), ()])),
        need_by_s=rng.choice([None, rng.randrange(3000, 9000)]),
        able=frozenset(rng.choice([(0, 1), (0, 1), (0, 1), (0,)])),
        precaution=rng.randrange(5),
        is_protective=rng.random() < 0.3,
        first_s=earliest_s,
        last_s=ends_s[2],
        promise=rng.choice([None, _promise(rng)]),
        wish_s=rng.choice([None, rng.randrange(1000, 6000)]),
        last_minutes_s=rng.choice([None, None, rng.randrange(2000, 9000)]),
        wished=rng.choice([(), (), ((3000, 3000), (None, 5000)), ((4000, None),)]),
        is_tray=is_tray,
        ward=rng.randrange(3),
        strange=frozenset(rng.choice([(), (), (0,), (0, 1)])),
    )


def _promise(rng: random.Random) -> PromiseData:
    return PromiseData(collector=rng.randrange(2), position=rng.randrange(8), start_s=rng.randrange(1000, 8000))


def _specimen(rng: random.Random, by_hand: bool) -> SpecimenData:
    to_lab = tuple(sorted((rng.randrange(1500, 9000), rng.randint(1, 9)) for _ in range(rng.randint(0, 2))))
    limit_s = rng.choice([NO_LIMIT_S, NO_LIMIT_S, rng.randrange(900, 4000)])
    return SpecimenData(
        by_hand=by_hand, limit_s=limit_s, need_weight=rng.randint(0, 9), num_tubes=rng.randint(1, 3), to_lab=to_lab
    )


def _pickup(rng: random.Random) -> PickupData:
    departures_s = tuple(sorted(rng.sample(range(2000, 16_000), rng.randint(1, 6)))) if rng.random() < 0.6 else ()
    return PickupData(
        node=rng.randrange(NODES),
        takes_hand=rng.random() < 0.7,
        departures_s=departures_s,
        transit_s=rng.randrange(60, 900),
    )


def _collector(rng: random.Random) -> CollectorData:
    node, from_s, until_s = rng.randrange(NODES), rng.choice([1000, 1800]), rng.randrange(9000, 18_000)
    ward = rng.choice([None, rng.randrange(3)])
    if rng.random() < 0.4:
        return CollectorData(node=node, from_s=from_s, until_s=until_s, ward=ward)
    first_s = rng.randrange(1500, 6000)
    window = TimeWindow(earliest_s=first_s, latest_s=first_s + rng.randrange(0, 6000))
    return CollectorData(node=node, from_s=from_s, until_s=until_s, break_s=600, break_window=window, ward=ward)


def random_route(rng: random.Random, numbers: Instance) -> tuple[Stops, Floors]:
    """Return visits in about the order of their windows, hand-overs and a break among them, and lower ends of some."""
    visits = rng.sample(range(len(numbers.visits)), rng.randint(1, min(9, len(numbers.visits))))
    if rng.random() < 0.8:
        visits.sort(key=lambda v: numbers.visits[v].windows[-1].latest_s + rng.randrange(1500))
    stops: list[int] = []
    for visit in visits:
        stops.append(visit)
        if rng.random() < 0.35:
            stops.append(~rng.randrange(len(numbers.pickups)))
    if rng.random() < 0.95:
        stops.append(~rng.randrange(len(numbers.pickups)))
    if rng.random() < 0.6:
        stops.insert(rng.randrange(len(stops) + 1), BREAK)
    floors = tuple((v, rng.randrange(1000, 6000)) for v in sorted(visits) if rng.random() < 0.1)
    return tuple(stops), floors


@pytest.fixture(scope="module")
def compared() -> tuple[Counter[str], list[object]]:
    """How many routes of each kind were compared, and those in which the two differ."""
    kinds: Counter[str] = Counter()
    differ: list[object] = []
    for seed in range(max(1, ROUTES // ROUTES_A_ROUND)):
        rng = random.Random(f"routes {seed}")
        numbers = random_instance(rng)
        for _ in range(ROUTES_A_ROUND):
            stops, floors = random_route(rng, numbers)
            timing, plain = time_route(numbers, 0, stops, floors), plain_time(numbers, 0, stops, floors)
            kinds["walked" if plain else "not walked"] += 1
            if plain is not None:
                kinds.update(_kinds(numbers, stops, plain[2]))
            ours = None if timing is None else ([*timing.starts_s], timing.handovers, timing[3:18])
            if ours != plain or fits(numbers, 0, stops) != plain_fits(numbers, 0, stops):
                differ.append((seed, stops, floors))
            if timing is not None and timing.num_empty != len(empty_handovers(stops, timing)):
                differ.append((seed, stops, "empty"))
    return kinds, differ


def _kinds(numbers: Instance, stops: Stops, counted: tuple[int, ...]) -> list[str]:
    names = ("late", "delivery", "to_lab", "changes", "arrival", "precautions", "exposures", "ward_changes", "pulls")
    more = {
        "begun": numbers.collectors[0].ward is not None,
        "break": BREAK in stops,
        "tray": numbers.tray_limit is not None,
        "long": len(stops) > 9,
    }
    return [name for name, value in zip(names, counted, strict=False) if value] + [
        k for k, held in more.items() if held
    ]


def test_compiled_timing_is_that_of_plain_python_to_the_second(compared: tuple[Counter[str], list[object]]) -> None:
    assert compared[1] == []


def test_every_rule_is_among_the_routes_compared(compared: tuple[Counter[str], list[object]]) -> None:
    kinds, _differ = compared
    rare = {kind: num for kind, num in kinds.items() if num < ROUTES // 200}
    assert len(kinds) == 15
    assert rare == {}


def test_whoever_could_make_a_lone_visit_is_found() -> None:
    found: Counter[bool] = Counter()
    for seed in range(60):
        numbers = random_instance(random.Random(f"alone {seed}"))
        for index in range(len(numbers.visits)):
            could = any(
                plain_time(numbers, k, stops) is not None
                for k in range(len(numbers.collectors))
                for stops in _lone_routes(numbers, index)
            )
            assert made_alone(numbers, index) is could, (seed, index)
            found[could] += 1
    assert min(found[True], found[False]) > 20


def _lone_routes(numbers: Instance, index: int) -> list[Stops]:
    """Return the visit with up to two hand-overs behind it, and the break before any stop or nowhere."""
    outs = [~p for p in range(len(numbers.pickups))]
    bare: list[Stops] = [(index,), *((index, p) for p in outs), *((index, p, q) for p in outs for q in outs if p != q)]
    return bare + [(*stops[:gap], BREAK, *stops[gap:]) for stops in bare for gap in range(len(stops))]
