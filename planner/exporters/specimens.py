"""The specimens of a round as one flat table: a row a tube, for the laboratory's reception or a spreadsheet."""

from __future__ import annotations

from operator import itemgetter

from planner.domain.plan import Handover, Plan, Route, Visit
from planner.domain.problem import Problem
from planner.exporters.csv_text import csv_bytes
from planner.units import format_ml

COLUMNS = (
    "phlebotomist",
    "stop",
    "draw_at",
    "ward",
    "bed",
    "patient_number",
    "position",
    "tube",
    "size_ml",
    "tests",
    "order_numbers",
    "handling",
    "handed_over_at",
    "handed_over_to",
    "laboratory_by",
)


def specimens_csv(problem: Problem, plan: Plan) -> bytes:
    """Return the table as CSV (UTF-8 with a byte-order mark, so that spreadsheets read it), without any name.

    Rows are in order of draw time, then phlebotomist. Ward and bed are those of the patient now, wherever the draw
    was.
    """
    rows = [row for route in plan.routes for row in _rows(problem, route)]
    rows.sort(key=itemgetter(*(COLUMNS.index(name) for name in ("draw_at", "phlebotomist", "stop", "position"))))
    return csv_bytes([COLUMNS, *rows])


def _rows(problem: Problem, route: Route) -> list[tuple[str, ...]]:
    clock, name = problem.clock, problem.place_names
    rows: list[tuple[str, ...]] = []
    for number, stop in enumerate(route.stops, start=1):
        if not isinstance(stop, Visit):
            continue
        patient = problem.patients[stop.patient_id]
        for planned in stop.tubes:
            if planned.handover is None:
                continue
            taker = route.stops[planned.handover]
            assert isinstance(taker, Handover)
            tube = planned.tube
            rows.append(
                (
                    problem.staff[route.phlebotomist].initials,
                    f"{number:03d}",
                    clock.format_clock(stop.draw_s),
                    patient.ward,
                    name(patient.bed),
                    stop.patient_id,
                    f"{tube.draw_position:02d}",
                    problem.catalogue.tubes[tube.tube].name,
                    format_ml(tube.size_ul),
                    " ".join(tube.tests),
                    " ".join(tube.order_ids),
                    " ".join(sorted(code.value for code in tube.handling)),
                    clock.format_clock(taker.depart_s),
                    f"{taker.kind.value} {name(taker.place)}",
                    clock.format_clock(taker.lab_arrival_s),
                )
            )
    return rows
