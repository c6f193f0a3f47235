"""The window of every order: the intersection of all rules, or the reason why there is none."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planner.domain.catalogue import DoseKind
from planner.domain.doses import dose_base_s
from planner.domain.draws import Bound, Ends, OrderWindow, Preference, Strength
from planner.domain.orders import Order, OrderId, PatientId, TimeWindow
from planner.domain.plan import Reason, Unplanned
from planner.domain.problem import Problem
from planner.units import SECONDS_PER_DAY, SECONDS_PER_HOUR
from planner.visits.arms import without_arm
from planner.visits.closed import closed_spans, closed_words
from planner.visits.noted import orders_that_wait
from planner.visits.questions import questions_of
from planner.visits.series import gap_before, has_draw_before, is_in_series
from planner.visits.spans import Windows, cut
from planner.visits.window_rules import RULES, absence_spans, dose_ends, is_held, is_stat, quiet_spans

RULE_WORDS = {
    "round": "the hours of the round",
    "requested": "the time the order asks for",
    "priority": "its priority",
    "clock": "the test's clock times",
    "fasting": "fasting until the next meal",
    "dose": "the dose times",
    "antibiotic": "the antibiotic",
    "series-gap": "the gap to the draw before it",
    "stated-spacing": "the stated gap to the draw before it",
    "retry": "the next try",
    "absence": "the patient being away",
    "quiet-hours": "the ward's quiet hours",
    "posture": "the posture after the draw before it",
}
"""What sets an end of a window, by the name of its rule."""


_OWN_RULES = frozenset({"requested", "clock", "fasting", "dose", "retry"})
"""Rules whose hard earliest end belongs to the order, not to the round or to another draw."""


def order_windows(problem: Problem) -> tuple[dict[OrderId, OrderWindow], tuple[Unplanned, ...]]:
    """Return the window of every order that has one, and the other orders with the reason.

    Every order that is still to be drawn is in exactly one of the two.
    """
    windows: dict[OrderId, OrderWindow] = {}
    unplanned: list[Unplanned] = []
    armless = without_arm(problem)
    waiting = orders_that_wait(problem)
    for order in problem.open_orders:
        result = _window(problem, order, armless, waiting)
        if isinstance(result, OrderWindow):
            windows[order.id] = result
        else:
            unplanned.append(result)
    return windows, tuple(unplanned)


def window_of(problem: Problem, order: Order) -> OrderWindow | Unplanned:
    """Return the window of one order, or why it has none."""
    return _window(problem, order, without_arm(problem), orders_that_wait(problem))


def _window(
    problem: Problem,
    order: Order,
    armless: Mapping[PatientId, str],
    waiting: Mapping[OrderId, tuple[OrderId, ...]],
) -> OrderWindow | Unplanned:
    if (why := armless.get(order.patient_id)) is not None:
        return _unplanned(problem, order, Reason.NO_ARM, why)
    if (others := waiting.get(order.id)) is not None:
        return _noted_apart(problem, order, others)
    if (missing := _missing_time(problem, order)) is not None:
        return missing
    if (mistimed := _mistimed_dose(problem, order)) is not None:
        return mistimed
    all_ends = [ends for rule in RULES for ends in rule(problem, order)]
    hard = [ends for ends in all_ends if ends.strength is Strength.HARD]
    earliest = max((Bound(at_s=e.earliest_s, rule=e.rule) for e in hard if e.earliest_s is not None), key=_at)
    latest = min((Bound(at_s=e.latest_s, rule=e.rule) for e in hard if e.latest_s is not None), key=_at)
    if earliest.at_s > latest.at_s:
        return _no_window(problem, order, hard, earliest, latest)
    windows: Windows = (TimeWindow(earliest_s=earliest.at_s, latest_s=latest.at_s),)
    without_absence = cut(windows, absence_spans(problem, order))
    windows = cut(without_absence, quiet_spans(problem, order))
    if windows and not (windows := cut(windows, closed_spans(problem, order))):
        return _laboratory_closed(problem, order)
    if not windows:
        rule = "absence" if not without_absence else "quiet-hours"
        return _unplanned(
            problem,
            order,
            Reason.NO_COMMON_WINDOW,
            f"{RULE_WORDS[rule]} leaves no time between {problem.clock.format_clock(earliest.at_s)} and "
            f"{problem.clock.format_clock(latest.at_s)}. Ask: when can the patient be drawn?",
        )
    return OrderWindow(
        order_id=order.id,
        windows=windows,
        earliest=earliest,
        latest=latest,
        target=_reachable_target(hard),
        preferences=tuple(
            Preference(rule=e.rule, earliest_s=e.earliest_s, latest_s=e.latest_s)
            for e in all_ends
            if e.strength is Strength.WISHED
        ),
        ends=tuple(all_ends),
        questions=questions_of(problem, order),
    )


def _noted_apart(problem: Problem, order: Order, others: Sequence[OrderId]) -> Unplanned:
    """Say which orders the notes, or the samples of the test, set apart from this one, and what to enter."""
    what = "order" if len(others) == 1 else "orders"
    why = (
        f"its note, or that of {what} {', '.join(others)}, sets the draws apart in time"
        if order.time_in_note or any(problem.order(other).time_in_note for other in others)
        else f"{order.test} has several samples, and neither it nor {what} {', '.join(others)} says which one it is"
    )
    detail = (
        f"{why}; nothing states when, and one draw would be reported for both. Enter a time in each order, or one "
        "series in all; cancel what is ordered twice"
    )
    return _unplanned(problem, order, Reason.TIME_MISSING, detail)


def _laboratory_closed(problem: Problem, order: Order) -> Unplanned:
    """Say when the laboratory does not take the test. That holds for a stat too: drawn, it would be thrown away."""
    when = " and ".join(closed_words(span) for span in problem.test_of(order).closed)
    return _unplanned(
        problem,
        order,
        Reason.LAB_CLOSED,
        f"the laboratory does not take {order.test} {when}, and no other time of the round will do. Ask the "
        "laboratory, or the doctor for another day",
    )


def _reachable_target(hard: list[Ends]) -> Bound | None:
    """Return the smallest target, but none before the order's own hard earliest end: nobody could meet it."""
    targets = [Bound(at_s=e.target_s, rule=e.rule) for e in hard if e.target_s is not None]
    own = [Bound(at_s=e.earliest_s, rule=e.rule) for e in hard if e.rule in _OWN_RULES and e.earliest_s is not None]
    if not targets:
        return None
    return max([min(targets, key=_at), *own], key=_at)


