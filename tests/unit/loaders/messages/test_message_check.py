"""``planner check`` on messages: what would be planned, what not and why, and totals that add up."""

from __future__ import annotations

import json
import re

import pytest
from typer.testing import CliRunner

from planner.cli.app import app
from tests.unit.loaders.messages.hl7.ward import message, order


def check(path, columns=""):
    """Run the command; return exit code and what it prints to standard output."""
    result = CliRunner().invoke(app, ["check", str(path)], env={"COLUMNS": columns} if columns else {"COLUMNS": "200"})
    return result.exit_code, result.stdout


@pytest.fixture
def night(tmp_path):
    """Four orders: one to plan, one cancelled, one to add to a specimen, one of an unknown test."""
    segments = [order(), order("N2", control="CA"), order("N3", obr={"f11": "A"}), order("N4", test="QQQ^Nothing^L")]
    path = tmp_path / "night.hl7"
    path.write_text(message(*segments), encoding="utf-8")
    return path


def test_planned_and_set_aside_by_reason_add_up_to_what_was_read(night):
    code, text = check(night)
    read, to_plan, aside = map(
        int, re.search(r"(\d+) orders read: (\d+) to plan in \d+ visits, (\d+) set", text).groups()
    )
    reasons = re.search(r"^set aside: (.+)$", text, re.MULTILINE)[1]
    by_reason = sum(int(number) for number in re.findall(r"\d+", reasons))
    assert (read, to_plan, aside, by_reason) == (4, 1, 3, 3)
    assert reasons == "1 add-on, 1 cancelled, 1 unknown-test"
    # an unknown test needs a decision: exit 3
    assert code == 3
    assert text.count("to plan: order") == 1


def test_a_file_of_which_nothing_is_planned_is_accounted_for_too(tmp_path):
    path = tmp_path / "m.hl7"
    path.write_text(message(order(control="CA")), encoding="utf-8")
    code, text = check(path)
    assert code == 4
    assert "set aside: 1 cancelled\n1 orders read: 0 to plan, 1 set aside" in text


@pytest.mark.slow
def test_messages_beside_a_ward_map_and_staff_become_a_checked_plan(tmp_path, night):
    """A folder may mix: orders from messages, ward map, staff and pickups from tables."""
    (tmp_path / "places.csv").write_text(
        "place,ward,kind,x_m,y_m\nDesk,,base,0,0\n04-A,Birch,bed,10,0\nHatch,,pickup,2,0\nLab,,laboratory,90,0\n"
    )
    (tmp_path / "staff.csv").write_text("name,initials,from,until,starts_at\nKim Sato,KS,05:30,08:00,Desk\n")
    (tmp_path / "pickups.csv").write_text("place,kind,departs,transit_minutes\nHatch,courier,07:00,8\n")
    out = tmp_path / "out"
    result = CliRunner().invoke(app, ["plan", str(tmp_path), "--out", str(out), "--effort", "quick"])
    # the unknown test of N4 needs a decision: exit 3
    assert result.exit_code == 3
    plan = json.loads((out / "r1" / "plan.json").read_text(encoding="utf-8"))
    (route,) = plan["routes"]
    visits = [(stop["bed"], stop["order_numbers"]) for stop in route["stops"] if stop["kind"] == "visit"]
    assert (route["phlebotomist"], visits) == ("Kim Sato", [("04-A", ["N1"])])
    assert sorted(order["order_number"] for order in plan["unplanned"]) == ["N2", "N3", "N4"]


def test_lines_fit_a_narrow_terminal(night):
    _, text = check(night, "60")
    assert max(map(len, text.splitlines())) <= 60
    assert "4 orders read: 1 to plan" in text
