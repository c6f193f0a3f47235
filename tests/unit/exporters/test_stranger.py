"""What somebody who knows neither ward nor plan must be told: by kind of window, before a stat, at a courier."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from planner.domain.draws import Bound
from planner.domain.orders import Priority
from planner.domain.places import PickupKind
from planner.domain.plan import Handover
from planner.domain.revisions.changes import Join, Lost
from planner.exporters.view.build import build_view
from planner.exporters.view.cards.windows import MarkKind, VisitWindow, late_words
from planner.exporters.view.marks import MARKS
from planner.exporters.view.round_view import RoundView
from planner.exporters.view.stop_view import HandoverView
from planner.exporters.view.texts import cautions
from planner.exporters.view.words import LATE_URGENT, TOO_LATE
from planner.replanning.next_problem import next_problem
from planner.visits import order_windows
from tests.builders import clock
from tests.three_wards import five_ward_tables, load_tables, plan_quickly
from tests.unit.exporters.rounds import make_round


@pytest.fixture(scope="module")
def view() -> RoundView:
    problem, plan, windows = make_round()
    return build_view(problem, plan, windows, revision=1)


def window(**ends: Bound) -> VisitWindow:
    told: dict[str, Bound | None] = {"earliest": None, "latest": None, "target": None, **ends}
    return VisitWindow(**told, late_s=0, is_tight=False)


@pytest.mark.parametrize(
    ("priority", "ends", "said"),
    [
        (Priority.STAT, {"target": Bound(at_s=18900, rule="priority")}, LATE_URGENT),
        (Priority.ROUTINE, {"target": Bound(at_s=18900, rule="requested")}, ""),
        (Priority.ROUTINE, {"latest": Bound(at_s=21600, rule="dose")}, ""),
        # The wish lies past the hard end: the hard end alone counts, and the rule for all says not to draw.
        (
            Priority.STAT,
            {"target": Bound(at_s=22000, rule="priority"), "latest": Bound(at_s=21600, rule="dose")},
            "",
        ),
    ],
)
def test_only_urgent_draws_say_themselves_what_to_do_late(
    priority: Priority, ends: dict[str, Bound], said: str
) -> None:
    assert late_words(window(**ends), priority) == said


def test_one_rule_for_a_missed_time_everywhere() -> None:
    key = dict(MARKS)
    assert "do not draw, phone the ward nurse" in TOO_LATE[1]
    assert "do not draw" in key["only, not after, never after"]
    assert not [caution for caution in cautions() if "do not draw" in caution]
    assert any(TOO_LATE[0] in caution and "local policy" in caution for caution in cautions())


def test_a_bed_before_a_stat_says_why_and_until_when(view: RoundView) -> None:
    by_bed = {visit.bed: visit for route in view.routes for visit in route.visits}
    # Bed 103 is stat, due 05:15, drawn at 05:12:15: 165 s are left, so bed 101 (05:01) may begin until 05:03.
    assert by_bed["103"].too_late == LATE_URGENT
    told = by_bed["102"].why_now
    assert told.startswith("stat at bed 103 still in time. Not begun by 05:")
    assert not by_bed["104"].why_now  # the next stat, bed 106, is late already: its own card says so


def test_a_courier_with_no_time_to_spare_makes_the_last_bed_tight() -> None:
    problem, plan, windows = make_round()
    route = plan.routes[0]
    index = next(i for i, s in enumerate(route.stops) if isinstance(s, Handover) and s.kind is PickupKind.COURIER)
    stop = route.stops[index]
    assert isinstance(stop, Handover)
    # It leaves 90 s after the hand-over ends, and nothing waits between: 1 whole minute.
    close = replace(stop, departs_s=stop.depart_s + 90, arrive_s=stop.start_s)
    stops = (*route.stops[:index], close, *route.stops[index + 1 :])
    plan = replace(plan, routes=(replace(route, stops=stops), *plan.routes[1:]))
    view = build_view(problem, plan, windows, revision=1)
    cards = view.routes[0].stops
    last = max(i for i in range(index) if hasattr(cards[i], "courier"))
    assert MarkKind.TIGHT in [mark.kind for mark in cards[last].marks]
    assert cards[last].courier.endswith(": 1 min to spare")
    card = cards[index]
    assert isinstance(card, HandoverView)
    assert card.limit
    assert any(line.missed.startswith("Courier missed: phone the lead") for line in view.collections)


def test_tubes_on_ice_are_listed_by_bed_and_chilled_first(view: RoundView) -> None:
    (card,) = [visit for route in view.routes for visit in route.visits if visit.bed == "103"]
    assert any(line.startswith("bed 103, ") for line in view.routes[0].cold)
    assert card.do[0].startswith("Tube 1: cold since loading? If not, put the empty tube on ice first")
    assert not [line for line in view.collections if line.special and not line.special.startswith(("SEND", "GIVE"))]


def test_legend_of_one_person_names_her_tubes_and_tests_only(view: RoundView) -> None:
    own = view.only_for("TB")
    drawn = {code for v in own.routes[0].visits for t in v.tubes for code in t.tests.split(", ")}
    listed = {key.called for key in own.test_key}
    assert drawn - {"throw away"} <= listed < {key.called for key in view.test_key}
    assert {key.name for key in own.tube_key} == {
        t.name.split(", site")[0] for v in own.routes[0].visits for t in v.tubes
    }


@pytest.mark.slow
def test_a_sheet_of_another_day_says_so() -> None:
    problem, plan, windows = make_round()
    day = problem.clock.day
    for days, is_told in ((0, False), (-1, False), (1, True), (-30, True)):
        at = datetime.fromordinal(day.toordinal() + days).replace(tzinfo=UTC)
        checks = build_view(problem, plan, windows, revision=1, printed_at=at).checks
        assert any(check.text.startswith("Printed ") for check in checks) is is_told


@pytest.mark.slow
def test_who_joins_in_a_few_minutes_is_not_told_to_have_begun_to_load(tmp_path: Path) -> None:
    """Five wards, replanned at 05:20: somebody joins at 05:25, a quarter of an hour before which is past."""
    problem = load_tables(five_ward_tables(), tmp_path / "round")
    join = Join(name="Nora West", from_wall_s=clock("05:25"))
    lost = Lost(name=problem.staff[0].initials)
    plan = plan_quickly(problem).plan
    following = next_problem(problem, plan, parent=1, now_s=clock("05:20"), changes=[join, lost])
    assert not following.refused
    made = plan_quickly(following.problem).plan
    view = build_view(following.problem, made, order_windows(following.problem)[0], revision=2)
    loading = {route.name: route.loading for route in view.routes if route.visits}
    assert loading["Nora West"].startswith("Nora West: begin to load at 05:20.")
