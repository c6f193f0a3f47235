"""Writes the route of one phlebotomist as HTML: the rules, the cards of the stops, what to do if, the end, pictures."""

from __future__ import annotations

import base64
from collections.abc import Sequence

from planner.exporters.page.cards import Cards
from planner.exporters.page.parts import attributes, bullets, call, paragraph, table, text
from planner.exporters.pictures.draw import Picture
from planner.exporters.view.round_view import RoundView, RouteView
from planner.exporters.view.sign_out import NOT_DRAWN_HEADS, NOT_DRAWN_ROWS, SIGN_OUT_TITLE
from planner.exporters.view.words import (
    BEHIND,
    BREAK,
    EVERY_PATIENT,
    OTHERWISE,
    TOO_LATE,
    WHAT_IF_HEADS,
    WHAT_IF_TITLE,
    WHY,
)
from planner.exporters.workbook.changes import done_title, done_words


def route_html(view: RoundView, route: RouteView, number: int, pictures: Sequence[Picture]) -> str:
    """Return the section of a route; ``number`` counts routes from 1 and makes the identifiers of its parts.

    What was done by the instant of a replanned round stands first, small.
    """
    figures = "".join(_figure(picture) for picture in pictures)
    cards = Cards(route=route, number=number, with_ward=view.has_several_wards, calls=_calls(view))
    return (
        f'<section class="route route-{number}" id="route-{number}" aria-labelledby="route-{number}-head"'
        f"{attributes(data_route=str(number))}>"
        f'{paragraph(route.newest, "newest")}<h2 id="route-{number}-head">{text(route.name)}</h2>'
        f"{paragraph(f'Start {route.starts}. {route.summary}.', 'summary')}"
        f"{_labelled((WHY, f'{route.shaped}.')) if route.shaped else ''}"
        f"{paragraph(f'{route.unconfirmed}.', 'strong') if route.unconfirmed else ''}"
        f"{paragraph(route.lacking, 'lacking') if route.lacking else ''}"
        f"{_rules(view, route, number, has_pictures=bool(figures))}"
        f"{_done(route, view.replan.as_of if view.replan else '')}{cards.html()}{_break_after(route)}"
        f"{_end(route, number)}{_what_if(view, route, number)}{_seen(view, route, number, figures)}</section>"
    )


def _rules(view: RoundView, route: RouteView, number: int, *, has_pictures: bool) -> str:
    """Return what holds at every stop, and whom to phone."""
    behind = f"{_words(BEHIND)} " if has_pictures else ""
    return (
        f'<div class="rules" id="rules-{number}" data-fold="phone"><h3 class="screen">Phone, and rules for every stop'
        f"</h3>{_labelled(EVERY_PATIENT)}{''.join(_labelled(('TEST', words)) for words in route.bedside)}"
        f'<p class="every last">{_words(OTHERWISE)} {_words(TOO_LATE)} {behind}'
        f'<span class="phones" id="phones-{number}">{_phones(view)}</span></p></div>'
    )


def _seen(view: RoundView, route: RouteView, number: int, figures: str) -> str:
    careful = f'<div class="cautions"><h4>Cautions</h4>{bullets(view.cautions, "ol")}</div>'
    if not figures:
        return careful
    return (
        f'<section class="pictures" id="map-{number}" aria-labelledby="map-{number}-head" data-fold="phone">'
        f'<h3 id="map-{number}-head">Map and timeline of {text(route.name)}</h3>'
        f"{paragraph(route.map_words)}{figures}{careful}</section>"
    )


def _end(route: RouteView, number: int) -> str:
    """Return the card that a script fills in as the route goes on: what is open, given away, not drawn."""
    return (
        f'<section class="end" id="end-{number}" aria-labelledby="end-{number}-head" tabindex="-1">'
        f'<h3 id="end-{number}-head">End of the route of {text(route.name)}</h3><div class="account"></div>'
        '<p class="onward"><button type="button" data-do="save">Save progress file</button></p></section>'
    )


def _break_after(route: RouteView) -> str:
    return paragraph(f"{BREAK}  {route.break_after}", "way") if route.break_after else ""


def _calls(view: RoundView) -> str:
    """Return the numbers that the site states as links, for a card."""
    links = " ".join(filter(None, (call(who, view.numbers) for who, _ in view.phones)))
    return f'<p class="calls">{links}</p>' if links else ""


def _what_if(view: RoundView, route: RouteView, number: int) -> str:
    """Return the what-if card: a box with a row for each thing that may go wrong."""
    if not route.what_if:
        return ""
    rows = ((line.title, line.do, line.write, line.phone) for line in route.what_if)
    listed = table(f"{WHAT_IF_TITLE}: {route.name}", WHAT_IF_HEADS, rows, numbers=view.numbers)
    return (
        f'<section class="what-if" id="what-if-{number}" data-fold="phone"><h3 class="screen">{WHAT_IF_TITLE}</h3>'
        f"{listed}</section>{_sign_out(route)}"
    )


def _sign_out(route: RouteView) -> str:
    """Return the strip that is filled in on paper at the end of the route."""
    empty = [("\u00a0",) * len(NOT_DRAWN_HEADS)] * NOT_DRAWN_ROWS
    written = "".join(paragraph(words) for words in route.sign_out)
    listed = table(SIGN_OUT_TITLE, NOT_DRAWN_HEADS, empty, is_scrolled=False)
    return f'<div class="sign-out">{listed}{written}</div>'


def _phones(view: RoundView) -> str:
    """Return whom to phone, in bold, each with the occasions."""
    told = (
        f"<b>{call(who, view.numbers) or text(who)}</b>{f': {text(when)}' if when else ''}" for who, when in view.phones
    )
    separator = '<span class="on-paper">; </span><br class="screen">'
    return f"<b>PHONE</b> {separator.join(told)}"


def _words(note: tuple[str, str]) -> str:
    return f"<b>{text(note[0])}</b> {text(note[1])}"


def _labelled(note: tuple[str, str]) -> str:
    return f'<p class="every">{_words(note)}</p>'


def _done(route: RouteView, as_of: str) -> str:
    """Return the stops that were made, and what is in the tray now."""
    if not route.done:
        return ""
    lines = bullets(done_words(route.done), class_="plain")
    tray = "<br>".join(text(line) for line in route.tray) or "nothing"
    return (
        f'<div class="done"><h3>{text(done_title(as_of, route.done))}</h3>{lines}</div>'
        f'<p class="tray"><b>IN THE TRAY NOW</b> {tray}</p>'
    )


def _figure(picture: Picture) -> str:
    data = base64.b64encode(picture.svg).decode("ascii")
    size = {"width": str(round(picture.width_in * 96)), "height": str(round(picture.height_in * 96))}
    image = attributes(src=f"data:image/svg+xml;base64,{data}", alt=picture.words, **size)
    return f'<figure tabindex="0"><img{image}></figure>'
