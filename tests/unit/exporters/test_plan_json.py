"""plan.json follows its schema, reads back exactly, is the same each time, and says when it is damaged."""

from __future__ import annotations

import json
from dataclasses import replace
from importlib.resources import files
from typing import Any

import jsonschema
import pytest

from planner.domain.orders import TimeWindow
from planner.domain.places import PlaceId
from planner.domain.plan import Break, Handover, Plan, Visit
from planner.domain.policy import Policy, RoundPolicy
from planner.domain.price_policy import PricePolicy
from planner.domain.problem import Problem
from planner.errors import PlanFileError
from planner.exporters.plan_json import SCHEMA, plan_from_json, plan_to_json
from planner.exporters.plan_json.seal import seal_of
from planner.findings import Finding, Severity, Source
from planner.units import RoundClock
from tests.builders import DAY, clock, make_problem
from tests.unit.exporters.replanned import make_replanned
from tests.unit.exporters.rounds import make_round

FINDINGS = (
    Finding(
        code="preference-missed",
        severity=Severity.WARNING,
        message="bed 101: preferred fasting is not met",
        source=Source(file="orders.csv", row=7, column="fasting"),
        order_ids=("000003",),
    ),
)


def write(problem: Problem, plan: Plan, **changes: Any) -> bytes:
    fields: dict[str, Any] = {
        "revision": 2,
        "parent": 1,
        "inputs_digest": "sha256:0",
        "params": {"seed": 1, "effort": "normal"},
        "findings": FINDINGS,
    } | changes
    return plan_to_json(problem, plan, **fields)


def schema_of_plans() -> dict[str, Any]:
    schema: dict[str, Any] = json.loads(
        (files("planner") / "exporters" / "plan_json" / "plan.schema.json").read_text(encoding="utf-8")
    )
    return schema


@pytest.fixture(scope="module")
def round_and_plan() -> tuple[Problem, Plan]:
    """A round of 16 visits, one of its routes with a break, one more route empty."""
    problem, plan, _ = make_round()
    first = plan.routes[0]
    last = first.stops[-1]
    pause = Break(place=last.place, arrive_s=last.depart_s, start_s=last.depart_s, depart_s=last.depart_s + 900)
    routes = (replace(first, stops=(*first.stops, pause)), *plan.routes[1:])
    missed = ((problem.orders[0].id, "fasting"),)
    return problem, replace(plan, routes=routes, preferences_missed=missed)


@pytest.mark.slow
def test_it_follows_the_schema(round_and_plan: tuple[Problem, Plan]) -> None:
    schema = schema_of_plans()
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    data = json.loads(write(*round_and_plan))
    assert [e.message for e in validator.iter_errors(data)] == []
    assert data["schema"] == SCHEMA == schema["properties"]["schema"]["const"]
    kinds = {stop["kind"] for route in data["routes"] for stop in route["stops"]}
    assert kinds == {"visit", "handover", "break"}
    del data["routes"][0]["stops"][0]["tubes"][0]["volume_ml"]
    assert not validator.is_valid(data)


@pytest.mark.slow
def test_everything_reads_back_as_it_was(round_and_plan: tuple[Problem, Plan]) -> None:
    problem, plan = round_and_plan
    read = plan_from_json(write(problem, plan))
    assert read.problem == problem
    assert read.plan == plan
    assert read.findings == FINDINGS
    assert (read.revision, read.parent, read.inputs_digest) == (2, 1, "sha256:0")
    assert dict(read.params) == {"seed": 1, "effort": "normal"}


