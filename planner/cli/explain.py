"""``planner explain``: why an order is where it is, late or not planned, and what single change would mend it."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from planner.cli.options import AcceptEdited, Json, Seed
from planner.cli.terminal import json_text
from planner.findings import printable

if TYPE_CHECKING:
    from planner.domain.draws import Bound, OrderWindow
    from planner.domain.orders import OrderId
    from planner.domain.plan import Plan
    from planner.domain.problem import Problem
    from planner.explaining.mends import Mend
    from planner.explaining.reasons import Explained

WIDTH = 80
TRY_LIMIT_S = 20.0
"""The guard for one try on a stalled machine."""


def explain(
    out: Annotated[
        Path,
        typer.Argument(
            metavar="OUT", help="The outputs of a round (its newest revision) or one revision.", show_default=False
        ),
    ],
    order_number: Annotated[
        str,
        typer.Argument(
            metavar="ORDER|BED",
            help="Number of the order to explain; a bed or a patient number stands for all orders of its patient.",
            show_default=False,
        ),
    ],
    tries: Annotated[
        bool,
        typer.Option(
            "--tries/--no-tries",
            help="For an order that is late or not planned, plan again with single changes to find one that mends it; "
            "takes up to a minute. Default: tries.",
        ),
    ] = True,
    seed: Seed = 1,
    accept_edited: AcceptEdited = False,
    as_json: Json = False,
) -> None:
    """Explain an order: its window and the rule behind each end, what the plan does, and what would mend it."""
    from planner.cli.reading import print_findings
    from planner.cli.written import edited_before, read_checked
    from planner.explaining.reasons import explain as explained_in

    file = read_checked(out, accepts_edited=accept_edited)
    print_findings(edited_before(file))
    several = _orders_meant(file.problem, file.plan, order_number)
    data: list[dict[str, Any]] = []
    for number, order_id in enumerate(several):
        explained = explained_in(file.problem, file.plan, order_id)
        assert explained is not None
        is_well = explained.made is not None and not explained.late_s
        found: list[Mend] = []
        is_tried = tries and not is_well and explained.window is not None
        if is_tried:
            found = list(_mends(file.problem, file.plan, file.revision, explained, seed))
        if as_json:
            data.append(_data(file.problem, explained, found))
            continue
        for line in ([""] if number else []) + list(_lines(file.problem, explained, found, is_tried=is_tried)):
            typer.echo(line)
    if as_json:
        typer.echo(json_text(data[0] if len(data) == 1 else data))


def _orders_meant(problem: Problem, plan: Plan, text: str) -> list[OrderId]:
    """Return the order of a number, else the orders of the patient of a bed or patient number.

    Raises
    ------
    typer.BadParameter
        If the text means none, or a bed of several wards.
    """
    from planner.domain.beds import find_beds
    from planner.domain.order_numbers import find_order, nearest_orders
    from planner.domain.patients import find_patient

    whose = {u.order_id: u.patient_id for u in (*problem.set_aside, *plan.unplanned)}
    whose |= {order.id: order.patient_id for order in problem.orders}
    if (order_id := find_order(whose, text)) is not None:
        return [order_id]
    beds = find_beds(problem.places.values(), text)
    occupied = [bed for bed in beds if any(patient.bed == bed for patient in problem.patients.values())]
    if len(occupied) > 1:
        choices = " or ".join(problem.place_name(bed) for bed in occupied)
        raise typer.BadParameter(f"bed {text!r} can be {choices}; write the ward too")
    patient = find_patient(problem.patients, {}, text)
    here = {p.id for p in problem.patients.values() if p.bed in occupied} or ({patient.id} if patient else set())
    found = sorted(order_id for order_id, patient_id in whose.items() if patient_id in here)
    if not found:
        raise typer.BadParameter(
            f"{text!r} is no order, bed or patient of this round; orders: {nearest_orders(whose, text)}"
        )
    return found


def _mends(problem: Problem, plan: Plan, revision: int, explained: Explained, seed: int) -> Iterator[Mend]:
    from planner.explaining.mends import mends
    from planner.solving.params import SolveParams

    assert explained.order is not None
    params = SolveParams(seed=seed, effort="quick", wall_limit_s=TRY_LIMIT_S, proves=False)
    yield from mends(problem, plan, revision, explained.order.id, params, _say)


def _say(words: str) -> None:
    if sys.stderr.isatty():
        print(f"trying: {words}", file=sys.stderr)


def _lines(problem: Problem, explained: Explained, found: list[Mend], *, is_tried: bool) -> Iterator[str]:
    order, clock = explained.order, problem.clock
    if order is None:
        assert explained.unplanned is not None
        yield from _wrapped(f"Order {explained.unplanned.order_id} is not to be planned: {explained.unplanned.detail}")
        return
    bed = problem.place_name(problem.patients[order.patient_id].bed)
    yield f"Order {order.id}: {order.test}, bed {bed}, {order.priority.value}"
    yield ""
    yield "Its window, and which rule sets what"
    for row in _window_rows(problem, explained):
        yield from _wrapped(row)
    yield ""
    if explained.made is not None:
        visit, who = explained.made.visit, problem.staff[explained.made.phlebotomist].initials
        arrival_s = explained.made.lab_arrival_s
        brought = "" if arrival_s is None else f", in the laboratory at {clock.format_clock(arrival_s)}"
        past = "" if visit.outcome is None else f" ({visit.outcome.value})"
        yield from _wrapped(
            f"Drawn at {clock.format_clock(visit.draw_s)} by {who}, stop {explained.made.stop_number}{past}{brought}."
        )
        if explained.late_s:
            yield from _wrapped(f"That is {-(-explained.late_s // 60)} minutes past the time by which it should be.")
    elif explained.unplanned is not None:
        yield from _wrapped(f"Not planned: {explained.unplanned.detail}")
    if is_tried:
        yield ""
        yield from _mend_lines(problem, found)


def _mend_lines(problem: Problem, found: list[Mend]) -> Iterator[str]:
    if not found:
        yield from _wrapped(
            "No single change that was tried mends it without harm to another order: one more phlebotomist, a courier "
            "held, another visit left out, its end later."
        )
        return
    yield "Single changes that mend it, each found by planning again and checked"
    for mend in found:
        moved = (
            f"; {mend.num_moved} {'visit' if mend.num_moved == 1 else 'visits'} of the sheet would change"
            if mend.num_moved
            else ""
        )
        at = problem.clock.format_clock(mend.draw_s)
        yield from _wrapped(f"- {mend.words}: drawn at {at} by {mend.phlebotomist}{moved}")


def _window_rows(problem: Problem, explained: Explained) -> Iterator[str]:
    from planner.domain.draws import Strength
    from planner.exporters.view.words import RULE

    clock = problem.clock
    remarks = {Strength.WISHED: " (wished, not required)", Strength.ASKED: " (not binding: a stat is drawn now)"}
    for ends in explained.ends:
        parts = [
            f"{word} {clock.format_clock(at_s)}"
            for word, at_s in (
                ("not before", ends.earliest_s),
                ("on time until", ends.target_s),
                ("not after", ends.latest_s),
            )
            if at_s is not None
        ]
        if parts:
            yield f"- {RULE[ends.rule]}: {', '.join(parts)}{remarks.get(ends.strength, '')}"
    for rule, begin_s, end_s in explained.spans_out:
        yield f"- {RULE[rule]}: not between {clock.format_clock(begin_s)} and {clock.format_clock(end_s)}"
    window = explained.window
    if window is not None:
        yield (
            f"together: {clock.format_clock(window.earliest.at_s)} ({RULE[window.earliest.rule]}) to "
            f"{clock.format_clock(window.latest.at_s)} ({RULE[window.latest.rule]})" + _on_time(problem, window)
        )


def _on_time(problem: Problem, window: OrderWindow) -> str:
    from planner.exporters.view.words import RULE

    if window.target is None:
        return ""
    return f", on time until {problem.clock.format_clock(window.target.at_s)} ({RULE[window.target.rule]})"


def _data(problem: Problem, explained: Explained, found: list[Mend]) -> dict[str, Any]:
    clock, made = problem.clock, explained.made
    order_id = explained.order.id if explained.order else explained.unplanned.order_id if explained.unplanned else ""
    return {
        "order_number": order_id,
        "window": {
            name: {"at": clock.iso(bound.at_s), "rule": bound.rule} for name, bound in _bounds(explained.window)
        },
        "drawn": None if made is None else clock.iso(made.visit.draw_s),
        "late_s": explained.late_s,
        "not_planned": None if explained.unplanned is None else explained.unplanned.detail,
        "mends": [
            {"change": m.words, "drawn": clock.iso(m.draw_s), "by": m.phlebotomist, "visits_changed": m.num_moved}
            for m in found
        ],
    }


def _bounds(window: OrderWindow | None) -> list[tuple[str, Bound]]:
    """Return the ends of a window by name; the soft end only where there is one."""
    if window is None:
        return []
    ends = [("earliest", window.earliest), ("latest", window.latest)]
    return [*ends, ("target", window.target)] if window.target is not None else ends


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(printable(text), WIDTH, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False)
