"""Series and dynamic tests: which sample of its test an order is, and how long after what it is drawn.

The ward gives the drink or the injection after the first sample; the samples behind it count from that instant, which
nobody knows when the round is planned. So a plan keeps the gap from draw to draw, and the card says what counts.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.domain.catalogue import CountsFrom
from planner.domain.orders import Order, OrderId
from planner.domain.problem import Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One sample of a series or of a dynamic test.

    ``number`` counts the patient's draws of the test in the round from 1, those made before included, of ``of`` in all.
    ``after_s`` is how long after the first sample, or after the drink or the injection, it is drawn; None: nothing
    states it. ``orders`` are those of the round, in turn.
    """

    number: int
    of: int
    counts_from: CountsFrom | None
    after_s: int | None
    orders: tuple[Order, ...]

    @property
    def is_first(self) -> bool:
        """Whether the drink or the injection is given after it."""
        return self.number == 1


def sample_of(problem: Problem, order: Order) -> Sample | None:
    """Return which sample of a series or a dynamic test an order is; None for any other, culture sets included.

    Samples follow one another as the draws of a series do: those made by their time, then by the time stated, then by
    number. The time after the first, or after the drink, is the difference of the times stated for the first and this
    sample, else that of the test's first protocol that has so many samples.
    """
    test = problem.test_of(order)
    if test.counts_from is None and (order.series is None or test.is_culture):
        return None
    alike = [
        o for o in problem.orders if (o.patient_id, o.test, o.series) == (order.patient_id, order.test, order.series)
    ]
    drawn_s = {past.id: draw_s for past, draw_s in problem.drawn_orders}
    ordered = sorted(alike, key=lambda o: _place(o, drawn_s))
    earlier = sum(
        (d.patient_id, d.test, d.series) == (order.patient_id, order.test, order.series) for d in problem.earlier_draws
    )
    number = earlier + ordered.index(order) + 1
    first = ordered[0]
    after_s = None
    if number > 1:
        protocol = next((p for p in test.serial_offsets if len(p) >= earlier + len(ordered)), None)
        if not earlier and first.collect_at_s is not None and order.collect_at_s is not None:
            after_s = order.collect_at_s - first.collect_at_s
        elif protocol is not None:
            after_s = protocol[number - 1] - protocol[0]
    return Sample(
        number=number,
        of=earlier + len(ordered),
        counts_from=test.counts_from,
        after_s=after_s,
        orders=tuple(ordered),
    )


def is_later_sample(problem: Problem, order: Order) -> bool:
    """Return whether an order is drawn after the drink or the injection: nobody fasts for it any more."""
    sample = sample_of(problem, order)
    return sample is not None and sample.counts_from is not None and not sample.is_first


def _place(order: Order, drawn_s: dict[OrderId, int]) -> tuple[bool, int, str]:
    """Return the place of a draw among those of its series."""
    if order.id in drawn_s:
        return False, drawn_s[order.id], order.id
    stated_s = order.collect_at_s if order.collect_at_s is not None else order.collect_from_s
    return True, 10**9 if stated_s is None else stated_s, order.id