def _at(bound: Bound) -> int:
    return bound.at_s


def _missing_time(problem: Problem, order: Order) -> Unplanned | None:
    """Return why an order cannot be placed in time: its test counts from an instant that is not stated.

    A stat needs no such instant: it is drawn now, and the card asks for it.
    """
    if order.is_timed:
        return None
    rule = problem.test_of(order).dose_rule
    if rule is None or is_stat(order):
        return _missing_gap(problem, order)
    if rule.kind == DoseKind.PROTOCOL:
        return _unplanned(
            problem,
            order,
            Reason.TIME_MISSING,
            "drawn at the times of a protocol, and the order states none (column collect_at)",
        )
    if dose_base_s(order, rule.kind) is not None:
        return None
    what, column = {
        DoseKind.TROUGH: ("the next dose", "next_dose_at"),
        DoseKind.POST_END: ("the end of the infusion", "infusion_end_at"),
        DoseKind.POST_CHANGE: ("the last change of rate", "last_dose_at"),
    }.get(rule.kind, ("the last dose", "last_dose_at"))
    return _unplanned(
        problem,
        order,
        Reason.DOSE_TIME_MISSING,
        f"its time counts from {what}, which the order does not state (column {column}, or collect_at)",
    )


def _mistimed_dose(problem: Problem, order: Order) -> Unplanned | None:
    """Return why no time before the stated next dose is valid: no other round will find one either."""
    test, next_s = problem.test_of(order), order.next_dose_s
    if test.dose_rule is None or next_s is None or not is_held(test, order):
        return None
    clock = problem.clock
    if test.dose_rule.kind == DoseKind.TROUGH:
        stated = [s for s in (order.collect_at_s, order.collect_from_s) if s is not None and s >= next_s]
        if not stated or is_stat(order):
            return None
        why = f"asked for at {clock.format_clock(stated[0])}, not before the next dose at {clock.format_clock(next_s)}"
    else:
        begins_s = max((e.earliest_s for e in dose_ends(problem, order) if e.earliest_s is not None), default=next_s)
        if begins_s <= next_s:
            return None
        why = f"due from {clock.format_clock(begins_s)}, after the next dose at {clock.format_clock(next_s)}"
    detail = f"no valid time before the next dose: {why}. Ask the nurse or pharmacist"
    return _unplanned(problem, order, Reason.NO_COMMON_WINDOW, detail)


