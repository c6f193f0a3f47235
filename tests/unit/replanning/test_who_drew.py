"""A visit reported after somebody else was given it: who made it, and when, if nobody says.

Five wards with equal bed numbers. On the sheet of 05:00 Ann Bell (AB) has bed Juniper 1A at 05:20; on that of 05:30
Carl Dee-Dale (CD) has it at 06:10.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.domain.draws import DrawId
from planner.domain.orders import OrderId
from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Refused
from planner.domain.revisions.reported import Reported
from planner.errors import RequestError
from planner.exporters.view.notes.event_words import event_words
from planner.findings import Finding
from planner.library.news import News, parse_news, read_done, read_news
from planner.replanning.next_problem import NextProblem, next_problem
from tests.builders import clock
from tests.replan_builders import given_to_another, make_plan

AB, CD = 0, 1
BED = "Juniper 1A"


def report(
    option: str, *texts: str, of: tuple[Problem, Plan] | None = None, now: str = "05:40"
) -> tuple[tuple[Reported, ...], tuple[Finding, ...], tuple[Refused, ...]]:
    given = {option: texts}
    return read_done(given.pop("done", ()), *(of or given_to_another()), clock(now), given)


def after(*reports: Reported, now: str = "05:40", of: tuple[Problem, Plan] | None = None) -> NextProblem:
    return next_problem(*(of or given_to_another()), parent=2, now_s=clock(now), reports=reports)


def whose(following: NextProblem) -> tuple[int, int]:
    """Return who is booked with the draw of O2, and when it was."""
    replan = following.problem.replan
    assert replan is not None
    return next(
        (past.phlebotomist, stop.draw_s)
        for past in replan.past
        for stop in past.stops
        if isinstance(stop, Visit) and "O2" in (*stop.order_ids, *stop.tried)
    )


@pytest.mark.parametrize(
    ("option", "text", "expected"),
    [
        ("drawn", f"{BED}=05:21", (AB, "05:21")),  # then it was on the sheet of AB
        ("drawn", f"{BED}=05:36", (CD, "05:36")),  # then on that of CD
        ("drawn", f"{BED}=05:21 by CD", (CD, "05:21")),
        ("drawn", f"{BED}=05:36 by Ann Bell", (AB, "05:36")),
        ("drawn", f"{BED} by AB", (AB, "05:20")),  # as the sheet of AB had it
        ("drawn", f"{BED} by CD", (CD, "05:40")),  # not yet due: now
        ("done", BED, (AB, "05:20")),  # due with AB, not yet with CD
        ("drawn", "P2=05:21", (AB, "05:21")),
        ("drawn", "O2=05:21 by AB", (AB, "05:21")),
        ("refused", f"{BED}=05:21", (AB, "05:21")),
        ("refused", f"{BED} by CD", (CD, "05:40")),  # without a name nobody was there: test_refused_by_phone.py
        ("failed", f"{BED} by AB", (AB, "05:40")),
    ],
)
def test_draw_is_booked_to_whose_it_was_at_that_time(option: str, text: str, expected: tuple[int, str]) -> None:
    reports, _found, refused = report(option, text)
    assert not refused
    assert whose(after(*reports)) == (expected[0], clock(expected[1]))


def test_answer_and_finding_say_who_counts_as_the_collector() -> None:
    reports, found, _refused = report("drawn", f"{BED}=05:21")
    (said,) = (finding for finding in found if finding.code == "report-held")
    assert f"bed {BED}" in said.message
    assert "05:21 by AB" in said.message
    assert f'"{BED}=05:21 by CD"' in said.message
    following = after(*reports)
    assert following.problem.replan is not None
    words = event_words(following.problem, following.problem.replan.events)
    assert any(f"bed {BED}" in text and "at 05:21 by AB" in text for text in words)


def test_nothing_is_said_where_the_name_was_given_or_the_sheet_is_right() -> None:
    for text in (f"{BED}=05:21 by AB", f"{BED}=05:36", f"{BED}=05:36 by CD"):
        assert not [finding for finding in report("drawn", text)[1] if finding.code == "report-held"]


def test_tubes_are_in_the_tray_of_who_drew() -> None:
    following = after(*report("drawn", f"{BED}=05:21")[0])
    assert following.problem.replan is not None
    stop = next(s for s in following.problem.replan.past[AB].stops if isinstance(s, Visit) and s.order_ids == ("O2",))
    assert [tube.handover for tube in stop.tubes] == [None]


def test_who_failed_is_not_sent_again() -> None:
    following = after(*report("failed", f"{BED}=05:21")[0])
    assert following.problem.replan is not None
    (retry,) = following.problem.replan.retries
    assert retry.not_by == {AB}


def test_who_never_came_is_never_taken_to_have_drawn() -> None:
    of = given_to_another(never_came=True)
    assert whose(after(*report("drawn", f"{BED}=05:21", of=of)[0], of=of))[0] == CD


def test_older_sheets_are_remembered_at_every_revision() -> None:
    problem, plan = given_to_another()
    again = next_problem(problem, plan, parent=2, now_s=clock("05:36")).problem
    assert again.replan is not None
    last = [replace(visit) for visit in plan.routes[CD].visits if visit.outcome is None]
    later = again, make_plan(again.replan.past[AB].stops, last)
    for text, expected in ((f"{BED}=05:21", AB), (f"{BED}=05:34", CD)):
        assert whose(after(*report("drawn", text, of=later)[0], of=later))[0] == expected


def test_person_who_is_nobody_is_refused_with_who_is_meant() -> None:
    _reports, _found, refused = report("drawn", f"{BED}=05:21 by Ann Bel", f"{BED}=05:21 by XY")
    assert [(part.finding.code, part.wrong, part.instead) for part in refused] == [
        ("person-not-found", "Ann Bel", "AB"),
        ("person-not-found", "XY", ""),
    ]


def test_draw_needs_a_time_or_a_name() -> None:
    with pytest.raises(RequestError, match="by AB"):
        parse_news(News(drawn=[BED]))


def test_initials_in_a_progress_file_say_who_drew(tmp_path: Path) -> None:
    path = tmp_path / "saved.csv"
    path.write_text(f"bed,outcome,time,initials\n{BED},collected,05:36,AB\n", encoding="utf-8")
    reports, _found, refused = report("done", str(path))
    assert not refused
    assert whose(after(*reports)) == (AB, clock("05:36"))


def test_report_as_a_value_of_a_visit_that_is_not_there_is_refused() -> None:
    problem, plan = given_to_another()
    lost = Reported(order_ids=(OrderId("O2"),), draw_id=DrawId("P9#4"), outcome=Outcome.COLLECTED)
    read = read_news(News(reports=[lost]), (), problem, plan, clock("05:40"))
    assert [(part.option, part.typed, part.finding.code) for part in read.refused] == [
        ("reports", "P9#4", "order-not-found")
    ]
    assert [finding.code for finding in read.findings] == ["order-not-found"]


def test_name_that_differs_from_what_was_booked_before_is_refused() -> None:
    """The draw of O2 was reported as CD's, and is reported again as AB's."""
    problem = after(*report("drawn", f"{BED}=05:21 by CD")[0]).problem
    assert problem.replan is not None
    of = problem, make_plan(*(past.stops for past in problem.replan.past))
    reports, found, refused = report("drawn", f"{BED}=05:21 by AB", of=of, now="05:45")
    assert reports == ()
    assert [(f.code, f.order_ids) for f in found] == [("report-contradicts", ("O2",))]
    assert all(words in found[0].message for words in (BED, "booked to CD", "If it was AB", "--undo"))
    assert len(refused) == 1
    for text in (f"{BED}=05:21 by CD", f"{BED} by CD"):
        _reports, found, refused = report("drawn", text, of=of, now="05:45")
        assert ([f.code for f in found], refused) == (["report-repeated"], ())


@pytest.mark.parametrize(("person", "codes"), [(2, ["person-not-found"]), (-1, ["person-not-found"]), (1, [])])
def test_report_as_a_value_of_nobody_of_the_staff_is_refused(person: int, codes: list[str]) -> None:
    problem, plan = given_to_another()
    visit = next(visit for visit in plan.routes[CD].visits if visit.order_ids == ("O2",))
    told = Reported(
        order_ids=visit.order_ids, draw_id=visit.draw_id, outcome=Outcome.COLLECTED, drawn_by=person, is_by_itself=True
    )
    read = read_news(News(reports=[told]), (), problem, plan, clock("05:40"))
    assert [part.finding.code for part in read.refused] == codes
    assert [finding.code for finding in read.findings] == codes
