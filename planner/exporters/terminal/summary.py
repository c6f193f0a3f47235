"""The summary of a plan for the terminal, as lines of at most 80 columns, and as data for programs."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from planner.domain.derived.merges import merges_of
from planner.domain.derived.metrics import BedOrderWalk
from planner.domain.derived.need_by import need_by_misses
from planner.domain.draws import Draw, OrderWindow
from planner.domain.orders import OrderId, Priority
from planner.domain.plan import Handover, Plan
from planner.domain.prices import tried_prices
from planner.domain.problem import Problem
from planner.exporters.terminal.people import people_lines
from planner.exporters.view.context import ViewContext
from planner.exporters.view.goals import goal_lines, price_lines, stat_lines
from planner.exporters.view.lists import all_unplanned, decision_lines, late_orders, merge_lines
from planner.exporters.view.rows import DecisionLine
from planner.exporters.view.texts import TextCleaner
from planner.exporters.view.words import PRICES_TRIED, count_words, day_words
from planner.units import MICROLITRES_PER_ML, format_ml

WIDTH = 80
LABEL = 18


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What the plan is set beside: one tube for each order, and the list walked in bed order."""

    num_separate: int
    separate_ul: int
    walk: BedOrderWalk | None = None

    @classmethod
    def of(cls, draws: Iterable[Draw], walk: BedOrderWalk | None) -> Comparison:
        """Return the comparison for the draws that a plan was made from."""
        sets = [draw.tube_set for draw in draws]
        return cls(
            num_separate=sum(s.num_separate for s in sets), separate_ul=sum(s.separate_ul for s in sets), walk=walk
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What a plan comes to, in numbers. ``num_late`` is None when the windows are not known."""

    num_visits: int
    num_orders: int
    num_planned: int
    num_late: int | None
    num_decisions: int
    num_stat_decisions: int
    """Stat orders among those to decide."""
    num_for_information: int
    num_tubes: int
    volume_ul: int
    num_too_old: int
    """Tubes that reach the laboratory past their stability."""
    finish_s: int


def figures_of(problem: Problem, plan: Plan, windows: Mapping[OrderId, OrderWindow] | None = None) -> Figures:
    """Return the figures of a plan; windows of the orders are needed to count the late ones."""
    context = ViewContext(problem, plan, windows or {}, TextCleaner())
    visits = [visit for route in plan.routes for visit in route.visits]
    tubes = [planned.tube for visit in visits for planned in visit.tubes]
    aside = all_unplanned(context)
    planned = {order_id for visit in visits for order_id in visit.order_ids}
    num_decisions = sum(item.reason.needs_decision for item in aside)
    return Figures(
        num_visits=len(visits),
        num_orders=len(planned) + len(aside),
        num_planned=len(planned),
        num_late=None if windows is None else num_late(plan, windows),
        num_decisions=num_decisions,
        num_stat_decisions=sum(u.reason.needs_decision and u.priority is Priority.STAT for u in aside),
        num_for_information=len(aside) - num_decisions,
        num_tubes=sum(not tube.is_discard for tube in tubes),
        volume_ul=sum(tube.volume_ul for tube in tubes),
        num_too_old=num_too_old(plan),
        finish_s=max((r.stops[-1].depart_s for r in plan.routes if r.stops), default=problem.start_s),
    )


def num_late(plan: Plan, windows: Mapping[OrderId, OrderWindow]) -> int:
    """Return the number of orders that are drawn after the time by which they should be."""
    return sum(1 for route in plan.routes for visit in route.visits for _ in late_orders(visit, windows))


def num_too_old(plan: Plan) -> int:
    """Return the number of tubes that reach the laboratory later after the draw than they keep."""
    count = 0
    for route in plan.routes:
        for visit in route.visits:
            for planned in visit.tubes:
                if planned.handover is None or planned.tube.stability_s is None:
                    continue
                stop = route.stops[planned.handover]
                assert isinstance(stop, Handover)
                count += stop.lab_arrival_s - visit.draw_s > planned.tube.stability_s
    return count


def summary_lines(
    problem: Problem,
    plan: Plan,
    comparison: Comparison | None = None,
    windows: Mapping[OrderId, OrderWindow] | None = None,
    width: int = WIDTH,
) -> list[str]:
    """Return the summary that a command prints, without any patient's name.

    Parameters
    ----------
    problem, plan
        The round and what was planned.
    comparison
        What to set the plan beside; None leaves that out.
    windows
        The window of every order that has one, to count late orders; None leaves the count out.
    width
        Columns of the terminal: sentences keep to it, tables to 80.
    """
    context = ViewContext(problem, plan, windows or {}, TextCleaner())
    figures = figures_of(problem, plan, windows)
    lines = [f"{context.clean(problem.round_name)}, {day_words(problem.clock.day)}"[:WIDTH], ""]
    lines += _counts(context, figures, comparison)
    if comparison is not None and comparison.walk is not None:
        lines += _beside_the_walk(context, figures, comparison.walk)
    lines += people_lines(context, width)
    if stats := stat_lines(context):
        lines += ["", "Stat", *(line for text in stats for line in wrapped(text[0].upper() + text[1:], width))]
    lines += tried_price_lines(problem, width)
    lines += _goals(context)
    lines += order_lines(
        "Needs a decision", decision_lines(context, needs_decision=True), with_action=True, width=width
    )
    lines += order_lines(
        "Not planned, for information", decision_lines(context, needs_decision=False), with_action=False, width=width
    )
    if merged := merge_lines(context):
        lines += ["", "One draw for several orders", *(line for one in merged for line in wrapped(one.text, width))]
    if problem.assumptions:
        lines += ["", "Assumed, because nothing was given"]
        lines += [line for text in problem.assumptions for line in wrapped(context.clean(text), width)]
    return lines


def summary_data(
    problem: Problem,
    plan: Plan,
    comparison: Comparison | None = None,
    windows: Mapping[OrderId, OrderWindow] | None = None,
) -> dict[str, Any]:
    """Return the summary as plain JSON values: counts, millilitres, times in ISO 8601, goals with proof or bound."""
    figures = figures_of(problem, plan, windows)
    data: dict[str, Any] = {
        "round": problem.round_name,
        "date": problem.clock.day.isoformat(),
        "visits": figures.num_visits,
        "orders": figures.num_orders,
        "orders_planned": figures.num_planned,
        "orders_late": figures.num_late,
        "orders_needed_earlier": sum(len(miss.order_ids) for miss in need_by_misses(problem, plan)),
        "orders_to_decide": figures.num_decisions,
        "stat_orders_to_decide": figures.num_stat_decisions,
        "orders_for_information": figures.num_for_information,
        "tubes": figures.num_tubes,
        "volume_ml": figures.volume_ul / MICROLITRES_PER_ML,
        "tubes_too_old": figures.num_too_old,
        "finish": problem.clock.iso(figures.finish_s),
        "goals": [
            {
                "name": g.name,
                "unit": g.unit,
                "value": g.value,
                "bound": g.bound,
                "proven": g.is_proven,
                "parts": [{"name": p.name, "unit": p.unit, "value": p.value, "price": p.price} for p in g.parts],
            }
            for g in plan.goals
        ],
        "prices_tried": [{"name": p.name, "tried": p.tried, "site": p.site} for p in tried_prices(problem)],
        "merged_orders": [
            {"test": m.test, "patient_number": m.patient_id, "order_numbers": list(m.order_ids)}
            for m in merges_of(problem, plan)
        ],
        "assumptions": list(problem.assumptions),
    }
    if comparison is not None:
        data["one_tube_per_order"] = {
            "tubes": comparison.num_separate,
            "volume_ml": comparison.separate_ul / MICROLITRES_PER_ML,
        }
        if comparison.walk is not None:
            data["bed_order_walk"] = {
                "orders_off_time": comparison.walk.orders_off_time,
                "tubes_too_old": comparison.walk.tubes_too_old,
                "finish": problem.clock.iso(comparison.walk.finish_s),
            }
    return data


def _counts(context: ViewContext, figures: Figures, comparison: Comparison | None) -> list[str]:
    people = count_words(sum(bool(route.stops) for route in context.plan.routes), "phlebotomist")
    rows = [
        ("Visits", f"{figures.num_visits} by {people}, the last done {context.clock(figures.finish_s)}"),
        ("Orders planned", f"{figures.num_planned} of {figures.num_orders}"),
    ]
    if figures.num_late is not None:
        rows.append(("Late", count_words(figures.num_late, "order") if figures.num_late else "none"))
    needed: dict[str, int] = {}
    for miss in need_by_misses(context.problem, context.plan):
        needed[miss.ward] = needed.get(miss.ward, 0) + len(miss.order_ids)
    rows += [
        ("Needed earlier", f"{count_words(number, 'order')} of ward {context.clean(ward)}")
        for ward, number in sorted(needed.items())
    ]
    rows += [
        ("Set aside", _set_aside(figures)),
        ("Tubes", f"{figures.num_tubes} with {format_ml(figures.volume_ul)} mL"),
    ]
    if comparison is not None:
        rows.append(("One tube an order", _saving(figures, comparison)))
    return [f"{label:<{LABEL}}{text}" for label, text in rows]


def _set_aside(figures: Figures) -> str:
    stat = f" ({figures.num_stat_decisions} of them STAT)" if figures.num_stat_decisions else ""
    return f"{figures.num_decisions} to decide{stat}, {figures.num_for_information} for information"


def _saving(figures: Figures, comparison: Comparison) -> str:
    return (
        f"{comparison.num_separate} with {format_ml(comparison.separate_ul)} mL; saved "
        f"{comparison.num_separate - figures.num_tubes} and "
        f"{format_ml(comparison.separate_ul - figures.volume_ul)} mL"
    )


def _beside_the_walk(context: ViewContext, figures: Figures, walk: BedOrderWalk) -> list[str]:
    rows = [("", "this plan", "bed order")]
    if figures.num_late is not None:
        rows.append(("orders off their time", str(figures.num_late), str(walk.orders_off_time)))
    rows += [
        ("tubes too old at the laboratory", str(figures.num_too_old), str(walk.tubes_too_old)),
        ("last phlebotomist done", context.clock(figures.finish_s), context.clock(walk.finish_s)),
    ]
    table = [f"  {label:<34}{ours:>12}{theirs:>12}" for label, ours, theirs in rows]
    return ["", "The same orders walked in bed order", *table]


def tried_price_lines(problem: Problem, width: int) -> list[str]:
    """Return the prices that are not the site's, under a heading; nothing without any."""
    lines = [line for text in price_lines(problem) for line in wrapped(text, width)]
    return ["", PRICES_TRIED, *lines] if lines else []


def _goals(context: ViewContext) -> list[str]:
    """Return the tiers of goals, each with its parts; behind a part what it counts where that is not its own value."""
    lines: list[str] = []
    for goal in goal_lines(context):
        lines.append(f"  {goal.name}{goal.value:>{40 - len(goal.name)}}   {goal.proof}"[:WIDTH])
        for part in goal.parts:
            counted = f"   counts {part.counted}" if part.counted else ""
            lines.append(f"    {part.name}{part.value:>{38 - len(part.name)}}{counted}"[:WIDTH])
    return ["", "Goals, the first tier before the second; the parts of a tier add up", *lines] if lines else []


def order_lines(title: str, decisions: tuple[DecisionLine, ...], *, with_action: bool, width: int = WIDTH) -> list[str]:
    """Return a heading and a paragraph for each order that no visit serves; nothing without any."""
    if not decisions:
        return []
    lines = ["", title]
    for item in decisions:
        action = f" {item.action}" if with_action else ""
        detail = f" ({item.detail})" if item.detail else ""
        what = f"{item.tests}: {item.what}" if item.tests else item.what
        urgency = f"{item.urgency}, " if item.urgency else ""
        lines += wrapped(f"{urgency}bed {item.bed}, order {item.orders}, {what}{detail}.{action}", width)
    return lines


def wrapped(text: str, width: int = WIDTH) -> list[str]:
    """Return a text as indented lines of at most so many columns."""
    return textwrap.wrap(text, width, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False)
