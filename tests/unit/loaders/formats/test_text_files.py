"""Text tables: encodings, delimiters, headings, rows that are no data."""

from __future__ import annotations

import codecs
from datetime import date
from pathlib import Path

import pytest

from planner.domain.plan import Reason
from planner.loaders import Loaded, load
from tests.helpers import codes

DAY = date(2026, 3, 4)
HEAD = "order_number,patient_number,family_name,given_name,birth_date,bed,test,priority"
ROWS = ("A1,0000123,Müller,Zoë,1960-05-31,4,CBC,routine", "A2,77,Brandt,Ole,1970-06-30,5,TSH,stat")
LIST = "\n".join([HEAD, *ROWS]) + "\n"


def said(loaded: Loaded, code: str) -> str:
    return " ".join(f.message for f in loaded.findings if f.code == code)


@pytest.mark.parametrize(
    ("encoding", "name"),
    [
        ("utf-8", "UTF-8"),
        ("utf-8-sig", "UTF-8 with a byte order mark"),
        ("utf-16", "UTF-16"),
        ("utf-16-le", "UTF-16 without a byte order mark"),
        ("utf-16-be", "UTF-16 without a byte order mark"),
        ("cp1252", "Windows text (cp1252)"),
    ],
)
def test_encoding_is_found_and_named(load_text, encoding, name):
    loaded = load_text(LIST.encode(encoding), round_date=DAY)
    assert loaded.problem.patients["0000123"].family_name == "Müller"
    assert f"read as {name}," in said(loaded, "file-format")
    assert codes(loaded) == {"file-format"}


def test_bytes_without_meaning_are_said(load_text):
    # 0x81 is not defined in cp1252
    loaded = load_text(LIST.encode("cp1252").replace(b"Brandt", b"Br\x81ndt"), round_date=DAY)
    assert "text-undecodable" in codes(loaded)
    assert loaded.num_orders_read == 2


@pytest.mark.parametrize(("delimiter", "name"), [(",", "comma"), (";", "semicolon"), ("\t", "tab"), ("|", "vertical")])
def test_delimiter_is_found_and_named(load_text, delimiter, name):
    loaded = load_text(LIST.replace(",", delimiter), round_date=DAY)
    assert len(loaded.problem.orders) == 2
    assert name in said(loaded, "file-format")


def test_semicolons_win_over_commas_inside_names(load_text):
    text = "order number;patient number;patient;bed;test\n" + "".join(
        f"A{n};{n};Okafor, Ada, B;{n};CBC\n" for n in range(1, 9)
    )
    assert load_text(text, round_date=DAY).problem.patients["1"].given_name == "Ada, B"


def test_sep_line_of_a_spreadsheet(load_text):
    assert len(load_text("sep=;\r\n" + LIST.replace(",", ";"), round_date=DAY).problem.orders) == 2


def test_trailing_delimiter_on_data_rows_only(load_text):
    text = "\n".join([HEAD, *(row + "," for row in ROWS)])
    loaded = load_text(text, round_date=DAY)
    assert loaded.problem.patients["0000123"].bed == "4"
    assert codes(loaded) == {"file-format"}


def test_delimiter_inside_a_value_sets_the_order_aside(load_text):
    loaded = load_text(LIST.replace("Zoë", "Zoë, Ann"), round_date=DAY)
    assert {u.order_id: u.reason for u in loaded.problem.set_aside} == {"A1": Reason.UNREADABLE}
    assert "row-too-long" in codes(loaded)


def test_open_quote_does_not_swallow_rows(load_text):
    loaded = load_text(LIST.replace("Müller", '"Müller'), round_date=DAY)
    assert loaded.num_orders_read == 2
    assert "open-quote" in codes(loaded)


def test_pair_of_stray_quotes_does_not_swallow_rows(load_text):
    loaded = load_text(LIST.replace("Müller", '"Müller').replace("Ole", 'Ole"'), round_date=DAY)
    assert loaded.num_orders_read == 2
    assert "open-quote" in codes(loaded)


def test_line_break_inside_quotes_is_one_cell(load_text):
    text = HEAD + ",note\n" + ROWS[0] + ',"left arm\nonly"\n' + ROWS[1] + ",\n"
    loaded = load_text(text, round_date=DAY)
    assert loaded.problem.order("A1").note == "left arm\nonly"
    assert loaded.problem.order("A2").source.row == 3


def test_title_rows_and_blank_rows(load_text):
    text = f"Ward East order list,,,,,,,\nprinted 2026-03-03,,,,,,,\n\n{HEAD}\n{ROWS[0]}\n,,,,,,,\n\n{ROWS[1]}\n"
    loaded = load_text(text, round_date=DAY)
    assert [o.source.row for o in loaded.problem.orders] == [5, 8]
    assert "rows 1, 2" in said(loaded, "title-rows")


def test_two_row_headings(load_text):
    text = (
        "Order,Patient,,,,Requested,\nNumber,Number,Surname,DOB,Bed,Test,Priority\n"
        "A1,0000123,Okafor,1960-05-31,4,CBC,stat\n"
    )
    loaded = load_text(text, round_date=DAY)
    (order,) = loaded.problem.orders
    assert (order.id, order.patient_id, order.test) == ("A1", "0000123", "CBC")
    assert loaded.problem.patients["0000123"].birth_date == date(1960, 5, 31)


