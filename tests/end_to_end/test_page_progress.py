"""What the page saves is read without a question: five wards with equal bed numbers, every outcome ticked in a browser.

Two patients have two visits each, visits of an older sheet are given to another person, and the file of that sheet
is read all the same.
"""

from __future__ import annotations

import csv
import json
import re
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import planner
from planner.domain.plan import Outcome, Visit
from planner.exporters.page.page import round_sheet_html
from planner.exporters.page.pdf import find_browser
from planner.exporters.view.build import build_view
from tests.end_to_end.browser import Browser
from tests.end_to_end.five_page import SERIAL, planned_five, set_clock
from tests.unit.exporters.rounds import make_round

pytestmark = pytest.mark.skipif(find_browser() is None, reason="no Chromium, Chrome or Edge is installed")


@pytest.fixture(scope="module")
def planned_once(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, planner.RoundPlan]:
    return planned_five(tmp_path_factory.mktemp("five"))


@pytest.fixture
def made(planned_once: tuple[Path, planner.RoundPlan], tmp_path: Path) -> tuple[Path, planner.RoundPlan]:
    """Return a folder whose ``out`` holds the first revision alone, and its plan."""
    shutil.copytree(planned_once[0] / "out", tmp_path / "out")
    return tmp_path, planned_once[1]


@pytest.fixture
def browser(tmp_path: Path) -> Iterator[Browser]:
    with Browser(tmp_path) as opened:
        yield opened


TICK = """(([orders, outcome, at, tubes]) => {
  const visit = [...document.querySelectorAll('article.visit')].find(v => v.dataset.orders === orders);
  for (const box of visit.querySelectorAll('[data-identifier]')) if (!box.checked) box.click();
  for (const box of visit.querySelectorAll('[data-tube]')) if (tubes.includes(Number(box.dataset.tube))) box.click();
  visit.querySelector(`input[value=${outcome}]`).click();
  const drawn = visit.querySelector('[data-keep$="-time"]');
  const filled = drawn.value;
  if (at) { drawn.value = at; drawn.dispatchEvent(new Event('input', {bubbles: true})); }
  return filled;
})"""


def tick(browser: Browser, visit: Visit, outcome: str, at: str = "", tubes: tuple[int, ...] = ()) -> str:
    """Tick an outcome; return what stood in the time of the draw before a time was typed."""
    given = json.dumps(["\n".join(visit.order_ids), outcome, at, list(tubes)])
    return str(browser.run(f"{TICK}({given})"))


def saved(browser: Browser, revision: int) -> Path:
    browser.run("document.getElementById('progress-save').click()")
    path = browser.folder / f"progress-five-r{revision}.csv"
    deadline_s = time.monotonic() + 60
    while not path.is_file() and time.monotonic() < deadline_s:
        time.sleep(0.1)
    return path


def rows(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(path.read_text(encoding="utf-8-sig").splitlines()))


def visits(planned: planner.RoundPlan) -> list[Visit]:
    found = [visit for route in planned.plan.routes for visit in route.visits]
    return sorted(found, key=lambda visit: visit.draw_s)


def questions(planned: planner.RoundPlan) -> list[str]:
    """Return what is asked about the file: whatever is said of reports, beds and formats, notes apart."""
    asked = ("report", "bed-", "order-not-found", "outcome", "progress", "column")
    return [
        f"{f.code}: {f.message}"
        for f in planned.findings
        if f.code.startswith(asked) and f.severity is not planner.Severity.NOTE
    ]


def test_every_outcome_is_read_without_a_question(made: tuple[Path, planner.RoundPlan], browser: Browser) -> None:
    folder, planned = made
    browser.open(folder / "out/r1/round-sheet.html")
    coming = [visit for visit in visits(planned) if visit.patient_id not in SERIAL]
    many = next(visit for visit in coming if len([t for t in visit.tubes if not t.tube.is_discard]) >= 3)
    others = iter([visit for visit in coming if visit is not many])
    clock = planned.problem.clock
    told: dict[str, tuple[Visit, str]] = {}
    for outcome in ("collected", "refused", "away", "unsuccessful", "recollect"):
        visit = next(others)
        told[outcome] = (visit, clock.format_clock(visit.draw_s) + ":07")
        assert tick(browser, visit, outcome, told[outcome][1]) == ""  # an outcome never fills the time of the draw
    kept = [p.tube.draw_position for p in many.tubes if not p.tube.is_discard][:2]
    tick(browser, many, "partial", clock.format_clock(many.draw_s) + ":09", tuple(kept))
    serial = [visit for visit in visits(planned) if visit.patient_id == SERIAL[0]]
    first = min(serial, key=lambda visit: visit.draw_s)
    assert len(serial) == 2
    set_clock(browser, clock.to_local(first.depart_s))
    tick(browser, first, "collected")  # without a time: as planned, or when it was ticked
    path = saved(browser, 1)
    assert {row["format"] for row in rows(path)} == {"2"}
    of_many = {row["tube"]: row["outcome"] for row in rows(path) if row["order_number"] in many.order_ids}
    assert of_many == {
        str(p.tube.draw_position): "collected" if p.tube.draw_position in kept else "partial"
        for p in many.tubes
        if not p.tube.is_discard
    }
    now_s = max([*(visit.depart_s for visit, _at in told.values()), many.depart_s, first.depart_s]) + 60
    following = planner.replan(folder / "out", clock.format_clock(now_s), planner.News(done=[path]))
    assert questions(following) == []
    past = {v.draw_id: v for v in visits(following) if v.outcome is not None}
    for outcome, (visit, at) in told.items():
        assert past[visit.draw_id].outcome is Outcome(outcome)
        assert clock.format_clock(past[visit.draw_id].draw_s) == at[:5]
        assert past[visit.draw_id].draw_s % 60 == 7
    assert [p.tube.draw_position for p in past[many.draw_id].tubes if not p.tube.is_discard] == kept
    served = {o for p in many.tubes if p.tube.draw_position in kept for o in p.tube.order_ids}
    lacking = {o for p in many.tubes if p.tube.draw_position not in kept for o in p.tube.order_ids}
    assert set(past[many.draw_id].order_ids) == served - lacking
    assert past[first.draw_id].outcome is Outcome.COLLECTED
    written = folder / "out"
    planner.write(following, written)
    a_minute_later = clock.format_clock(now_s + 60)
    again = planner.replan(written, a_minute_later, planner.News(done=[path]))  # the file is kept all morning
    assert questions(again) == []
    later = next(visit for visit in serial if visit is not first)
    assert [v.order_ids for v in visits(following) if v.draw_id == later.draw_id] == [later.order_ids]


