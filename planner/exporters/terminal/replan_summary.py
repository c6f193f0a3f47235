"""The summary of a replanned round for the terminal: what changes for whom, in the words of the change notes."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import Any

from planner.domain.draws import OrderWindow
from planner.domain.orders import OrderId
from planner.domain.plan import Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Replan
from planner.domain.revisions.stop_changes import ChangeKind
from planner.exporters.terminal.summary import LABEL, WIDTH, order_lines, summary_data, tried_price_lines, wrapped
from planner.exporters.view.context import ViewContext
from planner.exporters.view.lists import decision_lines
from planner.exporters.view.notes.assumed import STILL_TO_COME
from planner.exporters.view.notes.replan import replan_view
from planner.exporters.view.routes import route_view
from planner.exporters.view.texts import TextCleaner
from planner.exporters.view.words import count_words, day_words


def replan_lines(problem: Problem, plan: Plan, windows: Mapping[OrderId, OrderWindow], width: int = WIDTH) -> list[str]:
    """Return what ``replan`` prints, in lines of at most ``width`` columns.

    Patients are named where beds are read back and in the change notes.
    """
    context = ViewContext(problem, plan, windows, TextCleaner())
    view, replan = replan_view(context), problem.replan
    assert view is not None and replan is not None
    day = f"{context.clean(problem.round_name)}, {day_words(problem.clock.day)}"
    lines = [*textwrap.wrap(f"{day}, as of {view.as_of}; replaces {view.parent}", width), ""]
    lines += _row("Reported", "; ".join(view.read_back) or "nothing", width)
    lines += _row("Noted before", "; ".join(view.earlier), width) if view.earlier else []
    lines += _row("Done by now", _done(replan), width)
    lines += _row("Only assumed", f"{'; '.join(view.assumed)}", width) if view.assumed else []
    lines += _row("Due, not told", f"{'; '.join(view.untold)}: {STILL_TO_COME}", width) if view.untold else []
    counts = [sum(change.word == word for change in view.changes) for word in ("NEW", "MOVED", "DROPPED")]
    lines += _row("Stops changed", "{} new, {} moved, {} dropped".format(*counts), width)
    lines += tried_price_lines(problem, width)
    lines += [] if not view.addons else ["", "Phone the laboratory: no draw is needed for"]
    for addon in view.addons:
        lines += wrapped(
            f"bed {addon.bed}, order {addon.order}, {addon.test}: add to {addon.tube}, drawn {addon.drawn}"
            f"; limit: {addon.limit}",
            width,
        )
    for route in plan.routes:
        person = route_view(context, route)
        if not person.note:
            continue
        lines += ["", f"To {person.called}"]
        for number, note in enumerate(person.note, start=1):
            lines += wrapped(f"{number}. {note.text}", width)
    lines += order_lines(
        "Needs a decision", decision_lines(context, needs_decision=True), with_action=True, width=width
    )
    return lines


def replan_data(problem: Problem, plan: Plan, windows: Mapping[OrderId, OrderWindow]) -> dict[str, Any]:
    """Return the summary as plain JSON values: that of a plan, with what was told and how many stops changed."""
    context = ViewContext(problem, plan, windows, TextCleaner())
    view, replan = replan_view(context), problem.replan
    assert view is not None and replan is not None
    return {
        **summary_data(problem, plan, None, windows),
        "as_of": problem.clock.iso(replan.now_s),
        "parent": replan.parent,
        "told": list(view.given),
        "visits_done": len(replan.visits),
        "only_assumed": list(view.assumed),
        "due_not_told": list(view.untold),
        "changes": {kind.value: sum(change.kind is kind for change in context.changes) for kind in ChangeKind},
        "addons": [addon.order_id for addon in replan.addons],
    }


def _done(replan: Replan) -> str:
    """Return how many visits lie behind, and how many of them nobody reported."""
    visits = assumed = under_way = 0
    for past in replan.past:
        for index, stop in enumerate(past.stops):
            if isinstance(stop, Visit):
                visits += 1
                under_way += stop.depart_s > replan.now_s
                assumed += index in past.assumed
    words = count_words(visits, "visit")
    words += f", {under_way} of them under way" if under_way else ""
    return words + (f"; {assumed} assumed, because nobody reported them" if assumed else "")


def _row(label: str, text: str, width: int) -> list[str]:
    return textwrap.wrap(
        text, width, initial_indent=f"{label:<{LABEL}}", subsequent_indent=" " * LABEL, break_on_hyphens=False
    )
