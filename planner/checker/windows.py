"""When an order may be drawn, computed from the rule book: its spans, and the target past which it is late."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from math import inf

from planner.checker.facts import Facts
from planner.domain.catalogue import ClockRule, DoseKind, DoseRule, Handling, LabTest
from planner.domain.orders import Order, Priority
from planner.units import SECONDS_PER_DAY

_HALF_DAY_S = SECONDS_PER_DAY // 2


@dataclass(frozen=True, slots=True)
class Span:
    """Hard ends of a draw time, both included; None: no end. ``target_s`` is the soft end."""

    earliest_s: int | None
    latest_s: int | None
    target_s: int | None = None

    def holds(self, draw_s: int) -> bool:
        """Return whether a draw time lies within the hard ends."""
        return (self.earliest_s is None or draw_s >= self.earliest_s) and (
            self.latest_s is None or draw_s <= self.latest_s
        )


def requested_spans(facts: Facts, order: Order) -> list[Span]:
    """Return the spans that the order itself asks for: one for its instant, one for its from and to.

    Past its target a dose-ruled draw has no time; a stat is given up only when its time was over on an earlier day.
    """
    policy, test = facts.problem.policy.windows, facts.test(order)
    spans = []
    is_stat = order.priority is Priority.STAT
    give_up_s = policy.timed_give_up_s if is_stat or test.dose_rule is None else 0

    def given_up(soft_s: int) -> int | None:
        return None if is_stat and soft_s + give_up_s >= 0 else soft_s + give_up_s

    if order.collect_at_s is not None:
        is_exact = test.dose_rule is not None or bool(test.serial_offsets) or order.series is not None
        tolerance_s = policy.drug_tolerance_s if is_exact else policy.timed_tolerance_s
        soft_s = order.collect_at_s + tolerance_s
        spans.append(Span(order.collect_at_s - tolerance_s, given_up(soft_s), soft_s))
    if order.collect_from_s is not None or order.collect_to_s is not None:
        to_s = order.collect_to_s
        spans.append(Span(order.collect_from_s, None if to_s is None else given_up(to_s), to_s))
    return spans


def fasting_span(facts: Facts, order: Order) -> Span:
    """Return the span of a fasting draw: the fast after the last meal, until the next meal or breakfast."""
    patient = facts.problem.patients[order.patient_id]
    policy = facts.problem.policy
    fast_s = facts.test(order).fasting_s or policy.windows.default_fast_s
    latest_s = patient.next_meal_s
    if latest_s is None:
        latest_s = policy.round.breakfast_at_s
        if latest_s < facts.start_s - _HALF_DAY_S:
            latest_s = _a_day_later(facts, latest_s)
    return Span(None if patient.last_ate_s is None else patient.last_ate_s + fast_s, latest_s)


def must_fast(facts: Facts, order: Order) -> bool:
    """Return whether the order says fasting, or its test requires it, and nothing was drunk for it yet."""
    return not is_after_what_is_given(facts, order) and (order.fasting is True or facts.test(order).fasting_required)


def is_after_what_is_given(facts: Facts, order: Order) -> bool:
    """Return whether an order's test counts from a drink or an injection and another of its samples comes first."""
    if facts.test(order).counts_from is None:
        return False
    name = (order.patient_id, order.series, order.test)
    if any((draw.patient_id, draw.series, draw.test) == name for draw in facts.problem.earlier_draws):
        return True
    past = {i: at.visit.draw_s for at in facts.all_visits if at.visit.outcome is not None for i in at.visit.order_ids}

    def turn(other: Order) -> tuple[int, float, str]:
        stated = [s for s in (other.collect_at_s, other.collect_from_s) if s is not None]
        return (0, past[other.id], other.id) if other.id in past else (1, stated[0] if stated else inf, other.id)

    samples = [other for other in facts.problem.orders if (other.patient_id, other.series, other.test) == name]
    return min(samples, key=turn).id != order.id


def closed_at(facts: Facts, test: LabTest, draw_s: int) -> bool:
    """Return whether the laboratory does not take a test at an instant, by the wall's clock."""
    if not test.closed or abs(draw_s) > 2 * SECONDS_PER_DAY:  # so far away it is no draw of the round: see `shift`
        return False
    local = facts.problem.clock.to_local(draw_s)
    week_s = local.weekday() * SECONDS_PER_DAY + local.hour * 3600 + local.minute * 60 + local.second
    for span in test.closed:
        is_begun, is_over = week_s >= span.from_s, week_s >= span.to_s
        if (is_begun or not is_over) if span.to_s <= span.from_s else (is_begun and not is_over):
            return True
    return False


def clock_span(facts: Facts, rule: ClockRule) -> Span:
    """Return the span of a clock rule: on the round's day, or the next if that is over 12 h before R0."""
    from_s, to_s = (_on_the_wall(facts, s) for s in (rule.from_s, rule.to_s))
    if to_s < facts.start_s - _HALF_DAY_S:
        return Span(_a_day_later(facts, from_s), _a_day_later(facts, to_s))
    return Span(from_s, to_s)


def _on_the_wall(facts: Facts, seconds: int) -> int:
    """Return the instant at which the wall's clock of the round's day has gone so far."""
    clock = facts.problem.clock
    return clock.to_s(datetime.combine(clock.day, time(0)) + timedelta(seconds=seconds))


