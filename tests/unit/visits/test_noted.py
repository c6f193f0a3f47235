"""Several samples that only notes, or a test of several samples, tell apart: never one draw, a person decides.

Troponin at 0 and 3 h, cortisol stimulation at 0, 30 and 60 min, glucose tolerance at 0, 60 and 120 min: rows of
the catalogue. Words of notes: common practice, no source. Five wards with equal bed numbers; the patient is in Tern 3A.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.domain.orders import NoteSays
from planner.domain.plan import Reason
from planner.loaders.values.note_times import counts_from_something, time_said
from planner.pipeline import PlannedRound
from planner.visits.grouping import group_into_visits
from planner.visits.windows import order_windows
from tests.three_wards import five_ward_tables, load_tables, plan_quickly

PATIENT = "T0502"


def tables_with(*orders: dict[str, str]) -> dict[str, list[dict[str, str]]]:
    tables = five_ward_tables()
    tables["orders"] = [o for o in tables["orders"] if o["patient_number"] != PATIENT]
    tables["orders"] += [
        {"order_number": f"L{n}", "patient_number": PATIENT, "priority": "routine"} | order
        for n, order in enumerate(orders, start=1)
    ]
    return tables


def grouped(folder: Path, *orders: dict[str, str]) -> tuple[list[list[str]], dict[str, str]]:
    """Return the visits of the patient, by order number, and what waits with the reason's words."""
    problem = load_tables(tables_with(*orders), folder / "five")
    windows, left = order_windows(problem)
    visits = [[o.id for o in r.orders] for r in group_into_visits(problem, windows) if r.patient_id == PATIENT]
    waiting = {u.order_id: u.detail for u in left if u.order_id.startswith("L")}
    assert all(u.reason is Reason.TIME_MISSING for u in left if u.order_id.startswith("L"))
    return visits, waiting


def row(code: str, note: str = "", **more: str) -> dict[str, str]:
    return {"test": code, "note": note} | more


@pytest.mark.parametrize(
    ("orders", "visits", "waiting"),
    [
        pytest.param((row("TNT", "0 h"), row("TNT", "3 h")), [], {"L1", "L2"}, id="troponin 0 and 3 h"),
        pytest.param((row("TNT", "T=0"), row("TNT", "T+3h")), [], {"L1", "L2"}, id="troponin T=0 and T+3h"),
        pytest.param((row("TNT", "0"), row("TNT", "3")), [], {"L1", "L2"}, id="bare numbers"),
        pytest.param((row("CRP", "at 06:00"), row("CRP", "at 09:00")), [], {"L1", "L2"}, id="two clock times"),
        pytest.param(
            (row("CORT", "short tetracosactide 0 min"), row("CORT", "short tetracosactide 30 min")),
            [],
            {"L1", "L2"},
            id="tetracosactide",
        ),
        pytest.param(
            (row("POT", "now", priority="stat"), row("POT", "4 h after insulin")),
            [["L1"]],
            {"L2"},
            id="stat now, routine later",
        ),
        pytest.param(
            (row("POT", "4 h after insulin"), row("POT", priority="stat")), [["L2"]], {"L1"}, id="the other way round"
        ),
        pytest.param(
            (row("TNT", "0 h", priority="stat"), row("TNT", "3 h", priority="stat")),
            [["L1"]],
            {"L2"},
            id="two stats: the first",
        ),
        pytest.param(
            (row("TNT", "3 h", priority="stat"), row("TNT", "0 h", priority="stat")),
            [["L2"]],
            {"L1"},
            id="two stats listed the wrong way round",
        ),
        pytest.param((row("GLU", "fasting"), row("GLU", "2 h after breakfast")), [["L1"]], {"L2"}, id="glucose"),
        pytest.param((row("TNT"), row("TNT", "repeat at 3 hours")), [["L1"]], {"L2"}, id="repeat"),
        pytest.param((row("CRP"), row("CRP", "second sample please")), [["L1"]], {"L2"}, id="second sample"),
        pytest.param((row("BMP"), row("POT", "4 h after insulin")), [["L1"]], {"L2"}, id="a tube of another test"),
        pytest.param(
            (row("POT", "4 h after insulin", collect_at="2026-03-10 08:00"), row("POT")),
            [["L1"]],
            {"L2"},
            id="one states its time",
        ),
        pytest.param(
            tuple(row("OGTT75", note) for note in ("fasting", "1 hour", "2 hour")),
            [],
            {"L1", "L2", "L3"},
            id="glucose tolerance by notes",
        ),
        pytest.param((row("OGTT75"),) * 3, [], {"L1", "L2", "L3"}, id="glucose tolerance without notes"),
        pytest.param((row("STIM250"),) * 3, [], {"L1", "L2", "L3"}, id="short tetracosactide as its own test"),
        pytest.param((row("TNT"),) * 2, [["L1"]], {"L2"}, id="two troponins without a word"),
        pytest.param((row("TNI", priority="stat"), row("TNI")), [["L1"]], {"L2"}, id="troponin I, one stat"),
    ],
)
def test_samples_set_apart_are_never_one_draw(
    tmp_path: Path, orders: tuple[dict[str, str], ...], visits: list[list[str]], waiting: set[str]
) -> None:
    found, left = grouped(tmp_path, *orders)
    assert (found, set(left)) == (visits, waiting)
    for number, words in left.items():
        others = {f"L{n}" for n in range(1, len(orders) + 1)} - {number}
        assert all(other in words for other in others)
        assert "Enter a time in each order, or one series in all" in words


