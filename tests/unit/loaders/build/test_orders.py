"""Orders: which are planned, which are set aside and for which reason."""

from __future__ import annotations

from datetime import date, time

import pytest

from planner.domain.draws import OrderWindow
from planner.domain.orders import Priority
from planner.domain.plan import Reason
from planner.visits.windows import window_of
from tests.helpers import codes, reasons

DAY = date(2026, 3, 4)
HEAD = "order_number,patient_number,family_name,given_name,birth_date,bed,test,priority,collect_at"
GOOD = "A1,0000123,Okafor,Ada,1960-05-31,4,CBC,routine,"


def with_columns(**extra: str) -> tuple[str, str]:
    """Return heading and good row with further columns."""
    return HEAD + "".join(f",{name}" for name in extra), GOOD + "".join(f",{text}" for text in extra.values())


def test_order_list_alone_is_enough(load_rows):
    loaded = load_rows(GOOD, round_date=DAY)
    (order,) = loaded.problem.orders
    assert (order.id, order.patient_id, order.test, order.priority) == ("A1", "0000123", "CBC", Priority.ROUTINE)
    assert str(order.source) == "list.csv: row 2"
    assert [f.severity.value for f in loaded.findings] == ["note"]


@pytest.mark.parametrize("text", ["0000123", "1E5", "007", "A-1/2", "12345678901234567890"])
def test_identifiers_survive(load_rows, text):
    loaded = load_rows(GOOD.replace("A1", text).replace("0000123", text), round_date=DAY)
    assert (loaded.problem.orders[0].id, loaded.problem.orders[0].patient_id) == (text, text)


@pytest.mark.parametrize("name", ["NA", "None", "Null", "NaN", "True", "nil", "N/A"])
def test_surnames_that_look_like_nothing_survive(load_rows, name):
    loaded = load_rows(GOOD.replace("Okafor", name), round_date=DAY)
    assert loaded.problem.patients["0000123"].family_name == name


@pytest.mark.parametrize(
    ("word", "priority"),
    [
        ("stat", Priority.STAT), ("S", Priority.STAT), ("STAT", Priority.STAT), ("Notfall", Priority.STAT),
        ("asap", Priority.ASAP), ("A", Priority.ASAP), ("urgent", Priority.URGENT), ("dringend", Priority.URGENT),
        ("", Priority.ROUTINE), ("R", Priority.ROUTINE), ("Routine", Priority.ROUTINE),
    ],
)  # fmt: skip
def test_priority_words(load_rows, word, priority):
    loaded = load_rows(GOOD.replace("routine", word), round_date=DAY)
    assert loaded.problem.orders[0].priority is priority


@pytest.mark.parametrize(
    ("old", "new", "reason", "code"),
    [
        ("routine", "soonish", Reason.UNREADABLE, "unknown-priority"),
        ("routine", "timed", Reason.TIME_MISSING, "time-missing"),
        ("CBC", "CBX", Reason.UNKNOWN_TEST, "unknown-test"),
        ("CBC", "", Reason.UNKNOWN_TEST, "unknown-test"),
        ("0000123", "", Reason.UNKNOWN_PATIENT, "patient-missing"),
        (",4,", ",,", Reason.NO_BED, "bed-missing"),
        ("0000123", "1.23457E+17", Reason.UNREADABLE, "identifier-damaged"),
        ("1960-05-31", "1960-02-30", Reason.UNREADABLE, "date-unreadable"),
        ("1960-05-31", "2061-01-01", Reason.UNREADABLE, "absurd-value"),
        ("1960-05-31", "31.05.14", Reason.UNREADABLE, "birth-year-open"),
        ("routine,", "routine,25:30", Reason.UNREADABLE, "time-over-a-day"),
        ("routine,", "routine,half five", Reason.UNREADABLE, "time-unreadable"),
        ("routine,", "routine,05:75", Reason.UNREADABLE, "time-unreadable"),
        ("routine,", "routine,1900-01-05 05:00", Reason.UNREADABLE, "absurd-value"),
    ],
)
def test_unreadable_value_sets_the_order_aside(load_rows, old, new, reason, code):
    """The bad order and its neighbour: one set aside with the finding at its row, the other planned."""
    loaded = load_rows(GOOD.replace(old, new), "A2,77,Brandt,Ole,1970-06-30,5,CBC,routine,", round_date=DAY)
    assert reasons(loaded) == {"A1": reason}
    assert code in codes(loaded)
    (finding,) = [f for f in loaded.findings if f.code == code]
    assert finding.source.row == 2
    assert [o.id for o in loaded.problem.orders] == ["A2"]


