"""Writes a round as the tables that ``planner plan`` reads: a folder of CSV files and a policy.

Everything of a `Problem` can be said in tables, with these exceptions:

- ``Patient.has_difficult_veins`` is said by the alert ``DIFFICULT_VEINS``, which is then one of ``Patient.alerts``; the
  reader itself adds alerts for similar names;
- a draw made before the round is said by an order that is collected, which then stands in ``Problem.set_aside``;
- ``Place.label`` is what the table calls a place, so its id; ``Policy.round.day`` is always said, ``Order.source`` is
  where the order stands, and ``Problem.assumptions`` are what the reader assumes;
- the catalogue is the built-in one; of the policy quiet hours, need-by times, tray limit, day and zone are written;
- a round that has begun, a patient who has left and orders set aside cannot be written.

What cannot be said raises; tests/unit/test_round_tables.py reads the tables back and compares.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from planner.domain.orders import Order, Patient, TimeWindow
from planner.domain.policy import Policy
from planner.domain.problem import Problem
from planner.domain.staff import Phlebotomist
from planner.units import SECONDS_PER_DAY, RoundClock

DIFFICULT_VEINS = "difficult veins"


def write_tables(problem: Problem, folder: Path) -> int:
    """Write the tables of a round into an empty folder; return the number of rows of orders.

    Raises
    ------
    ValueError
        If the round holds what tables cannot say (see above).
    """
    if problem.replan or problem.set_aside or any(p.gone_s is not None for p in problem.patients.values()):
        raise ValueError("tables cannot say what happened in a round that has begun, nor which orders were set aside")
    folder.mkdir(parents=True, exist_ok=True)
    orders = [_order(order, problem.clock) for order in problem.orders] + _earlier(problem)
    tables = {
        "orders": orders,
        "patients": [_patient(patient, problem.clock) for patient in problem.patients.values()],
        "places": _places(problem),
        "corridors": _corridors(problem),
        "staff": [_person(person) for person in problem.staff],
        "pickups": _pickups(problem),
    }
    for name, rows in tables.items():
        _write(folder / f"{name}.csv", rows)
    (folder / "policy.toml").write_text(_policy(problem.policy, problem.clock), encoding="utf-8")
    return len(orders)


def _write(path: Path, rows: Sequence[Mapping[str, str]]) -> None:
    headings = list(dict.fromkeys(heading for row in rows for heading in row))
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, headings)
        writer.writeheader()
        writer.writerows(rows)


def _order(order: Order, clock: RoundClock) -> dict[str, str]:
    return {
        "order_number": order.id,
        "patient_number": order.patient_id,
        "test": order.test,
        "priority": order.priority.value,
        "collect_at": _instant(order.collect_at_s, clock),
        "collect_from": _instant(order.collect_from_s, clock),
        "collect_to": _instant(order.collect_to_s, clock),
        "fasting": "" if order.fasting is None else _yes_no(order.fasting),
        "last_dose_at": _instant(order.last_dose_s, clock),
        "next_dose_at": _instant(order.next_dose_s, clock),
        "infusion_end_at": _instant(order.infusion_end_s, clock),
        "series": order.series or "",
        "ordered_at": _instant(order.ordered_s, clock),
        "note": order.note,
    }


def _earlier(problem: Problem) -> list[dict[str, str]]:
    """Return a collected order for each draw made before the round."""
    return [
        {
            "order_number": f"earlier-{number}",
            "patient_number": draw.patient_id,
            "test": draw.test,
            "series": draw.series,
            "status": "collected",
            "drawn_at": _instant(draw.draw_s, problem.clock),
        }
        for number, draw in enumerate(problem.earlier_draws, start=1)
    ]


def _patient(patient: Patient, clock: RoundClock) -> dict[str, str]:
    alerts = [*patient.alerts, *([DIFFICULT_VEINS] if patient.has_difficult_veins else [])]
    return {
        "patient_number": patient.id,
        "family_name": patient.family_name,
        "given_name": patient.given_name,
        "birth_date": patient.birth_date.isoformat() if patient.birth_date else "",
        "sex": patient.sex,
        "ward": patient.ward,
        "bed": patient.bed,
        "weight_kg": _thousandth(patient.weight_g),
        "haemoglobin_g_l": "" if patient.haemoglobin_g_l is None else str(patient.haemoglobin_g_l),
        "precautions": _list(p.value for p in patient.precautions),
        "alerts": _list(dict.fromkeys(alerts)),
        "last_ate_at": _instant(patient.last_ate_s, clock),
        "next_meal_at": _instant(patient.next_meal_s, clock),
        "drawn_ml_24h": _thousandth(patient.drawn_24h_ul),
        "drawn_ml_30d": _thousandth(patient.drawn_30d_ul),
        "away": _list(_span(span) for span in patient.away),
        "needs": _list(sorted(patient.needs)),
    }


def _places(problem: Problem) -> list[dict[str, str]]:
    return [
        {
            "place": place.id,
            "ward": place.ward,
            "kind": place.kind.value,
            "x_m": "" if place.x_m is None else str(place.x_m),
            "y_m": "" if place.y_m is None else str(place.y_m),
            "order": "" if place.position is None else str(place.position),
        }
        for place in problem.places.values()
    ]


def _corridors(problem: Problem) -> list[dict[str, str]]:
    return [
        {
            "from": corridor.from_place,
            "to": corridor.to_place,
            "metres": "" if corridor.metres is None else str(corridor.metres),
            "seconds": "" if corridor.seconds is None else str(corridor.seconds),
            "one_way": _yes_no(corridor.is_one_way),
        }
        for corridor in problem.corridors
    ]


def _person(person: Phlebotomist) -> dict[str, str]:
    pause = "" if person.break_window is None else f"{_span(person.break_window)} {_minutes(person.break_s)} min"
    return {
        "name": person.name,
        "initials": person.initials,
        "from": _clock(person.from_s),
        "until": _clock(person.until_s),
        "starts_at": person.starts_at,
        "skills": _list(sorted(person.skills)),
        "wards": _list(sorted(person.wards)),
        "prefers": _list(sorted(person.prefers)),
        "break": pause,
    }


def _pickups(problem: Problem) -> list[dict[str, str]]:
    return [
        {
            "place": pickup.place,
            "kind": pickup.kind.value,
            "departs": _list(_clock(departs_s) for departs_s in pickup.departures_s),
            "transit_minutes": _minutes(pickup.transit_s),
        }
        for pickup in problem.pickups
    ]


def _policy(policy: Policy, clock: RoundClock) -> str:
    told = policy.round
    said = replace(
        Policy(),
        time_zone=policy.time_zone,
        round=replace(Policy().round, day=told.day, quiet_hours=told.quiet_hours, needed_by_s=told.needed_by_s),
        handover=replace(Policy().handover, tray_limit=policy.handover.tray_limit),
    )
    if policy != said or policy.time_zone != clock.zone_name or told.day not in (None, clock.day):
        raise ValueError("the policy differs from the default in what is not written here")
    lines = [f'time_zone = "{clock.zone_name}"', "", "[round]", f"day = {clock.day.isoformat()}"]
    lines += [f"needed_by = {_table({w: _quoted(_hhmm(s)) for w, s in told.needed_by_s.items()})}"]
    lines += [f"quiet_hours = {_table({w: _quiet(spans) for w, spans in told.quiet_hours.items()})}"]
    if policy.handover.tray_limit is not None:
        lines += ["", "[handover]", f"tray_limit = {policy.handover.tray_limit}"]
    return "\n".join(lines) + "\n"


def _quiet(spans: Sequence[TimeWindow]) -> str:
    """Return the daily spans of which the policy holds those of the day before, of the day and of the day after."""
    today = [span for span in spans if 0 <= span.earliest_s < SECONDS_PER_DAY]
    return "[" + ", ".join(_quoted(f"{_hhmm(s.earliest_s)}-{_hhmm(s.latest_s % SECONDS_PER_DAY)}") for s in today) + "]"


def _table(cells: Mapping[str, str]) -> str:
    return "{ " + ", ".join(f"{_quoted(name)} = {cell}" for name, cell in cells.items()) + " }"


def _quoted(text: str) -> str:
    return f'"{text}"'


def _hhmm(seconds: int) -> str:
    if seconds % 60:
        raise ValueError(f"a policy tells whole minutes, not {seconds} s")
    return _clock(seconds)[:5]


def _clock(seconds: int) -> str:
    if not 0 <= seconds < SECONDS_PER_DAY:
        raise ValueError(f"a clock time of the round's day was expected, not {seconds} s")
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"


def _instant(seconds: int | None, clock: RoundClock) -> str:
    return "" if seconds is None else clock.to_local(seconds).strftime("%Y-%m-%d %H:%M:%S")


def _span(span: TimeWindow) -> str:
    return f"{_clock(span.earliest_s)}-{_clock(span.latest_s)}"


def _minutes(seconds: int) -> str:
    if seconds % 60:
        raise ValueError(f"whole minutes were expected, not {seconds} s")
    return str(seconds // 60)


def _thousandth(number: int | None) -> str:
    return "" if number is None else f"{number / 1000:g}"


def _yes_no(value: bool) -> str:
    return "yes" if value else "no"


def _list(parts: Iterable[str]) -> str:
    texts = list(parts)
    if any(set(text) & set(";,\n") for text in texts):
        raise ValueError("a part of a list holds a separator")
    return "; ".join(texts)
