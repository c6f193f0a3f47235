"""Every row of a list ends as an order, as a part of one, or as a finding: above the headings, too short, swallowed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from planner.findings import Severity, unread
from planner.loaders import Loaded

DAY = date(2026, 3, 10)
HEAD = "order_number,patient_number,family_name,ward,bed,test,priority,collect_at,note"
ROW = "{0},P{0},Name{0},Elm,{1},CBC,routine,,"
ROWS = [ROW.format(f"A{i}", i) for i in range(1, 9)]


def ids(loaded: Loaded) -> set[str]:
    """Return the numbers of all orders, planned or set aside."""
    return {str(o.id) for o in loaded.problem.orders} | {str(u.order_id) for u in loaded.problem.set_aside}


def test_list_sorted_together_with_its_headings(load_text: Callable[..., Loaded]) -> None:
    loaded = load_text("\n".join([*ROWS, HEAD]) + "\n", round_date=DAY)
    assert {str(o.id) for o in loaded.problem.orders} == {f"A{i}" for i in range(1, 9)}
    assert "rows-above-headings" in {f.code for f in loaded.findings if f.severity is Severity.WARNING}


def test_headings_in_the_middle_of_a_sorted_list(load_text: Callable[..., Loaded]) -> None:
    loaded = load_text("\n".join(["Orders of the night", *ROWS[:5], HEAD, *ROWS[5:]]) + "\n", round_date=DAY)
    assert {str(o.id) for o in loaded.problem.orders} == {f"A{i}" for i in range(1, 9)}
    assert "title-rows" in {f.code for f in loaded.findings}


def test_torn_row_among_rows_above_the_headings_is_a_decision(load_text: Callable[..., Loaded]) -> None:
    """A line feed in a name parts the row of A8, and neither part looks like data: the order may not vanish."""
    head = HEAD.replace("family_name", "family_name,given_name,birth_date")
    rows = [row.replace(",Elm", ",Given,1951-02-03,Elm") for row in ROWS]
    rows[-1] = "A8,P8,Name8,Given,a\nb,1951-02-03,Elm,8,CBC,,"
    loaded = load_text("\n".join([*rows, head]) + "\n", round_date=DAY)
    assert ids(loaded) == {f"A{i}" for i in range(1, 8)}
    (finding,) = [f for f in loaded.findings if f.code == "title-rows" and f.severity is Severity.ERROR]
    assert "rows 8, 9" in finding.message
    assert finding in unread(loaded.findings)


@pytest.mark.parametrize(("column", "word"), [("family_name", "Given"), ("ward", "Bed"), ("family_name", "Ward")])
def test_row_above_the_headings_is_no_upper_heading(column: str, word: str, load_text: Callable[..., Loaded]) -> None:
    """A heading that was lost leaves a blank; the cell above it is a patient's, even if it is a word of headings."""
    at = HEAD.split(",").index(column)
    cells = ROWS[-1].split(",")
    cells[at] = word
    head = ["" if i == at else name for i, name in enumerate(HEAD.split(","))]
    loaded = load_text("\n".join([*ROWS[:-1], ",".join(cells), ",".join(head)]) + "\n", round_date=DAY)
    assert ids(loaded) == {f"A{i}" for i in range(1, 9)}


def test_headings_below_the_rows_that_are_searched(load_text: Callable[..., Loaded]) -> None:
    rows = [ROW.format(f"A{i}", i) for i in range(1, 60)]
    loaded = load_text("\n".join([*rows, HEAD]) + "\n", round_date=DAY)
    assert {str(o.id) for o in loaded.problem.orders} == {f"A{i}" for i in range(1, 60)}


@pytest.mark.parametrize(
    "title", ["Ward list,Elm,,,,,,,", "Printed 04:10,,,page 1,,,,,", "Elm,,Night of 10 March,,,,,,"]
)
def test_titles_are_no_orders(title: str, load_text: Callable[..., Loaded]) -> None:
    loaded = load_text("\n".join([title, HEAD, *ROWS]) + "\n", round_date=DAY)
    assert ids(loaded) == {f"A{i}" for i in range(1, 9)}
    assert not unread(loaded.findings)


@pytest.mark.parametrize("lost", range(9))
def test_row_that_lost_a_cell_is_never_read_shifted(lost: int, load_text: Callable[..., Loaded]) -> None:
    """Whichever cell of one row is lost, no order of that row is planned: nobody can tell which is whose."""
    cells = ["A3", "P3", "Name3", "Elm", "3", "CBC", "routine", "06:00", "left arm"]
    short = ",".join(cells[:lost] + cells[lost + 1 :])
    loaded = load_text("\n".join([HEAD, *ROWS[:2], short, *ROWS[3:]]) + "\n", round_date=DAY)
    assert {str(o.id) for o in loaded.problem.orders} == {"A1", "A2", *(f"A{i}" for i in range(4, 9))}
    assert [u.reason.needs_decision for u in loaded.problem.set_aside] == [True]
    assert "row-too-short" in {f.code for f in loaded.findings}


