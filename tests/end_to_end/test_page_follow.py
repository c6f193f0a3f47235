"""The page on a phone follows the round: what is next, what is done, what is left, whom to phone, what is kept."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

import planner
from planner.domain.draws import Asked
from planner.domain.revisions.reported import Reported
from planner.exporters.page.page import round_sheet_html
from planner.exporters.page.pdf import find_browser
from planner.exporters.view.build import build_view
from planner.exporters.view.stop_view import AnswerField
from planner.visits import order_windows
from tests.builders import clock
from tests.end_to_end.axe import AXE, WHERE, faults
from tests.end_to_end.browser import Browser
from tests.end_to_end.five_page import SAVED, act, folder, opened, phone, saved_rows, set_clock
from tests.unit.exporters.rounds import make_round

__all__ = ["folder", "opened", "phone"]  # fixtures

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(find_browser() is None, reason="no Chromium, Chrome or Edge is installed"),
]

DO_ALL = """
  const stops = [...document.querySelectorAll('.route:not(.elsewhere) article.stop')];
  const finish = stop => {
    if (stop.matches('.visit')) { identify(stop); outcome(stop, 'collected'); }
    else stop.querySelector('[data-keep$="-tubes"], [data-keep$="-taken"]').click();
    stop.querySelector('.next').click();
  };
  const bar = () => document.querySelector('#progress .far').innerText.replace(/\\s+/g, ' ').trim();
