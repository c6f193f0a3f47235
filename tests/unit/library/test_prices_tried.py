"""``--price``: another price for one plan only, said wherever the plan is judged, and gone in the next revision."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

import planner
from planner.cli.app import app
from planner.domain.price_policy import PricePolicy
from planner.domain.prices import price_name, site_prices, tried_prices, with_prices
from planner.errors import RequestError
from planner.exporters.terminal.summary import summary_data, summary_lines
from planner.library.replanning import begin
from planner.loaders.policy.fields import PolicyField, section_fields
from planner.loaders.policy.prices import read_prices
from tests.builders import make_order, make_patient, make_problem
from tests.three_wards import load_tables, three_ward_tables

FIELDS = section_fields(PricePolicy)


def test_every_price_of_the_policy_has_a_name_and_takes_its_own_default() -> None:
    own = PricePolicy()
    for field in fields(PricePolicy):
        value = getattr(own, field.name)
        shown = value / 60 if field.name.endswith("_s") else value
        assert read_prices([f"{price_name(field.name)}={shown:g}"]) == {field.name: value}


@pytest.mark.parametrize("field", FIELDS, ids=[field.name for field in FIELDS])
def test_price_is_read_up_to_the_end_of_its_range_and_not_beyond(field: PolicyField) -> None:
    name, most = field.name, field.setting.most
    size = 60 if name.endswith("_s") else 1
    assert read_prices({price_name(name): most // size}) == {name: most}
    with pytest.raises(RequestError, match=f"0 to {most // size}"):
        read_prices({price_name(name): most // size + 1})


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["moved_stp=5"], "'moved_stp' is no price; did you mean moved_stop?"),
        (["colour=5"], "'colour' is no price; prices: puncture, moved_stop, "),
        (["share"], "share= cannot be; write a number: 0 to 10"),
        (["share=-1"], "share=-1 cannot be; write a number: 0 to 10"),
        (["share=1.5"], "share=1.5 cannot be; write a number: 0 to 10"),
        (["isolation=nan"], "isolation=nan cannot be; write a number: 0 to 120 minutes"),
        (["share=1", "share=2"], "share is given twice; keep one"),
        (["isolation=1", "isolation_seconds=90"], "isolation is given twice; keep one"),
    ],
)
def test_price_that_cannot_be_is_one_error_that_says_what_can(given: list[str], said: str) -> None:
    with pytest.raises(RequestError) as caught:
        read_prices(given)
    assert str(caught.value).startswith(said)
    assert caught.value.parameter == "price"


def test_all_that_is_wrong_is_said_at_once() -> None:
    with pytest.raises(RequestError, match=r"'moved_stp' is no price.*; share=99 cannot be"):
        read_prices(["moved_stp=5", "share=99"])


def test_unit_may_be_written_as_in_the_policy() -> None:
    assert read_prices(["isolation_seconds=30", "Moved-stop=0.5"]) == {"isolation_s": 30, "moved_stop_s": 30}


def test_summary_names_what_is_not_the_sites() -> None:
    own = make_problem([make_order("O1")], [make_patient("P1")])
    own = replace(own, policy=replace(own.policy, prices=PricePolicy(share=4)))
    made = planner.plan(own, effort="quick", prices=["share=7", "moved_stop=10", "isolation=0.5"])
    text = "\n".join(summary_lines(made.problem, made.plan))
    assert (
        "Prices tried in this plan only\n  share 7, the site has 4\n  isolation 0.5 min, the site has 1.5 min\n" in text
    )
    said = summary_data(made.problem, made.plan)["prices_tried"]
    assert said == [
        {"name": "share", "tried": "7", "site": "4"},
        {"name": "isolation", "tried": "0.5 min", "site": "1.5 min"},
    ]
    plain = planner.plan(own, effort="quick")
    assert "Prices tried" not in "\n".join(summary_lines(plain.problem, plain.plan))


def test_site_prices_come_back() -> None:
    own = make_problem()
    tried = with_prices(own, {"share": 9})
    assert site_prices(tried) == own.policy.prices
    assert [price.name for price in tried_prices(with_prices(tried, {"to_lab": 2}))] == ["to_lab"]
    assert with_prices(tried, {}) == own


@pytest.mark.slow
def test_plan_is_judged_by_its_own_prices_and_the_next_revision_by_the_sites(tmp_path: Path) -> None:
    problem = load_tables(three_ward_tables(), tmp_path / "round")
    out = tmp_path / "out"
    first = planner.plan(problem, effort="quick", prices={"ward_change": 0, "share": 10})
    assert planner.write(first, out).number == 1
    assert json.loads((out / "r1" / "plan.json").read_text())["problem"]["site_prices"]["share"] == 3
    checked = planner.check(out)
    assert isinstance(checked, planner.PlanCheck)
    assert [price.name for price in tried_prices(checked.problem)] == ["share", "ward_change"]
    page = (out / "r1" / "round-sheet.html").read_text(encoding="utf-8")
    assert "Prices tried in this plan only: share 10, the site has 3; ward_change 0 min, the site has 5 min." in page

    second = planner.replan(out, "05:10", prices=["moved_stop=0"])
    assert [price.name for price in tried_prices(second.problem)] == ["moved_stop"]
    assert second.problem.policy.prices.share == 3
    planner.write(second, out)
    third = planner.replan(out, "05:12")
    assert tried_prices(third.problem) == ()
    planner.write(third, out)
    again = planner.check(out)  # makes both revisions again from the first plan and the log
    assert isinstance(again, planner.PlanCheck)
    assert again.num_remade == 2


@pytest.mark.slow
def test_another_price_is_another_command(tmp_path: Path) -> None:
    planner.write(planner.plan(load_tables(three_ward_tables(), tmp_path / "round"), effort="quick"), tmp_path / "out")
    digests = {
        begin(tmp_path / "out", "05:10", planner.News(), prices=prices).digest.with_options({})
        for prices in ((), ["moved_stop=5"], ["moved_stop=6"], ["moved_stop_seconds=300"])
    }
    assert len(digests) == 3


@pytest.mark.parametrize("command", [["plan", "no-such-round"], ["replan", "no-such-plan", "--now", "05:10"]])
def test_wrong_price_is_wrong_usage(command: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(app, [*command, "--price", "moved_stp=5"])
    assert done.exit_code == 2
    assert "did you mean moved_stop?" in " ".join(done.stderr.replace("│", " ").split())
