"""Reads plan.json back, exactly as it was written, or says clearly why it cannot."""

from __future__ import annotations

from typing import Any

from planner.domain.catalogue import Handling, TestCode, TransportMode, TubeCode
from planner.domain.draws import Device, DrawId, Needle, Tube
from planner.domain.orders import OrderId, PatientId, Priority
from planner.domain.places import PickupKind, PlaceId
from planner.domain.plan import (
    Break,
    Goal,
    GoalPart,
    Handover,
    Outcome,
    Plan,
    PlannedTube,
    Reason,
    Route,
    Stop,
    Unplanned,
    Visit,
)
from planner.domain.problem import Problem
from planner.errors import PlanFileError
from planner.exporters.plan_json.codec import CodecError, decode
from planner.exporters.plan_json.json_text import from_json_bytes
from planner.exporters.plan_json.plan_file import SCHEMA, SCHEMA_1, SCHEMA_2, PlanFile
from planner.exporters.plan_json.seal import SEAL, seal_of
from planner.finding_codes import CODES
from planner.findings import Finding, Severity, Source
from planner.units import RoundClock, ml_to_ul


def plan_from_json(data: bytes, name: str = "plan.json") -> PlanFile:
    """Return what a plan.json holds.

    Parameters
    ----------
    data
        The bytes of the file.
    name
        What messages call it.

    Raises
    ------
    PlanFileError
        If the file is damaged, or of another version.
    """
    top = from_json_bytes(data, name)
    if not isinstance(top, dict) or "schema" not in top:
        raise PlanFileError(f"{name} is not a plan: it does not say which schema it follows")
    if top["schema"] not in (SCHEMA, SCHEMA_1, SCHEMA_2):
        raise PlanFileError(
            f"{name} follows schema {top['schema']!r}, this version reads {SCHEMA!r}; "
            "plan the round again, or use the version that wrote it"
        )
    try:
        return _plan_file(top)
    except CodecError as error:
        raise PlanFileError(f"{name} is damaged: {error}") from error
    except KeyError as error:
        raise PlanFileError(f"{name} is damaged: {error.args[0]!r} is missing") from error
    except (TypeError, ValueError, IndexError, AttributeError) as error:
        raise PlanFileError(f"{name} is damaged: a value has the wrong form ({type(error).__name__})") from error


def _with_notes(problem: Any) -> Any:
    """Return the problem of a file of schema 1 as this version has it: the sentences on what was given are notes."""
    if not isinstance(problem, dict) or not isinstance(problem.get("replan"), dict):
        return problem
    replan = dict(problem["replan"])
    given, known = replan.pop("given", []), replan.pop("known", [])
    notes = list(dict.fromkeys([*known, *given]))
    return {**problem, "replan": {**replan, "notes": notes} if notes else replan}


def _with_prices(problem: Any) -> Any:
    """Return the problem of a file before schema 3: the price of a moved stop stands with the other prices."""
    if not isinstance(problem, dict) or not isinstance(policy := problem.get("policy"), dict):
        return problem
    if not isinstance(replan := policy.get("replan"), dict) or "moved_stop_price_s" not in replan:
        return problem
    others = {name: value for name, value in replan.items() if name != "moved_stop_price_s"}
    prices = {"moved_stop_s": replan["moved_stop_price_s"]}
    return {**problem, "policy": {**policy, "replan": others, "prices": prices}}


def _goal(data: dict[str, Any]) -> Goal:
    return Goal(
        name=str(data["name"]),
        unit=str(data["unit"]),
        value=_int(data["value"]),
        bound=_int(data["bound"]),
        parts=tuple(
            GoalPart(name=str(p["name"]), unit=str(p["unit"]), value=_int(p["value"]), price=_int(p["price"]))
            for p in data["parts"]
        ),
    )


def _plan_file(top: dict[str, Any]) -> PlanFile:
    is_old, has_goals = top["schema"] == SCHEMA_1, top["schema"] == SCHEMA
    is_edited = not is_old and top.get(SEAL) != seal_of(top)
    if is_old:
        top = {**top, "problem": _with_notes(top["problem"])}
    problem = decode(Problem, top["problem"] if has_goals else _with_prices(top["problem"]))
    clock = problem.clock
    plan = Plan(
        routes=tuple(_route(clock, route) for route in top["routes"]),
        unplanned=tuple(_unplanned(item) for item in top["unplanned"]),
        goals=tuple(_goal(goal) for goal in top["goals"]) if has_goals else (),
        preferences_missed=tuple((OrderId(m["order_number"]), str(m["rule"])) for m in top["preferences_missed"]),
    )
    _check_references(problem, plan)
    revision, parent = _int(top["revision"]), None if top["parent"] is None else _int(top["parent"])
    if parent is not None and parent >= revision:
        raise CodecError(f"revision {revision} says that it goes on from revision {parent}")
    return PlanFile(
        program_version=str(top["program_version"]),
        revision=revision,
        parent=parent,
        inputs_digest=str(top["inputs_digest"]),
        params=dict(top["params"]),
        problem=problem,
        plan=plan,
        findings=tuple(_finding(item) for item in top["findings"]),
        is_edited=is_edited,
        has_goals=has_goals,
    )


