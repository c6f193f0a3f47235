"""A round on five wards with equal bed numbers, planned and written: for the tests of the page."""

from __future__ import annotations

from pathlib import Path

import planner

WARDS = ("Heron", "Juniper", "Kite (South)", "Rail, East", "Larch 2")
BEDS = ("1A", "1B", "2A")
SERIAL = ("P00", "P31")
"""Who is drawn twice, an hour apart."""


def order_list() -> str:
    """Return an order list: beds 1A, 1B and 2A on each ward, three tubes in 1A, two in 1B, one in 2A."""
    lines = ["order_number,patient_number,family_name,given_name,birth_date,ward,bed,test,collect_at,series"]
    tests = {"1A": ("CBC", "BMP", "PT"), "1B": ("CBC", "LFT"), "2A": ("CBC",)}
    for w, ward in enumerate(WARDS):
        for b, bed in enumerate(BEDS):
            patient = f"P{w}{b}"
            who = f'{patient},Family{w}{b},Given,195{w}-0{b + 1}-11,"{ward}",{bed}'
            lines += [f"O{w}{b}{n},{who},{test},," for n, test in enumerate(tests[bed])]
            if patient in SERIAL:
                lines += [f"T{w}{b}{n},{who},TNI,{at},TNI" for n, at in enumerate(("05:20", "06:20"))]
    return "\n".join(lines) + "\n"


def planned_five(folder: Path) -> tuple[Path, planner.RoundPlan]:
    """Plan the round with five people, write it to ``out`` in a folder, and return both."""
    (folder / "five.csv").write_text(order_list(), encoding="utf-8")
    planned = planner.plan(planner.load(folder / "five.csv", phlebotomists=5), effort="quick")
    planner.write(planned, folder / "out")
    return folder, planned
