"""The library does what the commands do: the same files, the same refusals, as exceptions instead of exit codes."""

from __future__ import annotations

import json
from datetime import date, time
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

import planner
from planner.cli.app import app
from planner.cli.exit_codes import ExitCode
from planner.cli.guard import EXIT_CODES
from planner.domain.revisions.changes import StatOrders
from planner.domain.revisions.event_kinds import EventKind
from planner.library import loading, replanning

pytestmark = pytest.mark.slow

HEAD = "order_number,patient_number,birth_date,ward,bed,test,priority"
ROWS = [
    "O1,P1,1950-01-31,Heron,3A,CBC,routine",
    "O2,P2,1951-02-28,Kite (South),3A,BMP,routine",
    "O3,P3,1952-03-31,Juniper,3A,LFT,routine",
]


@pytest.fixture
def orders(tmp_path: Path) -> Path:
    """Three wards with one bed number."""
    path = tmp_path / "small.csv"
    path.write_text("\n".join([HEAD, *ROWS, ""]), encoding="utf-8")
    return path


def run(*arguments: object) -> tuple[int, str]:
    done = CliRunner().invoke(app, [*map(str, arguments)], env={"SOURCE_DATE_EPOCH": "1773115200"})
    return done.exit_code, done.output


def test_library_writes_the_bytes_that_the_command_writes(
    orders: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1773115200")
    out = tmp_path / "by-command"
    assert run("plan", orders, "--date", "2026-03-10", "--effort", "quick", "--out", out)[0] == 0
    made = planner.plan(planner.load(str(orders), day="2026-03-10"), effort="quick")
    assert not made.needs_decision
    revision = planner.write(made, str(tmp_path / "by-library"))
    assert (revision.number, revision.is_new, revision.folder) == (1, True, tmp_path / "by-library/r1")
    for name in ("plan.json", "specimens.csv", "round-sheet.html"):
        assert (revision.folder / name).read_bytes() == (out / "r1" / name).read_bytes(), name


def test_same_input_again_writes_nothing(orders: Path, tmp_path: Path) -> None:
    loaded = planner.load(orders, day=date(2026, 3, 10), start=time(5))
    first = planner.write(planner.plan(loaded, effort="quick"), tmp_path / "out")
    again = planner.write(planner.plan(loaded, effort="quick"), tmp_path / "out")
    assert (again.number, again.is_new) == (1, False)
    assert again.plan == first.plan
    letter = planner.write(planner.plan(loaded, effort="quick"), tmp_path / "out", paper="letter")
    assert (letter.number, letter.is_new) == (2, True)


@pytest.mark.parametrize("options", [(), ("--adults-only", "--effort", "normal"), ("--seed", "7", "--paper", "letter")])
def test_command_that_is_given_again_searches_nothing(
    orders: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, options: tuple[str, ...]
) -> None:
    def refuse(*_given: object, **_options: object) -> None:
        raise AssertionError("the round is searched again")

    out = tmp_path / "out"
    command = ["plan", orders, "--date", "2026-03-10", "--out", out]
    first, _said = run(*command, *options)
    monkeypatch.setattr(planner, "plan", refuse)
    assert run(*command, *options)[0] == first
    assert [path.name for path in out.iterdir()] == ["r1"]
    with pytest.raises(AssertionError):  # another effort is another plan
        CliRunner().invoke(app, [*map(str, command), *options, "--effort", "thorough"], catch_exceptions=False)


def applied(out: Path) -> set[str]:
    """Return the new orders of the newest revision, and those that are not collected any more."""
    revision = planner.read(out)
    new = {order.id for order in revision.problem.orders} - {"O1", "O2", "O3"}
    return new | {left.order_id for left in revision.plan.unplanned}


@pytest.mark.parametrize("option", ["done", "orders"])
def test_file_that_grew_while_the_round_was_searched_is_read_the_next_time(
    orders: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, option: str
) -> None:
    # With the digest of the longer file the same command would say that nothing changed: what was added is lost.
    out, file = tmp_path / "out", tmp_path / f"{option}.csv"
    planner.write(planner.plan(planner.load(orders, day="2026-03-10"), effort="quick"), out)
    head, first, second = {
        "done": ("order_number,outcome", "O1,refused", "O2,refused"),
        "orders": (HEAD, "N1,P1,1950-01-31,Heron,3A,LACT,stat", "N2,P2,1951-02-28,Kite (South),3A,LACT,stat"),
    }[option]
    file.write_text(f"{head}\n{first}\n", encoding="utf-8")
    real = replanning.planned

    def grows(*given: Any) -> planner.RoundPlan:
        file.write_text(f"{head}\n{first}\n{second}\n", encoding="utf-8")
        return real(*given)

    monkeypatch.setattr(replanning, "planned", grows)
    command = ["replan", out, "--now", "05:06", f"--{option}", file]
    run(*command)
    monkeypatch.setattr(replanning, "planned", real)
    assert second.split(",")[0] not in applied(out)
    run(*command)
    assert {first.split(",")[0], second.split(",")[0]} <= applied(out)
    run(*command)
    assert sorted(path.name for path in out.iterdir()) == ["r1", "r2", "r3"]


def test_input_that_grew_while_it_was_read_is_another_the_next_time(
    orders: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = loading.read_files

    def grows(*given: Any) -> Any:
        read = real(*given)
        with orders.open("a", encoding="utf-8") as file:
            file.write("O4,P4,1953-04-30,Heron,4A,CBC,\n")
        return read

    before = planner.load(orders)
    monkeypatch.setattr(loading, "read_files", grows)
    grown = planner.load(orders)
    monkeypatch.setattr(loading, "read_files", real)
    digests = [each.digest.with_options({}) for each in (before, grown, planner.load(orders)) if each.digest]
    assert digests[0] == digests[1] != digests[2]


def test_morning_by_the_library(orders: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    planner.write(planner.plan(planner.load(orders, day="2026-03-10"), effort="quick"), out)
    made = planner.replan(out, "05:06", planner.News(stat=["Juniper 3A:LACT"], refused=["Kite (South) 3A"]))
    assert [path.name for path in out.iterdir()] == ["r1"]  # a preview until it is written
    revision = planner.write(made, out)
    assert (revision.number, revision.problem.replan.parent) == (2, 1)
    kinds = [event.what.kind for event in revision.problem.replan.events if hasattr(event.what, "kind")]
    assert EventKind.STAT in kinds
    assert planner.write(made, out).is_new is False
    back = planner.write(planner.replan(out, "05:07", undo=True), out)
    assert back.problem.replan.log == ()
    checked = planner.check(out)
    assert isinstance(checked, planner.PlanCheck)
    assert (checked.revision, checked.num_remade) == (3, 2)


def test_typed_change_is_the_change_that_its_shorthand_means(orders: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    planner.write(planner.plan(planner.load(orders, day="2026-03-10"), effort="quick"), out)
    typed = planner.replan(out, "05:06", planner.News(changes=[StatOrders(bed="Heron 3A", tests=("LACT",))]))
    written = planner.replan(out, "05:06", planner.News(stat=["Heron 3A:LACT"]))
    assert typed.problem == written.problem
    assert typed.plan == written.plan


def test_news_that_are_not_understood_change_nothing(orders: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    planner.write(planner.plan(planner.load(orders, day="2026-03-10"), effort="quick"), out)
    news = planner.News(gone=["3A"], stat=["Heron 3A:LACT"])
    with pytest.raises(planner.NotUnderstoodError, match="1 part cannot be applied") as caught:
        planner.replan(out, "05:06", news)
    assert [(part.option, part.typed) for part in caught.value.refused] == [("gone", "3A")]
    rest = planner.replan(out, "05:06", news, apply_rest=True)
    assert rest.needs_decision  # what was not applied must be put right
    arguments = ["--gone", "3A", "--stat", "Heron 3A:LACT", "--apply-rest", "--preview"]
    assert run("replan", out, "--now", "05:06", *arguments)[0] == ExitCode.NEEDS_DECISION
    assert planner.write(rest, out).needs_decision
    assert {order.id for order in rest.problem.orders} > {"O1", "O2", "O3"}
    for wrong in (planner.News(late=["AB=soon"]), planner.News(orders=["none.csv"])):
        with pytest.raises(planner.RequestError):
            planner.replan(out, "05:06", wrong)


def test_explanations_of_a_patient_are_those_of_all_orders(orders: Path, tmp_path: Path) -> None:
    revision = planner.write(planner.plan(planner.load(orders, day="2026-03-10"), effort="quick"), tmp_path / "out")
    (found,) = planner.explain(revision, "Kite (South) 3A")
    assert found.explained.order.id == "O2"
    assert found.explained.made.visit.place == revision.problem.patients["P2"].bed
    assert not found.is_tried
    with pytest.raises(planner.RequestError, match="write one of these"):
        planner.explain(tmp_path / "out", "3A")


def test_check_of_an_input_says_what_would_be_planned(orders: Path) -> None:
    orders.write_text(orders.read_text() + "O4,P4,1953-04-30,Heron,4A,NOSUCH,\n", encoding="utf-8")
    checked = planner.check(orders)
    assert isinstance(checked, planner.InputCheck)
    assert (checked.num_to_plan, len(checked.draws), [u.order_id for u in checked.left_out]) == (3, 3, ["O4"])
    assert checked.needs_decision


def test_list_of_which_nothing_can_be_planned_names_every_order(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text(f"{HEAD}\n77,P1,1950-01-31,Heron,3A,NOSUCH,\n78,P2,1950-01-31,Kite,3A,NEITHER,\n", encoding="utf-8")
    with pytest.raises(planner.InputError, match="every order that was read is set aside") as caught:
        planner.plan(planner.load(path))
    listed = [f for f in caught.value.findings if f.code == "order-set-aside"]
    assert [f.order_ids for f in listed] == [("77",), ("78",)]
    assert "bed Heron 3A: test 'NOSUCH'" in listed[0].message


@pytest.mark.parametrize(("arguments", "parameter"), [({"start": "5 o'clock"}, "start"), ({"day": "10.3."}, "date")])
def test_text_that_cannot_be_read_names_its_option(orders: Path, arguments: dict[str, str], parameter: str) -> None:
    with pytest.raises(planner.RequestError) as caught:
        planner.load(orders, **arguments)
    assert caught.value.parameter == parameter
    option = ("--start", "5 o'clock") if parameter == "start" else ("--date", "10.3.")
    code, output = run("check", orders, *option)
    assert code == ExitCode.USAGE
    assert f"--{parameter}" in output


def test_policy_with_errors_is_refused_unless_it_is_ignored(orders: Path, tmp_path: Path) -> None:
    folder = tmp_path / "round"
    folder.mkdir()
    orders.rename(folder / "orders.csv")
    (folder / "policy.toml").write_text("time_zone = 7\n", encoding="utf-8")
    with pytest.raises(planner.InputError, match="the policy has errors") as caught:
        planner.load(folder)
    assert caught.value.findings
    assert len(planner.load(folder, ignore_policy=True).problem.orders) == 3


def test_plan_that_was_tampered_with_is_refused_with_findings(orders: Path, tmp_path: Path) -> None:
    revision = planner.write(planner.plan(planner.load(orders, day="2026-03-10"), effort="quick"), tmp_path / "out")
    file = revision.folder / "plan.json"
    document = json.loads(file.read_text(encoding="utf-8"))
    document["goals"][0]["value"] += 1
    file.write_text(json.dumps(document), encoding="utf-8")
    for call in (planner.check, planner.read):
        with pytest.raises(planner.CheckRefusedError, match="do not use") as caught:
            call(tmp_path / "out")
        assert caught.value.findings
    code, output = run("check", tmp_path / "out")
    assert code == ExitCode.REFUSED
    assert caught.value.findings[0].code in output


def test_every_error_has_an_exit_code() -> None:
    errors = {getattr(planner, name) for name in planner.__all__ if name.endswith("Error")}
    plain = {planner.PlannerError, planner.SolverError}  # our bug
    assert errors == EXIT_CODES.keys() | plain | {planner.NotUnderstoodError}
    assert issubclass(planner.NotUnderstoodError, planner.RequestError)
