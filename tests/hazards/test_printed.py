"""What holds for every patient stands on every phlebotomist's own sheet, in the workbook and on the page."""

from __future__ import annotations

import html
import io
import re
from dataclasses import replace

import openpyxl
import pytest

from planner.domain.policy import SheetPolicy
from planner.domain.what_if import WhatIf
from planner.exporters.page.page import round_sheet_html
from planner.exporters.view.build import build_view
from planner.exporters.workbook.book import round_sheet_workbook
from tests.unit.exporters.rounds import make_round

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def sheets() -> list[str]:
    """Every phlebotomist's own workbook and own page, each as one text."""
    problem, plan, windows = make_round()
    view = build_view(problem, plan, windows, revision=1)
    own = [view.only_for(person.initials) for person in problem.staff]
    assert len(own) == 2
    pages = [round_sheet_html(one, drawn=lambda one=one: [()] * len(one.routes)).decode() for one in own]
    texts = [html.unescape(re.sub(r"<[^>]+>", " ", page)) for page in pages]
    for one in own:
        book = openpyxl.load_workbook(io.BytesIO(round_sheet_workbook(one)))
        cells = (c.value for sheet in book.worksheets for row in sheet.iter_rows() for c in row if c.value is not None)
        texts.append(" ".join(map(str, cells)))
    return [" ".join(text.split()) for text in texts]


def said_on_all(sheets: list[str], words: str) -> bool:
    return all(words in text for text in sheets)


def test_two_identifiers_are_asked_for_and_compared(sheets: list[str]) -> None:
    assert said_on_all(sheets, "Ask name and birth date; compare with wristband and number; tick.")


def test_another_name_or_no_wristband_is_not_drawn(sheets: list[str]) -> None:
    assert said_on_all(sheets, "no wristband, another name, transfusion running: do not draw")


def test_labels_are_written_beside_the_patient_after_filling(sheets: list[str]) -> None:
    assert said_on_all(sheets, "Label beside the patient after filling.")


def test_arms_that_may_not_be_used_are_asked_about(sheets: list[str]) -> None:
    assert said_on_all(sheets, "arms not to be used?")


def test_infusion_is_kept_away_from(sheets: list[str]) -> None:
    assert said_on_all(sheets, "Infusion: other arm; in both: do not draw, the doctor decides.")


def test_tourniquet_is_on_for_under_a_minute(sheets: list[str]) -> None:
    assert said_on_all(sheets, "Tourniquet under 1 minute.")


def test_newest_sheet_is_asked_for(sheets: list[str]) -> None:
    assert said_on_all(sheets, "NEWEST SHEET? Ask the lead before you start.")


def test_end_of_a_route_is_signed_out_with_what_was_not_drawn(sheets: list[str]) -> None:
    problem, plan, windows = make_round()
    view = build_view(problem, plan, windows, revision=1)
    for route, *texts in zip(view.routes, sheets[:2], sheets[2:], strict=True):
        tubes = sum(visit.num_tubes for visit in route.visits)
        for text in texts:
            assert f"Visits done _______ of {len(route.visits)} Tubes sent _______ of {tubes} Finished" in text
            assert "Not drawn: bed Tests, and why Told whom, when" in text
            assert "Sheet left where ____" in text


def test_what_to_do_after_a_needlestick_is_said(sheets: list[str]) -> None:
    # WHO guidelines on drawing blood, 2010: wash at once, report at once (from memory); whom to see is local policy.
    for words in (
        "Needlestick, splash",
        "Wash at once with soap and water, eyes with water; do not squeeze. Phone the lead;",
        "then at once occupational health or emergency department, as local policy says",
    ):
        assert said_on_all(sheets, words)


def test_number_after_a_needlestick_is_what_the_site_says() -> None:
    problem, plan, windows = make_round()
    policy = replace(problem.policy, sheet=SheetPolicy(needlestick_phone="2222"))
    view = build_view(replace(problem, policy=policy), plan, windows, revision=1)
    said = [line.do for route in view.routes for line in route.what_if if line.event is WhatIf.NEEDLESTICK]
    assert [words.endswith("as local policy says (phone 2222).") for words in said] == [True, True]
    page = round_sheet_html(view, drawn=lambda: [()] * 2).decode()
    assert page.count('(phone <a class="tel" href="tel:2222">2222</a>)') == len(said)
    assert view.phones[0][0] == "lead _______", "the other numbers are still written by hand"


def test_sharps_box_is_among_the_supplies(sheets: list[str]) -> None:
    assert said_on_all(sheets, "sharps box")


def test_attempts_end_and_what_stops_a_draw_at_once_is_said(sheets: list[str]) -> None:
    assert said_on_all(
        sheets,
        "Two attempts, then stop. Stop at once on refusal, pain shooting along the arm, arterial blood or fainting.",
    )


def test_values_are_called_general_and_the_laboratory_goes_before_them(sheets: list[str]) -> None:
    assert said_on_all(sheets, "Tubes, volumes and time limits are general values. Ask the laboratory")


def test_number_of_visits_stands_above_the_stops(sheets: list[str]) -> None:
    # Sixteen visits in two routes of eight.
    assert said_on_all(sheets, "8 visits, ")


def test_alerts_are_printed_on_the_card(sheets: list[str]) -> None:
    for text in sheets[0], sheets[2]:  # beds 101 to 107B are the first person's
        assert "Allergic to chlorhexidine" in text
        assert "No draw from the left arm (fistula)" in text