"""


def choose(phone: Browser, number: int) -> None:
    phone.run(f"document.querySelector('nav a[href=\"#route-{number}\"]').click()")


def test_index_names_everybody_and_shows_one_person_alone(phone: Browser) -> None:
    names = phone.run("[...document.querySelectorAll('nav .people a')].map(a => a.innerText)")
    routes = phone.run("[...document.querySelectorAll('section.route h2')].map(h => h.textContent)")
    assert len(names) == len(routes) > 1
    for name, route in zip(names, routes, strict=True):
        assert re.match(rf"{re.escape(route)}\s+\d+ visits?, first \S.* \d\d:\d\d", name)
    choose(phone, 2)
    seen = "[...document.querySelectorAll('section.route')].map(r => r.getClientRects().length > 0)"
    assert phone.run(seen) == [n == 1 for n in range(len(routes))]
    phone.run("document.getElementById('progress-everybody').click()")
    assert phone.run(seen) == [True] * len(routes)


def test_bar_says_how_far_and_what_is_next(phone: Browser) -> None:
    choose(phone, 1)
    seen = act(
        phone,
        DO_ALL
        + """const first = bar(); finish(stops[0]);
        const called = stops.map(s => s.dataset.called), mine = stops.filter(s => s.matches('.visit')).length;
        const position = getComputedStyle(document.getElementById('progress')).position;
        return {first, second: bar(), called, mine, position};""",
    )
    assert seen["first"] == f"0 of {seen['mine']}, next {seen['called'][0]}"
    assert seen["second"] == f"1 of {seen['mine']}, next {seen['called'][1]}"
    assert re.search(r"\S+ 1A|1B|2A \d\d:\d\d$", seen["called"][0])
    assert seen["position"] == "sticky"


def test_done_cards_fold_to_a_line_and_open_again(phone: Browser) -> None:
    choose(phone, 1)
    heights = act(
        phone,
        DO_ALL
        + """const high = () => stops[0].getBoundingClientRect().height;
        const before = high(); finish(stops[0]); const folded = high();
        const line = stops[0].querySelector('.side').innerText; stops[0].querySelector('.unfold').click();
        return [before, folded, high(), line];""",
    )
    before, folded, again, line = heights
    assert before > 500
    assert folded <= 68  # a line with a button of 44 pixels; on a narrow screen a long bed takes two
    assert again > 500
    assert re.search(r"all \d\d:\d\d:\d\d", line)


def test_who_was_passed_over_is_said(phone: Browser) -> None:
    choose(phone, 1)
    text = act(phone, DO_ALL + "finish(stops[1]); return bar();")
    assert ", 1 passed over, next " in text


def test_end_says_nothing_left_what_went_where_and_what_was_not_drawn(phone: Browser) -> None:
    choose(phone, 1)
    seen = act(
        phone,
        DO_ALL
        + """const end = document.querySelector('.route:not(.elsewhere) .end');
        const text = () => end.innerText.replace(/\\s+/g, ' ');
        const open = text(); stops.forEach(finish); const visit = stops.find(s => s.matches('.visit'));
        [...visit.querySelectorAll('[data-tube]')].forEach(b => b.click());
        outcome(visit, 'refused');
        return {open, done: text(), bar: bar(), refused: visit.dataset.called,
          places: stops.filter(s => s.matches('.handover')).map(s => s.dataset.called)};""",
    )
    assert "Still open" in seen["open"]
    assert "Nothing left" in seen["done"]
    assert seen["bar"].endswith("nothing left")
    assert f"{seen['refused']}: refused; NOBODY TOLD YET" in seen["done"]
    for place in seen["places"]:
        assert re.search(rf"{re.escape(place)}: given away \d\d:\d\d:\d\d", seen["done"])


def test_end_says_what_nobody_has_written(phone: Browser) -> None:
    choose(phone, 1)
    first = "const visit = stops.find(s => s.matches('.visit'));"
    seen = "return document.querySelector('.route:not(.elsewhere) .account').innerText.replace(/\\s+/g, ' ');"
    said = act(phone, f"{DO_ALL} {first} finish(visit); {seen}")
    assert re.search(r"Not written yet \d+ .*: time of the draw", said)
    said = act(phone, f"""{DO_ALL} {first} visit.querySelector('[data-now$="-time"]').click(); {seen}""")
    assert "time of the draw" not in said


def test_every_target_is_44_pixels_and_nothing_is_beside_the_screen(phone: Browser) -> None:
    """Target size: WCAG 2.2, 2.5.5, links within sentences aside; reflow: 1.4.10."""
    act(
        phone,
        DO_ALL + "outcome(card(0), 'away'); document.querySelectorAll('.folded .unfold').forEach(b => b.click());",
    )
    small = phone.run(
        """[...document.querySelectorAll('button, nav a, .onward a, .calls a, label.tick, label.choice, .field input')]
          .map(e => [e, e.getBoundingClientRect()]).filter(([e, r]) => r.width && (r.height < 44 || r.width < 44))
          .map(([e, r]) => `${e.outerHTML.slice(0, 80)} ${r.width} x ${r.height}`)"""
    )
    assert small == []
    assert phone.run("document.documentElement.scrollWidth <= window.innerWidth") is True


def test_nothing_is_beside_the_screen_at_twice_the_letters(phone: Browser) -> None:
    """Resize text to 200 per cent: WCAG 2.2, 1.4.4."""
    phone.run("document.documentElement.style.fontSize = '200%'")
    phone.run("document.querySelectorAll('.folded .unfold').forEach(b => b.click())")
    act(phone, "identify(card(0)); outcome(card(0), 'refused');")
    assert phone.run("document.documentElement.scrollWidth <= window.innerWidth") is True


def test_what_is_kept_is_erased_after_the_round_and_by_a_button(phone: Browser) -> None:
    kept = "Object.keys(localStorage).filter(name => name.startsWith('round-sheet|')).length"
    act(phone, "identify(card(0)); outcome(card(0), 'collected');")
    assert phone.run(kept) == 1
    later = "Date.now = () => {then} + {hours} * 3600000;"
    then = phone.run("Math.max(Date.now(), Date.parse(document.body.dataset.ends))")
    for hours, left in ((11, 1), (13, 0)):  # the policy's 12 hours, from the last tick or the round's end
        added = phone.call("Page.addScriptToEvaluateOnNewDocument", source=later.format(then=then, hours=hours))
        phone.reload()
        assert phone.run(kept) == left
        assert phone.run("document.querySelectorAll('[data-keep]:checked').length > 0") is bool(left)
        phone.call("Page.removeScriptToEvaluateOnNewDocument", identifier=added["identifier"])
    act(phone, "identify(card(0)); outcome(card(0), 'collected');")
    phone.run("window.confirm = () => true; document.getElementById('progress-clear').click()")
    assert phone.run(kept) == 0
    assert phone.run("document.querySelectorAll('[data-keep]:checked').length") == 0


def test_what_is_ticked_on_one_page_never_stands_on_another(phone: Browser, folder: Path) -> None:
    """Stops have the same numbers on every page; a tick at one patient would count as the draw of another."""
    act(phone, "identify(card(0)); outcome(card(0), 'collected');")
    ticked = "document.querySelectorAll('[data-keep]:checked').length"
    pages = sorted((folder / "out/r1").glob("round-sheet*.html"), key=lambda page: len(page.stem))
    assert len(pages) == 6
    seen = []
    for page in pages:
        phone.open(page)
        seen.append(phone.run(ticked) > 0)
        act(phone, "identify(card(0));")
    assert seen == [True, False, False, False, False, False]
    assert phone.run("Object.keys(localStorage).length") == 6


def test_each_packet_saves_a_file_of_its_own_name(phone: Browser, folder: Path) -> None:
    for page in sorted((folder / "out/r1").glob("round-sheet-*.html")):
        phone.open(page)
        initials = page.stem.removeprefix("round-sheet-")
        assert phone.run("document.body.dataset.file") == f"progress-five-r1-{initials}.csv"


def test_a_second_tab_of_the_sheet_goes_on_from_what_the_first_kept(phone: Browser) -> None:
    act(phone, "identify(card(0));")
    other_tab = """
      const key = document.body.dataset.key;
      const all = JSON.parse(localStorage.getItem(key));
      all.values[identifiers(card(1))[0].dataset.keep] = true;
      localStorage.setItem(key, JSON.stringify(all));
      window.dispatchEvent(new StorageEvent('storage', { key: key }));
      identifiers(card(1))[1].click();
    """
    act(phone, "const identifiers = v => [...v.querySelectorAll('[data-identifier]')];" + other_tab)
    phone.reload()
    seen = "return [0, 1].map(n => card(n).querySelectorAll('[data-identifier]:checked').length);"
    assert act(phone, seen) == [2, 2]


def test_no_patient_is_named_in_the_name_under_which_ticks_are_kept(phone: Browser) -> None:
    act(phone, "identify(card(0));")
    names = " ".join(phone.run("Object.keys(localStorage)"))
    assert not re.search(r"Family|Given|P\d\d", names)


def test_numbers_of_the_policy_are_dialled(tmp_path: Path) -> None:
    problem, plan, windows = make_round()
    phones = {"ward nurse": "+353 1 555 0199", "round lead": "5501", "laboratory": "bleep B"}
    sheet = replace(problem.policy.sheet, phones=phones)
    problem = replace(problem, policy=replace(problem.policy, sheet=sheet))
    page = round_sheet_html(build_view(problem, plan, windows, revision=1)).decode()
    assert set(re.findall(r'href="tel:([^"]*)"', page)) == {"+35315550199", "5501"}
    assert '<a class="tel" href="tel:5501">round lead 5501</a>' in page


def test_what_the_card_asks_is_saved_and_read(folder: Path, tmp_path: Path) -> None:
    written = planner.read(folder / "out/r1")
    view = build_view(written.problem, written.plan, order_windows(written.problem)[0], revision=1)
    route = view.routes[0]
    visit = route.visits[0]
    fields = (
        AnswerField(asked=Asked.LAST_DOSE, label="CBC: last dose at", order_numbers=visit.order_numbers[:1]),
        AnswerField(asked=Asked.LAST_MEAL, label="Last meal at", order_numbers=visit.order_numbers),
    )
    stops = tuple(replace(s, answers=fields) if s is visit else s for s in route.stops)
    asked = replace(view, routes=(replace(route, stops=stops), *view.routes[1:]))
    page = tmp_path / "asked.html"
    page.write_bytes(round_sheet_html(asked))
    with Browser(tmp_path) as browser:
        browser.open(page)
        set_clock(browser, written.problem.clock.to_local(clock("05:45")))
        act(
            browser,
            """const v = card(0); const fields = [...v.querySelectorAll('[data-asked]')];
            ['430', '2200'].forEach((text, n) => { fields[n].value = text;
              for (const kind of ['input', 'change']) fields[n].dispatchEvent(new Event(kind, {bubbles: true})); });
            identify(v); outcome(v, 'collected');""",
        )
        rows = [row for row in saved_rows(browser) if row["kind"] == "answer"]
    assert [(r["asked"], r["answer"], r["order_number"]) for r in rows] == [
        ("last-dose", "04:30", visit.order_numbers[0]),
        ("last-meal", "22:00", "; ".join(visit.order_numbers)),
    ]
    following = planner.replan(folder / "out", "06:00", planner.News(done=[tmp_path / SAVED]))
    assert not [f for f in following.findings if f.code.startswith(("answer", "column", "progress"))]
    assert following.problem.replan is not None
    told = [e.what for e in following.problem.replan.events if isinstance(e.what, Reported)]
    kept = {(a.asked, a.text) for reported in told for a in reported.answers}
    assert kept == {(Asked.LAST_DOSE, "04:30"), (Asked.LAST_MEAL, "22:00")}


@pytest.mark.skipif(AXE is None, reason=WHERE)
@pytest.mark.parametrize("scheme", ["light", "dark", "print"])
def test_accessibility_checker_finds_no_fault_in_the_middle_of_a_round(phone: Browser, scheme: str) -> None:
    act(phone, DO_ALL + "finish(stops[0]); outcome(card(1), 'refused'); outcome(card(2), 'away');")
    features = [{"name": "prefers-color-scheme", "value": scheme}] if scheme != "print" else []
    phone.call("Emulation.setEmulatedMedia", media="print" if scheme == "print" else "", features=features)
    try:
        assert faults(phone) == []
    finally:
        phone.call("Emulation.setEmulatedMedia", media="", features=[])


def test_pictures_are_dark_where_the_device_is(phone: Browser) -> None:
    phone.call("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": "dark"}])
    try:
        image = "document.querySelector('figure img')"
        look = f"(i => [getComputedStyle(i).filter, i.clientWidth <= window.innerWidth])({image})"
        assert phone.run(look) == ["invert(1)", True]
    finally:
        phone.call("Emulation.setEmulatedMedia", features=[])


def test_paper_has_what_the_screen_folds(phone: Browser) -> None:
    act(phone, DO_ALL + "finish(stops[0]);")
    phone.call("Emulation.setEmulatedMedia", media="print")
    try:
        shown = """[...document.querySelectorAll('.stop .tubes, #legend dl, #supplies table, .what-if table')]
            .filter(e => !e.getClientRects().length).length"""
        assert phone.run(shown) == 0
    finally:
        phone.call("Emulation.setEmulatedMedia", media="")


def test_keyboard_alone_reaches_and_ticks_a_visit(phone: Browser) -> None:
    phone.run("document.querySelector('article.visit [data-identifier]').focus()")
    for key in (" ", "Tab", " "):
        code = {" ": "Space"}.get(key, key)
        for kind in ("rawKeyDown", "char", "keyUp"):
            extra = {"text": key} if kind == "char" and key == " " else {}
            if kind == "char" and not extra:
                continue
            number = {" ": 32, "Tab": 9}[key]
            phone.call("Input.dispatchKeyEvent", type=kind, key=key, code=code, windowsVirtualKeyCode=number, **extra)
    assert phone.run("document.querySelectorAll('article.visit [data-identifier]:checked').length") == 2