@pytest.mark.slow
def test_a_replanned_round_reads_back_and_shows_add_ons_and_changes() -> None:
    problem, plan, _ = make_replanned()
    data = write(problem, plan)
    read = plan_from_json(data)
    assert (read.problem, read.plan) == (problem, plan)
    assert read.problem.replan is not None
    assert {type(s) for past in read.problem.replan.past for s in past.stops} == {Visit, Handover}
    written = json.loads(data)
    assert list(jsonschema.Draft202012Validator(schema_of_plans()).iter_errors(written)) == []
    (addon,) = written["addons"]
    # Drawn at the first bed: 05:00 and 10 s of walking, 135 s until the first tube; it may wait for two hours.
    assert (addon["bed"], addon["drawn"], addon["limit"]) == (
        "101",
        "2026-03-10T05:02:25+00:00",
        "2026-03-10T07:02:25+00:00",
    )
    assert [(c["kind"], c["moves"], c["bed"]) for c in written["changes"]] == [
        ("added", [], "108"),
        ("moved", ["time"], "107A"),
        ("moved", ["person", "time"], "114"),
        ("orders", [], "115"),
        ("dropped", [], "107B"),
    ]
    assert {g["reason"] for g in written["changes"][-1]["gone_orders"]} == {"cancelled"}
    stops = [stop for route in written["routes"] for stop in route["stops"] if stop["kind"] == "visit"]
    assert {stop["outcome"] for stop in stops} == {"collected", None}


@pytest.mark.slow
def test_a_plan_of_before_replanning_reads_as_all_to_come(round_and_plan: tuple[Problem, Plan]) -> None:
    problem, plan = round_and_plan
    old = json.loads(write(problem, plan))
    del old["changes"]
    for route in old["routes"]:
        for stop in route["stops"]:
            stop.pop("outcome", None)
            stop.pop("tried", None)
    assert plan_from_json(json.dumps(old).encode()).plan == plan


@pytest.mark.slow
def test_fields_that_are_no_more_are_passed_over_in_older_files(round_and_plan: tuple[Problem, Plan]) -> None:
    # Until then the policy said of all transfusion tests what each test's row says now; pink is safe either way.
    problem, plan = round_and_plan
    old = json.loads(write(problem, plan))
    old["problem"]["policy"]["tubes"]["transfusion_first_choice"] = False
    old["problem"]["policy"]["windows"]["shared_window_s"] = 600  # visits are shared whenever one moment serves all
    assert plan_from_json(json.dumps(old).encode()).problem == problem


@pytest.mark.slow
def test_file_of_schema_2_is_read_without_its_goals_and_with_the_price_of_a_moved_stop(
    round_and_plan: tuple[Problem, Plan],
) -> None:
    # Nine goals were compared one by one; the price of a moved stop stood with the other keys of replanning.
    problem, plan = round_and_plan
    old = json.loads(write(problem, plan))
    old["schema"] = "collection-round-plan/2"
    old["goals"] = [{"name": "uncollected", "unit": "weight", "value": 0, "bound": 0, "proven": True}]
    del old["problem"]["policy"]["prices"]
    old["problem"]["policy"]["replan"]["moved_stop_price_s"] = 77
    old["seal"] = seal_of(old)
    read = plan_from_json(json.dumps(old).encode())
    assert (read.plan, read.has_goals, read.is_edited) == (replace(plan, goals=()), False, False)
    assert read.problem.policy.prices == PricePolicy(moved_stop_s=77)
    assert read.problem == replace(problem, policy=replace(problem.policy, prices=PricePolicy(moved_stop_s=77)))
    assert plan_from_json(write(problem, plan)).has_goals


def test_policy_and_windows_of_a_changed_round_read_back() -> None:
    quiet = RoundPolicy(quiet_hours={"*": (TimeWindow(earliest_s=clock("05:00"), latest_s=clock("05:30")),)})
    problem = replace(make_problem(), policy=Policy(time_zone="Europe/Berlin", round=quiet))
    read = plan_from_json(write(problem, Plan(routes=(), unplanned=(), goals=()), parent=None))
    assert read.problem.policy == problem.policy
    assert read.problem.policy.service.gown_s == problem.policy.service.gown_s
    assert read.problem == problem


def test_times_carry_the_offset_of_the_zone_and_survive_a_change_of_the_clocks() -> None:
    # Berlin, 29 March 2026: at 02:00 the clocks go to 03:00, so 05:00 on the wall is 4 elapsed hours.
    problem, plan, _ = make_round(2, 1)
    problem = replace(problem, clock=RoundClock(DAY.replace(day=29), "Europe/Berlin"))
    data = write(problem, plan)
    first = json.loads(data)["routes"][0]["stops"][0]
    assert first["start"] == problem.clock.iso(plan.routes[0].stops[0].start_s)
    assert first["start"].endswith("+02:00")
    assert plan_from_json(data).plan == plan


