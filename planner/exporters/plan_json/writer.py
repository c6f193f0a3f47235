"""Writes plan.json: everything needed to replan, print again and verify a round (described in FORMAT.md)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from planner import __version__
from planner.domain.draws import Needle
from planner.domain.plan import Break, Goal, Handover, Plan, PlannedTube, Route, Stop, Unplanned
from planner.domain.problem import Problem
from planner.domain.revisions.replan import AddOn
from planner.domain.revisions.stop_changes import StopChange, stop_changes
from planner.exporters.plan_json.codec import encode
from planner.exporters.plan_json.json_text import to_json_bytes
from planner.exporters.plan_json.plan_file import SCHEMA
from planner.exporters.plan_json.seal import SEAL, seal_of
from planner.findings import Finding
from planner.units import MICROLITRES_PER_ML


def plan_to_json(
    problem: Problem,
    plan: Plan,
    *,
    revision: int,
    parent: int | None,
    inputs_digest: str,
    params: Mapping[str, Any],
    findings: Iterable[Finding],
) -> bytes:
    """Return the bytes of plan.json; the same arguments give the same bytes.

    Parameters
    ----------
    problem, plan
        What was planned, and the plan. The problem is embedded whole: the laboratory's rows too, so that a stat
        order for any test can be replanned from this file alone.
    revision, parent
        Number of this revision, and of the one that it was replanned from; None: planned afresh.
    inputs_digest
        Digest of what was read, to tell whether the inputs changed since.
    params
        Options of the run (plain JSON values); written with sorted keys.
    findings
        What loading, planning and checking said.
    """
    document = {
        "schema": SCHEMA,
        "program_version": __version__,
        "revision": revision,
        "parent": parent,
        "inputs_digest": inputs_digest,
        "params": {key: params[key] for key in sorted(params)},
        "round": _round(problem),
        "goals": [_goal(goal) for goal in plan.goals],
        "routes": [_route(problem, route) for route in plan.routes],
        "unplanned": [_unplanned(item) for item in plan.unplanned],
        "preferences_missed": [{"order_number": o, "rule": rule} for o, rule in plan.preferences_missed],
        "addons": [_addon(problem, addon) for addon in problem.replan.addons] if problem.replan else [],
        "changes": [_change(problem, change) for change in stop_changes(problem, plan)],
        "findings": [_finding(finding) for finding in findings],
        "problem": encode(problem),
    }
    return to_json_bytes({**document, SEAL: seal_of(document)})


def _round(problem: Problem) -> dict[str, Any]:
    clock = problem.clock
    return {
        "name": problem.round_name,
        "date": clock.day.isoformat(),
        "time_zone": clock.zone_name,
        "wards": sorted({patient.ward for patient in problem.patients.values()}),
        "start": clock.iso(problem.start_s),
        "end": clock.iso(problem.end_s),
        "assumptions": list(problem.assumptions),
    }


def _goal(goal: Goal) -> dict[str, Any]:
    return {
        "name": goal.name,
        "unit": goal.unit,
        "value": goal.value,
        "bound": goal.bound,
        "proven": goal.is_proven,
        "parts": [
            {"name": part.name, "unit": part.unit, "value": part.value, "price": part.price} for part in goal.parts
        ],
    }


def _route(problem: Problem, route: Route) -> dict[str, Any]:
    person = problem.staff[route.phlebotomist]
    return {
        "phlebotomist": person.name,
        "initials": person.initials,
        "staff_index": route.phlebotomist,
        "stops": [_stop(problem, stop) for stop in route.stops],
    }


def _stop(problem: Problem, stop: Stop) -> dict[str, Any]:
    iso = problem.clock.iso
    times = {"arrive": iso(stop.arrive_s), "start": iso(stop.start_s)}
    if isinstance(stop, Break):
        return {"kind": "break", "place": stop.place, **times, "depart": iso(stop.depart_s)}
    if isinstance(stop, Handover):
        return {
            "kind": "handover",
            "place": stop.place,
            "pickup": stop.kind.value,
            **times,
            "depart": iso(stop.depart_s),
            "courier_departs": None if stop.departs_s is None else iso(stop.departs_s),
            "lab_arrival": iso(stop.lab_arrival_s),
        }
    return {
        "kind": "visit",
        "place": stop.place,
        "bed": problem.patients[stop.patient_id].bed,
        "patient_number": stop.patient_id,
        "draw_id": stop.draw_id,
        **times,
        "draw": iso(stop.draw_s),
        "depart": iso(stop.depart_s),
        "order_numbers": list(stop.order_ids),
        "outcome": None if stop.outcome is None else stop.outcome.value,
        "tried": list(stop.tried),
        "needle": _needle(stop.needle),
        "tubes": [_tube(planned) for planned in stop.tubes],
    }


def _needle(needle: Needle) -> dict[str, Any]:
    return {"gauge": needle.gauge, "device": needle.device.value, "reasons": list(needle.reasons)}


def _tube(planned: PlannedTube) -> dict[str, Any]:
    tube = planned.tube
    return {
        "tube": tube.tube,
        "size_ml": tube.size_ul / MICROLITRES_PER_ML,
        "draw_position": tube.draw_position,
        "tests": list(tube.tests),
        "order_numbers": list(tube.order_ids),
        "volume_ml": tube.volume_ul / MICROLITRES_PER_ML,
        "site": tube.site,
        "transport": tube.mode.value,
        "handling": sorted(h.value for h in tube.handling),
        "stability_s": tube.stability_s,
        "handover": planned.handover,
    }


def _unplanned(item: Unplanned) -> dict[str, Any]:
    return {
        "order_number": item.order_id,
        "reason": item.reason.value,
        "needs_decision": item.reason.needs_decision,
        "detail": item.detail,
        "patient_number": item.patient_id,
        "bed": item.bed,
        "test": item.test,
        "source": encode(item.source),
        "priority": None if item.priority is None else item.priority.value,
    }


def _addon(problem: Problem, addon: AddOn) -> dict[str, Any]:
    iso = problem.clock.iso
    return {
        "order_number": addon.order_id,
        "patient_number": addon.patient_id,
        "bed": addon.place,
        "test": addon.test,
        "tube": addon.tube,
        "draw_id": addon.draw_id,
        "draw_position": addon.draw_position,
        "drawn": iso(addon.drawn_s),
        "collector": addon.collector,
        "limit": None if addon.limit_s is None else iso(addon.limit_s),
    }


def _change(problem: Problem, change: StopChange) -> dict[str, Any]:
    iso, before, visit = problem.clock.iso, change.before, change.visit
    return {
        "kind": change.kind.value,
        "moves": [move.value for move in change.moves],
        "bed": change.place,
        "patient_number": change.patient_id,
        "was": None if before is None else {"staff_index": before.phlebotomist, "draw": iso(before.draw_s)},
        "now": None if visit is None else {"staff_index": change.phlebotomist, "draw": iso(visit.draw_s)},
        "new_orders": list(change.new_orders),
        "gone_orders": [
            {"order_number": o, "reason": next((u.reason.value for u in change.reasons if u.order_id == o), None)}
            for o in change.gone_orders
        ],
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code,
        "severity": finding.severity.value,
        "message": finding.message,
        "source": encode(finding.source),
        "order_numbers": list(finding.order_ids),
    }