def test_list_whose_rows_end_with_their_last_cell_is_read(load_text: Callable[..., Loaded]) -> None:
    """Some programs leave out the empty cells at a row's end: then short rows are no damage."""
    rows = [row.rstrip(",") for row in ROWS[:6]] + ["A7,P7,Name7,Elm,7,CBC,routine,06:00", ROWS[7] + "left arm"]
    loaded = load_text("\n".join([HEAD, *rows]) + "\n", round_date=DAY)
    assert {str(o.id) for o in loaded.problem.orders} == {f"A{i}" for i in range(1, 9)}


@pytest.mark.parametrize("marked", [True, False])
@pytest.mark.parametrize("at", [700, 3001])
def test_utf16_list_that_lost_a_byte_is_refused(at: int, marked: bool, load_text: Callable[..., Loaded]) -> None:
    text = "\n".join([HEAD, *(ROW.format(f"A{i}", i) for i in range(1, 200))])
    data = text.encode("utf-16" if marked else "utf-16-le")
    loaded = load_text(data[:at] + data[at + 1 :], round_date=DAY)
    assert loaded.problem is None
    assert {"text-torn", "not-a-table"} & {f.code for f in unread(loaded.findings)}
    assert len(load_text(data, round_date=DAY).problem.orders) == 199


def test_two_stray_quotes_swallow_no_row(load_text: Callable[..., Loaded]) -> None:
    head = "patient_number,test"
    rows = ['"P1,CBC', 'P2,CBC"', "P3,CBC"]
    loaded = load_text("\n".join([head, *rows]) + "\n", round_date=DAY)
    assert len(ids(loaded)) == 3


def test_year_alone_is_no_clock_time(load_text: Callable[..., Loaded]) -> None:
    rows = [ROWS[0].replace("routine,,", "timed,2026,"), ROWS[1].replace("routine,,", "timed,2130,")]
    loaded = load_text("\n".join([HEAD, *rows]) + "\n", round_date=DAY)
    assert [str(u.order_id) for u in loaded.problem.set_aside if u.reason.needs_decision] == ["A1"]


def test_row_above_the_headings_of_a_site_s_tests(load_folder: Callable[..., Loaded]) -> None:
    tests = "ZED,Zed test,2\ntest,name,min_ml\n"
    loaded = load_folder({"orders.csv": "\n".join([HEAD, *ROWS]) + "\n", "tests.csv": tests}, round_date=DAY)
    assert len(loaded.problem.orders) == 8


def test_name_that_is_a_heading_too_does_not_make_a_row_a_heading(load_text: Callable[..., Loaded]) -> None:
    """Somebody is called Family, and the ward is called Bed."""
    rows = [ROWS[0].replace("NameA1", "Family").replace("Elm", "Bed"), *ROWS[1:]]
    loaded = load_text("\n".join([*rows, HEAD]) + "\n", round_date=DAY)
    assert ids(loaded) == {f"A{i}" for i in range(1, 9)}


def test_row_that_runs_into_the_next_is_never_read(load_text: Callable[..., Loaded]) -> None:
    """What is missing between two rows leaves one with more cells than the others, even if the last are empty."""
    torn = ROWS[4][: ROWS[4].index("Name") + 3] + ROWS[5]
    loaded = load_text("\n".join([HEAD, *ROWS[:4], torn, *ROWS[6:]]) + "\n", round_date=DAY)
    assert "A5" not in {str(o.id) for o in loaded.problem.orders}
    assert [u.reason.needs_decision for u in loaded.problem.set_aside] == [True]
    assert "row-too-long" in {f.code for f in loaded.findings}


def test_list_whose_rows_all_end_with_a_separator_is_read(load_text: Callable[..., Loaded]) -> None:
    rows = [row + "," for row in ROWS]
    loaded = load_text("\n".join([HEAD, *rows]) + "\n", round_date=DAY)
    assert {str(o.id) for o in loaded.problem.orders} == {f"A{i}" for i in range(1, 9)}


def test_row_of_data_that_is_taken_for_headings_needs_a_decision(load_text: Callable[..., Loaded]) -> None:
    """The headings are lost, and words of headings stand among the cells of a row."""
    torn = "A4,test,1940-05-31,2A,0000003,patient number,bed,ward,routine"
    loaded = load_text("\n".join([*ROWS[:3], torn, *ROWS[4:]]) + "\n", round_date=DAY)
    assert "headings-doubtful" in {f.code for f in unread(loaded.findings)}


@pytest.mark.parametrize("more", ["Test 1,Test 2", "drawn 24 h,ml 2,weight 1 kg", "2026-03-10", "1,2", "", "Q1,Q2,Q3"])
def test_headings_with_numbers_in_them_are_headings(more: str, load_text: Callable[..., Loaded]) -> None:
    loaded = load_text("\n".join([f"{HEAD},{more}", *(f"{row},x" for row in ROWS)]) + "\n", round_date=DAY)
    assert "headings-doubtful" not in {f.code for f in loaded.findings}
