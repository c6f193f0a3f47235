"""The what-if card: which lines a route has, what is worked out for them, and a site's own words."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

import planner
from planner.domain.catalogue import Handling
from planner.domain.orders import Priority
from planner.domain.places import Pickup, PickupKind
from planner.domain.plan import Handover, Plan, PlannedTube, Route, Visit
from planner.domain.policy import SheetPolicy
from planner.domain.problem import Problem
from planner.domain.what_if import WhatIf
from planner.exporters.view.build import build_view
from planner.exporters.view.context import ViewContext
from planner.exporters.view.handovers import fallback_words, other_way
from planner.exporters.view.round_view import RouteView
from planner.exporters.view.rows import WhatIfLine
from planner.exporters.view.slack import RouteSlack
from planner.exporters.view.texts import TextCleaner
from planner.exporters.view.what_if import what_if_lines
from planner.loaders.policy.load import load_policy
from planner.visits import order_windows
from tests.three_wards import HERON, KITE, Tables, five_ward_tables, load_tables, plan_quickly, three_ward_tables
from tests.unit.exporters.rounds import TYPICAL, make_round

pytestmark = pytest.mark.slow

ALDER = Path(__file__).parents[3] / "outputs" / "alder-ward"


def cards(problem: Problem, plan: Plan) -> list[tuple[RouteView, Mapping[WhatIf, WhatIfLine]]]:
    windows, _ = order_windows(problem)
    view = build_view(problem, plan, windows, revision=1)
    return [(route, {line.event: line for line in route.what_if}) for route in view.routes]


def of_tables(tables: Tables, folder: Path) -> list[tuple[RouteView, Mapping[WhatIf, WhatIfLine]]]:
    problem = load_tables(tables, folder / "round")
    return cards(problem, plan_quickly(problem).plan)


def test_lines_that_cannot_occur_are_left_out(tmp_path: Path) -> None:
    tables = three_ward_tables()
    tables["pickups"] = [row for row in tables["pickups"] if row["kind"] != "tube"]
    for route, card in of_tables(tables, tmp_path):
        if not route.stops:
            assert not card, "who has no stops has no card"
            continue
        assert WhatIf.TUBE_DOWN not in card
        assert (WhatIf.COURIER_MISSED in card) == any("Courier" in getattr(s, "what", "") for s in route.stops)
        said = " ".join(question for visit in route.visits for question in visit.ask)
        asks = any(words in said for words in ("Only water since", "NOT FASTING", "fed or fasting"))
        assert (WhatIf.PATIENT_ATE in card) == asks
        assert {WhatIf.REFUSED, WhatIf.CANNOT_IDENTIFY, WhatIf.NEEDLESTICK, WhatIf.RUNNING_LATE} <= set(card)


def test_tube_station_down_names_for_each_stop_where_to_go() -> None:
    problem, plan, _ = make_round(10, 1, TYPICAL)
    [(_, card)] = cards(problem, plan)
    # Stop 6 sends by tube before 06:15: the courier of 06:15 at the shelf is the only other way.
    assert card[WhatIf.TUBE_DOWN].do == (
        "Leave nothing at the station. Stop 6: 1 min to Nurses' station, courier 06:15; "
        "TOO LATE for bed 101 (in the lab by 06:02): phone the lead first."
    )


@pytest.mark.parametrize("is_by_hand", [False, True])
def test_courier_missed_never_sends_by_tube_what_goes_by_hand(is_by_hand: bool) -> None:
    """What goes by hand waits for the next courier; the station near by takes the rest."""
    problem, plan, _ = make_round(10, 1, TYPICAL)
    [route] = plan.routes
    stops = []
    for stop in route.stops:
        if isinstance(stop, Visit) and is_by_hand:
            tubes = (replace(p.tube, handling=p.tube.handling | {Handling.HAND_DELIVER}) for p in stop.tubes)
            stop = replace(stop, tubes=tuple(replace(p, tube=t) for p, t in zip(stop.tubes, tubes, strict=True)))
        stops.append(stop)
    [(_, card)] = cards(problem, replace(plan, routes=(replace(route, stops=tuple(stops)),)))
    said = card[WhatIf.COURIER_MISSED].do
    assert ("Stop 12: Nurses' station, courier 07:15" in said) == is_by_hand
    assert ("Stop 12: 1 min to Tube station, clean utility" in said) == (not is_by_hand)


@pytest.fixture(scope="module", params=["one ward", "five wards"])
def rounds(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Problem, Plan]:
    if request.param == "one ward":
        written = planner.read(ALDER)
        return written.problem, written.plan
    problem = load_tables(five_ward_tables(), tmp_path_factory.mktemp("ways") / "round")
    return problem, plan_quickly(problem).plan


def in_lab_by(problem: Problem, stop: Handover, pickup: Pickup) -> int | None:
    """Return when what a stop cannot give away is in the laboratory by another way; None: not that way."""
    is_same = pickup.place == stop.place
    if is_same and pickup.kind is not PickupKind.COURIER:
        return None
    ready_s = stop.start_s if stop.departs_s is None else stop.departs_s + 1  # the courier is gone at its time
    there_s = ready_s + (0 if is_same else problem.walking.between(stop.place, pickup.place))
    if pickup.kind is not PickupKind.COURIER:
        return there_s + pickup.transit_s
    return next((leaves_s + pickup.transit_s for leaves_s in pickup.departures_s if leaves_s >= there_s), None)


def given_at(route: Route, index: int) -> list[tuple[Visit, PlannedTube]]:
    return [(visit, p) for visit in route.visits for p in visit.tubes if p.handover == index]


def named_in_lab(context: ViewContext, stop: Handover, words: str) -> int | None:
    """Return when the way that words name is in the laboratory."""
    for pickup in context.problem.pickups:
        if re.match(rf"(\d+ min to )?{re.escape(context.place(pickup.place))}", words):
            return in_lab_by(context.problem, stop, pickup)
    return None


def test_no_way_named_is_past_a_limit_unless_it_says_too_late(rounds: tuple[Problem, Plan]) -> None:
    """Stability limits are the catalogue's; times of ways are worked out here from the tables."""
    problem, plan = rounds
    context = ViewContext(problem, plan, order_windows(problem)[0], TextCleaner())
    said = set()
    for route in plan.routes:
        card = {line.event: line.do for line in what_if_lines(context, route, RouteSlack(context, route))}
        for index, stop in enumerate(route.stops):
            if not isinstance(stop, Handover) or not (words := other_way(context, route, index)):
                continue
            tubes = given_at(route, index)
            limits = [v.draw_s + p.tube.stability_s for v, p in tubes if p.tube.stability_s is not None]
            in_lab_s = named_in_lab(context, stop, words)
            assert in_lab_s is not None
            is_late = bool(limits) and in_lab_s > min(limits)
            assert ("TOO LATE for bed" in words) == is_late, (index, words)
            if is_late:
                assert words.endswith(f"(in the lab by {context.clock(min(limits))}): phone the lead first")
            event = WhatIf.TUBE_DOWN if stop.kind is PickupKind.TUBE else WhatIf.COURIER_MISSED
            assert words in card[event]
            assert words in fallback_words(context, route, index) or stop.kind is not PickupKind.TUBE
            said.add(is_late)
    assert said == {True, False}, "the round has both"