def test_unknown_test_suggests_the_nearest_codes(load_rows):
    loaded = load_rows(GOOD.replace("CBC", "CBCX"), round_date=DAY)
    assert "CBC (" in loaded.problem.set_aside[0].detail


@pytest.mark.parametrize(
    ("column", "word", "reason"),
    [
        ("status", "cancelled", Reason.CANCELLED),
        ("status", "Drawn", Reason.ALREADY_DRAWN),
        ("performer", "nurse", Reason.DRAWN_BY_OTHERS),
        ("performer", "O", Reason.DRAWN_BY_OTHERS),
        ("specimen", "Urine", Reason.NOT_BLOOD),
        ("specimen", "arterial blood", Reason.ARTERIAL),
    ],
)
def test_orders_that_are_not_ours_are_listed(load_rows, column, word, reason):
    head, row = with_columns(**{column: word})
    loaded = load_rows(row, head=head, round_date=DAY)
    assert reasons(loaded) == {"A1": reason}
    assert not loaded.problem.set_aside[0].reason.needs_decision


def test_arterial_test_is_listed(load_rows):
    assert reasons(load_rows(GOOD.replace("CBC", "ABG"), round_date=DAY)) == {"A1": Reason.ARTERIAL}


def test_cancelled_order_with_unreadable_time_stays_cancelled(load_rows):
    head, row = with_columns(status="cancelled")
    loaded = load_rows(row.replace("routine,", "routine,99:99"), head=head, round_date=DAY)
    assert reasons(loaded) == {"A1": Reason.CANCELLED}


def test_order_on_hold_is_not_planned_and_said(load_rows):
    head, row = with_columns(status="on hold")
    loaded = load_rows(row, head=head, round_date=DAY)
    assert reasons(loaded) == {"A1": Reason.ON_HOLD}
    assert "order-on-hold" in codes(loaded)


@pytest.mark.parametrize(
    ("column", "code"),
    [("status", "unknown-status"), ("performer", "unknown-performer"), ("specimen", "unknown-specimen")],
)
def test_unknown_words_are_planned_with_a_warning(load_rows, column, code):
    head, row = with_columns(**{column: "whatever"})
    loaded = load_rows(row, head=head, round_date=DAY)
    assert len(loaded.problem.orders) == 1
    assert code in codes(loaded)


def test_loinc_and_name_are_understood(load_rows):
    # 58410-2 is the LOINC code of the full blood count in the built-in catalogue
    loaded = load_rows(GOOD.replace("CBC", "58410-2"), round_date=DAY)
    assert loaded.problem.orders[0].test == "CBC"
    name = loaded.problem.catalogue.tests["TSH"].name
    loaded = load_rows(GOOD.replace("CBC", f'"{name.upper()}"'), round_date=DAY)
    assert loaded.problem.orders[0].test == "TSH"


def test_several_tests_in_a_cell_are_several_orders(load_rows):
    loaded = load_rows(GOOD.replace("CBC", '"CBC; LYTES + FOO"'), round_date=DAY)
    assert [(o.id, o.test) for o in loaded.problem.orders] == [("A1.1", "CBC"), ("A1.2", "LYTES")]
    assert reasons(loaded) == {"A1.3": Reason.UNKNOWN_TEST}
    assert loaded.num_orders_read == 3
    assert "several-tests" in codes(loaded)


def test_identical_rows_are_planned_once(load_rows):
    loaded = load_rows(GOOD, GOOD, round_date=DAY)
    assert [o.id for o in loaded.problem.orders] == ["A1"]
    assert reasons(loaded) == {"A1 (row 3)": Reason.DUPLICATE_NUMBER}
    assert "duplicate-number" in codes(loaded)


