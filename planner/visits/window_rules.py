"""One function per rule of the rule book: the ends that it sets to the draw time of an order.

A stat is drawn now. What says when a level is best measured (clock, fasting, dose) does not hold it: such ends are
`Strength.ASKED`, and become questions on the card.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from planner.domain.catalogue import DoseKind, DoseRule, Handling, LabTest
from planner.domain.derived.samples import is_later_sample
from planner.domain.doses import dose_base_s
from planner.domain.draws import Ends, Strength
from planner.domain.orders import Order, Priority, TimeWindow
from planner.domain.problem import Problem
from planner.units import hours_to_s
from planner.visits.posture import posture_ends
from planner.visits.series import gap_from_made, has_draw_before, is_in_series, spaced_from_made

OTHER_DAY_S = hours_to_s(12)
"""A clock time of the policy or a test that lies farther before the round than this means the next day."""


def has_dose_rule(test: LabTest) -> bool:
    """Return whether the draw is bound to a dose, a protocol included (whose times the order itself states)."""
    return test.dose_rule is not None


def is_stat(order: Order) -> bool:
    """Return whether an order is drawn now, whatever its test's monitoring window is."""
    return order.priority is Priority.STAT


def is_held(test: LabTest, order: Order) -> bool:
    """Return whether a dose rule binds an order: a stat only where the rule says so and the dose is stated."""
    rule = test.dose_rule
    if rule is None:
        return False
    return not is_stat(order) or (rule.holds_stat and dose_base_s(order, rule.kind) is not None)


def is_far_before(problem: Problem, seconds: int) -> bool:
    """Return whether a clock time lies so far before the round that it means the next day."""
    return problem.start_s - seconds > OTHER_DAY_S


def round_ends(problem: Problem, _order: Order) -> Iterator[Ends]:
    """Nothing is drawn before anybody works or after."""
    yield Ends(rule="round", earliest_s=problem.begin_s, latest_s=problem.end_s)


def requested_ends(problem: Problem, order: Order) -> Iterator[Ends]:
    """A stated time has a tolerance, a stated span is kept; past them the draw is late, then given up."""
    policy = problem.policy.windows
    if order.collect_at_s is not None:
        test = problem.test_of(order)
        is_strict = test.dose_rule is not None or bool(test.serial_offsets) or order.series is not None
        tolerance_s = policy.drug_tolerance_s if is_strict else policy.timed_tolerance_s
        yield _requested(problem, order, order.collect_at_s - tolerance_s, order.collect_at_s + tolerance_s)
    if order.collect_from_s is not None or order.collect_to_s is not None:
        yield _requested(problem, order, order.collect_from_s, order.collect_to_s)


def _requested(problem: Problem, order: Order, earliest_s: int | None, target_s: int | None) -> Ends:
    """Return the ends of a stated time.

    A dose-ruled draw has no time after its target: past it the next dose may have been given. A stat is never given
    up within the round's day.
    """
    latest_s = None
    if target_s is not None:
        is_dosed = has_dose_rule(problem.test_of(order)) and not is_stat(order)
        latest_s = target_s + (0 if is_dosed else problem.policy.windows.timed_give_up_s)
        if is_stat(order) and latest_s >= 0:
            latest_s = None
    return Ends(rule="requested", earliest_s=earliest_s, latest_s=latest_s, target_s=target_s)


def priority_ends(problem: Problem, order: Order) -> Iterator[Ends]:
    """An urgent order should be drawn within its priority's minutes.

    Not when it states its own time, nor when a draw of its series comes before it: then the gap says when.
    """
    policy = problem.policy.windows
    minutes = {
        Priority.STAT: policy.stat_target_s,
        Priority.ASAP: policy.asap_target_s,
        Priority.URGENT: policy.urgent_target_s,
    }
    if order.is_timed or order.priority not in minutes:
        return
    if is_in_series(problem, order) and has_draw_before(problem, order):
        return
    known_s = max(problem.start_s, problem.start_s if order.ordered_s is None else order.ordered_s)
    yield Ends(rule="priority", target_s=known_s + minutes[order.priority])


def clock_ends(problem: Problem, order: Order) -> Iterator[Ends]:
    """Some tests are drawn between two clock times."""
    if (rule := problem.test_of(order).clock_rule) is not None:
        clock = problem.clock
        from_s, to_s = clock.wall_to_s(rule.from_s), clock.wall_to_s(rule.to_s)
        if is_far_before(problem, to_s):
            from_s, to_s = clock.day_after(from_s), clock.day_after(to_s)
        strength = Strength.HARD if rule.is_required else Strength.WISHED
        yield Ends(
            rule="clock",
            earliest_s=from_s,
            latest_s=to_s,
            strength=Strength.ASKED if is_stat(order) else strength,
        )


