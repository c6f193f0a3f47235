"""The options of ``planner replan``: help on each, all bad values at once, and what they turn into."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from planner.cli import replan_options as options
from planner.cli.guard import GuardedCommand
from planner.cli.replan_refused import meant_command, refusal_lines
from planner.domain.revisions.changes import (
    Cancel,
    Change,
    Gone,
    Late,
    NewOrders,
    NotUnderstoodError,
    Refused,
    StatOrders,
)
from planner.errors import InputError, RequestError
from planner.library.news import OUTCOMES, parse_changes, parse_now, read_changes, read_done
from planner.loaders.during.shorthand import PARSERS
from planner.replanning.changes.apply import apply_changes
from tests.builders import clock, make_order, make_phlebotomist, make_problem
from tests.replan_builders import WARDS, five_wards, make_plan, make_visit

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
    new_bed: options.NewBedOption = None,
    late: options.LateOption = None,
    lost: options.LostOption = None,
    join: options.JoinOption = None,
    courier: options.CourierOption = None,
    recollect: options.RecollectOption = None,
    never_came: options.NeverCameOption = None,
    drawn: options.DrawnOption = None,
    refused: options.RefusedOption = None,
    unidentified: options.UnidentifiedOption = None,
    failed: options.FailedOption = None,
    undo: options.UndoOption = False,
    preview: options.PreviewOption = False,
    apply_rest: options.ApplyRestOption = False,
    verbose: options.VerboseOption = False,
) -> None:
    told = {
        "stat": stat, "cancel": cancel, "away": away, "moved": moved, "gone": gone, "late": late, "lost": lost,
        "join": join, "courier": courier, "recollect": recollect, "dose": dose, "time": time,
        "never-came": never_came, "new-bed": new_bed,
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


def _typed(refused: Sequence[Refused], *options_: str) -> tuple[str, str]:
    """Return the command offered, and all that is printed as one line."""
    arguments = ["replan", "outputs/x", "--now", "05:42", *options_]
    return meant_command(refused, arguments), " ".join(" ".join(refusal_lines(refused, arguments, 200)).split())


@pytest.mark.parametrize("bed", ["1A", "Junper 1A", "Heron 7D", "Heron 1"])
def test_no_command_is_typed_out_with_a_guessed_bed(bed: str) -> None:
    # Five wards have a bed 1A; of the others only similar ones exist. A guess would send the stat to a wrong patient.
    problem, plan = five_wards()
    _reports, _findings, reported = read_done([f"Heron 1A,{bed}"], problem, plan, clock("05:42"), {"refused": [bed]})
    assert [(r.typed, r.wrong) for r in reported] == [(f"Heron 1A,{bed}", bed), (bed, bed)]
    told = apply_changes(problem, plan, [StatOrders(bed=bed, tests=("CBC",), typed=f"{bed}:CBC")], clock("05:42"))
    for refused in (reported, told.refused, (*reported, *told.refused)):
        command, lines = _typed(refused, "--done", f"Heron 1A,{bed}", "--refused", bed, "--stat", f"{bed}:CBC")
        assert command == "" and "Type:" not in lines and "planner replan" not in lines
        assert lines.endswith("To apply the other parts alone, add --apply-rest.")


def test_beds_that_can_be_meant_are_listed_once_for_a_word() -> None:
    problem, plan = five_wards()
    _reports, _findings, refused = read_done(["1A,1A"], problem, plan, clock("05:42"), {"refused": ["1A", "1A=05:30"]})
    assert len(refused) == 4
    _command, lines = _typed(refused)
    assert lines.startswith("Nothing was changed: 4 parts of the command cannot be applied.")
    choices = " or ".join(f"{ward} 1A" for ward in WARDS)
    assert lines.count(f"bed '1A' can be {choices}; write one of these") == 1
    assert "--done '1A,1A', --refused '1A', --refused '1A=05:30': bed '1A'" in lines
    assert str(NotUnderstoodError(refused)).count(choices) == 1
    _reports, _findings, others = read_done(None, problem, plan, clock("05:42"), {"refused": ["Heron 7D", "Junper 1A"]})
    _command, lines = _typed((*refused, *others))
    assert "bed 'Junper 1A' is not in this round. Similar: Juniper 1A. Ask which bed was meant" in lines
    assert "--refused 'Heron 7D': bed 'Heron 7D' is not in this round. Similar: Heron " in lines


def test_only_the_spelling_of_one_name_is_put_right_in_a_command() -> None:
    staff = [make_phlebotomist(of, name=name) for of, name in (("AB", "Amina Boye"), ("IS", "Ines Sand"))]
    problem, plan = five_wards(staff=staff)

    def command(*changes: Change) -> str:
        refused = apply_changes(problem, plan, changes, clock("05:42")).refused
        assert len(refused) == len(changes)
        return _typed(refused, *(f"--{name_of(change)}={change.typed}" for change in changes))[0]

    def name_of(change: Change) -> str:
        return next(name for name, kind in (("late", Late), ("cancel", Cancel), ("gone", Gone)) if type(change) is kind)

    late = Late(name="Amna", minutes=20, typed="Amna=20")
    assert command(late) == "planner replan outputs/x --now 05:42 --late=AB=20"
    for name in ("AC", "SI", "Ina", "Olaf"):
        assert command(Late(name=name, minutes=20, typed=f"{name}=20")) == "", name
    assert command(Cancel(order_id="O11", typed="O11")) == ""
    assert command(late, Gone(bed="1A", typed="1A")) == ""


def test_name_that_two_people_can_have_is_not_put_right() -> None:
    staff = [make_phlebotomist(of, name=name) for of, name in (("AB", "Amina Boye"), ("AC", "Amine Cole"))]
    problem, plan = five_wards(staff=staff)
    late = Late(name="Amin", minutes=20, typed="Amin=20")
    (fault,) = apply_changes(problem, plan, [late], clock("05:42")).refused
    assert fault.instead == ""


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