def test_one_number_for_two_patients_sets_both_aside(load_rows):
    loaded = load_rows(GOOD, "A1,77,Brandt,Ole,1970-06-30,5,CBC,routine,", round_date=DAY)
    assert reasons(loaded) == {"A1": Reason.DUPLICATE_NUMBER, "A1 (row 3)": Reason.DUPLICATE_NUMBER}
    assert "duplicate-number" in codes(loaded)


def test_one_number_for_two_tests_of_a_patient_names_them_apart(load_rows):
    loaded = load_rows(GOOD, GOOD.replace("CBC", "TSH"), round_date=DAY)
    assert [o.id for o in loaded.problem.orders] == ["A1/CBC", "A1/TSH"]
    assert "number-shared" in codes(loaded)


def test_order_without_number_goes_by_its_row(load_rows):
    loaded = load_rows(GOOD.removeprefix("A1"), GOOD, round_date=DAY)
    assert [o.id for o in loaded.problem.orders] == ["A1", "row-2"]
    (finding,) = (f for f in loaded.findings if f.code == "number-missing")
    assert finding.message.startswith("no order number in row 2; ")


def test_of_many_rows_without_a_number_ten_are_named(load_rows):
    loaded = load_rows(*[GOOD.removeprefix("A1")] * 12, round_date=DAY)
    (finding,) = (f for f in loaded.findings if f.code == "number-missing")
    assert finding.message.startswith("no order number in rows 2, 3, 4, 5, 6, 7, 8, 9, 10, 11 and 2 more; ")


def test_window_that_ends_before_it_begins(load_rows):
    head, row = with_columns(collect_from="07:00", collect_to="06:00")
    loaded = load_rows(row, head=head, round_date=DAY)
    assert reasons(loaded) == {"A1": Reason.UNREADABLE}
    assert "window-reversed" in codes(loaded)


def test_window_of_the_order(load_rows):
    head, row = with_columns(collect_from="06:00", collect_to="06:45")
    (order,) = load_rows(row, head=head, round_date=DAY).problem.orders
    assert (order.collect_from_s, order.collect_to_s) == (6 * 3600, 6 * 3600 + 45 * 60)


def test_date_without_time_is_for_that_day(load_rows):
    loaded = load_rows(GOOD + "2026-03-04", GOOD.replace("A1", "A2") + "2026-03-05", round_date=DAY)
    assert [(o.id, o.is_timed) for o in loaded.problem.orders] == [("A1", False)]
    assert reasons(loaded) == {"A2": Reason.OTHER_ROUND}


def test_date_and_time_in_two_columns_belong_together(load_rows):
    head, row = with_columns(collect_date="2026-03-05")
    loaded = load_rows(row.replace("routine,", "routine,06:15"), head=head, round_date=DAY)
    # 06:15 on the day after the round's: 24 h + 6.25 h
    assert loaded.problem.orders[0].collect_at_s == 86_400 + 22_500


def test_dose_times_of_the_evening_before(load_rows):
    head, row = with_columns(last_dose_at="21:00", infusion_end_at="22:00", ordered_at="20:30", next_dose_at="08:00")
    loaded = load_rows(row, head=head, round_date=DAY)
    (order,) = loaded.problem.orders
    # 21:00 the evening before is 3 h before midnight, 22:00 is 2 h, 20:30 is 3.5 h
    assert (order.last_dose_s, order.infusion_end_s, order.ordered_s) == (-10_800, -7200, -12_600)
    assert order.next_dose_s == 28_800
    assert [f.source.column for f in loaded.findings if f.code == "evening-before"] == [
        "last_dose_at", "infusion_end_at", "ordered_at",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "seconds"),
    # The round is 05:00 to 09:00. 09:30 lies half an hour after it: the infusion still runs. 21:00 lies 12 h after
    # it, and 8 h before it on the evening before.
    [("09:30", 34_200), ("15:00", 54_000), ("06:15", 22_500), ("21:00", -10_800)],
)
def test_end_of_an_infusion_is_on_the_day_that_is_nearest_to_the_round(load_rows, text, seconds):
    head, row = with_columns(infusion_end_at=text)
    assert load_rows(row, head=head, round_date=DAY).problem.orders[0].infusion_end_s == seconds


