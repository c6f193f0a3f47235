"""Each person's packet beside the whole round: written by default, the same as `planner sheet` draws, whole or none."""

from __future__ import annotations

import io
import shutil
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

import planner
from planner.errors import OutputError
from planner.exporters import files
from planner.exporters.view.routes import with_packets
from planner.library.written import Revision
from tests.builders import DAY
from tests.three_wards import five_ward_tables, write_tables
from tests.unit.exporters.rounds import make_round

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> planner.RoundPlan:
    """Five wards on which beds have equal numbers, three people of whom two have one name."""
    folder = write_tables(five_ward_tables(), tmp_path_factory.mktemp("packets") / "round")
    return planner.plan(planner.load(folder, day=DAY), effort="quick")


@pytest.fixture(scope="module")
def written(made: planner.RoundPlan, tmp_path_factory: pytest.TempPathFactory) -> Revision:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", "1773117000")
        return planner.write(made, tmp_path_factory.mktemp("out") / "five")


def words(path: Path) -> str:
    book = openpyxl.load_workbook(io.BytesIO(path.read_bytes()))
    return " ".join(str(c.value) for s in book.worksheets for row in s.iter_rows() for c in row if c.value is not None)


def test_a_packet_holds_the_stops_of_one_person_and_all_that_goes_with_them(
    made: planner.RoundPlan, written: Revision
) -> None:
    beds = {}
    for route in made.plan.routes:
        initials = made.problem.staff[route.phlebotomist].initials
        for ending in ("xlsx", "html"):
            assert (written.folder / f"round-sheet-{initials}.{ending}").is_file() == bool(route.stops)
        if route.stops:
            text = words(written.folder / f"round-sheet-{initials}.xlsx")
            beds[initials] = text
            for word in (
                "Take along",
                "begin to load at",
                "What if: ",
                "Where and when",
                "Cautions",
                "Words and signs",
            ):
                assert word in text
    for route in made.plan.routes:
        mine = made.problem.staff[route.phlebotomist].initials
        for visit in route.visits:
            number = made.problem.patients[visit.patient_id].id
            assert [initials for initials, text in beds.items() if f"☐\u00a0{number}" in text] == [mine]


def test_the_whole_round_lists_the_packets(written: Revision) -> None:
    stems = sorted(path.stem for path in written.folder.glob("round-sheet-*.xlsx"))
    assert len(stems) > 1
    text = words(written.folder / "round-sheet.xlsx")
    page = (written.folder / "round-sheet.html").read_text(encoding="utf-8")
    for stem in stems:
        assert f"{stem} (" in text
        assert f"{stem} (" in page
        assert "Packets to hand out" not in words(written.folder / f"{stem}.xlsx")


def test_sheet_draws_the_same_bytes(written: Revision, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1773117000")
    copy = tmp_path / "five/r1"
    copy.mkdir(parents=True)
    shutil.copy(written.folder / "plan.json", copy)
    shutil.copy(written.folder / "run.json", copy)
    initials = next(path.stem for path in written.folder.glob("round-sheet-*.xlsx")).removeprefix("round-sheet-")
    names, _ = planner.write_sheets(copy, only=initials)
    assert sorted(path.name for path in names) == [f"round-sheet-{initials}.html", f"round-sheet-{initials}.xlsx"]
    for path in names:
        assert path.read_bytes() == (written.folder / path.name).read_bytes(), path.name
    every, _ = planner.write_sheets(copy)
    assert {path.name for path in every} == {path.name for path in written.folder.glob("round-sheet*")}
    for path in every:
        assert path.read_bytes() == (written.folder / path.name).read_bytes(), path.name


def test_names_of_files_are_never_alike_and_hold_no_patient() -> None:
    from planner.exporters.view.build import build_view

    problem, plan, windows = make_round(4, 2)
    one, two = build_view(problem, plan, windows, revision=1).routes
    initials = ("IS", "is", "IS", "../A B:", "", "Ö", "..")
    routes = with_packets(tuple(replace(one, initials=text) for text in initials))
    names = [route.packet for route in routes]
    assert names == [
        "round-sheet-IS",
        "round-sheet-is-2",
        "round-sheet-IS-3",
        "round-sheet-A-B",
        "round-sheet-5",
        "round-sheet-Ö",
        "round-sheet-7",
    ]
    assert two.packet == "round-sheet-TB"


def test_a_full_disk_leaves_no_packet_behind(
    made: planner.RoundPlan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, calls = files._write_and_sync, []

    def full(descriptor: int, data: bytes) -> None:
        calls.append(len(data))
        if len(calls) == 5:
            raise OSError(28, "No space left on device")
        real(descriptor, data)

    monkeypatch.setattr(files, "_write_and_sync", full)
    with pytest.raises(OutputError, match="disk is full"):
        planner.write(made, tmp_path / "out")
    assert len(calls) == 5
    assert not list((tmp_path / "out").iterdir())
