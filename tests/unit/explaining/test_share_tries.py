"""``explain NAME``: which price or limit would give somebody another share, each found by planning again."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

import planner
from planner.cli.app import app
from planner.domain.problem import Problem
from planner.errors import RequestError
from planner.explaining.share_tries import share_tries
from planner.solving.params import Effort, SolveParams
from tests.three_wards import HERON, KITE, RAIL, load_tables, three_ward_tables

pytestmark = pytest.mark.slow

PARAMS = SolveParams(effort=Effort.QUICK, proves=False)


def a_round(folder: Path, own: str) -> Problem:
    """Return three wards of four beds for three people: one for two wards, one for ``own``, one for Rail."""
    tables = three_ward_tables()
    for row, wards in zip(tables["staff"], (f"{HERON}; {KITE}", own, RAIL), strict=True):
        row["wards"] = wards
    return load_tables(tables, folder)


def test_own_wards_are_what_keeps_the_share_and_are_named(tmp_path: Path) -> None:
    # The first has the eight visits of Heron and Kite, the other two share the four of Rail.
    bound = a_round(tmp_path, RAIL)
    found = {one.words: one for one in share_tries(bound, 1, PARAMS)}
    free = replace(bound, staff=(bound.staff[0], replace(bound.staff[1], wards=frozenset()), bound.staff[2]))
    words = f"all wards for {bound.staff[1].initials}"
    again = {one.words for one in share_tries(free, 1, PARAMS)}
    assert words not in again  # the cause is gone, and so is the line
    assert found[words].num_visits > found[words].before
    assert found[words].before < 4
    assert all("skills" not in said for said in (*found, *again))  # nobody needs any


def test_every_try_is_said_before_it_is_made(tmp_path: Path) -> None:
    told: list[str] = []
    found = list(share_tries(a_round(tmp_path, KITE), 1, PARAMS, told.append))
    assert {one.words for one in found} <= set(told)
    assert told[:3] == [
        "price share 10 in place of 3",
        "price share 0 in place of 3",
        "price ward_change 0 min in place of 5 min",
    ]


def test_explain_takes_a_name(tmp_path: Path) -> None:
    problem = a_round(tmp_path / "round", KITE)
    planner.write(planner.plan(problem, effort="quick"), tmp_path / "out")
    who = problem.staff[1]
    share = planner.explain_share(tmp_path / "out", who.initials, tries=False)
    assert (share.person, share.tries) == (1, ())
    done = CliRunner().invoke(app, ["explain", str(tmp_path / "out"), who.initials, "--no-tries"])
    assert done.exit_code == 0, done.output
    assert f"goes to {KITE} only; may make 4 of the 12 visits" in " ".join(done.stdout.split())
    with pytest.raises(RequestError, match="is none of those who collect"):
        planner.explain_share(tmp_path / "out", "Zoe Unknown", tries=False)
    refused = CliRunner().invoke(app, ["explain", str(tmp_path / "out"), "Zoe Unknown"])
    assert refused.exit_code == 2
