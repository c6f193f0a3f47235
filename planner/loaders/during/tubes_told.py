"""Rows of a progress file of format 2 that are about one tube each, put together: what each order came to.

An order is collected if all its tubes are, and partly drawn if some are or none is while others of the visit are.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from planner.domain.draws import DrawId
from planner.domain.orders import OrderId
from planner.domain.plan import Outcome
from planner.domain.revisions.reported import Reported

FILLED = frozenset({Outcome.COLLECTED, Outcome.RECOLLECT})
"""Outcomes of a row about one tube after which there is blood in it."""


def with_tubes_joined(found: Iterable[Reported]) -> list[Reported]:
    """Return the reports, those of one visit at one time that name tubes as one report per outcome."""
    plain: list[Reported] = []
    of_visit: dict[tuple[DrawId, int | None, str, str], list[Reported]] = {}
    for reported in found:
        if reported.tubes is None:
            plain.append(reported)
        else:
            of_visit.setdefault((reported.draw_id, reported.at_s, reported.initials, reported.note), []).append(
                reported
            )
    return [*plain, *(joined for rows in of_visit.values() for joined in _joined(rows))]


def _joined(rows: Sequence[Reported]) -> Iterable[Reported]:
    """Yield a report for each outcome of a visit's orders, each with all tubes that were filled."""
    filled = tuple(sorted({position for row in rows if row.outcome in FILLED for position in row.tubes or ()}))
    outcomes: dict[OrderId, set[Outcome]] = {}
    for row in rows:
        for order_id in row.order_ids:
            outcomes.setdefault(order_id, set()).add(row.outcome)
    by_outcome: dict[Outcome, list[OrderId]] = {}
    for order_id, said in outcomes.items():
        by_outcome.setdefault(next(iter(said)) if len(said) == 1 else Outcome.PARTIAL, []).append(order_id)
    for outcome, order_ids in by_outcome.items():
        yield replace(rows[0], order_ids=tuple(order_ids), outcome=outcome, tubes=filled)
