"""A plan that was changed since it was written is not printed, replanned or explained as if it were ours."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from planner.cli.app import app
from planner.cli.exit_codes import ExitCode
from planner.errors import PlanFileError
from planner.exporters.files import write_revision
from planner.exporters.plan_json import plan_from_json, plan_to_json
from planner.exporters.plan_json.seal import seal_of
from planner.library.writing import run_record, written_from
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import make_order, make_problem

pytestmark = pytest.mark.slow

Change = Callable[[dict[str, Any]], None]


@pytest.fixture(scope="module")
def written() -> bytes:
    """A plan of two patients, as it is written."""
    problem = make_problem(orders=[make_order("A1", "P1", "CBC"), make_order("A2", "P2", "CBC")])
    plan = plan_round(problem, SolveParams(effort="quick", proves=False)).plan
    return plan_to_json(problem, plan, revision=1, parent=None, inputs_digest="x", params={"seed": 1}, findings=())


class OfNothing:
    """The digest of another input."""

    def with_options(self, options: Mapping[str, object]) -> str:
        return "y"


def put(folder: Path, data: bytes) -> Path:
    """Write a round's outputs with one revision of this plan."""
    write_revision(folder, {"plan.json": data, "run.json": run_record({}, read=(), seconds=0.0, plan=data)})
    return folder


def edited(data: bytes, change: Change, *, reseal: bool = False) -> bytes:
    document = json.loads(data)
    change(document)
    if reseal:
        document["seal"] = seal_of(document)
    return json.dumps(document).encode()


def visits(document: dict[str, Any]) -> list[dict[str, Any]]:
    return [stop for route in document["routes"] for stop in route["stops"] if stop["kind"] == "visit"]


def swap_patients(document: dict[str, Any]) -> None:
    one, other = visits(document)[:2]
    one["patient_number"], other["patient_number"] = other["patient_number"], one["patient_number"]


def raise_bound(document: dict[str, Any]) -> None:
    document["goals"][-1]["bound"] = 0


def thicker_needle(document: dict[str, Any]) -> None:
    visits(document)[0]["needle"]["gauge"] = 16


def other_walk(document: dict[str, Any]) -> None:
    document["problem"]["round_name"] = "another round"


COMMANDS = {
    "explain": ["explain", "{out}", "A1", "--no-tries"],
    "sheet": ["sheet", "{out}"],
    "replan": ["replan", "{out}", "--now", "05:30"],
}


@pytest.mark.parametrize("command", COMMANDS)
def test_swapped_patients_are_refused_by_every_command(command: str, written: bytes, tmp_path: Path) -> None:
    """Even with a seal made anew: the checker finds them."""
    out = put(tmp_path / "out", edited(written, swap_patients, reseal=True))
    (out / "r1/run.json").unlink()
    arguments = [part.format(out=out) for part in COMMANDS[command]]
    for more in ([], ["--accept-edited"]):
        done = CliRunner().invoke(app, [*arguments, *more])
        assert done.exit_code == 5, done.output
    assert [p.name for p in out.iterdir()] == ["r1"]


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("change", [raise_bound, thicker_needle, other_walk])
def test_what_the_checker_does_not_recompute_is_sealed(
    command: str, change: Change, written: bytes, tmp_path: Path
) -> None:
    out = put(tmp_path / "out", edited(written, change))
    done = CliRunner().invoke(app, [part.format(out=out) for part in COMMANDS[command]])
    assert done.exit_code == ExitCode.NO_PLAN, done.output
    assert "--accept-edited" in done.output
    assert CliRunner().invoke(app, ["check", str(out)]).exit_code == 3


def test_file_resealed_is_told_by_the_run_record(written: bytes, tmp_path: Path) -> None:
    out = put(tmp_path / "out", written)
    assert CliRunner().invoke(app, ["explain", str(out), "A1", "--no-tries"]).exit_code == 0
    (out / "r1/plan.json").write_bytes(edited(written, thicker_needle, reseal=True))
    done = CliRunner().invoke(app, ["explain", str(out), "A1", "--no-tries"])
    assert done.exit_code == ExitCode.NO_PLAN
    assert "--accept-edited" in done.output


def test_layout_of_the_file_does_not_matter_to_the_seal(written: bytes, tmp_path: Path) -> None:
    out = put(tmp_path / "out", json.dumps(json.loads(written), indent=4).encode())
    assert CliRunner().invoke(app, ["explain", str(out), "A1", "--no-tries"]).exit_code == 0


def test_accepted_edit_stands_on_every_sheet(written: bytes, tmp_path: Path) -> None:
    out = put(tmp_path / "out", edited(written, thicker_needle))
    done = CliRunner().invoke(app, ["explain", str(out), "A1", "--no-tries", "--accept-edited"])
    assert done.exit_code == 0, done.output
    done = CliRunner().invoke(app, ["sheet", str(out), "--accept-edited"])
    assert done.exit_code == 0, done.output
    page = (out / "r1/round-sheet.html").read_text(encoding="utf-8")
    assert page.count("CHANGED BY HAND") >= 2  # the overview and the phlebotomist's sheet


def test_revision_that_names_itself_as_its_parent_ends(written: bytes, tmp_path: Path) -> None:
    def loop(document: dict[str, Any]) -> None:
        document["revision"], document["parent"] = 2, 1

    out = put(tmp_path / "out", edited(written, loop, reseal=True))
    again, trouble = written_from(OfNothing(), {}, out)
    assert again is None
    assert "in a ring" in str(trouble)


def test_catalogue_that_names_an_unknown_tube_is_refused(written: bytes) -> None:
    def rename(document: dict[str, Any]) -> None:
        tests = document["problem"]["catalogue"]["tests"]
        tests["CBC"]["accepts"] = [["NONE"]]

    with pytest.raises(PlanFileError, match="tube that is not there"):
        plan_from_json(edited(written, rename, reseal=True))