@pytest.mark.slow
def test_volumes_are_millilitres(round_and_plan: tuple[Problem, Plan]) -> None:
    problem, plan = round_and_plan
    tube = plan.routes[0].visits[1].tubes[0].tube
    written = json.loads(write(problem, plan))["routes"][0]["stops"][1]["tubes"][0]
    assert (tube.size_ul, written["size_ml"]) == (2700, 2.7)


def test_the_same_plan_gives_the_same_bytes_and_text_that_people_can_read(
    round_and_plan: tuple[Problem, Plan],
) -> None:
    problem, plan = round_and_plan
    data = write(problem, plan)
    shuffled = replace(problem, patients=dict(reversed(problem.patients.items())))
    assert write(shuffled, plan, params={"effort": "normal", "seed": 1}) == data
    assert data.endswith(b"}\n")
    assert "王" in data.decode("utf-8")
    assert b"\\u" not in data.replace(b"\\u0007", b"")


def test_an_empty_plan_reads_back(four_bed_round: Problem) -> None:
    plan = Plan(routes=(), unplanned=(), goals=())
    assert plan_from_json(write(four_bed_round, plan)).plan == plan


@pytest.mark.slow
@pytest.mark.parametrize(
    ("damage", "message"),
    [
        (lambda data: data[: len(data) // 2], "damaged"),
        (lambda data: b"\xff\xfe" + data, "not UTF-8"),
        (lambda data: b"[]", "not a plan"),
        (lambda data: b"", "damaged"),
        (lambda data: data.replace(b'plan/3"', b'plan/4"'), "follows schema.*plan the round again"),
        (lambda data: data.replace(b'"routes"', b'"roads"'), "'routes' is missing"),
        (lambda data: data.replace(b'"revision": 2', b'"revision": true'), "whole number"),
        (lambda data: data.replace(b'"revision": 2', b'"revision": NaN'), "not a number"),
        (lambda data: data.replace(b'"revision": 2', b'"revision": 2, "revision": 3'), "key twice"),
        (lambda data: data.replace(b'"kind": "handover"', b'"kind": "holiday"'), "neither visit"),
        (lambda data: data.replace(b'"outcome": null', b'"outcome": "gone"'), "wrong form"),
        (lambda data: data.replace(b'"transport": "room"', b'"transport": "sea"'), "wrong form"),
        (lambda data: data.replace(b'"staff_index": 0', b'"staff_index": 9'), "nobody has number 9"),
        (lambda data: data.replace(b'"handover": 5', b'"handover": 500'), "a stop that is not there"),
        (lambda data: data.replace(b'"priority": "stat"', b'"priority": "soon"'), "not a value of Priority"),
        (lambda data: data.replace(b'"preference-missed"', b'"no-such-code"'), "code that this version does not know"),
    ],
)
def test_damage_is_said_clearly(round_and_plan: tuple[Problem, Plan], damage: Any, message: str) -> None:
    data = write(*round_and_plan)
    spoiled = damage(data)
    assert spoiled != data
    with pytest.raises(PlanFileError, match=message):
        plan_from_json(spoiled)


@pytest.mark.slow
def test_a_damaged_file_names_no_patient(round_and_plan: tuple[Problem, Plan]) -> None:
    data = write(*round_and_plan).replace(b'"2019-02-01"', b'"Okonkwo"')
    with pytest.raises(PlanFileError) as caught:
        plan_from_json(data)
    assert "Okonkwo" not in str(caught.value)
    assert "birth_date" in str(caught.value)


@pytest.mark.slow
def test_a_visit_to_nobody_is_refused(round_and_plan: tuple[Problem, Plan]) -> None:
    problem, plan = round_and_plan
    assert PlaceId("101") in problem.places
    data = write(problem, plan).replace(b'"patient_number": "000001"', b'"patient_number": "9"')
    with pytest.raises(PlanFileError, match="a patient who is not in the problem"):
        plan_from_json(data)