@pytest.mark.parametrize(
    "orders",
    [
        pytest.param((row("CRP"), row("CRP")), id="plain"),
        pytest.param((row("CRP", "asked for again by the second team"), row("CRP")), id="no time in the note"),
        pytest.param((row("CRP", "post op"), row("CRP", "Post-op")), id="equal notes"),
        pytest.param((row("LIPID", "fasting 12 h"), row("BMP")), id="a fast in a shared tube"),
        pytest.param((row("CBC", "post op day 2"), row("RETIC")), id="what happened before, in a shared tube"),
    ],
)
def test_plain_repeats_and_other_tests_stay_one_draw(tmp_path: Path, orders: tuple[dict[str, str], ...]) -> None:
    assert grouped(tmp_path, *orders) == ([["L1", "L2"]], {})


def test_stated_times_and_series_are_planned_as_they_were(tmp_path: Path) -> None:
    times = ("05:45", "06:45", "07:45")
    notes = ("fasting", "1 hour", "2 hour")
    series = [
        row("OGTT75", note, series="G", collect_at=f"2026-03-10 {at}") for note, at in zip(notes, times, strict=True)
    ]
    assert grouped(tmp_path, *series) == ([["L1"], ["L2"], ["L3"]], {})


@pytest.mark.parametrize("note", ["asked for by team 2", "fasting", "other arm", "B12 low", "first set", "", "bed 3A"])
def test_notes_that_speak_of_no_time(note: str) -> None:
    assert time_said(note) == ""
    assert not counts_from_something(note)


@pytest.mark.slow
def test_note_that_counts_from_something_is_a_decision_alone(tmp_path: Path) -> None:
    planned = planned_with(tmp_path, row("POT", "4 h after insulin"))
    (finding,) = [f for f in planned.findings if f.code == "note-contradicts"]
    assert finding.order_ids == ("L1",)
    assert "bed Tern 3A" in finding.message
    order = next(o for o in load_tables(tables_with(row("POT", "1h post dose")), tmp_path / "b").orders if o.id == "L1")
    assert NoteSays.COUNTED in order.note_says


def planned_with(folder: Path, *orders: dict[str, str]) -> PlannedRound:
    return plan_quickly(load_tables(tables_with(*orders), folder / "planned"))