def _missing_gap(problem: Problem, order: Order) -> Unplanned | None:
    """Return why a repeated draw cannot be placed: nothing says how long after the draw before it."""
    if not is_in_series(problem, order) or not has_draw_before(problem, order):
        return None
    if gap_before(problem, order) is not None:
        return None
    return _unplanned(
        problem,
        order,
        Reason.TIME_MISSING,
        f"repeats a draw of series {order.series}, and neither the order (column collect_at) nor the test says how "
        "long after it",
    )


def _no_window(problem: Problem, order: Order, hard: list[Ends], earliest: Bound, latest: Bound) -> Unplanned:
    """Say which two rules leave no instant, and whether the time has passed or belongs to another round."""
    clock = problem.clock
    own = [e for e in hard if e.rule in ("requested", "dose")]
    if not is_stat(order) and own and all(e.earliest_s is not None and e.earliest_s > problem.end_s for e in own):
        begins_s = max(e.earliest_s for e in own if e.earliest_s is not None)
        return _unplanned(
            problem,
            order,
            Reason.OTHER_ROUND,
            f"to be drawn from {clock.format_clock(begins_s)}, after this round",
        )
    if not is_stat(order) and any(e.rule == "requested" and e.latest_s is not None and e.latest_s < 0 for e in own):
        return _unplanned(problem, order, Reason.OTHER_ROUND, "asked for on an earlier day")
    ended = [e for e in hard if e.rule in ("requested", "dose", "fasting", "clock", "series-gap", "posture")]
    passed = [e for e in ended if e.latest_s is not None and e.latest_s < problem.begin_s]
    if passed:
        last = min(passed, key=lambda e: e.latest_s if e.latest_s is not None else SECONDS_PER_DAY)
        assert last.latest_s is not None
        return _unplanned(
            problem,
            order,
            Reason.WINDOW_PASSED,
            f"{RULE_WORDS[last.rule]} ended at {clock.format_clock(last.latest_s)}, before {_now(problem)}",
        )
    if problem.begin_s > problem.end_s:
        over = f"the round is over since {clock.format_clock(problem.end_s)}; somebody else must draw it"
        return _unplanned(problem, order, Reason.NO_TIME, over)
    return _unplanned(problem, order, Reason.NO_COMMON_WINDOW, _contradiction(problem, order, earliest, latest))


def _now(problem: Problem) -> str:
    return "the round" if problem.replan is None else "now"


def _contradiction(problem: Problem, order: Order, earliest: Bound, latest: Bound) -> str:
    """Say which rules leave no instant, each once, and what to ask."""
    begin, end = problem.clock.format_clock(earliest.at_s), problem.clock.format_clock(latest.at_s)
    if earliest.rule == "fasting":
        return _broken_fast(problem, order, begin, latest)
    if earliest.rule == latest.rule:
        return f"{RULE_WORDS[earliest.rule]}: not before {begin} and not after {end}. Ask: which time is meant?"
    return (
        f"not before {begin} ({RULE_WORDS[earliest.rule]}) and not after {end} ({RULE_WORDS[latest.rule]}). "
        "Ask: which of them gives way?"
    )


def _broken_fast(problem: Problem, order: Order, begin: str, latest: Bound) -> str:
    """Say when the patient ate, how long the fast lasts and what ends it."""
    clock, patient, test = problem.clock, problem.patient_of(order), problem.test_of(order)
    assert patient.last_ate_s is not None
    hours = (test.fasting_s or problem.policy.windows.default_fast_s) / SECONDS_PER_HOUR
    end = clock.format_clock(latest.at_s)
    meal = "breakfast" if patient.next_meal_s is None else "the next meal"
    ends = {"fasting": f"{meal} is {end}", "round": f"the round ends at {end}"}
    until = ends.get(latest.rule, f"{RULE_WORDS[latest.rule]}: not after {end}")
    return (
        f"ate {clock.format_clock(patient.last_ate_s)}; {order.test} needs {hours:g} h, from {begin}; {until}. "
        "Ask: draw non-fasting, or tomorrow?"
    )


def _unplanned(problem: Problem, order: Order, reason: Reason, detail: str) -> Unplanned:
    patient = problem.patient_of(order)
    return Unplanned.of(order, reason, detail, bed=patient.bed)