@pytest.mark.parametrize(
    ("day", "reason"), [("2026-03-05", Reason.NO_COMMON_WINDOW), ("2026-03-03", Reason.WINDOW_PASSED)]
)
def test_stat_of_another_day_needs_a_decision(load_rows, day, reason):
    loaded = load_rows(GOOD.replace("routine", "stat") + day, GOOD.replace("A1", "A2"), round_date=DAY)
    assert reasons(loaded) == {"A1": reason}
    assert "stat-other-day" in codes(loaded)


def test_dose_date_without_time_is_refused(load_rows):
    head, row = with_columns(last_dose_at="2026-03-03")
    loaded = load_rows(row, head=head, round_date=DAY)
    assert reasons(loaded) == {"A1": Reason.UNREADABLE}
    assert "date-where-time-belongs" in codes(loaded)


def test_fasting_words(load_rows):
    for text, fasting in (("yes", True), ("nüchtern", True), ("no", False), ("", None)):
        head, row = with_columns(fasting=text)
        assert load_rows(row, head=head, round_date=DAY).problem.orders[0].fasting is fasting
    head, row = with_columns(fasting="perhaps")
    loaded = load_rows(row, head=head, round_date=DAY)
    assert loaded.problem.orders[0].fasting is None
    assert "yes-or-no" in codes(loaded)


def test_not_fasting_for_a_test_that_requires_it(load_rows):
    head, row = with_columns(fasting="no")
    loaded = load_rows(row.replace("CBC", "FGLU"), head=head, round_date=DAY)
    assert loaded.problem.catalogue.tests["FGLU"].fasting_required
    assert "fasting-overruled" in codes(loaded)


def test_all_dates_at_midnight_are_dates_without_time(load_rows):
    loaded = load_rows(GOOD + "2026-03-04 00:00", GOOD.replace("A1", "A2") + "2026-03-04 00:00:00", round_date=DAY)
    assert [o.is_timed for o in loaded.problem.orders] == [False, False]
    assert "midnight-means-no-time" in codes(loaded)


def test_start_option_moves_the_round(load_rows):
    loaded = load_rows(GOOD, round_date=DAY, start=time(6, 30), num_phlebotomists=2)
    assert [(p.initials, p.from_s, p.until_s) for p in loaded.problem.staff] == [
        ("P1", 23_400, 32_400),
        ("P2", 23_400, 32_400),
    ]


def test_orders_come_in_the_order_of_their_ids(load_rows):
    rows = [GOOD.replace("A1", name) for name in ("A3", "A1", "A2")]
    assert [o.id for o in load_rows(*rows, round_date=DAY).problem.orders] == ["A1", "A2", "A3"]


def test_test_column_that_is_known_wins(load_text):
    text = (
        "order no,patient no,bed,Test name,Test code,LOINC\nA1,1,4,Zorblax,CBC,\nA2,1,4,Zorblax,,58410-2\n"
        "A3,1,4,Zorblax,,\n"
    )
    loaded = load_text(text, round_date=DAY)
    assert [(o.id, o.test) for o in loaded.problem.orders] == [("A1", "CBC"), ("A2", "CBC")]
    assert loaded.problem.set_aside[0].test == "Zorblax"


def test_priority_as_code_and_text(load_rows):
    loaded = load_rows(GOOD.replace("routine", "S - Stat"), GOOD.replace("A1", "A2").replace("routine", "S - Routine"))
    assert [o.priority for o in loaded.problem.orders] == [Priority.STAT]
    assert reasons(loaded) == {"A2": Reason.UNREADABLE}


def test_list_without_headings_tells_no_names(load_text):
    loaded = load_text(GOOD + "\n" + GOOD.replace("A1", "A2") + "\n")
    assert loaded.problem is None
    assert "Okafor" not in " ".join(map(str, loaded.findings))


def test_unknown_test_on_another_specimen_is_not_blood(load_rows):
    loaded = load_rows(GOOD.replace("CBC", "Urine culture"), GOOD.replace("A1", "A2").replace("CBC", "Foo culture"))
    assert reasons(loaded) == {"A1": Reason.NOT_BLOOD, "A2": Reason.UNKNOWN_TEST}