def _a_day_later(facts: Facts, instant_s: int) -> int:
    """Return the instant of the next day at which the wall's clock shows the same."""
    clock = facts.problem.clock
    return clock.to_s(clock.to_local(instant_s).replace(tzinfo=None, fold=0) + timedelta(days=1))


def dose_span(rule: DoseRule, order: Order) -> Span | None:
    """Return the span of a dose rule, which the next dose ends; None when nothing it counts from is stated."""
    if rule.kind == DoseKind.TROUGH:
        if order.next_dose_s is None:
            return None
        earliest_s = None if rule.to_s is None else order.next_dose_s - rule.to_s
        return Span(earliest_s, order.next_dose_s - rule.from_s)
    if rule.kind in (DoseKind.POST_DOSE, DoseKind.POST_START, DoseKind.POST_CHANGE):
        base_s = order.last_dose_s
    elif rule.kind == DoseKind.POST_END:
        base_s = order.infusion_end_s
    else:
        return None
    ends_s = [] if order.next_dose_s is None else [order.next_dose_s]
    if base_s is not None and rule.to_s is not None:
        ends_s.append(base_s + rule.to_s)
    if base_s is None and not ends_s:
        return None
    return Span(None if base_s is None else base_s + rule.from_s, min(ends_s, default=None))


def has_no_time_before_dose(rule: DoseRule, order: Order) -> bool:
    """Return whether the stated next dose leaves no valid time: a trough asked for then or later, an empty span."""
    if order.next_dose_s is None:
        return False
    if rule.kind == DoseKind.TROUGH:
        asked_s = [s for s in (order.collect_at_s, order.collect_from_s) if s is not None]
        return any(s >= order.next_dose_s for s in asked_s)
    span = dose_span(rule, order)
    return span is not None and span.earliest_s is not None and span.earliest_s > order.next_dose_s


def counts_from_stated(rule: DoseRule, order: Order) -> bool:
    """Return whether an order states the instant that its dose rule counts from."""
    stated = {DoseKind.TROUGH: order.next_dose_s, DoseKind.POST_END: order.infusion_end_s, DoseKind.PROTOCOL: None}
    return stated.get(rule.kind, order.last_dose_s) is not None


def holds_now(order: Order, rule: DoseRule | None = None) -> bool:
    """Return whether a monitoring window binds an order: no stat, unless its dose rule does from a stated dose."""
    if order.priority is not Priority.STAT:
        return True
    return rule is not None and rule.holds_stat and counts_from_stated(rule, order)


def target_s(facts: Facts, order: Order) -> int | None:
    """Return the second past which an order is late: the smallest target that applies; None: never late.

    It never lies before what the order itself says is the earliest. A draw of a series that another comes before has
    no target from its priority.
    """
    targets = [span.target_s for span in requested_spans(facts, order) if span.target_s is not None]
    policy = facts.problem.policy.windows
    wait_s = {
        Priority.STAT: policy.stat_target_s,
        Priority.ASAP: policy.asap_target_s,
        Priority.URGENT: policy.urgent_target_s,
    }
    if not order.is_timed and order.priority in wait_s and not facts.follows_in_series(order):
        since_s = facts.start_s if order.ordered_s is None else max(order.ordered_s, facts.start_s)
        targets.append(since_s + wait_s[order.priority])
    if order.next_dose_s is not None and Handling.BEFORE_ANTIBIOTICS in facts.test(order).handling:
        targets.append(order.next_dose_s)
    return max(min(targets), *own_earliest(facts, order)) if targets else None


def own_spans(facts: Facts, order: Order) -> list[Span]:
    """Return the hard spans that an order's own time, clock rule, fast and dose ask for."""
    test = facts.test(order)
    spans: list[Span | None] = [*requested_spans(facts, order)]
    if test.clock_rule is not None and test.clock_rule.is_required and holds_now(order):
        spans.append(clock_span(facts, test.clock_rule))
    if must_fast(facts, order) and holds_now(order):
        spans.append(fasting_span(facts, order))
    if test.dose_rule is not None and holds_now(order, test.dose_rule):
        spans.append(dose_span(test.dose_rule, order))
    return [span for span in spans if span is not None]


def own_earliest(facts: Facts, order: Order) -> list[int]:
    """Return the hard earliest ends that are the order's own, with one that binds nothing."""
    retries = facts.problem.replan.retries if facts.problem.replan else ()
    spans = own_spans(facts, order)
    spans += [Span(retry.not_before_s, None) for retry in retries if retry.order_id == order.id]
    return [-SECONDS_PER_DAY * 1000, *(s.earliest_s for s in spans if s.earliest_s is not None)]


def is_other_rounds(facts: Facts, order: Order) -> bool:
    """Return whether the times that an order and its dose state all begin after the round, or ended a day before.

    A stat is never another round's.
    """
    if order.priority is Priority.STAT:
        return False
    rule = facts.test(order).dose_rule
    if rule is not None and has_no_time_before_dose(rule, order):
        return False
    dose = None if rule is None else dose_span(rule, order)
    own = requested_spans(facts, order) + ([] if dose is None else [dose])
    end_s = max((p.until_s for p in facts.problem.staff), default=facts.problem.policy.round.end_at_s)
    if own and all(span.earliest_s is not None and span.earliest_s > end_s for span in own):
        return True
    return any(span.latest_s is not None and span.latest_s < 0 for span in requested_spans(facts, order))
