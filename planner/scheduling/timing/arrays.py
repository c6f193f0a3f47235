"""The numbers of a round in arrays, as compiled code reads them. A column has a name; what is not given is `NONE`."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from planner.domain.goals import EFFORT_PER_S

if TYPE_CHECKING:
    from planner.scheduling.timing.instance import Instance

Numbers = npt.NDArray[np.int64]

NONE = -(10**9)
"""A second, an index or a limit that is not given."""

# Columns of `Rules.visits`; those named FIRST say where the rows of the visit begin: they end where the next begin.
NODE, STAY, WEIGHT, NEED_BY, FIRST_PULL, IS_TRAY, FIRST_WINDOW, FIRST_TARGET, FIRST_SPECIMENS = range(9)
PROMISED_TO, PROMISED_PLACE, PROMISED_START, WARD = 9, 10, 11, 12

# Columns of `Rules.specimens`.
BY_HAND, GOOD_FOR, NEED_WEIGHT, NUM_TUBES, FIRST_TO_LAB = range(5)

# Columns of `Rules.pickups`; the first two of `Rules.people` are NODE and STAY (how long the break is) too.
TAKES_HAND, TRANSIT, FIRST_DEPARTURE = 1, 2, 3
FROM, UNTIL, BREAK_FROM, BREAK_LAST, LAST_WARD = 2, 3, 4, 5, 6

# Places in `Rules.numbers`.
ROUND_START, HANDOVER, MAX_SENDS, TRAY_LIMIT, CHANGE, COUNTS_PAIRS = range(6)
TO_LAB_PRICE, MOVED_PRICE, TIME_PRICE, ARRIVAL_PRICE, WARD_PRICE, PAIR_PRICE, EXPOSURE_PRICE = range(6, 13)

IS_PAIR, IS_EXPOSURE = 1, 2


class Rules(NamedTuple):
    """All that the timing of a route asks; seconds, weights and prices as in `Instance`."""

    numbers: Numbers
    walk: Numbers
    """[from, to]"""
    visits: Numbers
    """A row for each visit, and one behind them that ends the last."""
    windows: Numbers
    """(earliest, latest) starts"""
    targets: Numbers
    """(last start that is not late, weight)"""
    pulls: Numbers
    """(start, what each second later, each sooner counts in tier ``effort``)"""
    specimens: Numbers
    to_lab: Numbers
    """(second, weight)"""
    pickups: Numbers
    departures: Numbers
    people: Numbers
    able: npt.NDArray[np.bool_]
    """[visit, collector]"""
    pays: Numbers
    """[visit, collector]: what counts in tier ``effort`` whenever this one makes it."""
    pairs: npt.NDArray[np.uint8]
    """[first, second]: `IS_PAIR`, `IS_EXPOSURE`, or both, of a visit before another on one route."""


def rules_of(instance: Instance) -> Rules:
    """Return the rules of a round in arrays."""
    prices, (pair, exposure) = instance.prices, instance.effort_of_pairs
    visits, people = instance.visits, instance.collectors
    specimens = [s for visit in visits for s in visit.specimens]
    counts_pairs = bool(instance.turns.before or instance.exposures.before)
    return Rules(
        numbers=_numbers(
            [
                instance.start_s,
                instance.handover_s,
                instance.max_sends,
                NONE if instance.tray_limit is None else instance.tray_limit,
                instance.change_s,
                counts_pairs,
                prices.to_lab,
                prices.moved_stop_s,
                EFFORT_PER_S,
                prices.arrival_pct,
                EFFORT_PER_S * prices.ward_change_s,
                pair,
                exposure,
            ]
        ),
        walk=_walk(instance.walk),
        visits=_visits(instance),
        windows=_rows([(w.earliest_s, w.latest_s) for visit in visits for w in visit.windows], 2),
        targets=_rows([target for visit in visits for target in visit.targets], 2),
        pulls=_rows([pull for visit in visits for pull in instance.pulls(visit)], 3),
        specimens=_rows(
            [
                (s.by_hand, s.limit_s, s.need_weight, s.num_tubes, first)
                for s, first in zip(specimens, _firsts([len(s.to_lab) for s in specimens]), strict=False)
            ]
            + [(0, 0, 0, 0, sum(len(s.to_lab) for s in specimens))],
            5,
        ),
        to_lab=_rows([due for s in specimens for due in s.to_lab], 2),
        pickups=_rows(
            [
                (p.node, p.takes_hand, p.transit_s, first)
                for p, first in zip(
                    instance.pickups, _firsts([len(p.departures_s) for p in instance.pickups]), strict=False
                )
            ]
            + [(0, 0, 0, sum(len(p.departures_s) for p in instance.pickups))],
            4,
        ),
        departures=_numbers([at_s for p in instance.pickups for at_s in p.departures_s]),
        people=_rows(
            [
                (
                    who.node,
                    who.break_s,
                    who.from_s,
                    who.until_s,
                    *((w.earliest_s, w.latest_s) if (w := who.break_window) else (NONE, NONE)),
                    NONE if who.ward is None else who.ward,
                )
                for who in people
            ],
            7,
        ),
        able=np.array([[k in visit.able for k in range(len(people))] for visit in visits], dtype=np.bool_).reshape(
            len(visits), len(people)
        ),
        pays=EFFORT_PER_S
        * prices.other_ward_s
        * np.array([[k in visit.strange for k in range(len(people))] for visit in visits], dtype=np.int64).reshape(
            len(visits), len(people)
        ),
        pairs=_pairs(instance) if counts_pairs else np.zeros((0, 0), dtype=np.uint8),
    )


def _visits(instance: Instance) -> Numbers:
    visits = instance.visits
    firsts = zip(
        _firsts([len(instance.pulls(visit)) for visit in visits]),
        _firsts([len(visit.windows) for visit in visits]),
        _firsts([len(visit.targets) for visit in visits]),
        _firsts([len(visit.specimens) for visit in visits]),
        strict=True,
    )
    rows: list[tuple[int, ...]] = []
    for visit, (pull, window, target, specimens) in zip((*visits, None), firsts, strict=True):
        if visit is None:
            rows.append((0, 0, 0, 0, pull, 0, window, target, specimens, 0, 0, 0, 0))
            continue
        promise = visit.promise
        rows.append(
            (
                visit.node,
                visit.service_s,
                visit.weight,
                NONE if visit.need_by_s is None else visit.need_by_s,
                pull,
                visit.is_tray,
                window,
                target,
                specimens,
                *((promise.collector, promise.position, promise.start_s) if promise else (NONE, NONE, NONE)),
                NONE if visit.is_tray else visit.ward,
            )
        )
    return _rows(rows, 13)


def _pairs(instance: Instance) -> npt.NDArray[np.uint8]:
    size = max(len(instance.turns.before), len(instance.exposures.before))
    pairs = np.zeros((size, size), dtype=np.uint8)
    for turns, bit in ((instance.turns, IS_PAIR), (instance.exposures, IS_EXPOSURE)):
        for j, before in enumerate(turns.before):
            bits = np.frombuffer(before.to_bytes(-(-size // 8), "little"), dtype=np.uint8)
            pairs[:, j] |= bit * np.unpackbits(bits, count=size, bitorder="little")
    return pairs


@lru_cache(maxsize=4)
def _walk(walk: tuple[tuple[int, ...], ...]) -> Numbers:
    return _numbers(walk)


def _firsts(sizes: Sequence[int]) -> list[int]:
    """Return where each of some lists begins when they lie one behind the other, and where the last ends."""
    firsts = [0]
    for size in sizes:
        firsts.append(firsts[-1] + size)
    return firsts


def _rows(rows: Sequence[Sequence[int]], columns: int) -> Numbers:
    return np.array(rows, dtype=np.int64).reshape(len(rows), columns)


def _numbers(values: npt.ArrayLike) -> Numbers:
    return np.ascontiguousarray(values, dtype=np.int64)
