"""Reports that say the same twice, or not the same: what is known already, and what contradicts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from planner.domain.draws import DrawId
from planner.domain.orders import OrderId
from planner.domain.plan import Outcome, Visit
from planner.domain.revisions.reported import Reported
from planner.findings import Report, Severity
from planner.loaders.during.visit_book import VisitBook


def settle_reports(found: Iterable[Reported], book: VisitBook, report: Report) -> tuple[Reported, ...]:
    """Return the reports that are new, each order of a visit in one of them at most."""
    visits = {v.draw_id: v for v in book.visits}
    by_order: dict[tuple[DrawId, OrderId], list[Reported]] = {}
    for reported in found:
        for order_id in reported.order_ids:
            by_order.setdefault((reported.draw_id, order_id), []).append(reported)
    kept: dict[int, list[OrderId]] = {}
    chosen: dict[int, Reported] = {}
    repeated: list[OrderId] = []
    for (draw_id, order_id), group in by_order.items():
        one = _one_of(order_id, group, report)
        if one is None:
            continue
        if _is_known(one, order_id, visits[draw_id], book):
            repeated.append(order_id)
        elif _may_follow(one, order_id, visits[draw_id], book, report):
            chosen[id(one)] = one
            kept.setdefault(id(one), []).append(order_id)
    if repeated:
        message = f"reported before and known: orders {', '.join(repeated)}; nothing to do"
        report.add("report-repeated", Severity.NOTE, message, order_ids=repeated)
    return tuple(replace(chosen[key], order_ids=tuple(ids)) for key, ids in kept.items())


def _one_of(order_id: OrderId, group: Sequence[Reported], report: Report) -> Reported | None:
    """Return the report that counts of those on one order.

    Of different outcomes at different times the latest counts: who was away at 05:20 may have been drawn at 06:00.
    """
    if len({r.outcome for r in group}) == 1:
        return max(group, key=lambda r: (r.at_s is not None, bool(r.initials)))
    times = [r.at_s for r in group if r.at_s is not None]
    words = " and ".join(dict.fromkeys(r.outcome.value for r in group))
    source = group[-1].source
    if len(set(times)) < len(group):
        message = (
            f"order {order_id} is reported as {words}; none of it is used. Find out which is true, and keep one row"
        )
        report.add("report-contradicts", Severity.ERROR, message, source=source, order_ids=[order_id])
        return None
    last = max(group, key=lambda r: r.at_s or 0)
    message = f"order {order_id} is reported as {words} at different times; the latest counts: {last.outcome.value}"
    report.add("report-contradicts", Severity.WARNING, message, source=source, order_ids=[order_id])
    return last


def _is_known(reported: Reported, order_id: OrderId, visit: Visit, book: VisitBook) -> bool:
    """Whether an earlier revision was told the same of the order already, or of the whole visit."""
    return not book.is_open(visit) and book.said.get((visit.draw_id, order_id), visit.outcome) is reported.outcome


def _may_follow(reported: Reported, order_id: OrderId, visit: Visit, book: VisitBook, report: Report) -> bool:
    """Whether a report may change what is recorded: only what was assumed, and a draw that is to be made again."""
    if book.is_open(visit) or reported.outcome is Outcome.RECOLLECT:
        return True
    assert visit.outcome is not None
    message = (
        f"order {order_id} was reported as {visit.outcome.value} before this plan was made, and now as "
        f"{reported.outcome.value}; what was recorded stays. If it was wrong, use --recollect or order it again"
    )
    report.add("report-contradicts", Severity.ERROR, message, source=reported.source, order_ids=[order_id])
    return False
