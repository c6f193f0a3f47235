"""What a lead says in few words: how far somebody has come, away until a time, a draw by its id.

Five wards with equal bed numbers: AB has bed 1A of the first three at 05:10, 05:20 and 05:50, CD that of the others.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.orders import OrderId, PatientId, TimeWindow
from planner.domain.plan import Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.reported import Reported
from planner.library.news import News, parse_news, read_done
from planner.replanning.next_problem import next_problem
from tests.builders import clock
from tests.replan_builders import TWO, five_wards, make_plan, make_visit
from tests.unit.replanning.told import codes, given, next_revision, tell

NOW = "05:55"


def a_round() -> tuple[Problem, Plan]:
    problem, _ = five_wards(staff=TWO)
    mine = [make_visit(problem, [f"O{n}"], at) for n, at in ((1, "05:10"), (2, "05:20"), (3, "05:50"))]
    others = [make_visit(problem, [f"O{n}"], at) for n, at in ((4, "05:15"), (5, "06:40"))]
    return problem, make_plan(mine, others)


def done(text: str, of: tuple[Problem, Plan] | None = None) -> tuple[list[str], list[str], list[str]]:
    """Return the orders reported, the codes of what is wrong in what is typed, and of what else is said."""
    reports, found, refused = read_done([text], *(of or a_round()), clock(NOW))
    wrong = [part.finding.code for part in refused]
    return [o for r in reports for o in r.order_ids], wrong, [f.code for f in found if f.code not in wrong]


@pytest.mark.parametrize(
    ("text", "orders"),
    [
        ("AB=05:20", ["O1", "O2"]),
        ("Ann Bell=0549", ["O1", "O2"]),
        ("ab = 5.50", ["O1", "O2", "O3"]),
        ("CD=05:50", ["O4"]),
    ],
)
def test_how_far_somebody_has_come(text: str, orders: list[str]) -> None:
    assert done(text) == (orders, [], [])


@pytest.mark.parametrize("seconds", [0, 20, 59])
def test_draw_within_the_minute_that_a_sheet_prints_counts(seconds: int) -> None:
    problem, plan = a_round()
    first, second, third = plan.routes[0].visits
    second = replace(second, draw_s=second.draw_s + seconds, depart_s=second.depart_s + seconds)
    of = problem, make_plan([first, second, third], plan.routes[1].stops)
    assert done(f"AB={problem.clock.format_clock(second.draw_s)}", of) == (["O1", "O2"], [], [])


def test_what_follows_is_still_to_come_and_others_are_as_before() -> None:
    of = a_round()
    reports, _found, _refused = read_done(["AB=05:15"], *of, clock(NOW))
    following = next_problem(*of, parent=1, now_s=clock(NOW), reports=reports).problem
    assert following.replan is not None
    made = [[s.order_ids[0] for s in past.stops if isinstance(s, Visit)] for past in following.replan.past]
    assert made == [["O1"], ["O4"]]  # CD's draw of 05:15 is assumed
    assert [len(past.assumed) for past in following.replan.past] == [0, 1]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("AB=05:56", "report-time"),  # after now
        ("AB=05:09", "report-unclear"),  # nothing by then
        ("XY=05:20", "bed-not-found"),
        ("Juniper 1A=05:20", "bed-not-found"),
    ],
)
def test_what_cannot_be_is_refused(text: str, code: str) -> None:
    assert done(text) == ([], [code], [])


def test_same_again_is_known() -> None:
    of = a_round()
    reports, _found, _refused = read_done(["AB=05:20"], *of, clock(NOW))
    following = next_problem(*of, parent=1, now_s=clock(NOW), reports=reports).problem
    assert following.replan is not None
    rest = make_visit(following, ["O3"], "06:00")
    later = following, make_plan([*following.replan.past[0].stops, rest], following.replan.past[1].stops)
    assert done("AB=05:20", later) == ([], [], ["report-repeated"])


def test_draw_id_names_a_visit() -> None:
    (visit,) = (v for v in a_round()[1].routes[1].visits if v.order_ids == (OrderId("O4"),))
    assert done(visit.draw_id) == (["O4"], [], [])


def away(*texts: str, now: str = "05:42", of: tuple[Problem, Plan] | None = None) -> tuple[TimeWindow, ...]:
    changed = tell(*(f"away {text}" for text in texts), now=now, of=of)
    return changed.problem.patients[PatientId("P2")].away


def test_away_until_a_time_is_from_now() -> None:
    assert away("2=06:40") == (TimeWindow(earliest_s=clock("05:42"), latest_s=clock("06:40")),)
    assert away("2=0640") == away("2=05:42-06:40")


def test_away_until_the_same_time_again_is_known_and_until_another_is_not() -> None:
    of = next_revision(tell("away 2=06:40"), make_plan([], []))
    again = tell("away 2=06:40", of=of, now="05:50")
    assert (codes(again), given(again)) == (["change-known"], ())
    later = tell("away 2=06:50", of=of, now="05:50")
    assert given(later) == ("patient of bed B2 away 05:50-06:50",)


def test_away_until_a_time_that_is_over_is_refused() -> None:
    changed = tell("away 2=05:30")
    assert (codes(changed), given(changed)) == (["change-in-the-past"], ())


def test_away_until_is_read_as_a_span_is() -> None:
    assert len(parse_news(News(away=["2=06:40", "2=05:42-06:40"]))) == 2


def test_reports_are_a_list() -> None:
    reports: tuple[Reported, ...] = read_done(["AB=05:20"], *a_round(), clock(NOW))[0]
    assert not any(report.is_by_itself for report in reports)
