"""The options of ``planner replan``: help on each, all bad values at once, and what they turn into."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from planner.cli import replan_options as options
from planner.cli.guard import GuardedCommand
from planner.cli.replan_refused import meant_command, refusal_lines
from planner.domain.changes import Cancel, NewOrders, StatOrders
from planner.errors import InputError, RequestError
from planner.library.news import OUTCOMES, parse_changes, parse_now, read_changes, read_done
from planner.loaders.during.shorthand import PARSERS
from tests.builders import clock, make_order, make_phlebotomist, make_problem
from tests.replan_builders import five_wards, make_plan, make_visit

app = typer.Typer()
seen: dict[str, Any] = {}


@app.command(cls=GuardedCommand)
def replan(
    out: options.OutPath,
    now: options.Now,
    done: options.Done = None,
    orders: options.OrdersFile = None,
    stat: options.Stat = None,
    dose: options.DoseOption = None,
    time: options.TimeOption = None,
    cancel: options.CancelOption = None,
    away: options.AwayOption = None,
    moved: options.MovedOption = None,
    gone: options.GoneOption = None,
    late: options.LateOption = None,
    lost: options.LostOption = None,
    join: options.JoinOption = None,
    courier: options.CourierOption = None,
    recollect: options.RecollectOption = None,
    never_came: options.NeverCameOption = None,
    drawn: options.DrawnOption = None,
    refused: options.RefusedOption = None,
    failed: options.FailedOption = None,
    undo: options.UndoOption = False,
    preview: options.PreviewOption = False,
    apply_rest: options.ApplyRestOption = False,
    verbose: options.VerboseOption = False,
) -> None:
    told = {
        "stat": stat, "cancel": cancel, "away": away, "moved": moved, "gone": gone, "late": late, "lost": lost,
        "join": join, "courier": courier, "recollect": recollect, "dose": dose, "time": time,
        "never-came": never_came,
    }  # fmt: skip
    assert set(told) == set(PARSERS)
    seen.update(changes=parse_changes(told), done=done, orders=orders, now=now, out=out)


def run(*arguments: str) -> Any:
    return CliRunner().invoke(app, ["outputs/x", "--now", "05:42", *arguments], terminal_width=200)


def test_options_become_changes() -> None:
    result = run("--stat", "14:POT,LACT", "--stat", "3:CBC", "--cancel", "A1", "--done", "12,14B", "--orders", "n.csv")
    assert result.exit_code == 0, result.output
    assert seen["changes"] == (
        StatOrders(bed="14", tests=("POT", "LACT")),
        StatOrders(bed="3", tests=("CBC",)),
        Cancel(order_id="A1"),
    )
    assert (seen["done"], seen["orders"]) == (["12,14B"], [Path("n.csv")])


def test_all_bad_values_are_told_at_once_with_exit_code_2() -> None:
    result = run("--stat", "14", "--away", "14=6", "--late", "AB=soon", "--stat", "14:POT")
    assert result.exit_code == 2
    assert all(name in result.output for name in ("--stat:", "--away:", "--late:"))


def test_every_option_says_its_default_and_now_is_needed() -> None:
    text = CliRunner().invoke(app, ["--help"], terminal_width=200).output
    plain = re.sub(r"\s+", " ", text)
    others = ("done", "orders", "undo", "preview", "apply-rest", "verbose", *OUTCOMES)
    for name in (*PARSERS, *others):
        assert f"--{name} " in plain
    assert plain.count("Default: ") == len(PARSERS) + len(others) + 1
    assert CliRunner().invoke(app, ["outputs/x"]).exit_code == 2


@pytest.mark.parametrize(("text", "expected"), [("05:42", "29:42"), ("23:50", "23:50"), ("0010", "24:10")])
def test_now_of_a_round_over_midnight_is_in_the_round(text: str, expected: str) -> None:
    night = make_phlebotomist(from_s=clock("22:00"), until_s=clock("30:00"))
    assert parse_now(text, make_problem(staff=[night])) == clock(expected)


def test_now_that_is_no_time_is_wrong_usage() -> None:
    with pytest.raises(RequestError, match="--now"):
        parse_now("soon", make_problem())


def test_done_takes_files_and_beds(tmp_path: Path) -> None:
    problem = make_problem([make_order("O1", "P1"), make_order("O2", "P2")])
    plan = make_plan([make_visit(problem, ["O1"]), make_visit(problem, ["O2"], "05:20")])
    (tmp_path / "done.csv").write_text("bed,outcome\nB1,refused\n", encoding="utf-8")
    reports, findings, refused = read_done([str(tmp_path / "done.csv"), "2,9"], problem, plan, clock("05:42"))
    assert [(r.order_ids, r.outcome.value) for r in reports] == [(("O1",), "refused"), (("O2",), "collected")]
    assert findings[-1].code == "bed-not-found"
    assert [(r.option, r.typed, r.wrong) for r in refused] == [("done", "2,9", "9")]
    assert read_done(None, problem, plan, clock("05:42")) == ((), (), ())


def test_outcomes_are_reported_by_bed_patient_or_order_number() -> None:
    problem, plan = five_wards()
    told = {"drawn": ["St. Anne, 2nd floor 1A=5.20"], "refused": ["P2"], "failed": ["O3=0515"]}
    reports, findings, refused = read_done(["Heron 1A,St. Anne, 2nd floor 1A"], problem, plan, clock("05:42"), told)
    assert (findings, refused) == ((), ())
    assert [(r.order_ids, r.outcome.value, r.at_s) for r in reports] == [
        (("O1",), "collected", None),
        (("O4",), "collected", None),
        (("O4",), "collected", clock("05:20")),
        (("O2",), "refused", None),
        (("O3",), "unsuccessful", clock("05:15")),
    ]


def test_equal_bed_numbers_ask_for_the_ward_and_offer_the_command() -> None:
    problem, plan = five_wards()
    _reports, _findings, refused = read_done(["Heron 1A,1A"], problem, plan, clock("05:42"), {"refused": ["Junper 1A"]})
    assert [(r.typed, r.wrong, r.instead) for r in refused] == [
        ("Heron 1A,1A", "1A", "Heron 1A"),
        ("Junper 1A", "Junper 1A", "Juniper 1A"),
    ]
    assert "Did you mean Juniper 1A?" in refused[1].finding.message
    typed = ["replan", "outputs/x", "--now", "05:42", "--done", "Larch 1A", "--refused", "Junper 1A"]
    assert meant_command(refused[1:], typed) == (
        "planner replan outputs/x --now 05:42 --done 'Larch 1A' --refused 'Juniper 1A'"
    )
    lines = refusal_lines(refused[1:], typed, 200)
    assert lines[0] == "Nothing was changed: 1 part of the command cannot be applied."
    assert lines[1].strip().startswith("--refused 'Junper 1A': bed 'Junper 1A' is not in this round. Did you mean")
    assert lines[-1].strip() == "To apply the other parts alone, add --apply-rest."


@pytest.mark.parametrize("text", ["no-such.csv", "no-table.csv", "typo.csv"])
def test_report_of_which_nothing_can_be_used_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str
) -> None:
    # Replanned without it, all that is due would count as done, and nobody would be told.
    (tmp_path / "no-table.csv").write_bytes(bytes(40))
    (tmp_path / "typo.csv").write_text("bed,outcome\nB1,colected\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    problem = make_problem([make_order("O1", "P1")])
    with pytest.raises(InputError, match="nothing of it can be used"):
        read_done([text], problem, make_plan([make_visit(problem, ["O1"])]), clock("05:42"))


def test_report_that_is_empty_is_no_fault(tmp_path: Path) -> None:
    (tmp_path / "none-yet.csv").write_text("bed,outcome\nB1,\n", encoding="utf-8")
    problem = make_problem([make_order("O1", "P1")])
    plan = make_plan([make_visit(problem, ["O1"])])
    assert read_done([str(tmp_path / "none-yet.csv")], problem, plan, clock("05:42"))[0] == ()


def test_changes_are_looked_up_and_lists_read(tmp_path: Path) -> None:
    (tmp_path / "n.csv").write_text("order,patient no,test\nN1,P1,CBC\n", encoding="utf-8")
    changes, findings, unclear = read_changes(
        [StatOrders(bed="1", tests=("lact", "nope"))], [tmp_path / "n.csv"], make_problem()
    )
    assert changes[0] == StatOrders(bed="1", tests=("LACT",))
    assert isinstance(changes[1], NewOrders) and [o.id for o in changes[1].orders] == ["N1"]
    assert "unknown-test" in [f.code for f in findings]
    assert [(r.option, r.finding.code) for r in unclear] == [("stat", "unknown-test")]