SERIES_HEAD = "order_number,patient_number,family_name,given_name,birth_date,bed,test,series,status,drawn_at,collect_at"


def series_row(number: str, status: str, drawn_at: str = "", collect_at: str = "") -> str:
    return f"{number},0000123,Okafor,Ada,1960-05-31,4,TNT,S,{status},{drawn_at},{collect_at}"


@pytest.mark.parametrize(
    ("first", "drawn_s"),
    [
        # 04:50, and 22:30 of the evening before: 1.5 h before midnight.
        (series_row("A1", "collected", drawn_at="04:50"), 17_400),
        (series_row("A1", "collected", drawn_at="22:30"), -5400),
        (series_row("A1", "collected", collect_at="04:50"), 17_400),
    ],
)
def test_draw_of_a_series_made_before_binds_the_next(load_rows, first: str, drawn_s: int):
    loaded = load_rows(first, series_row("A2", ""), head=SERIES_HEAD, round_date=DAY)
    assert [(d.series, d.draw_s) for d in loaded.problem.earlier_draws] == [("S", drawn_s)]
    assert "series-draw-time" not in codes(loaded)


@pytest.mark.parametrize(("text", "tube"), [("hepg", "HEPG"), ("Serum gel tube", "SERG"), ("", None), ("gold", None)])
def test_tube_kind_of_a_draw_made_before_is_read(load_rows, text: str, tube: str | None):
    rows = (series_row("A1", "collected", drawn_at="04:50") + f",{text}", series_row("A2", "") + ",")
    loaded = load_rows(*rows, head=f"{SERIES_HEAD},drawn_into", round_date=DAY)
    assert [d.tube for d in loaded.problem.earlier_draws] == [tube]
    assert ("series-tube-unknown" in codes(loaded)) == (text == "gold")


def test_draw_of_a_series_without_its_time_is_a_warning(load_rows):
    loaded = load_rows(series_row("A1", "collected"), series_row("A2", ""), head=SERIES_HEAD, round_date=DAY)
    assert loaded.problem.earlier_draws == ()
    assert "series-draw-time" in codes(loaded)


def test_series_that_is_over_binds_nothing(load_rows):
    loaded = load_rows(
        series_row("A1", "collected", drawn_at="04:50"), GOOD_WITHOUT_SERIES, head=SERIES_HEAD, round_date=DAY
    )
    assert loaded.problem.earlier_draws == ()


GOOD_WITHOUT_SERIES = "A2,0000123,Okafor,Ada,1960-05-31,4,CBC,,,,"


DOSED = "order_number,patient_number,birth_date,ward,bed,test,priority,last_dose_at,next_dose_at,infusion_end_at"
WARDS = ("Heron", "Kite (South)", "Rail", "Teal", "Wren/2")


@pytest.mark.parametrize("word", ["timed", "T", "Timing critical"])
def test_timed_order_without_a_clock_time_goes_by_its_dose(load_rows, word):
    rows = [
        f"A{n},P{n},1950-01-0{n + 1},{ward},3A,{test},{word},{doses}"
        for n, (ward, test, doses) in enumerate(
            zip(
                WARDS,
                ("VANCT", "GENTP", "VANCT", "GENTP", "CBC"),
                (",07:00,", ",,05:30", "05:30,,", ",07:00,", "05:30,07:00,05:45"),
                strict=True,
            )
        )
    ]
    loaded = load_rows(*rows, head=DOSED, round_date=DAY)
    assert {o.id for o in loaded.problem.orders} == {"A0", "A1"}
    assert set(reasons(loaded)) == {"A2", "A3", "A4"}
    assert set(reasons(loaded).values()) == {Reason.TIME_MISSING}
    detail = {u.order_id: u.detail for u in loaded.problem.set_aside}
    assert "next_dose_at" in detail["A2"]
    assert "infusion_end_at" in detail["A3"]
    assert "dose" not in detail["A4"], "a blood count counts from no dose"
    assert [f.order_ids for f in loaded.findings if f.code == "time-from-dose"] == [("A0",), ("A1",)]
    trough = window_of(loaded.problem, loaded.problem.order("A0"))
    assert isinstance(trough, OrderWindow)
    assert trough.windows[-1].latest_s <= 7 * 3600, "never after the next dose"
