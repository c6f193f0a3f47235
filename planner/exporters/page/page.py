"""Writes the round sheet as one HTML file: to read on a phone, to print, to tick; it never uses a network."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Sequence

from planner.exporters.page.lists import legend_html, note_html, overview_html, supplies_html
from planner.exporters.page.parts import attributes, css_string, paragraph, script, style, text
from planner.exporters.page.route import route_html
from planner.exporters.pictures.draw import Drawn, round_pictures
from planner.exporters.view.paper import paper_for
from planner.exporters.view.round_view import NAME_LETTERS, RoundView, RouteView
from planner.exporters.view.words import count_words

WITHOUT_SCRIPT = "This device runs no scripts: read here, and write times and outcomes on paper."


def round_sheet_html(
    view: RoundView, paper: str = "a4", *, large_print: bool = False, drawn: Drawn | None = None
) -> bytes:
    """Return the page, all of it in one file.

    Parameters
    ----------
    view
        What to print.
    paper
        ``a4`` or ``letter``.
    large_print
        Letters 1.4 times as large, printed across the paper.
    drawn
        Gives the pictures of the routes; None: they are drawn here.

    Raises
    ------
    ValueError
        If the paper is not known.
    """
    pictures = drawn() if drawn else round_pictures(view)
    rules = style() + _page_rules(view, paper, large_print=large_print)
    code = script()
    title = f"Round sheet: {view.title}, {view.date}, {view.revision}"
    head = (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy"{attributes(content=_policy(rules, code))}>\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="referrer" content="no-referrer">\n'
        f"<title>{text(title)}</title>\n<style>{rules}</style>\n</head>\n"
    )
    size = paper_for(paper, large_print=large_print)
    notes = "".join(note_html(view, r, n, size) for n, r in enumerate(view.routes, start=1) if r.note)
    routes = "".join(
        route_html(view, route, n, pictures[n - 1]) for n, route in enumerate(view.routes, start=1) if not route.is_idle
    )
    body = (
        f"<body{attributes(class_='large' if large_print else 'ordinary', **_keeping(view))}>\n"
        '<a class="skip" href="#content">Skip to the stops</a>\n'
        f"<header><h1>{text(view.heading)}</h1>{paragraph(_line(view))}{paragraph(view.confidentiality, 'quiet')}"
        f"{_links(view)}<noscript>{paragraph(WITHOUT_SCRIPT, 'strong')}</noscript></header>\n{_bar()}\n"
        f'<main id="content" tabindex="-1">{overview_html(view)}{supplies_html(view)}{notes}'
        f"{routes}{legend_html(view)}{_device()}</main>\n"
        f"<script>{code}</script>\n</body>\n</html>\n"
    )
    return (head + body).encode("utf-8")


def _line(view: RoundView) -> str:
    return ", ".join(words for words in (view.date, view.wards, view.revision, view.printed) if words)


def _keeping(view: RoundView) -> dict[str, str]:
    """Return under which key the device keeps what is ticked, how long, and the name of the file that is saved."""
    number = view.number
    whose = f" {view.routes[0].initials}" if view.is_packet else ""
    name = re.sub(r"[^\w-]+", "-", f"{view.title} r{number}{whose}").strip("-")
    return {
        "data_key": f"round-sheet|{view.title}|{view.date}|{number}|{_contents(view)}",
        "data_file": f"progress-{name}.csv",
        "data_revision": str(number),
        "data_ends": view.ends_at,
        "data_keep_s": str(view.page_keeps_s),
    }


def _contents(view: RoundView) -> str:
    """Return a digest of whose stops a page holds, in which order, that names nobody.

    What is ticked is kept by the number of its stop. A page with other stops must never take it for its own: a tick at
    one patient would stand at another.
    """
    stops = [
        (number, route.name, visit.number, visit.patient_number, visit.order_numbers)
        for number, route in enumerate(view.routes, start=1)
        for visit in route.visits
    ]
    return hashlib.sha256(repr(stops).encode()).hexdigest()[:16]


def _links(view: RoundView) -> str:
    """Return the index: who walks, then the other parts of the sheet."""
    walking = [(n, route) for n, route in enumerate(view.routes, start=1) if not route.is_idle]
    people = "".join(
        f'<li><a href="#route-{n}"><b>{text(route.name)}</b> {text(_first_stop(route))}</a></li>'
        for n, route in walking
        if len(walking) > 1
    )
    parts = [
        ("overview", "Overview"),
        ("supplies", "Supplies and hand-overs"),
        *((f"note-{n}", f"Change note {r.initials}") for n, r in walking if r.note),
        ("legend", "Legend and cautions"),
        ("device", "Save or erase"),
    ]
    others = "".join(f'<li><a href="#{target}">{text(words)}</a></li>' for target, words in parts)
    index = f'<ul class="people" id="people">{people}</ul>' if people else ""
    return f'<nav aria-label="Parts of the sheet">{index}<ul>{others}</ul></nav>'


def _first_stop(route: RouteView) -> str:
    visits = route.visits
    return f"{count_words(len(visits), 'visit')}, first {visits[0].bed} {visits[0].at}" if visits else "no visits"


def _bar() -> str:
    """Return the line that stays in sight: how far, what is next, one step back. Without scripts it stays hidden."""
    return (
        '<div id="progress" class="bar" role="region" aria-label="Progress" hidden>'
        '<div class="far"><p id="progress-count" role="status"></p> <a id="progress-next" href="#content"></a></div>'
        '<button type="button" id="progress-undo" disabled>Undo</button></div>'
    )


def _device() -> str:
    """Return what the device keeps, and the buttons that save and erase it."""
    return (
        '<section class="part device" id="device" aria-labelledby="device-head" hidden>'
        '<h2 id="device-head">Save or erase</h2><p id="device-words"></p>'
        '<p class="onward"><button type="button" id="progress-save" data-do="save">Save progress file</button> '
        '<button type="button" id="progress-clear">Erase from this device</button> '
        '<button type="button" id="progress-everybody" hidden>Show everybody</button></p></section>'
    )


def _policy(rules: str, code: str) -> str:
    """Return a policy that forbids every connection, and every style and script but those of the file."""
    style_hash, script_hash = (
        base64.b64encode(hashlib.sha256(part.encode("utf-8")).digest()).decode("ascii") for part in (rules, code)
    )
    return (
        f"default-src 'none'; img-src data:; style-src 'sha256-{style_hash}'; script-src 'sha256-{script_hash}'; "
        "connect-src 'none'; base-uri 'none'; form-action 'none'"
    )


def _page_rules(view: RoundView, paper: str, *, large_print: bool) -> str:
    """Return paper, margins, and what stands on every printed page."""
    sheet = paper_for(paper, large_print=large_print)
    size = f"{'letter' if paper == 'letter' else 'A4'} {'landscape' if sheet.is_landscape else 'portrait'}"
    left, right = view.header
    margins = f"{sheet.top_mm}mm {sheet.side_mm}mm {sheet.bottom_mm}mm"
    rules = [
        f":root {{ --zoom: {sheet.zoom:g}; }}",
        f"@page {{ size: {size}; margin: {margins};",
        _margin_box("top-left", css_string(left), 9, bold=True),
        _margin_box("top-right", css_string(right), 9, bold=True),
        _margin_box("bottom-left", css_string(view.confidentiality), 8),
        _margin_box(
            "bottom-right",
            f'{css_string(view.printed)} "\\00a0\\00a0\\00a0Page " counter(page) " of " counter(pages)',
            9,
        ),
        "}",
        *_named_pages(view),
    ]
    return "\n".join(rules) + "\n"


def _named_pages(view: RoundView) -> Sequence[str]:
    names = [("overview", "Overview"), ("supplies", "Supplies, hand-overs"), ("legend", "Legend, cautions")]
    names += [(f"note-{n}", f"Change note {r.initials}") for n, r in enumerate(view.routes, start=1) if r.note]
    names += [(f"route-{n}", route.name) for n, route in enumerate(view.routes, start=1) if not route.is_idle]
    rules = []
    for target, words in names:
        page = target.replace("-", "")
        box = _margin_box("top-center", css_string(words[:NAME_LETTERS]), 9, bold=True)
        parts = f"#{target}" if target != "overview" else "header, #overview"
        rules.append(f"@page {page} {{ {box} }}\n@media print {{ {parts} {{ page: {page}; }} }}")
    return rules


def _margin_box(where: str, content: str, size_pt: int, *, bold: bool = False) -> str:
    weight = "bold" if bold else "normal"
    return f"@{where} {{ content: {content}; font: {weight} {size_pt}pt Arial, sans-serif; white-space: nowrap; }}"
