"""Progress files and bed numbers: every row becomes a report of a visit, or a finding that says what to do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from openpyxl import Workbook

from planner.domain.draws import DrawId
from planner.domain.places import PlaceId
from planner.domain.plan import Outcome, Plan
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past, Replan
from planner.domain.revisions.reported import Reported
from planner.findings import Finding, Severity
from planner.loaders.during.progress import read_progress
from planner.loaders.during.typed import parse_done
from planner.replanning.next_problem import next_problem
from planner.replanning.past.freeze import freeze
from tests.builders import clock
from tests.replan_builders import five_wards, make_plan, make_visit
from tests.unit.loaders.during.progress_rounds import NOW_S, codes, told, ward_round

HEAD = "bed,patient_number,order_number,outcome,time,initials,note"

Read = Callable[..., tuple[tuple[Reported, ...], tuple[Finding, ...]]]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    def write_and_read(*rows: str, head: str = HEAD, name: str = "done.csv", of: tuple[Problem, Plan] | None = None):
        (tmp_path / name).write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
        problem, plan = of or ward_round()
        return read_progress(tmp_path / name, problem, plan, NOW_S)

    return write_and_read


HEAD_2 = "format,revision,kind,bed,patient_number,order_number,tube,outcome,arrived,time,left,ticked,initials,note"


def said(reports: tuple[Reported, ...]) -> dict[str, tuple[str, tuple[int, ...] | None]]:
    return {order: (r.outcome.value, r.tubes) for r in reports for order in r.order_ids}


def test_rows_about_single_tubes_say_which_were_filled(read: Read) -> None:
    reports, findings = read(
        "2,1,tube,B1,P1,O1,1,collected,05:09:10,05:11:20,05:14:05,05:15:00,AB,",
        "2,1,tube,B1,P1,O1; O2,2,partial,05:09:10,05:11:20,05:14:05,05:15:00,AB,",
        head=HEAD_2,
    )
    assert said(reports) == {"O1": ("partial", (1,)), "O2": ("partial", (1,))}
    assert {(r.arrived_s, r.at_s, r.left_s) for r in reports} == {
        (clock("05:09:10"), clock("05:11:20"), clock("05:14:05"))
    }
    assert codes(findings) == []


def test_order_whose_tubes_are_all_filled_is_collected(read: Read) -> None:
    reports, _findings = read(
        "2,1,tube,B1,P1,O1,1,collected,,,,,,",
        "2,1,tube,B1,P1,O2,2,partial,,,,,,",
        "2,1,tube,B2,P2,O3,1,collected,,,,,,",
        head=HEAD_2,
    )
    assert said(reports) == {"O1": ("collected", (1,)), "O2": ("partial", (1,)), "O3": ("collected", (1,))}


def test_tubes_of_another_revision_are_not_believed(read: Read) -> None:
    reports, _findings = read("2,7,tube,B1,P1,O1,3,collected,,,,,,", head=HEAD_2)
    assert said(reports) == {"O1": ("collected", None)}


def test_hand_over_rows_are_no_question_and_an_unknown_format_is(read: Read) -> None:
    reports, findings = read(
        "2,1,hand-over,Shelf,,,,given away,,05:40:00,,,AB,", "2,1,tube,B2,P2,O3,1,collected,,,,,,", head=HEAD_2
    )
    assert (list(said(reports)), codes(findings)) == (["O3"], [])
    reports, findings = read("3,1,tube,B2,P2,O3,1,collected,,,,,,", head=HEAD_2)
    assert (reports, codes(findings)) == ((), ["progress-format"])


def test_outcome_without_a_time_of_the_draw_is_no_question(read: Read) -> None:
    # O5 is planned for 06:30 and was ticked at 05:41:30; O3, planned for 05:20, keeps its planned time.
    reports, findings = read(
        "2,1,tube,B3,P3,O5,1,collected,,,,05:41:30,,", "2,1,tube,B2,P2,O3,1,collected,,,,05:41:30,,", head=HEAD_2
    )
    assert {r.order_ids: r.at_s for r in reports} == {("O5",): clock("05:41:30"), ("O3",): None}
    assert codes(findings) == []


@pytest.mark.parametrize(
    "outcome", ["partial", "refused", "away", "unidentified", "unsuccessful", "recollect", "collected"]
)
def test_file_kept_all_morning_may_be_given_again(read: Read, outcome: str) -> None:
    # O1 is collected, O2 came to something else; then the same file once more, which brings nothing new.
    rows = ("2,1,tube,B1,P1,O1,1,collected,,05:11:00,,,,", f"2,1,tube,B1,P1,O2,2,{outcome},,05:11:00,,,,")
    problem, plan = ward_round()
    reports, _findings = read(*rows, head=HEAD_2)
    following = next_problem(problem, plan, parent=1, now_s=NOW_S, reports=reports).problem
    assert following.replan is not None
    stops = [*following.replan.past[0].stops]
    if outcome in ("away", "unsuccessful", "recollect"):  # the order is to be drawn again, in a visit of its own
        stops.append(replace(make_visit(problem, ["O2"], "06:10"), draw_id=DrawId("P1-2")))
    route = replace(plan.routes[0], stops=tuple(stops))
    again, findings = read(*rows, head=HEAD_2, of=(following, replace(plan, routes=(route,))))
    assert (again, codes(findings)) == ((), ["report-repeated"])


def test_visit_without_an_outcome_whose_tubes_are_ticked_is_asked_about_once(read: Read) -> None:
    rows = [f"2,1,tube,B1,P1,{order},{tube},,,05:11:00,,,AB," for order, tube in (("O1", 1), ("O2", 2))]
    reports, findings = read(*rows, "2,1,tube,B2,P2,O3,,,05:20:00,,,,,", head=HEAD_2)
    assert reports == ()
    assert codes(findings) == ["outcome-unknown", "report-unfinished"]
    (found,) = (f for f in findings if f.code == "report-unfinished")
    assert "bed B1: tube 1, 2 ticked as filled, drawn at 05:11:00, and no outcome" in found.message
    assert "ask AB" in found.message
    assert "P1" not in found.message


def test_what_the_page_saves_is_read(read: Read) -> None:
    row = '"B1","P1","{}","collected","05:12","AB","left arm"'
    head = ",".join(f'"{name}"' for name in HEAD.split(","))
    reports, findings = read(row.format("O1"), row.format("O2"), head="\ufeff" + head)
    assert told(reports) == [(("O1",), "collected", clock("05:12")), (("O2",), "collected", clock("05:12"))]
    assert {(r.draw_id, r.initials, r.note) for r in reports} == {("P1-O1", "AB", "left arm")}
    assert reports[1].source is not None and reports[1].source.row == 3
    assert codes(findings) == []


@pytest.mark.parametrize("bed", ["B1", "b 1", "bed 1", "1", "W/B1", "01"])
def test_bed_alone_stands_for_all_orders_of_its_visit(read: Read, bed: str) -> None:
    reports, findings = read(f"{bed},,,Collected,,,")
    assert told(reports) == [(("O1", "O2"), "collected", None)]
    assert codes(findings) == []


@pytest.mark.parametrize(
    ("head", "row"),
    [
        ("Bed;Outcome;Time", "B2;Refused;5:25"),
        ("Bett\tErgebnis\tUhrzeit", "B2\tverweigert\t05.25"),
        ("ROOM|Result|Drawn at|By", "B2|Declined|0525|AB"),
    ],
)
def test_other_delimiters_headings_and_words_are_read(read: Read, head: str, row: str) -> None:
    reports, findings = read(row, head=head)
    assert told(reports) == [(("O3",), "refused", clock("05:25"))]
    assert codes(findings) == []


def test_workbook_is_read_with_its_clock_times(tmp_path: Path) -> None:
    from datetime import time

    book = Workbook()
    assert book.active is not None
    for row in (["Bed", "Outcome", "Time"], ["B1", "done", time(5, 12)], ["B2", "away", "05:21"]):
        book.active.append(row)
    book.save(tmp_path / "done.xlsx")
    reports, findings = read_progress(tmp_path / "done.xlsx", *ward_round(), NOW_S)
    assert told(reports) == [(("O1", "O2"), "collected", clock("05:12")), (("O3",), "away", clock("05:21"))]
    assert codes(findings) == []


def test_bed_with_two_visits_means_the_one_that_is_due(read: Read) -> None:
    reports, _ = read("B3,,,collected,,,")  # O4 at 05:30 is due by 05:42, O5 at 06:30 is not
    assert told(reports) == [(("O4",), "collected", None)]


def test_bed_with_two_visits_to_come_is_not_clear(tmp_path: Path) -> None:
    (tmp_path / "d.csv").write_text("bed,outcome\nB3,collected\n", encoding="utf-8")
    reports, findings = read_progress(tmp_path / "d.csv", *ward_round(), clock("05:05"))
    assert (reports, codes(findings)) == ((), ["report-unclear"])
    assert findings[-1].order_ids == ("O4", "O5")


@pytest.mark.parametrize(
    ("row", "code", "column"),
    [
        ("B9,,,collected,,,", "bed-not-found", "bed"),
        ("B1,,O99,collected,,,", "order-not-found", "order_number"),
        ("B1,P9,,collected,,,", "report-patient", "patient_number"),
        ("B1,P2,O1,collected,,,", "report-patient", "patient_number"),
        ("B1,,,perhaps,,,", "outcome-unknown", "outcome"),
        (",,,collected,,AB,", "report-unclear", "bed"),
    ],
)
def test_row_that_cannot_be_used_is_a_finding_at_its_cell(read: Read, row: str, code: str, column: str) -> None:
    reports, findings = read(row, "B2,,O3,collected,,,")
    assert told(reports) == [(("O3",), "collected", None)]
    assert codes(findings) == [code]
    assert findings[-1].severity is Severity.ERROR
    assert findings[-1].source is not None
    assert (findings[-1].source.row, findings[-1].source.column) == (2, column)


@pytest.mark.parametrize("time", ["05:43", "04:59", "04:58"])
def test_time_that_cannot_be_is_not_used_but_the_outcome_is(read: Read, time: str) -> None:
    # now is 05:42; AB begins at 05:00 and is 10 s from B1: 05:00:10 is the first instant anybody can be there
    reports, findings = read(f"B1,,O1,collected,{time},,")
    assert told(reports) == [(("O1",), "collected", None)]
    assert codes(findings) == ["report-time"]


def test_time_of_now_can_be(read: Read) -> None:
    assert told(read("B1,,O1,collected,05:42,,")[0]) == [(("O1",), "collected", NOW_S)]


def test_two_outcomes_of_one_order_are_not_used(read: Read) -> None:
    reports, findings = read("B1,,O1,collected,,,", "B1,,O1,refused,05:20,,", "B1,,O2,collected,,,")
    assert told(reports) == [(("O2",), "collected", None)]
    assert codes(findings) == ["report-contradicts"]
    assert (findings[-1].severity, findings[-1].order_ids) == (Severity.ERROR, ("O1",))


def test_of_two_outcomes_at_two_times_the_later_counts(read: Read) -> None:
    reports, findings = read("B2,,,collected,05:40,,", "B2,,,away,05:20,,")
    assert told(reports) == [(("O3",), "collected", clock("05:40"))]
    assert [f.severity for f in findings if f.code == "report-contradicts"] == [Severity.WARNING]


def test_same_report_twice_is_one(read: Read) -> None:
    reports, findings = read("B2,,,collected,,,", "B2,,O3,collected,05:21,AB,")
    assert told(reports) == [(("O3",), "collected", clock("05:21"))]
    assert codes(findings) == []


def test_orders_of_one_cell_go_to_their_visits(read: Read) -> None:
    reports, _ = read(',,"O1; O2; O4",collected,,,')
    assert told(reports) == [(("O1", "O2"), "collected", None), (("O4",), "collected", None)]


def test_row_without_outcome_reports_nothing(read: Read) -> None:
    reports, findings = read("B1,P1,,,,,", "B2,,,done,,,")
    assert told(reports) == [(("O3",), "collected", None)]
    assert [f.severity for f in findings if f.code == "outcome-unknown"] == [Severity.NOTE]


def test_unknown_initials_are_said_once(read: Read) -> None:
    reports, findings = read("B1,,,done,,ZZ,", "B2,,,done,,zz,")
    assert [r.initials for r in reports] == ["ZZ", "zz"]
    assert codes(findings) == ["reporter-unknown"]


def test_file_that_is_not_there_or_lacks_the_outcome(tmp_path: Path) -> None:
    assert codes(read_progress(tmp_path / "no.csv", *ward_round(), NOW_S)[1]) == ["input-not-found"]
    (tmp_path / "x.csv").write_text("bed,time\nB1,05:10\n", encoding="utf-8")
    assert codes(read_progress(tmp_path / "x.csv", *ward_round(), NOW_S)[1]) == ["missing-column"]


def replanned(outcome: Outcome, *, is_assumed: bool) -> tuple[Problem, Plan]:
    """The visit of O3 at 05:20 is past in the parent, made at 05:30."""
    problem, plan = ward_round()
    first, second, *rest = plan.routes[0].visits
    past = (first, replace(second, outcome=outcome))
    past = (replace(first, outcome=Outcome.COLLECTED), past[1])
    was = Past(
        phlebotomist=0,
        stops=past,
        place=PlaceId("B2"),
        free_s=clock("05:30"),
        assumed=frozenset({1}) if is_assumed else frozenset(),
    )
    replan = Replan(parent=1, now_s=clock("05:30"), past=(was,))
    return replace(problem, replan=replan), make_plan([*past, *rest])


def test_what_an_earlier_revision_was_told_is_not_reported_again(read: Read) -> None:
    reports, findings = read("B2,,O3,collected,05:20,,", of=replanned(Outcome.COLLECTED, is_assumed=False))
    assert (reports, codes(findings)) == ((), ["report-repeated"])


def test_what_was_told_is_not_overruled(read: Read) -> None:
    reports, findings = read("B2,,O3,refused,05:20,,", of=replanned(Outcome.COLLECTED, is_assumed=False))
    assert (reports, codes(findings)) == ((), ["report-contradicts"])


def test_drawn_order_may_be_reported_for_recollection(read: Read) -> None:
    reports, findings = read("B2,,O3,recollect,05:40,,", of=replanned(Outcome.COLLECTED, is_assumed=False))
    assert (told(reports), codes(findings)) == ([(("O3",), "recollect", clock("05:40"))], [])


@pytest.mark.parametrize("outcome", ["collected", "away"])
def test_what_was_assumed_can_be_told(read: Read, outcome: str) -> None:
    reports, findings = read(f"B2,,,{outcome},05:22,,", of=replanned(Outcome.COLLECTED, is_assumed=True))
    assert (told(reports), codes(findings)) == ([(("O3",), outcome, clock("05:22"))], [])


def test_file_kept_all_morning_does_not_report_a_second_visit(read: Read) -> None:
    problem, plan = replanned(Outcome.AWAY, is_assumed=False)
    again = make_visit(problem, ["O3"], "06:10")
    again = replace(again, draw_id=type(again.draw_id)("P2-2"))
    plan = make_plan([*plan.routes[0].stops, again])
    old, findings = read("B2,,O3,away,05:20,,", of=(problem, plan))  # told at 05:30 already
    assert (old, codes(findings)) == ((), ["report-repeated"])
    assert read("B2,,,away,05:20,,", of=(problem, plan))[0] == ()
    new, _ = read("B2,,O3,away,05:41,,", of=(problem, plan))
    assert [(r.draw_id, r.outcome) for r in new] == [("P2-2", Outcome.AWAY)]


def test_visit_made_before_its_time_without_a_time_was_made_by_now(read: Read) -> None:
    # O5 is planned for 06:30 and was made by 05:42: what is said of it cannot lie in the future
    reports, findings = read("B3,,O5,collected,,,", "B1,,,collected,,,")
    assert told(reports) == [(("O5",), "collected", NOW_S), (("O1", "O2"), "collected", None)]
    assert [(f.code, f.severity) for f in findings[-1:]] == [("report-time", Severity.WARNING)]
    problem, plan = ward_round()
    reports, findings = parse_done("2", problem, plan, clock("05:15"))
    assert told(reports) == [(("O3",), "collected", clock("05:15"))]
    assert codes(findings) == ["report-time"]


def test_no_message_names_a_patient(read: Read) -> None:
    _, findings = read("B1,P2,O1,done,,,", "B9,,,done,,,", "B1,,O3,done,,,")
    assert not any(word in f.message for f in findings for word in ("Family", "Given", "P1", "P2"))


def test_order_or_patient_number_decides_and_a_differing_bed_is_reported(read: Read) -> None:
    for row in ("B1,,O3,collected,,,", "B1,P2,,collected,,,", "B9,P2,O3,collected,,,"):
        reports, findings = read(row)
        assert told(reports) == [(("O3",), "collected", None)], row
        assert codes(findings) == ["bed-differs"]
        assert findings[-1].order_ids == ("O3",)


@pytest.mark.parametrize(
    ("time", "order"), [("05:33", "O4"), ("05:05", "O4"), ("06:29", "O5"), ("06:15", "O5"), ("06:00", "")]
)
def test_time_tells_which_of_two_visits_is_meant(tmp_path: Path, time: str, order: str) -> None:
    # P3 has visits at 05:30 and 06:30; both are due at 06:40. 06:00 lies in the middle: nobody can know.
    (tmp_path / "d.csv").write_text(f"bed,patient,outcome,time\nB3,P3,collected,{time}\n", encoding="utf-8")
    reports, findings = read_progress(tmp_path / "d.csv", *ward_round(), clock("06:40"))
    assert [r.order_ids for r in reports] == ([(order,)] if order else [])
    assert codes(findings) == ([] if order else ["report-unclear"])


def test_page_of_five_wards_with_equal_beds_is_read_without_a_question(read: Read) -> None:
    problem, plan = five_wards()
    rows = [f"1A,{p.id},O{p.id[1:]},collected,05:{10 + n},," for n, p in enumerate(problem.patients.values())]
    rows[3] = rows[3].replace("collected", "failed")
    reports, findings = read(*rows, of=(problem, plan))
    assert codes(findings) == []
    assert [r.order_ids for r in reports] == [("O1",), ("O2",), ("O3",), ("O4",), ("O5",)]
    assert reports[3].outcome is Outcome.UNSUCCESSFUL
    assert freeze(problem, plan, reports, NOW_S)[0].stops[3].order_ids == ()