def test_file_of_an_older_sheet_tells_of_visits_that_others_have_now(
    made: tuple[Path, planner.RoundPlan], browser: Browser
) -> None:
    folder, planned = made
    route = max(planned.plan.routes, key=lambda r: len(r.visits))
    who, clock = planned.problem.staff[route.phlebotomist].initials, planned.problem.clock
    moved = [visit for visit in route.visits if visit.patient_id not in SERIAL][-2:]
    second = planner.replan(folder / "out", clock.format_clock(planned.problem.start_s), planner.News(lost=[who]))
    planner.write(second, folder / "out")
    now_with = {v.draw_id: r.phlebotomist for r in second.plan.routes for v in r.visits}
    assert all(now_with.get(visit.draw_id) != route.phlebotomist for visit in moved)
    browser.open(folder / "out/r1/round-sheet.html")
    for visit in moved:
        tick(browser, visit, "collected", "05:20:30")
    path = saved(browser, 1)
    third = planner.replan(folder / "out", "05:40", planner.News(done=[path]))
    assert questions(third) == []
    drawn = {v.draw_id for v in visits(third) if v.outcome is Outcome.COLLECTED}
    assert {visit.draw_id for visit in moved} <= drawn


def test_buttons_fill_their_own_time_and_an_outcome_can_be_taken_back(
    made: tuple[Path, planner.RoundPlan], browser: Browser
) -> None:
    folder, _planned = made
    browser.open(folder / "out/r1/round-sheet.html")
    state: dict[str, Any] = browser.run(
        """(() => {
          const visit = document.querySelector('article.visit');
          const value = name => visit.querySelector(`[data-keep$="-${name}"]`).value;
          const chosen = () => (visit.querySelector('input[type=radio]:checked') || {}).value || '';
          const seen = {};
          for (const box of [...visit.querySelectorAll('[data-identifier]')].slice(0, 2)) box.click();
          visit.querySelector('[data-now$="-arrived"]').click();
          seen.arrived = [value('arrived'), value('time'), chosen()];
          visit.querySelector('input[value=refused]').click();
          seen.refused = [value('time'), chosen()];
          visit.querySelector('input[value=collected]').click();
          seen.changed = [value('time'), chosen()];
          visit.querySelector('input[value=collected]').click();
          seen.taken_back = [value('time'), chosen(), value('ticked')];
          visit.querySelector('[data-now$="-time"]').click();
          seen.drawn = value('time');
          visit.querySelector('input[value=collected]').click();
          const note = visit.querySelector('[data-keep$="-note"]');
          note.value = '=HYPERLINK("x")'; note.dispatchEvent(new Event('input', {bubbles: true}));
          document.querySelector('article.handover input[type=checkbox]').click();
          return seen;
        })()"""
    )
    assert re.fullmatch(r"\d\d:\d\d(:\d\d)?", state["arrived"][0])
    assert state["arrived"][1:] == ["", ""]
    assert state["refused"] == ["", "refused"]
    assert state["changed"] == ["", "collected"]
    assert state["taken_back"] == ["", "", ""]
    assert re.fullmatch(r"\d\d:\d\d(:\d\d)?", state["drawn"])
    browser.reload()
    chosen = "document.querySelector('article.visit input[type=radio]:checked').value"
    assert browser.run(chosen) == "collected"
    browser.run("document.querySelector('article.visit input[value=collected]').click()")
    assert browser.run("document.querySelectorAll('article.visit input[type=radio]:checked').length") == 0
    browser.run("document.querySelector('article.visit input[value=collected]').click()")
    found = rows(saved(browser, 1))
    assert {row["note"] for row in found if row["kind"] == "tube"} == {'\'=HYPERLINK("x")'}
    assert [row["outcome"] for row in found if row["kind"] == "hand-over"] == ["given away"]


def test_only_the_box_of_the_tubes_says_that_they_were_given_away(browser: Browser) -> None:
    # Each hand-over of this round has a second box, for what travels on ice or by hand.
    problem, plan, windows = make_round()
    page = browser.folder / "round-sheet.html"
    page.write_bytes(round_sheet_html(build_view(problem, plan, windows, revision=1)))
    browser.open(page)
    seen: list[bool] = browser.run(
        """(() => {
          const stop = document.querySelector('article.handover');
          const boxes = stop.querySelectorAll('input[type=checkbox]');
          const [tubes, special] = ['tubes', 'special'].map(name => stop.querySelector(`[data-keep$="-${name}"]`));
          const isGiven = () => stop.querySelector('[data-keep$="-ticked"]').value !== '';
          const click = box => { box.click(); return isGiven(); };
          return [boxes.length === 2, click(special), click(tubes), click(special), click(tubes)];
        })()"""
    )
    assert seen == [True, False, True, True, False]
