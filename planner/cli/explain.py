"""``planner explain``: why an order is where it is, late or not planned, and what single change would mend it."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from planner.cli.options import AcceptEdited, Json, Seed
from planner.cli.terminal import json_text
from planner.findings import printable

if TYPE_CHECKING:
    from planner.domain.draws import Bound, OrderWindow
    from planner.domain.plan import Plan
    from planner.domain.problem import Problem
    from planner.explaining.mends import Mend
    from planner.explaining.reasons import Explained
    from planner.library.explanations import Explanation, ShareExplanation

WIDTH = 80


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
            metavar="ORDER|BED|NAME",
            help="Number of the order to explain; a bed or a patient number stands for all orders of its patient; a "
            "name or initials for the route of that person.",
            show_default=False,
        ),
    ],
    tries: Annotated[
        bool,
        typer.Option(
            "--tries/--no-tries",
            help="For an order that is late or not planned, plan again with single changes to find one that mends it, "
            "up to a minute; for a planned one, time its visit in other places. For a person, plan again with other "
            "prices and limits. Default: tries.",
        ),
    ] = True,
    seed: Seed = 1,
    accept_edited: AcceptEdited = False,
    as_json: Json = False,
) -> None:
    """Explain an order: its window and the rule behind each end, what the plan does and why, what would mend it.

    Of a planned order: who may make the visit, what is around it, and what another place would cost. Of one that was
    set aside: test, bed, reason and remedy.

    Explain a person's share: what shaped the route, and which price or limit would have to change for another one.
    """
    import planner
    from planner.cli.terminal import print_findings
    from planner.library.explanations import means_person
    from planner.library.written import edited_before

    written = planner.read(out, accept_edited=accept_edited)
    print_findings(edited_before(written.file))
    if means_person(written, order_number):
        share = planner.explain_share(written, order_number, tries=tries, seed=seed, on_try=_say)
        if as_json:
            typer.echo(json_text(_share_data(written.problem, share)))
            return
        for line in _share_lines(written.problem, written.plan, share):
            typer.echo(line)
        return
    found = planner.explain(written, order_number, tries=tries, seed=seed, on_try=_say)
    if as_json:
        data = [_data(written.problem, explanation) for explanation in found]
        typer.echo(json_text(data[0] if len(data) == 1 else data))
        return
    for number, explanation in enumerate(found):
        for line in ([""] if number else []) + list(_lines(written.problem, written.plan, explanation)):
            typer.echo(line)


def _share_lines(problem: Problem, plan: Plan, found: ShareExplanation) -> Iterator[str]:
    from planner.exporters.terminal.people import person_lines
    from planner.exporters.view.context import ViewContext
    from planner.exporters.view.texts import TextCleaner
    from planner.visits import order_windows

    yield from person_lines(ViewContext(problem, plan, order_windows(problem)[0], TextCleaner()), found.person, WIDTH)
    if not found.is_tried:
        return
    yield ""
    if not found.tries:
        yield from _wrapped(
            "None of the changes that were tried gives this person another number of visits: prices share, "
            "ward_change, other_ward and isolation; where they limit the person, own wards, skills and shift."
        )
        return
    yield "Single changes that give another share, each found by planning again and checked"
    for one in found.tries:
        yield from _wrapped(f"- {one.words}: {one.num_visits} in place of {one.before} visits")


def _share_data(problem: Problem, found: ShareExplanation) -> dict[str, Any]:
    share = found.shares[found.person]
    return {
        "initials": problem.staff[found.person].initials,
        "visits": len(share.visits),
        "visits_of_all": share.num_all,
        "fair_share": round(share.fair, 1),
        "may_make": share.able,
        "may_make_in_time": share.in_shift,
        "nobody_else_may": share.alone,
        "changes": [{"change": t.words, "visits": t.num_visits, "visits_before": t.before} for t in found.tries],
    }


def _say(words: str) -> None:
    if sys.stderr.isatty():
        print(f"trying: {words}", file=sys.stderr)


def _lines(problem: Problem, plan: Plan, explanation: Explanation) -> Iterator[str]:
    from planner.cli.explained import aside_lines, elsewhere_lines, why_lines

    explained, clock = explanation.explained, problem.clock
    order = explained.order
    if order is None:
        assert explained.unplanned is not None
        for line in aside_lines(problem, explained.unplanned):
            yield from _wrapped(line)
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
        yield from ("", "Why there")
        for line in why_lines(problem, plan, explained, explained.made):
            yield from _wrapped(f"- {line}")
        if explanation.elsewhere:
            yield from ("", "What another place would cost, every other stop in its order")
            for line in elsewhere_lines(problem, explanation.elsewhere):
                yield from _wrapped(line)
    elif explained.unplanned is not None:
        yield from _wrapped(f"Not planned: {explained.unplanned.detail}")
    if explanation.is_tried:
        yield ""
        yield from _mend_lines(problem, explanation.mends)


def _mend_lines(problem: Problem, found: Sequence[Mend]) -> Iterator[str]:
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


def _data(problem: Problem, explanation: Explanation) -> dict[str, Any]:
    from planner.cli.explained import elsewhere_data

    explained = explanation.explained
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
            for m in explanation.mends
        ],
        "elsewhere": elsewhere_data(problem, explanation.elsewhere),
    }


def _bounds(window: OrderWindow | None) -> list[tuple[str, Bound]]:
    """Return the ends of a window by name; the soft end only where there is one."""
    if window is None:
        return []
    ends = [("earliest", window.earliest), ("latest", window.latest)]
    return [*ends, ("target", window.target)] if window.target is not None else ends


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(printable(text), WIDTH, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False)