def test_headings_of_other_languages(load_text):
    text = "Auftrags-Nr.;Pat.-Nr.;Nachname;Geb.-Datum;Bett;Untersuchung;Priorität\nA1;1;Okafor;31.05.1960;4;CBC;eilig\n"
    assert len(load_text(text.encode("cp1252"), round_date=DAY).problem.orders) == 1
    text = "N° demande;IPP;Nom;Date de naissance;Lit;Examen;Priorité\nA1;1;Okafor;31/05/1960;4;CBC;urgente\n"
    assert load_text(text, round_date=DAY).num_orders_read == 1


@pytest.mark.parametrize("heading", ["Order Number", "ORDER_NUMBER", "order-number", " Order  No. ", "Órder number:"])
def test_headings_are_compared_loosely(load_text, heading):
    assert load_text(LIST.replace("order_number", heading), round_date=DAY).problem.orders[0].id == "A1"


def test_extra_columns_are_named(load_text):
    text = f"{HEAD},Shoe size,Insurer\n{ROWS[0]},42,x\n"
    assert "not understood: Shoe size, Insurer." in said(load_text(text, round_date=DAY), "extra-columns")


def test_two_columns_of_one_meaning(load_text):
    loaded = load_text(f"{HEAD},urgency\n{ROWS[0]},stat\n", round_date=DAY)
    assert "heading-twice" in codes(loaded)
    assert loaded.problem.orders[0].priority.value == "routine"


def test_repeated_headings_and_footers_are_no_orders(load_text):
    text = f"{HEAD}\n{ROWS[0]}\n{HEAD}\n{ROWS[1]}\nEnd of list - 2 orders,,,,,,,\n"
    loaded = load_text(text, round_date=DAY)
    assert loaded.num_orders_read == 2
    assert {"repeated-headings", "text-row"} <= codes(loaded)


def test_missing_column_names_it(load_text):
    loaded = load_text("a,b\n1,2\n", round_date=DAY)
    assert loaded.problem is None
    assert {"missing-column", "no-orders"} <= codes(loaded)
    assert "'patient_number'" in said(loaded, "missing-column")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "input-empty"),
        (b"\n\n", "table-empty"),
        (HEAD.encode(), "no-orders"),
        (b"<html><body><table><tr><td>order</td></tr></table></body></html>", "web-page"),
        (b"%PDF-1.7\x00\x01\x02 stream", "not-a-table"),
    ],
)
def test_list_without_orders(load_text, content, code):
    loaded = load_text(content, round_date=DAY)
    assert (loaded.problem, loaded.num_orders_read) == (None, 0)
    assert {code, "no-orders"} <= codes(loaded)


def test_path_that_does_not_exist(tmp_path: Path):
    loaded = load(tmp_path / "nothing.csv")
    assert loaded.problem is None
    assert codes(loaded) == {"input-not-found"}


def test_file_that_may_not_be_opened(load_text, monkeypatch: pytest.MonkeyPatch):
    def refuse(_self: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", refuse)
    assert "input-unreadable" in codes(load_text(LIST, round_date=DAY))


def test_zero_keeping_formula_text_of_a_spreadsheet(load_text):
    loaded = load_text(LIST.replace("0000123", '"=""0000123"""'), round_date=DAY)
    assert loaded.problem.orders[0].patient_id == "0000123"


def test_invisible_characters_around_codes(load_text):
    loaded = load_text(LIST.replace("CBC", "​CBC\xa0"), round_date=DAY)
    assert loaded.problem.orders[0].test == "CBC"


def test_mark_alone_is_an_empty_table(load_text):
    assert "table-empty" in codes(load_text(codecs.BOM_UTF8, round_date=DAY))


def test_folder_of_tables(load_folder):
    loaded = load_folder(
        {
            "Orders.csv": LIST,
            "policy.toml": "[round]\nbreakfast_at = '07:45'\n",
            "readme.md": "x",
            "diet.csv": "patient,meal\n1,soup\n",
            ".hidden.csv": "x",
        },
        round_date=DAY,
    )
    assert len(loaded.problem.orders) == 2
    assert loaded.problem.policy.round.breakfast_at_s == 27_900  # 7 h 45 min
    assert loaded.sources == ("policy.toml", "Orders.csv")
    assert {"unknown-file", "unknown-table"} <= codes(loaded)
    assert "readme.md" in said(loaded, "unknown-file")


def test_folder_with_one_list_of_any_name(load_folder):
    assert len(load_folder({"export_4711.csv": LIST}, round_date=DAY).problem.orders) == 2


def test_list_of_another_name_among_tables(load_folder):
    loaded = load_folder({"export.csv": LIST, "staff.csv": "name,from,until\nKim,05:00,08:00\n"}, round_date=DAY)
    assert len(loaded.problem.orders) == 2
    assert "taken-as-orders" in codes(loaded)


def test_table_that_stands_twice_is_read_twice(load_folder):
    loaded = load_folder({"orders.csv": LIST, "order list.csv": LIST.replace("A1", "A3")}, round_date=DAY)
    assert loaded.num_orders_read == 4
    assert "table-twice" in codes(loaded)


def test_site_tests_are_added(load_folder):
    tests = "test,name,tubes,min_ml,add_ml,share_group\nHOUSE,House test,EDTA,1.0,0.5,HAEM\n"
    loaded = load_folder({"orders.csv": LIST.replace("CBC", "HOUSE"), "tests.csv": tests}, round_date=DAY)
    assert loaded.problem.order("A1").test == "HOUSE"
