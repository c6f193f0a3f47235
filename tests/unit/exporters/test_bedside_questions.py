"""What is asked at the bed about doses and meals, and that no question holds a stat up."""

from __future__ import annotations

import re
from typing import Any

import pytest

from planner.domain.catalogue import DoseRule
from planner.domain.orders import Priority
from planner.exporters.view.build import build_view
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from planner.visits import order_windows
from tests.builders import clock, make_catalogue, make_order, make_patient, make_problem, make_test


def ask(order: dict[str, Any], patient: dict[str, Any] | None = None, **test: Any) -> tuple[str, ...]:
    """Return what the card of one order for the test X asks."""
    problem = make_problem(
        [make_order(**order, test="X")],
        [make_patient(**(patient or {}))],
        catalogue=make_catalogue(extra_tests=[make_test("X", **test)]),
    )
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    view = build_view(problem, plan, order_windows(problem)[0], revision=1)
    (visit,) = (visit for route in view.routes for visit in route.visits)
    return visit.ask


def rule(kind: str, **changes: Any) -> DoseRule:
    return DoseRule(kind=kind, **({"from_s": 1800, "to_s": 7200} | changes))


STAT = {"priority": Priority.STAT}


@pytest.mark.parametrize(
    ("kind", "order", "line"),
    [
        (
            "post_end",
            {"infusion_end_s": clock("05:00")},
            "X: infusion ended when (on file 05:00)? Write: ____________ "
            "Ended later: not before 30 min after the end; if too "
            "long, do not draw X, phone the ward.",
        ),
        # Drawn at 05:30, from 30 min to 2 h after: the dose lies between 03:30 and 05:00.
        (
            "post_change",
            {"last_dose_s": clock("05:00")},
            "X: rate last changed when (on file 05:00)? Write: ____________ "
            "Later than 05:00 or before 03:30: do not draw X, "
            "phone the ward.",
        ),
        (
            "post_start",
            {"last_dose_s": clock("05:00")},
            "X: infusion started when (on file 05:00)? Write: ____________ "
            "Later than 05:00 or before 03:30: do not draw X, "
            "phone the ward.",
        ),
        (
            "post_dose",
            {"last_dose_s": clock("05:00"), "next_dose_s": clock("06:30")},
            "X: last dose when (on file 05:00)? Write: ____________ "
            "Later than 05:00 or before 03:30: do not draw X, phone the "
            "ward. Next dose, 06:30, only after the draw; given already: do not draw X, phone the ward.",
        ),
        # A level timed without its dose: the dose may have been given already.
        (
            "trough",
            {"collect_at_s": clock("06:00")},
            "X: next dose when? Write: ____________ Given already: do not draw X, phone the ward.",
        ),
    ],
)
def test_level_asks_for_the_instant_that_it_counts_from(kind: str, order: dict[str, Any], line: str) -> None:
    assert ask(order, dose_rule=rule(kind)) == (line,)


def test_day_of_a_dose_keeps_its_capital_letter() -> None:
    # Drawn at 05:30 on 10 March, up to three days after the dose.
    (line,) = ask({"last_dose_s": clock("05:00")}, dose_rule=rule("post_change", to_s=3 * 86_400))
    assert "Later than 05:00 or before 05:30 on 07 Mar 2026: do not draw X, phone the ward." in line


def test_only_the_test_of_the_dose_is_left_undrawn() -> None:
    # One visit, and nothing keeps the other tests of the patient from being drawn.
    catalogue = make_catalogue(extra_tests=[make_test("X", dose_rule=rule("post_change"))])
    orders = [make_order("O1", test="X", last_dose_s=clock("05:00")), make_order("O2", test="CBC")]
    problem = make_problem(orders, [make_patient()], catalogue=catalogue)
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    view = build_view(problem, plan, order_windows(problem)[0], revision=1)
    (visit,) = (visit for route in view.routes for visit in route.visits)
    assert len(visit.order_numbers) == 2
    said = " ".join(visit.ask)
    assert re.findall("do not draw[^.]*", said) == ["do not draw X, phone the ward"]


def test_stat_is_drawn_whatever_the_answer_is() -> None:
    assert ask(STAT, dose_rule=rule("post_dose")) == (
        "X: last dose when? Write: ____________ STAT: draw now, whatever the answer.",
    )
    fed = {"last_ate_s": clock("03:30")}
    assert ask(STAT, fed, fasting_s=8 * 3600, fasting_required=True) == (
        "X STAT: draw now, fed or fasting. Last meal when (on file 03:30)? Write: ____________",
    )


def test_stat_held_from_a_stated_ingestion_asks_whether_it_is_sure() -> None:
    assert ask(
        STAT | {"last_dose_s": clock("02:00")}, dose_rule=rule("post_dose", from_s=4 * 3600, to_s=None, holds_stat=True)
    ) == (
        # Held until 06:00: for a dose after 02:00 the level would say nothing yet.
        "X: last dose when (on file 02:00)? Write: ____________ Later than 02:00: phone the ward before you draw. "
        "Not sure, or taken over some time: draw now.",
    )


def test_rules_of_two_orders_for_one_draw_are_shown_together() -> None:
    # The trough is 07:00 to 07:30; the fast of the glucose ends at 08:00, the hours of the cortisol at 09:00.
    orders = [
        make_order("O1", test="VANCT", next_dose_s=clock("07:30")),
        make_order("O2", test="FGLU"),
        make_order("O3", test="CORTAM"),
    ]
    problem = make_problem(orders, [make_patient(last_ate_s=clock("20:00") - 86_400)])
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    view = build_view(problem, plan, order_windows(problem)[0], revision=1)
    (visit,) = (visit for route in view.routes for visit in route.visits)
    expected = "07:00 to 07:30 only (drug level); time of day of the test 07:00 to 09:00; fasting 04:00 to 08:00"
    assert visit.window == expected
