"""Writes the parts beside the routes as HTML: overview with decisions, supplies with hand-overs, legend."""

from __future__ import annotations

from itertools import groupby

from planner.exporters.page.note_paper import note_size
from planner.exporters.page.parts import attributes, bullets, pairs, paragraph, table, text
from planner.exporters.view.notes.changes import ReplanView
from planner.exporters.view.paper import Paper
from planner.exporters.view.round_view import RoundView, RouteView
from planner.exporters.view.words import ALSO, JUDGED, SHAPED, count_words
from planner.exporters.workbook.changes import (
    ADDON_HEADS,
    CHANGE_HEADS,
    addon_rows,
    addon_title,
    change_rows,
    change_title,
    given_words,
)


def overview_html(view: RoundView) -> str:
    """Return what needs a decision, what is late, who goes where, how good the plan is."""
    parts = [paragraph("; ".join(view.summary) + ".")]
    if view.unconfirmed:
        parts.append(paragraph(f"{view.unconfirmed}.", "strong"))
    if view.replan is not None:
        parts.append(_changes(view, view.replan))
    if view.decisions:
        parts.append(f"<h3>Needs a decision: {text(view.decision_count)}</h3>")
        for group in view.decision_groups:
            rows = [(f"☐\u00a0{bed}", *rest) for bed, *rest in group.rows()]
            title = f"{group.title}: {group.action}"
            parts.append(table(title, ("Bed", "Orders", "Tests", "What was found"), rows, "list urgent"))
    else:
        parts.append(paragraph("Needs a decision: nothing.", "strong"))
    if view.late:
        rows = [(x.where, x.late, x.orders, x.due, f"{x.planned}, {x.phlebotomist}") for x in view.late]
        parts.append(table("Late", ("Bed", "Late by", "Orders", "Should be drawn by", "Planned, by whom"), rows))
    people = []
    for route in view.routes:
        first = f"bed {route.visits[0].bed} at {route.visits[0].at}" if route.visits else "none"
        people.append((route.called, route.starts, first, route.hand_overs, route.summary))
    parts.append(table("Who goes", ("Phlebotomist", "Starts", "First stop", "Hand-overs", "In all"), people))
    if not view.is_packet and any(route.shaped for route in view.routes):
        parts.append(f"<h3>{SHAPED}</h3>{bullets(f'{route.called}: {route.shaped}.' for route in view.routes)}")
    if view.index:
        parts.append(paragraph(view.index))
    if view.others:
        others = f"Also on this round, each with a sheet of their own (ask the lead for it): {', '.join(view.others)}."
        parts.append(paragraph(others))
    if view.checks:
        parts.append(f"<h3>Please check</h3>{bullets(check.text for check in view.checks)}")
    if view.for_information:
        rows = [(x.where, x.orders, x.tests, x.what, x.detail) for x in view.for_information]
        parts.append(table("Not planned, for information", ("Bed", "Orders", "Tests", "Why", "Detail"), rows))
    if view.assumptions:
        parts.append(f"<h3>Assumed, because nothing was given</h3>{bullets(view.assumptions)}")
    if view.judged:
        parts.append(paragraph(f"{JUDGED}: {view.judged}", "quiet"))
    return _section("overview", "Overview", "".join(parts))


def _changes(view: RoundView, replan: ReplanView) -> str:
    """Return what a replanned round says first: the add-ons to phone through, and what changed."""
    parts = []
    if replan.addons:
        parts.append(table(addon_title(replan), ADDON_HEADS, addon_rows(replan), "list urgent"))
    if replan.changes:
        parts.append(table(change_title(view), CHANGE_HEADS, change_rows(replan), "list urgent"))
    else:
        parts.append(paragraph(f"{change_title(view)}: no stop changed.", "strong"))
    if replan.given:
        parts.append(paragraph(given_words(replan)))
    return "".join(parts)


def note_html(view: RoundView, route: RouteView, number: int, paper: Paper) -> str:
    """Return the change note of one phlebotomist, to be read out over the phone; printed small if it is long."""
    items = "".join(
        f"<li>{f'<b>{text(line.text)}</b>' if line.details else text(line.text)}"
        f"{''.join(paragraph(detail) for detail in line.details)}</li>"
        for line in route.note
    )
    about = f"{view.title}, {view.date}. {view.revision[:1].upper()}{view.revision[1:]}. Read it out, number by number."
    said = f"Read out by ________________ to {route.name} at ___:___ said back ☐"
    return (
        f"<section{attributes(class_=f'part note {note_size(route, paper)}'.strip(), id=f'note-{number}')} "
        f'aria-labelledby="note-{number}-head">'
        f'<h2 id="note-{number}-head">Change note for {text(route.name)}</h2>'
        f'{paragraph(about)}<ol class="said">{items}</ol>{paragraph(said, "paper")}</section>'
    )


def supplies_html(view: RoundView) -> str:
    """Return what to take along, and for each collection what lies there to tick off."""
    heads = ("Take along", *view.supply_heads)
    parts = [paragraph(view.supply_note, "quiet")]
    if view.loading:
        parts.append(paragraph(view.loading, "strong"))
    for nth, (group, lines) in enumerate(groupby(view.supplies, key=lambda line: line.group)):
        rows = [(f"☐ {x.item}", *view.supply_cells(x)) for x in lines]
        parts.append(table(group, heads, rows, "list counts again" if nth else "list counts"))
    parts.append(paragraph(f"☐ {ALSO}", "strong"))
    if view.cold_lines:
        parts.append(f"<h3>On ice, by bed</h3>{bullets((f'☐ {line}' for line in view.cold_lines), class_='plain')}")
    parts.append("<h3>Hand-overs: count, then tick</h3>")
    for key, items in groupby(view.collections, key=lambda c: (c.place, c.leaves)):
        entries = []
        for item in items:
            more = "".join(f"<br><b>{text(words)}</b>" for words in (item.special, item.missed) if words)
            head = f"☐ {item.at} {item.phlebotomist}, {count_words(item.num_tubes, 'tube')}:"
            entries.append(f"<li><b>{text(head)}</b> {text(item.contents)}<br>{text(item.beds)}{more}</li>")
        parts.append(f'<h4>{text(f"{key[0]}: {key[1]}")}</h4><ul class="plain">{"".join(entries)}</ul>')
    return _section("supplies", "Supplies and hand-overs", "".join(parts))


def legend_html(view: RoundView) -> str:
    """Return cautions, words and signs, the tubes and the tests of the round."""
    tubes = [(t.name, t.closure, t.additive, t.inversions, t.note) for t in view.tube_key]
    parts = [
        f"<h3>Cautions</h3>{bullets(view.cautions, 'ol')}",
        f"<h3>Words and signs</h3>{pairs(view.marks_key, 'key')}",
        table("Tubes of this round, in order of draw", ("Tube", "Cap", "Additive", "Invert", "Used for"), tubes),
        f"<h3>Tests of this round</h3>{pairs(((t.called, t.name) for t in view.test_key), 'key codes')}",
    ]
    return _section("legend", "Legend and cautions", "".join(parts))


def _section(name: str, title: str, inside: str) -> str:
    return (
        f'<section class="part" id="{name}" aria-labelledby="{name}-head" data-fold="phone">'
        f'<h2 id="{name}-head">{title}</h2>{inside}</section>'
    )