def test_what_is_urgent_goes_the_soonest_way(rounds: tuple[Problem, Plan]) -> None:
    problem, plan = rounds
    context = ViewContext(problem, plan, order_windows(problem)[0], TextCleaner())
    number = 0
    for route in plan.routes:
        for index, stop in enumerate(route.stops):
            if not isinstance(stop, Handover) or not (words := other_way(context, route, index)):
                continue
            tubes = given_at(route, index)
            if all(problem.order(i).priority is Priority.ROUTINE for _, p in tubes for i in p.tube.order_ids):
                continue
            is_by_hand = any(p.tube.by_hand for _, p in tubes)
            open_s = [
                in_lab_s
                for pickup in problem.pickups
                if not (is_by_hand and pickup.kind is PickupKind.TUBE)
                and (in_lab_s := in_lab_by(problem, stop, pickup)) is not None
            ]
            assert named_in_lab(context, stop, words) == min(open_s), words
            number += 1
    assert number, "the round has something urgent"


def test_a_stat_does_not_wait_for_the_nearer_courier(tmp_path: Path) -> None:
    """The shelf is nearer than the other station, its courier leaves much later: a stat walks on, routine waits."""
    tables = three_ward_tables()
    for priority in ("stat", "asap", "urgent", "routine"):
        for order in tables["orders"]:
            order["priority"] = priority
        problem = load_tables(tables, tmp_path / priority)
        plan = plan_quickly(problem).plan
        context = ViewContext(problem, plan, order_windows(problem)[0], TextCleaner())
        chosen = []
        for route in plan.routes:
            for index, stop in enumerate(route.stops):
                if isinstance(stop, Handover) and stop.kind is PickupKind.TUBE:
                    words = other_way(context, route, index)
                    ways = [in_lab_by(problem, stop, pickup) for pickup in problem.pickups]
                    soonest_s = min(in_lab_s for in_lab_s in ways if in_lab_s is not None)
                    if not any(p.tube.by_hand for _, p in given_at(route, index)):
                        chosen.append(named_in_lab(context, stop, words) == soonest_s)
        assert chosen
        assert all(chosen) == (priority != "routine"), priority


