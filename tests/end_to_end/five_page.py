"""A round on five wards with equal bed numbers, planned and written: for the tests of the page."""

from __future__ import annotations

import csv
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

import planner
from tests.end_to_end.browser import Browser

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


PHONES = ((390, 844), (320, 640))
SAVED = "progress-five-r1.csv"

HELPERS = """
  const card = n => document.querySelectorAll('article.visit')[n];
  const many = () => [...document.querySelectorAll('article.visit')]
    .find(v => v.querySelectorAll('[data-tube]').length > 2);
  const identify = v => [...v.querySelectorAll('[data-identifier]')].slice(0, 2).forEach(b => b.click());
  const outcome = (v, name) => v.querySelector(`input[value=${name}]`).click();
  const chosen = v => (v.querySelector('input[type=radio]:checked') || {}).value || '';
  const words = v => v.querySelector('.refusal').textContent;
  const value = (v, name) => v.querySelector(`[data-keep$="-${name}"]`).value;
  const tubes = v => [...v.querySelectorAll('[data-tube]')].filter(b => b.dataset.orders);
  const undo = () => document.getElementById('progress-undo').click();
"""
"""What a thumb does, in the words of the tests below."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_five(tmp_path_factory.mktemp("five"))[0]


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with Browser(tmp_path_factory.mktemp("browser")) as browser:
        browser.call("Emulation.setTouchEmulationEnabled", enabled=True)
        yield browser


@pytest.fixture(params=PHONES, ids=["390x844", "320x640"])
def phone(request: pytest.FixtureRequest, folder: Path, opened: Browser) -> Browser:
    """Return a browser that shows the page as on the first morning: nothing kept, nothing saved."""
    (opened.folder / SAVED).unlink(missing_ok=True)
    width, height = request.param
    page = folder / "out/r1/round-sheet.html"
    opened.open(page, width=width, height=height)
    opened.run("localStorage.clear()")
    opened.open(page, width=width, height=height)
    return opened


def act(phone: Browser, script: str) -> Any:
    return phone.run(f"(() => {{ {HELPERS} {script} }})()")


def saved_rows(phone: Browser) -> list[dict[str, str]]:
    phone.run("document.getElementById('progress-save').click()")
    path = phone.folder / SAVED
    deadline_s = time.monotonic() + 60
    while not path.is_file() and time.monotonic() < deadline_s:
        time.sleep(0.1)
    return list(csv.DictReader(path.read_text(encoding="utf-8-sig").splitlines()))


def set_clock(browser: Browser, at: datetime) -> None:
    """Let the page's clock stand at a time of the round, whatever the hour at which the tests run."""
    hours = {"getHours": at.hour, "getMinutes": at.minute, "getSeconds": at.second}
    browser.run("".join(f"Date.prototype.{name} = function () {{ return {value}; }};" for name, value in hours.items()))
