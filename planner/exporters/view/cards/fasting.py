"""Asks a patient about fasting: one question a length of fast, each with what to do."""

from __future__ import annotations

from collections.abc import Sequence

from planner.domain.derived.samples import is_later_sample
from planner.domain.orders import Order, Patient, Priority
from planner.domain.plan import Visit
from planner.exporters.view.context import ViewContext
from planner.exporters.view.words import join_words
from planner.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE


def fasting_questions(context: ViewContext, visit: Visit, patient: Patient, orders: Sequence[Order]) -> tuple[str, ...]:
    """Return what to ask, by length of fast, the shortest first; of a stat only when the patient last ate.

    Each names the time since which nothing may have been eaten: the planned draw less the fast. Where the meal on file
    already breaks a fast that is only preferred, nothing is asked: the draw is noted as not fasting.
    """
    required: dict[int, set[str]] = {}
    preferred: dict[int, set[str]] = {}
    for order in orders:
        test = context.problem.test_of(order)
        if is_later_sample(context.problem, order):  # after the drink or the injection nobody fasts any more
            continue
        if order.priority is not Priority.STAT and (order.fasting or test.fasting_s):
            fast_s = test.fasting_s or context.problem.policy.windows.default_fast_s
            needs = required if order.fasting or test.fasting_required else preferred
            needs.setdefault(fast_s, set()).update(context.called([order]))
    every = set(context.called(orders))
    asked: list[tuple[int, str]] = []
    noted: list[str] = []
    for fast_s in sorted({*required, *preferred}):
        hard = required.get(fast_s, set())
        soft = preferred.get(fast_s, set()) - hard
        if soft and patient.last_ate_s is not None and visit.draw_s - patient.last_ate_s < fast_s:
            last = context.clock(patient.last_ate_s)
            said = f"{join_words(sorted(soft))} needs {fast_s // SECONDS_PER_HOUR} h, last meal {last}"
            noted.append(f"{said}: draw, write NOT FASTING beside the time.")
            soft = set()
        actions = []
        if hard:
            rest = "; draw the rest" if every - hard else ""
            actions.append(f"no {join_words(sorted(hard))}, tell nurse{rest}")
        if soft:
            actions.append(f"draw {join_words(sorted(soft))}, write NOT FASTING")
        if actions:
            since_s = -(-(visit.draw_s - fast_s) // SECONDS_PER_MINUTE) * SECONDS_PER_MINUTE
            asked.append((since_s, "; ".join(actions)))
    told = [False] * len(asked) if noted else [number == 0 for number in range(len(asked))]
    questions = (
        f"Only water since {context.clock(since_s)}{_meal(context, patient, since_s) if is_told else ''}? "
        f"If not: {actions}."
        for (since_s, actions), is_told in zip(asked, told, strict=True)
    )
    return (*questions, *noted, *_of_stats(context, patient, orders))


def _of_stats(context: ViewContext, patient: Patient, orders: Sequence[Order]) -> tuple[str, ...]:
    """Return what to write of stats whose tests would want a fast: they are drawn fed or fasting."""
    wants = [o for o in orders if o.priority is Priority.STAT and (o.fasting or context.problem.test_of(o).fasting_s)]
    tests = context.called(order for order in wants if order.fasting is not False)
    if not tests:
        return ()
    known = "" if patient.last_ate_s is None else f" (on file {context.clock(patient.last_ate_s)})"
    return (f"{join_words(tests)} STAT: draw now, fed or fasting. Last meal when{known}? Write: ____________",)


def _meal(context: ViewContext, patient: Patient, since_s: int) -> str:
    """Return the last meal on file; its day only where it is not that of ``since_s``."""
    if patient.last_ate_s is None:
        return ""
    ate, since = (context.problem.clock.to_local(seconds) for seconds in (patient.last_ate_s, since_s))
    return f" (ate {ate:%H:%M})" if ate.date() == since.date() else f" (ate {context.clock(patient.last_ate_s)})"