def fasting_ends(problem: Problem, order: Order) -> Iterator[Ends]:
    """A fasting draw comes so many hours after the last meal and before the next; not after the drink of its test."""
    test = problem.test_of(order)
    if is_later_sample(problem, order):
        return
    is_wish = not must_fast(test, order)
    if is_wish and (not test.fasting_s or order.fasting is False):
        return
    strength = Strength.WISHED if is_wish else Strength.HARD
    patient = problem.patient_of(order)
    fast_s = test.fasting_s or problem.policy.windows.default_fast_s
    breakfast_s = problem.policy.round.breakfast_at_s
    if is_far_before(problem, breakfast_s):
        breakfast_s = problem.clock.day_after(breakfast_s)
    next_meal_s = breakfast_s if patient.next_meal_s is None else patient.next_meal_s
    yield Ends(
        rule="fasting",
        earliest_s=None if patient.last_ate_s is None else patient.last_ate_s + fast_s,
        latest_s=next_meal_s,
        strength=Strength.ASKED if is_stat(order) else strength,
    )


def must_fast(test: LabTest, order: Order) -> bool:
    """Return whether the order asks for a fast, or its test requires one."""
    return order.fasting is True or test.fasting_required


def dose_ends(problem: Problem, order: Order) -> Iterator[Ends]:
    """A drug level is drawn so long before the next dose, or so long after the last and never after the next."""
    test = problem.test_of(order)
    if test.dose_rule is None:
        return
    earliest_s, latest_s = _dose_span(test.dose_rule, order)
    if earliest_s is not None or latest_s is not None:
        strength = Strength.HARD if is_held(test, order) else Strength.ASKED
        yield Ends(rule="dose", earliest_s=earliest_s, latest_s=latest_s, strength=strength)


def antibiotic_ends(problem: Problem, order: Order) -> Iterator[Ends]:
    """A culture should be drawn before the next dose of the antibiotic; after it a culture is better than none."""
    if order.next_dose_s is not None and Handling.BEFORE_ANTIBIOTICS in problem.test_of(order).handling:
        yield Ends(rule="antibiotic", target_s=order.next_dose_s)


def _dose_span(rule: DoseRule, order: Order) -> tuple[int | None, int | None]:
    base_s = dose_base_s(order, rule.kind)
    if rule.kind == DoseKind.TROUGH:
        if base_s is None:
            return None, None
        return None if rule.to_s is None else base_s - rule.to_s, base_s - rule.from_s
    if rule.kind == DoseKind.PROTOCOL:
        return None, None
    ends = [] if base_s is None or rule.to_s is None else [base_s + rule.to_s]
    ends += [] if order.next_dose_s is None else [order.next_dose_s]
    return None if base_s is None else base_s + rule.from_s, min(ends, default=None)


def series_gap_ends(problem: Problem, order: Order) -> Iterator[Ends]:
    """The draws of a series that are to come keep their gaps from the last one made, by whomever that was."""
    if is_in_series(problem, order) and (found := gap_from_made(problem, order)) is not None:
        made_s, gap = found
        yield Ends(rule="series-gap", earliest_s=made_s + gap.least_s, latest_s=made_s + gap.most_s)


def spacing_ends(problem: Problem, order: Order) -> Iterator[Ends]:
    """A draw keeps most of its stated gap from one of the same test that was made (rule ``stated-spacing``)."""
    if (earliest_s := spaced_from_made(problem, order)) is not None:
        yield Ends(rule="stated-spacing", earliest_s=earliest_s)


def retry_ends(problem: Problem, order: Order) -> Iterator[Ends]:
    """Whoever was away is tried again only after some time."""
    for retry in problem.replan.retries if problem.replan else ():
        if retry.order_id == order.id and retry.not_before_s is not None:
            yield Ends(rule="retry", earliest_s=retry.not_before_s)


RULES: tuple[Callable[[Problem, Order], Iterable[Ends]], ...] = (
    round_ends,
    requested_ends,
    priority_ends,
    clock_ends,
    fasting_ends,
    dose_ends,
    antibiotic_ends,
    series_gap_ends,
    spacing_ends,
    retry_ends,
    posture_ends,
)


def absence_spans(problem: Problem, order: Order) -> list[tuple[int, int]]:
    """Return the spans in which the patient is away."""
    return [(w.earliest_s, w.latest_s) for w in problem.patient_of(order).away]


def quiet_spans(problem: Problem, order: Order) -> list[tuple[int, int]]:
    """Return the ward's quiet hours, in which only stat, timed and dose-ruled orders are drawn."""
    if order.priority is Priority.STAT or order.is_timed or has_dose_rule(problem.test_of(order)):
        return []
    quiet = problem.policy.round.quiet_hours
    spans: list[TimeWindow] = [*quiet.get(problem.patient_of(order).ward, ()), *quiet.get("*", ())]
    return [(w.earliest_s, w.latest_s) for w in spans]
