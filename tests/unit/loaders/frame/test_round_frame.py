"""Day, zone and span of a round are found once: lists, messages, a plan and a replan go by the same ones."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from planner.domain.problem import Problem
from planner.loaders import LoadOptions, load
from planner.loaders.during.new_orders import read_new_orders
from tests.unit.loaders.messages.hl7.ward import message, order

HEAD = "order_number,patient_number,birth_date,ward,bed,test,collect_at\n"
STAFF = "name,initials,from,until\nKim Fell,KF,05:00,09:00\n"


def q2h(number: str, first: str) -> list[str]:
    """Return an order that repeats every two hours from an instant on."""
    return order(number, test="LACT", start="", obr={"f27": f"^Q2H^^{first}^^R"})


def folder(path: Path, **files: str) -> Path:
    path.mkdir()
    for name, text in files.items():
        (path / name.replace("_", ".")).write_text(text, encoding="utf-8")
    return path


def drawn(problem: Problem, number: str) -> list[str]:
    """Return the clock times at which the draws of a repeating order are wanted."""
    return [
        problem.clock.format_clock(o.collect_at_s)
        for o in problem.orders
        if o.id.split(".")[0] == number and o.collect_at_s is not None
    ]


def test_day_that_an_option_makes_readable_is_the_day_of_repeating_orders_too(tmp_path: Path) -> None:
    # 04/03/2026 can be two days; --date-order says which. The draws of the round are those at 06:00 and 08:00.
    orders = HEAD + "A1,P1,1950-01-31,Birch,7,CBC,04/03/2026 05:30\n"
    path = folder(
        tmp_path / "round", orders_csv=orders, staff_csv=STAFF, night_hl7=message(q2h("N9", "20260304060000"))
    )
    problem = load(path, LoadOptions(date_order="dmy")).problem
    assert problem is not None
    assert problem.clock.day == date(2026, 3, 4)
    assert drawn(problem, "N9") == ["06:00", "08:00"]


def test_cancelled_orders_of_another_day_do_not_take_repeating_orders_along(tmp_path: Path) -> None:
    other = [order(f"X{n}", control="CA", start="20260311060000+0000") for n in (1, 2, 3)]
    live = order("N1", start="20260310060000+0000")
    text = message(live, q2h("N9", "20260310060000+0000"), *other)
    problem = load(folder(tmp_path / "round", staff_csv=STAFF, night_hl7=text)).problem
    assert problem is not None
    assert problem.clock.day == date(2026, 3, 10)
    assert drawn(problem, "N9") == ["06:00", "08:00"]


def test_replan_reads_a_repeating_order_in_the_night_of_a_clock_change(tmp_path: Path) -> None:
    # 2026-03-29, Europe/Vienna: the clocks go from 02:00 to 03:00. The round of 05:00 to 09:00 has 05:00 as 4 h after
    # midnight; read as if it were a wall time again, its span would be 04:00 to 08:00.
    orders = HEAD + "A1,P1,1950-01-31,Birch,7,CBC,2026-03-29 05:30\n"
    path = folder(tmp_path / "round", orders_csv=orders, policy_toml='time_zone = "Europe/Vienna"\n')
    problem = load(path).problem
    assert problem is not None
    assert problem.start_s == 4 * 3600
    assert problem.clock.format_clock(problem.policy.round.breakfast_at_s) == "08:00"
    (tmp_path / "late.hl7").write_text(
        message(q2h("N9", "20260329070000"), patient="PID|1||P1||Moss^Ada||19500131", visit="PV1|1|I|Birch^^7"),
        encoding="utf-8",
    )
    new, findings = read_new_orders(tmp_path / "late.hl7", problem)
    assert [problem.clock.format_clock(o.collect_at_s) for o in new.orders] == ["07:00", "09:00"], findings
    assert new.set_aside == ()


@pytest.mark.parametrize("label", ["04-A", "04 A", "04/A", "A04A"])
def test_replan_finds_the_bed_of_a_message_under_the_name_that_the_map_gives_it(label: str, tmp_path: Path) -> None:
    # Two wards with equal bed names; the message writes room 04, bed A (or bed A04A, which names the room itself).
    places = "place,ward,kind,x_m,y_m\nDesk,,base,0,0\nLab,,laboratory,90,0\n"
    places += f"{label},Birch,bed,10,0\n{label},Élm (North),bed,20,0\n"
    orders = HEAD + f"A1,P1,1950-01-31,Élm (North),{label},CBC,2026-03-10 05:30\n"
    path = folder(tmp_path / "round", orders_csv=orders, places_csv=places, staff_csv=STAFF)
    bed = label if label == "A04A" else "A"
    text = message(order("N1", start="20260310060000+0000"), visit=f"PV1|1|I|Birch^04^{bed}^HILL")
    (tmp_path / "late.hl7").write_text(text, encoding="utf-8")
    problem = load(path).problem
    assert problem is not None
    new, findings = read_new_orders(tmp_path / "late.hl7", problem)
    assert [p.bed for p in new.patients] == [f"Birch/{label}"], findings
    (path / "late.hl7").write_text(text, encoding="utf-8")
    whole = load(path).problem
    assert whole is not None
    assert {p.bed for p in whole.patients.values()} == {f"Birch/{label}", f"Élm (North)/{label}"}