def _check_references(problem: Problem, plan: Plan) -> None:
    """Refuse a plan that names people, patients or hand-overs that are not there; the checker judges the rest."""
    known = problem.catalogue.tubes.keys()
    for code, test in problem.catalogue.tests.items():
        if any(kind not in known for kinds in test.accepts for kind in kinds):
            raise CodecError(f"problem.catalogue: test {code} names a tube that is not there")
    for route in plan.routes:
        if not 0 <= route.phlebotomist < len(problem.staff):
            raise CodecError(f"routes: nobody has number {route.phlebotomist} in the staff")
        for visit in route.visits:
            if visit.patient_id not in problem.patients:
                raise CodecError("routes: a visit to a patient who is not in the problem")
            for planned in visit.tubes:
                if planned.handover is not None and not 0 <= planned.handover < len(route.stops):
                    raise CodecError("routes: a tube is handed over at a stop that is not there")


def _route(clock: RoundClock, data: dict[str, Any]) -> Route:
    return Route(phlebotomist=_int(data["staff_index"]), stops=tuple(_stop(clock, stop) for stop in data["stops"]))


def _stop(clock: RoundClock, data: dict[str, Any]) -> Stop:
    place = PlaceId(data["place"])
    arrive_s, start_s, depart_s = (clock.from_iso(data[key]) for key in ("arrive", "start", "depart"))
    if data["kind"] == "break":
        return Break(place=place, arrive_s=arrive_s, start_s=start_s, depart_s=depart_s)
    if data["kind"] == "handover":
        departs = data["courier_departs"]
        return Handover(
            place=place,
            kind=PickupKind(data["pickup"]),
            arrive_s=arrive_s,
            start_s=start_s,
            depart_s=depart_s,
            departs_s=None if departs is None else clock.from_iso(departs),
            lab_arrival_s=clock.from_iso(data["lab_arrival"]),
        )
    if data["kind"] != "visit":
        raise CodecError("a stop is neither visit, handover nor break")
    needle = data["needle"]
    return Visit(
        draw_id=DrawId(data["draw_id"]),
        patient_id=PatientId(data["patient_number"]),
        place=place,
        order_ids=tuple(OrderId(o) for o in data["order_numbers"]),
        arrive_s=arrive_s,
        start_s=start_s,
        draw_s=clock.from_iso(data["draw"]),
        depart_s=depart_s,
        tubes=tuple(_tube(tube) for tube in data["tubes"]),
        needle=Needle(
            gauge=None if needle["gauge"] is None else _int(needle["gauge"]),
            device=Device(needle["device"]),
            reasons=tuple(needle["reasons"]),
        ),
        outcome=None if data.get("outcome") is None else Outcome(data["outcome"]),
        tried=tuple(OrderId(o) for o in data.get("tried", ())),
    )


def _tube(data: dict[str, Any]) -> PlannedTube:
    tube = Tube(
        tube=TubeCode(data["tube"]),
        size_ul=ml_to_ul(data["size_ml"]),
        volume_ul=ml_to_ul(data["volume_ml"]),
        draw_position=_int(data["draw_position"]),
        tests=tuple(TestCode(t) for t in data["tests"]),
        order_ids=tuple(OrderId(o) for o in data["order_numbers"]),
        mode=TransportMode(data["transport"]),
        handling=frozenset(Handling(h) for h in data["handling"]),
        stability_s=None if data["stability_s"] is None else _int(data["stability_s"]),
        site=_int(data["site"]),
    )
    return PlannedTube(tube=tube, handover=None if data["handover"] is None else _int(data["handover"]))


def _unplanned(data: dict[str, Any]) -> Unplanned:
    return Unplanned(
        order_id=OrderId(data["order_number"]),
        reason=Reason(data["reason"]),
        detail=data["detail"],
        patient_id=None if data["patient_number"] is None else PatientId(data["patient_number"]),
        bed=data["bed"],
        test=data["test"],
        source=_source(data["source"]),
        priority=None if data.get("priority") is None else Priority(data["priority"]),
    )


def _finding(data: dict[str, Any]) -> Finding:
    if data["code"] not in CODES:
        raise CodecError("findings: a code that this version does not know")
    return Finding(
        code=data["code"],
        severity=Severity(data["severity"]),
        message=data["message"],
        source=_source(data["source"]),
        order_ids=tuple(data["order_numbers"]),
    )


def _source(data: object) -> Source | None:
    return None if data is None else decode(Source, data)


def _int(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise CodecError("a whole number expected")
    return value
