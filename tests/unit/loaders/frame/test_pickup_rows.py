"""Several rows of one pickup are one pickup: the checker knows only its place and kind."""

from __future__ import annotations

from pathlib import Path

from planner.findings import Finding, Severity
from planner.loaders import LoadOptions, load
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import DAY
from tests.three_wards import HERON, RAIL, SHELF, STATION, three_ward_tables, write_tables


def test_two_rows_of_one_courier_are_one_pickup(tmp_path: Path) -> None:
    (tmp_path / "orders.csv").write_text(
        "order_number,patient_number,test,ward,bed,collect_at\n1,P1,CBC,Elm,1,2026-03-10 05:30\n", encoding="utf-8"
    )
    (tmp_path / "pickups.csv").write_text(
        "place,kind,departs,transit_minutes\nDesk,courier,06:30,5\nDesk,courier,06:00,50\n", encoding="utf-8"
    )
    problem = load(tmp_path).problem
    assert problem is not None
    (pickup,) = problem.pickups
    # 06:00 and 06:30; the longer transit, 50 min, holds for both.
    assert (pickup.departures_s, pickup.transit_s) == ((21_600, 23_400), 3000)
    plan_round(problem, SolveParams(effort="quick"))


def _pickups(folder: Path, rows: str) -> tuple[dict[str, int], list[str], list[Finding]]:
    """Return the seconds from each pickup to the laboratory, what is assumed of them, and what was found."""
    tables = three_ward_tables()
    del tables["pickups"]
    write_tables(tables, folder)
    (folder / "pickups.csv").write_text(f"place,kind,departs,transit_minutes\n{rows}", encoding="utf-8")
    loaded = load(folder, LoadOptions(round_date=DAY, adults_only=True))
    problem = loaded.problem
    assert problem is not None
    said = [sentence for sentence in problem.assumptions if "How long" in sentence]
    return {problem.place_name(p.place): p.transit_s for p in problem.pickups}, said, list(loaded.findings)


def test_a_time_to_the_laboratory_that_nobody_gives_is_never_nought(tmp_path: Path) -> None:
    """Five minutes is the policy's walk to the laboratory; two wards have a tube station of one name."""
    rows = (
        f'"{HERON}/{STATION}",tube,,\n"{RAIL}/{STATION}",tube,,4\n"{SHELF}",courier,07:00,\n"{SHELF}",courier,06:15,\n'
    )
    transit_s, said, _ = _pickups(tmp_path / "none", rows)
    assert sorted(transit_s.values()) == [240, 300, 300]
    assert len(said) == 2 and all("counted: 5 minutes" in sentence for sentence in said)
    assert sum(HERON in sentence for sentence in said) == 1
    transit_s, said, _ = _pickups(tmp_path / "one", rows.replace("06:15,", "06:15,12"))
    assert sorted(transit_s.values()) == [240, 300, 720]
    assert len(said) == 1


def test_times_of_a_tube_station_are_not_dropped_in_silence(tmp_path: Path) -> None:
    _, _, found = _pickups(tmp_path / "times", f'"{HERON}/{STATION}",tube,06:00,4\n')
    [finding] = [f for f in found if f.code == "pickup-unreadable"]
    assert finding.severity is Severity.WARNING
    assert finding.source is not None and (finding.source.row, finding.source.column) == (2, "departs")


def test_what_is_carried_to_the_laboratory_itself_takes_no_time_more(tmp_path: Path) -> None:
    transit_s, said, _ = _pickups(tmp_path / "carried", f'"{SHELF}",carried,,\n')
    assert (list(transit_s.values()), said) == ([0], [])