def test_underfilled_names_the_tubes_that_must_be_full() -> None:
    problem, plan, _ = make_round(2, 1, (("PT", "CBC"), ("CBC",)))
    [(_, card)] = cards(problem, plan)
    assert card[WhatIf.UNDERFILLED].do == (
        "Only full: Citrate tube, light blue (PT): fill a new one. Any other: send it as it is. "
        "Never pour from tube to tube."
    )
    problem, plan, _ = make_round(2, 1, (("CBC",), ("CBC",)))
    [(_, card)] = cards(problem, plan)
    assert card[WhatIf.UNDERFILLED].do == "Send it as it is. Never pour from tube to tube."
    children = {i: replace(p, birth_date=date(2021, 5, 4), weight_g=18_000) for i, p in problem.patients.items()}
    problem, plan, _ = make_round(2, 1, (("PT", "CBC"), ("CBC",)))
    [(_, card)] = cards(replace(problem, patients=children), plan)
    assert "fill a new one, but never past MAX on the card." in card[WhatIf.UNDERFILLED].do


@pytest.mark.parametrize(
    ("names", "is_alike"),
    [
        (("Nowak", "NOWAK"), True),
        (("Müller", "Muller"), True),  # the mark above a letter is lost on a wristband
        (("Olssen", "Olsson"), True),
        (("Johnson", "Johnsson"), True),
        (("Wei", "Wen"), False),  # of three letters one more or less is another name
        (("Ferri", "Papadaki"), False),
        (("", ""), False),
    ],
)
def test_like_names_are_named_with_bed_and_birth_date(tmp_path: Path, names: tuple[str, str], is_alike: bool) -> None:
    tables = five_ward_tables()
    tables["patients"] = [
        row | {"family_name": f"Name{'abcdefghijklmnopqrstuv'[n] * 7}"} for n, row in enumerate(tables["patients"])
    ]
    tables["staff"] = tables["staff"][:1]
    one, other = (next(p for p in tables["patients"] if (p["ward"], p["bed"]) == (w, "1A")) for w in (HERON, KITE))
    one["family_name"], other["family_name"] = names
    [(_, card)] = of_tables(tables, tmp_path)
    assert (WhatIf.LIKE_NAMES in card) == is_alike
    if is_alike:
        said = card[WhatIf.LIKE_NAMES].do
        assert f"bed Heron 1A {names[0]}, Maria born 11 Feb 1948" in said
        assert f"bed Kite (South) 1A {names[1]}, Maria born 23 Jul 1986" in said


