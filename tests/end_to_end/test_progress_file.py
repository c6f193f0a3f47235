"""From the phone to the next revision: what is ticked on the sheet is what `replan` takes for done."""

from __future__ import annotations

import json
import time
from pathlib import Path

import pytest

from planner.exporters.page.pdf import find_browser
from tests.end_to_end.browser import Browser
from tests.helpers import planner

ORDERS = """order_number,patient_number,family_name,given_name,birth_date,ward,bed,test,priority
O1,P1,Sand,Ida,1950-01-31,Elm,1,CBC,routine
O2,P2,Reed,Max,1951-02-28,Elm,2,BMP,routine
O3,P3,Moor,Eva,1952-03-31,Elm,3,LFT,routine
O4,P4,Dale,Jon,1953-04-30,Elm,4,CBC,routine
"""

TICK = """(([bed, outcome, time]) => {
  const visit = document.querySelector(`article[data-bed="${bed}"]`);
  [...visit.querySelectorAll('[data-identifier]')].slice(0, 2).forEach(box => box.click());
  visit.querySelector(`input[value=${outcome}]`).click();
  const field = visit.querySelector('[data-keep$="-time"]');
  field.value = time; field.dispatchEvent(new Event('input', {bubbles: true}));
})"""


@pytest.mark.skipif(find_browser() is None, reason="no Chromium, Chrome or Edge is installed")
def test_the_saved_file_is_accepted_and_counts_as_reported(tmp_path: Path) -> None:
    (tmp_path / "small.csv").write_text(ORDERS)
    assert planner("plan", "small.csv", "--effort", "quick", cwd=tmp_path).returncode == 0
    with Browser(tmp_path) as browser:
        browser.open(tmp_path / "outputs/small/r1/round-sheet.html")
        order = browser.run("[...document.querySelectorAll('article.visit')].map(v => v.dataset.bed)")
        for bed, outcome, at in ((order[0], "collected", "05:03"), (order[1], "refused", "05:08")):
            browser.run(f"{TICK}({json.dumps([bed, outcome, at])})")
        browser.reload()
        browser.run("document.getElementById('progress-save').click()")
        saved = tmp_path / "progress-small-r1.csv"
        deadline_s = time.monotonic() + 20
        while not saved.is_file() and time.monotonic() < deadline_s:
            time.sleep(0.1)
    done = planner("replan", "outputs/small", "--now", "05:11", "--done", saved.name, cwd=tmp_path)
    assert done.returncode in (0, 3), done.stderr  # 3: somebody must decide what becomes of what was refused
    assert "report-" not in done.stderr
    plan = json.loads((tmp_path / "outputs/small/r2/plan.json").read_text(encoding="utf-8"))
    made = {
        stop["bed"]: stop["outcome"]
        for route in plan["routes"]
        for stop in route["stops"]
        if stop["kind"] == "visit" and stop.get("outcome")
    }
    assert (made[order[0]], made[order[1]]) == ("collected", "refused")
    assert any(order[1] == left.get("bed") and left["reason"] == "refused" for left in plan["unplanned"])
