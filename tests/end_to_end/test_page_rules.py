"""What the page accepts of a visit: identity before an outcome, an outcome that agrees with its tubes, steps back."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

import planner
from planner.exporters.page.pdf import find_browser
from tests.end_to_end.browser import Browser
from tests.end_to_end.five_page import SAVED, act, folder, opened, phone, saved_rows, set_clock

__all__ = ["folder", "opened", "phone"]  # fixtures

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(find_browser() is None, reason="no Chromium, Chrome or Edge is installed"),
]


@pytest.mark.parametrize("outcome", ["collected", "partial", "refused", "unsuccessful", "recollect"])
def test_no_outcome_is_accepted_before_two_identifiers(phone: Browser, outcome: str) -> None:
    """Two identifiers before a specimen is taken: WHO guidelines on drawing blood, 2010 [L13]."""
    seen = act(
        phone,
        f"""const v = card(0), boxes = v.querySelectorAll('[data-identifier]');
        outcome(v, '{outcome}'); const none = [chosen(v), words(v)];
        boxes[0].click(); outcome(v, '{outcome}'); const one = [chosen(v), words(v)];
        return [none, one, value(v, 'ticked')];""",
    )
    for chosen, words in seen[:2]:
        assert chosen == ""
        assert "identity comes first" in words
    assert seen[2] == ""


def test_who_is_away_cannot_be_identified(phone: Browser) -> None:
    assert act(phone, "const v = card(0); outcome(v, 'away'); return [chosen(v), words(v)];") == ["away", ""]


def test_identity_taken_away_takes_the_outcome_back_with_words(phone: Browser) -> None:
    seen = act(
        phone,
        """const v = card(0); identify(v); outcome(v, 'collected'); const first = chosen(v);
        v.querySelector('[data-identifier]').click(); return [first, chosen(v), words(v)];""",
    )
    assert seen[:2] == ["collected", ""]
    assert "taken back" in seen[2]
    assert "identity" in seen[2]


def test_part_is_accepted_only_with_the_tubes_that_were_filled(phone: Browser) -> None:
    seen = act(
        phone,
        """const v = many(); identify(v);
        outcome(v, 'partial'); const none = [chosen(v), words(v)];
        tubes(v).forEach(b => b.click()); outcome(v, 'partial'); const all = [chosen(v), words(v)];
        tubes(v)[1].click(); outcome(v, 'partial');
        return {none, all, part: [chosen(v), words(v)], left: tubes(v)[1].dataset.tube,
          filled: tubes(v).filter(b => b.checked).map(b => b.dataset.tube), patient: v.dataset.patient};""",
    )
    assert seen["none"][0] == seen["all"][0] == ""
    assert "tick the tubes that you filled" in seen["none"][1]
    assert "every tube is ticked" in seen["all"][1]
    assert seen["part"] == ["partial", ""]
    told = {row["tube"]: row["outcome"] for row in saved_rows(phone) if row["patient_number"] == seen["patient"]}
    assert told == {**dict.fromkeys(seen["filled"], "collected"), seen["left"]: "partial"}


@pytest.mark.parametrize("outcome", ["refused", "away", "unidentified", "unsuccessful"])
def test_outcome_without_blood_is_refused_while_a_tube_is_ticked(phone: Browser, outcome: str) -> None:
    seen = act(
        phone,
        f"""const v = many(); identify(v); tubes(v)[0].click(); outcome(v, '{outcome}');
        const first = [chosen(v), words(v)]; tubes(v)[0].click();
        if ('{outcome}' === 'unidentified') v.querySelectorAll('[data-identifier]:checked').forEach(b => b.click());
        outcome(v, '{outcome}');
        return [first, [chosen(v), words(v), value(v, 'time')]];""",
    )
    assert seen[0][0] == ""
    assert "is ticked as filled" in seen[0][1]
    assert seen[1] == [outcome, "", ""]  # and it never fills the time of the draw


def test_all_ticks_every_tube_and_an_unticked_tube_takes_it_back(phone: Browser) -> None:
    seen = act(
        phone,
        """const v = many(); identify(v); outcome(v, 'collected');
        const every = tubes(v).every(b => b.checked); tubes(v)[0].click(); return [every, chosen(v), words(v)];""",
    )
    assert seen[:2] == [True, ""]
    assert "taken back" in seen[2]


def test_each_step_is_undone_one_at_a_time_also_after_a_reload(phone: Browser) -> None:
    act(phone, "const v = many(); identify(v); tubes(v)[0].click(); outcome(v, 'partial'); outcome(v, 'recollect');")
    seen = []
    for reloaded in (False, True, False, False, False):
        if reloaded:
            phone.reload()
        seen.append(
            act(
                phone,
                """undo(); const v = many();
                return [chosen(v), tubes(v).filter(b => b.checked).length,
                  v.querySelectorAll('[data-identifier]:checked').length];""",
            )
        )
    assert seen == [["partial", 1, 2], ["", 1, 2], ["", 0, 2], ["", 0, 1], ["", 0, 0]]
    assert phone.run("document.getElementById('progress-undo').disabled") is True


def test_drawn_without_identity_is_kept_and_said(phone: Browser) -> None:
    seen = act(
        phone,
        "const v = card(0); v.querySelector('[data-now$=\"-time\"]').click(); return [value(v, 'time'), words(v)];",
    )
    assert len(seen[0]) == len("05:40:07")
    assert "Identity is not ticked" in seen[1]


@pytest.mark.parametrize(
    ("typed", "shown"), [("0712", "07:12"), ("7.05", "07:05"), ("071230", "07:12:30"), ("23:59", "23:59")]
)
@pytest.mark.parametrize("locale", ["en-US", "de-DE"])
def test_times_have_24_hours_in_every_country(
    folder: Path, tmp_path: Path, typed: str, shown: str, locale: str
) -> None:
    with Browser(tmp_path) as phone:
        phone.call("Emulation.setLocaleOverride", locale=locale)
        phone.open(folder / "out/r1/round-sheet.html")
        assert phone.run("document.querySelectorAll('input[type=time]').length") == 0
        assert type_time(phone, typed) == [shown, ""]


def type_time(phone: Browser, typed: str) -> Any:
    return act(
        phone,
        f"""const v = card(0), input = v.querySelector('[data-keep$="-time"]'); input.value = {json.dumps(typed)};
        for (const kind of ['input', 'change']) input.dispatchEvent(new Event(kind, {{bubbles: true}}));
        return [input.value, words(v)];""",
    )


@pytest.mark.parametrize("typed", ["24:00", "7:61", "noon", "12"])
def test_what_is_no_time_is_refused_with_words(phone: Browser, typed: str) -> None:
    assert type_time(phone, "05:41") == ["05:41", ""]
    value, words = type_time(phone, typed)
    assert value == "05:41"
    assert f"{typed} is no time of day" in words


def test_who_was_told_and_hand_overs_are_saved(phone: Browser) -> None:
    seen = act(
        phone,
        """const v = card(0); identify(v); outcome(v, 'refused');
        const told = v.querySelector('[data-keep$="-told"]'); told.value = 'ward nurse';
        told.dispatchEvent(new Event('change', {bubbles: true}));
        v.querySelector('[data-now$="-told_at"]').click();
        const stop = document.querySelector('article.handover'); stop.querySelector('[data-keep$="-tubes"]').click();
        return {patient: v.dataset.patient, place: stop.dataset.place,
          end: document.querySelector('.route .account').textContent};""",
    )
    assert "refused; told ward nurse at " in seen["end"]
    rows = saved_rows(phone)
    assert {(r["told"], len(r["told_at"])) for r in rows if r["patient_number"] == seen["patient"]} == {
        ("ward nurse", 8)
    }
    assert [r["bed"] for r in rows if r["kind"] == "hand-over"] == [seen["place"]]


def test_file_with_words_but_no_outcome_is_read_as_a_note(folder: Path, phone: Browser) -> None:
    act(phone, "card(0).querySelector('[data-now$=\"-arrived\"]').click();")
    assert [row["outcome"] for row in saved_rows(phone)] == [""]
    following = planner.replan(folder / "out", "05:31", planner.News(done=[phone.folder / SAVED]))
    found = [f for f in following.findings if f.code == "outcome-unknown"]
    assert [f.severity for f in found] == [planner.Severity.NOTE]


def test_all_is_not_accepted_while_a_tube_is_left_unticked(phone: Browser) -> None:
    """Who ticks tubes one by one and leaves one out has not filled it: no slip of the thumb fills it."""
    seen = act(
        phone,
        """const v = many(); identify(v); tubes(v)[0].click();
        outcome(v, 'collected'); const some = [chosen(v), words(v), tubes(v).filter(b => b.checked).length];
        tubes(v).slice(1).forEach(b => b.click()); outcome(v, 'collected');
        return {some, all: [chosen(v), words(v)]};""",
    )
    assert seen["some"][0] == ""
    assert "is not ticked" in seen["some"][1]
    assert seen["some"][2] == 1
    assert seen["all"][0] == "collected"


def test_what_is_asked_and_not_written_is_said_with_the_outcome(phone: Browser) -> None:
    seen = act(
        phone,
        """const v = [...document.querySelectorAll('article.visit')].find(v => v.querySelector('[data-asked]'));
        const field = v.querySelector('[data-asked]'), label = field.closest('label').innerText.trim();
        identify(v); outcome(v, 'collected'); const said = words(v); outcome(v, 'collected');
        v.querySelectorAll('[data-asked]').forEach(i => { i.value = '06:00'; }); outcome(v, 'collected');
        return {label, said, then: words(v), chosen: chosen(v)};""",
    )
    assert "not written yet" in seen["said"]
    assert seen["label"].partition("\n")[0] in seen["said"]
    assert (seen["then"], seen["chosen"]) == ("", "collected")


def test_step_back_takes_the_words_of_the_outcome_back_too(phone: Browser) -> None:
    seen = act(
        phone,
        """const v = card(0), meaning = () => v.querySelector('.meaning').textContent;
        identify(v); outcome(v, 'collected'); const before = meaning(); undo();
        return [before, meaning(), words(v), chosen(v)];""",
    )
    assert seen[0]
    assert seen[1:] == ["", "", ""]


def test_hand_over_says_how_many_tubes_are_ticked_and_where_some_lack(phone: Browser) -> None:
    """What is given away is counted against what was filled: a tube that is lost on the way is seen at the shelf."""
    seen = act(
        phone,
        """const stop = [...document.querySelectorAll('article.handover')]
          .find(s => document.querySelectorAll(`[data-given="${s.id}"]`).length > 2);
        const boxes = [...document.querySelectorAll(`[data-given="${stop.id}"]`)];
        const said = () => stop.querySelector('.filled').textContent;
        boxes.map(box => box.closest('article')).filter((v, n, all) => all.indexOf(v) === n).forEach(identify);
        const none = said(); boxes.slice(1).forEach(b => b.click()); const short = said();
        stop.querySelector('[data-keep$="-tubes"]').click();
        return {planned: stop.dataset.tubes, boxes: boxes.length, none, short,
          bed: boxes[0].closest('article').dataset.called.replace(/ [^ ]*$/, '')};""",
    )
    planned, lacking = int(seen["planned"]), seen["bed"]
    assert seen["boxes"] == planned
    assert f"Ticked as filled: 0 of {planned}" in seen["none"]
    assert f"Ticked as filled: {planned - 1} of {planned}" in seen["short"]
    assert lacking in seen["short"]
    row = next(row for row in saved_rows(phone) if row["kind"] == "hand-over" and row["outcome"] == "given away")
    assert row["note"] == f"{planned - 1} of {planned} tubes ticked as filled"


WINDOW = """const v = card(0); Object.assign(v.dataset, {planned: '05:35:10', earliest: '05:30:00',
  earliestSaid: '05:30 (timed)', latest: '05:45:00', latestSaid: '05:45 (timed)'});
  const said = () => v.querySelector('.outside').textContent;
  const write = at => { const input = v.querySelector('[data-keep$="-time"]'); input.value = at;
    for (const kind of ['input', 'change']) input.dispatchEvent(new Event(kind, {bubbles: true})); };"""


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("05:29", "before 05:30 (timed)"),
        ("05:29:59", "before 05:30 (timed)"),
        ("05:30", ""),
        ("05:45", ""),
        ("05:45:01", "after 05:45 (timed)"),
        ("05:46", "after 05:45 (timed)"),
        ("23:50", "before 05:30 (timed)"),
    ],
)
def test_draw_outside_its_time_is_kept_with_what_to_do(phone: Browser, typed: str, words: str) -> None:
    seen = act(
        phone,
        f"""{WINDOW} identify(v); write('{typed}'); const first = said(); outcome(v, 'collected');
        return {{first, value: value(v, 'time'), chosen: chosen(v), patient: v.dataset.patient,
          calls: v.querySelector('.outcome').matches('.explains'),
          end: v.closest('.route').querySelector('.account').textContent}};""",
    )
    assert seen["value"] == typed
    assert seen["chosen"] == "collected"  # what happened is never refused
    assert seen["calls"] == bool(words)
    rows = [row for row in saved_rows(phone) if row["patient_number"] == seen["patient"] and row["kind"] == "tube"]
    assert {row["time"] for row in rows} == {typed}
    assert {row["outside"] for row in rows} == {"" if not words else "early" if "before" in words else "late"}
    if words:
        assert words in seen["first"]
        assert "phone the lead" in seen["first"]
        assert "laboratory" in seen["first"]
        assert "Drawn outside its time" in seen["end"]
    else:
        assert seen["first"] == ""


def test_button_that_stamps_a_draw_says_that_it_is_outside(phone: Browser) -> None:
    set_clock(phone, datetime(2026, 3, 10, 5, 29, 40))
    seen = act(phone, f"""{WINDOW} identify(v); v.querySelector('[data-now$="-time"]').click(); return said();""")
    assert "05:29:40 is before 05:30 (timed)" in seen
    assert act(phone, "undo(); return card(0).querySelector('.outside').textContent;") == ""


def test_page_knows_the_times_at_which_a_timed_draw_counts(phone: Browser) -> None:
    """The serial draws of the round are ordered for 05:20 and 06:20; what is drawn at any time has no such ends."""
    ends = act(
        phone,
        """return [...document.querySelectorAll('article.visit')].map(v => [v.dataset.orders.includes('T'),
          Boolean(v.dataset.earliest && v.dataset.latest && v.dataset.earliestSaid.includes('(timed)'))]);""",
    )
    assert [True, True] in ends
    assert all(is_timed == has_ends for is_timed, has_ends in ends)


def test_tube_is_not_ticked_before_identity(phone: Browser) -> None:
    seen = act(
        phone,
        """const v = many(), box = tubes(v)[0]; box.click(); const before = [box.checked, words(v)];
        identify(v); box.click(); return [before, [box.checked, words(v)]];""",
    )
    assert seen[0][0] is False
    assert "identity comes first" in seen[0][1]
    assert seen[1] == [True, ""]


def test_who_cannot_be_identified_is_an_outcome_of_its_own(folder: Path, phone: Browser) -> None:
    set_clock(phone, datetime(2026, 3, 10, 5, 20))
    seen = act(
        phone,
        """const v = card(0); v.querySelector('[data-identifier]').click(); outcome(v, 'unidentified');
        const one = [chosen(v), words(v)]; outcome(v, 'unidentified'); identify(v);
        [...v.querySelectorAll('[data-identifier]')].filter(b => !b.checked).forEach(b => b.click());
        outcome(v, 'unidentified'); const three = [chosen(v), words(v)];
        [...v.querySelectorAll('[data-identifier]')].forEach(b => b.click()); outcome(v, 'unidentified');
        return {one, three, patient: v.dataset.patient, orders: v.dataset.orders.split('\\n')};""",
    )
    assert seen["one"] == ["unidentified", ""]
    assert seen["three"][0] == ""
    assert "identifiers are ticked" in seen["three"][1]
    assert {r["outcome"] for r in saved_rows(phone) if r["patient_number"] == seen["patient"]} == {"unidentified"}
    following = planner.replan(folder / "out", "08:00", planner.News(done=[phone.folder / SAVED]))
    aside = {u.order_id: u.reason.value for u in following.plan.unplanned}
    assert {aside[order] for order in seen["orders"]} == {"not-identified"}
    assert following.needs_decision


def test_half_done_visit_is_saved_with_what_is_ticked_so_far(folder: Path, phone: Browser) -> None:
    """A tube that is filled is never forgotten: without an outcome the lead is asked, as blood may have been drawn."""
    seen = act(
        phone,
        """const v = many(); identify(v); tubes(v)[0].click();
        return {patient: v.dataset.patient, tube: tubes(v)[0].dataset.tube, bed: v.dataset.bed};""",
    )
    rows = [row for row in saved_rows(phone) if row["patient_number"] == seen["patient"]]
    assert [(r["tube"], r["outcome"], r["identity"]) for r in rows] == [(seen["tube"], "", "2 of 3")]
    following = planner.replan(folder / "out", "05:31", planner.News(done=[phone.folder / SAVED]))
    (found,) = (f for f in following.findings if f.code == "report-unfinished")
    assert found.severity is planner.Severity.WARNING
    assert f"tube {seen['tube']}" in found.message


def test_identity_alone_is_saved_too(phone: Browser) -> None:
    patient = act(phone, "const v = many(); v.querySelector('[data-identifier]').click(); return v.dataset.patient;")
    rows = [row for row in saved_rows(phone) if row["patient_number"] == patient]
    assert [(row["tube"], row["outcome"], row["identity"]) for row in rows] == [("", "", "1 of 3")]