def test_all_of_one_name_are_named_by_bed_whatever_ward_they_lie_on(tmp_path: Path) -> None:
    """Three of one name on three wards, each on another packet: each of the three cards names the beds of all."""
    tables = five_ward_tables()
    tables["patients"] = [
        row | {"family_name": f"Name{'abcdefghijklmnopqrstuv'[n] * 7}"} for n, row in enumerate(tables["patients"])
    ]
    wards = list(dict.fromkeys(p["ward"] for p in tables["patients"]))[:3]
    alike = [next(p for p in tables["patients"] if (p["ward"], p["bed"]) == (ward, "1A")) for ward in wards]
    for patient in alike:
        patient["family_name"] = "Lindgren"
    tables["staff"] = [person | {"wards": ward} for person, ward in zip(tables["staff"], wards, strict=False)]
    said = [card[WhatIf.LIKE_NAMES].do for _, card in of_tables(tables, tmp_path) if WhatIf.LIKE_NAMES in card]
    assert len(said) == min(3, len(tables["staff"]))
    for words in said:
        assert all(f"{ward} 1A" in words for ward in wards)


def test_way_out_says_how_far_it_is_and_on_which_floor() -> None:
    """Who has to walk instead of sending must know whether there is time for it: common practice, no source."""
    problem, plan, windows = make_round(10, 1, TYPICAL)
    [route] = plan.routes
    index = next(n for n, s in enumerate(route.stops) if isinstance(s, Handover) and s.kind is PickupKind.TUBE)
    stop = route.stops[index]
    places = {i: replace(place, floor="2" if i == stop.place else "1") for i, place in problem.places.items()}
    context = ViewContext(replace(problem, places=places), plan, windows, TextCleaner())
    said = other_way(context, route, index)
    walk_s = problem.walking.between(stop.place, next(p.place for p in problem.pickups if p.kind is PickupKind.COURIER))
    assert said.startswith(f"{-(-walk_s // 60)} min to ")
    assert ", floor 1, courier 06:15" in said


def test_a_site_may_change_the_words_and_the_numbers_stand_with_the_roles() -> None:
    text = """
    [sheet]
    phones = { "round lead" = "5501", "ward nurse" = "2140" }
    what_if_do = { "away" = "Ring the bell {twice}." }
    what_if_phone = { "refused" = "doctor on call" }
    """
    policy, findings = load_policy(text)
    assert not findings
    problem, plan, _ = make_round(2, 1)
    [(_, card)] = cards(replace(problem, policy=policy), plan)
    assert card[WhatIf.AWAY].do == "Ring the bell {twice}."
    assert card[WhatIf.AWAY].phone == "ward nurse 2140; lead 5501 if STAT or ASAP or URGENT"
    assert card[WhatIf.REFUSED].phone == "doctor on call"
    assert card[WhatIf.FAINT_OR_PAIN].phone == "ward nurse 2140 at once"
    _, findings = load_policy('[sheet]\nwhat_if_do = { "fire" = "run" }')
    assert [finding.code for finding in findings] == ["policy-value-refused"]


def test_one_number_for_whoever_answers_stands_behind_every_role() -> None:
    problem, plan, _ = make_round(2, 1)
    policy = replace(problem.policy, sheet=SheetPolicy(phones={"*": "100"}))
    [(_, card)] = cards(replace(problem, policy=policy), plan)
    assert card[WhatIf.UNDERFILLED].phone == "laboratory (100)"


def test_fifteen_minutes_late_names_what_is_lost_in_order() -> None:
    """Each of these is held against the checker in test_slack; here it is the words."""
    problem, plan, _ = make_round(10, 1, TYPICAL)
    [(route, card)] = cards(problem, plan)
    said = card[WhatIf.RUNNING_LATE].do
    assert said.startswith("Begun 15 min late and not replanned, lost in this order: stop ")
    stops = [int(part.split(" ")[0]) for part in said.split("stop ")[1:] if part[0].isdigit()]
    assert stops == sorted(set(stops))
    assert all(stop.slip for stop in route.stops)
    # "can slip" is printed beside a time that the late round is past already
    assert said.endswith(
        '"Can slip" counts from the printed time: take off what you are late. Ask the lead before you change the order.'
    )
