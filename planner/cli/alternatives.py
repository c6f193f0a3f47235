"""What ``planner replan --alternatives`` prints: the plans to choose from, two lines each."""

from __future__ import annotations

from collections.abc import Sequence

import typer

from planner.cli.terminal import json_text, text_width
from planner.exporters.terminal.summary import wrapped
from planner.exporters.view.cards.windows import late_minutes
from planner.library.alternatives import Alternative, offered, taken
from planner.library.planning import RoundPlan
from planner.library.replanning import Begun
from planner.pipeline import Listener
from planner.units import SECONDS_PER_MINUTE

MOST_LATE = 3
"""Late orders of a plan that are named."""


def show_alternatives(begun: Begun, as_json: bool, *, apply_rest: bool) -> None:
    """Print the plans to choose from; nothing is written."""
    shown = offered(begun, lambda _stage, _values, _bounds: None, apply_rest=apply_rest)
    if as_json:
        typer.echo(json_text({"alternatives": alternative_data(shown)}))
        return
    typer.echo(f"To choose from, as of {begun.newest.problem.clock.format_clock(begun.now_s)}")
    for line in alternative_lines(shown, text_width()):
        typer.echo(line)
    typer.echo("Nothing was written; the same command with --take and a number in place of --alternatives writes one.")


def alternative_taken(begun: Begun, number: int, listener: Listener, *, apply_rest: bool) -> RoundPlan:
    """Return the plan of that number in the list.

    Raises
    ------
    RequestError
        If there is none; it holds the list.
    """
    shown = offered(begun, listener, apply_rest=apply_rest)
    return taken(shown, number, lambda: "\n".join(alternative_lines(shown, text_width()))).made


def alternative_lines(shown: Sequence[Alternative], width: int) -> list[str]:
    """Return the list, numbered from 1 as ``--take`` counts."""
    lines = []
    for number, one in enumerate(shown, start=1):
        clock = one.made.problem.clock
        said = (
            f"{number} {', '.join(one.names)}: {_count(one.moved, 'stop')} moved, "
            f"{_count(one.to_decide, 'order')} to decide, {_late(one)}, "
            f"walking and waiting {_minutes(one.walking_s)} min, last stop over {clock.format_clock(one.finish_s)}"
        )
        lines += wrapped(said, width)
    return lines


def alternative_data(shown: Sequence[Alternative]) -> list[dict[str, object]]:
    """Return the list for ``--json``: weighted seconds of lateness, seconds of walking and waiting, weight left out."""
    return [
        {
            "number": number,
            "names": list(one.names),
            "moved": one.moved,
            "left_out_weight": one.left_out,
            "to_decide": one.to_decide,
            "late_weighted_s": one.late,
            "orders_late": len(one.late_orders),
            "most_late_s": max((late_s for _order_id, late_s in one.late_orders), default=0),
            "late": [{"order": order_id, "late_s": late_s} for order_id, late_s in one.late_orders],
            "walking_s": one.walking_s,
            "finish": one.made.problem.clock.format_clock(one.finish_s),
        }
        for number, one in enumerate(shown, start=1)
    ]


def _late(one: Alternative) -> str:
    """Return how many orders are late, which, at which beds, and by how much, the latest first."""
    if not one.late_orders:
        return "none late"
    problem, number = one.made.problem, len(one.late_orders)
    beds = ((o, problem.place_name(problem.patient_of(problem.order(o)).bed), s) for o, s in one.late_orders)
    named = [f"{order_id} at bed {bed} by {late_minutes(late_s)} min" for order_id, bed, late_s in beds]
    more = [f"{number - MOST_LATE} more"] if number > MOST_LATE else []
    return f"{_count(number, 'order')} late ({'; '.join([*named[:MOST_LATE], *more])})"


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _minutes(seconds: int) -> str:
    return f"{seconds / SECONDS_PER_MINUTE:.0f}"
