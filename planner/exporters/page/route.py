"""Writes the route of one phlebotomist as HTML: an article a stop, to read, to print and to tick."""

from __future__ import annotations

import base64
from collections.abc import Sequence

from planner.exporters.page.parts import attributes, bullets, paragraph, table, text
from planner.exporters.pictures.draw import Picture
from planner.exporters.view.cards.card_notes import Weight, card_notes
from planner.exporters.view.round_view import RouteView
from planner.exporters.view.stop_view import BreakView, HandoverView, StopView, TubeLine, VisitView
from planner.exporters.view.words import (
    BEHIND,
    EVERY_PATIENT,
    NOT_DRAWN_HEADS,
    NOT_DRAWN_ROWS,
    OTHERWISE,
    OUTCOMES,
    SIGN_OUT_TITLE,
    TOO_LATE,
    WHAT_IF_HEADS,
    WHAT_IF_TITLE,
    count_words,
)
from planner.exporters.workbook.changes import done_title, done_words

_BESIDE = 84
"""Letters of tests and handling that stand beside a tube on two lines; more goes under it, over the whole width."""


def route_html(
    route: RouteView,
    number: int,
    pictures: Sequence[Picture],
    cautions: Sequence[str],
    *,
    with_ward: bool,
    phones: Sequence[tuple[str, str]],
    as_of: str = "",
) -> str:
    """Return the section of a route; ``number`` counts routes from 1 and makes the identifiers of its parts.

    ``as_of`` is the instant of a replanned round: what was done by then stands first, small.
    """
    stops = "".join(_stop(route, stop, number, with_ward=with_ward) for stop in route.stops)
    figures = "".join(_figure(picture) for picture in pictures)
    careful = f'<div class="cautions"><h4>Cautions</h4>{bullets(cautions, "ol")}</div>'
    seen = (
        f'<section class="pictures" id="map-{number}" aria-labelledby="map-{number}-head">'
        f'<h3 id="map-{number}-head">Map and timeline of {text(route.name)}</h3>'
        f"{paragraph(route.map_words)}{figures}{careful}</section>"
        if figures
        else careful
    )
    return (
        f'<section class="route route-{number}" id="route-{number}" aria-labelledby="route-{number}-head">'
        f'{paragraph(route.newest, "newest")}<h2 id="route-{number}-head">{text(route.name)}</h2>'
        f"{paragraph(f'Start {route.starts}. {route.summary}.', 'summary')}"
        f"{paragraph(f'{route.unconfirmed}.', 'strong') if route.unconfirmed else ''}"
        f"{paragraph(route.lacking, 'lacking') if route.lacking else ''}"
        f"{_labelled(EVERY_PATIENT)}{''.join(_labelled(('TEST', words)) for words in route.bedside)}"
        f'<p class="every last">{_words(OTHERWISE)} {_words(TOO_LATE)} '
        f"{_words(BEHIND) if figures else ''} {_phones(phones)}</p>"
        f"{_done(route, as_of)}{stops}{_what_if(route, number)}"
        f"{seen}</section>"
    )


def _what_if(route: RouteView, number: int) -> str:
    """Return the what-if card: a box with a row for each thing that may go wrong."""
    if not route.what_if:
        return ""
    rows = ((line.title, line.do, line.write, line.phone) for line in route.what_if)
    title = f"{WHAT_IF_TITLE}: {route.name}"
    card = f'<section class="what-if" id="what-if-{number}">{table(title, WHAT_IF_HEADS, rows)}</section>'
    return card + _sign_out(route)


def _sign_out(route: RouteView) -> str:
    """Return the strip that is filled in on paper at the end of the route."""
    empty = [("\u00a0",) * len(NOT_DRAWN_HEADS)] * NOT_DRAWN_ROWS
    written = "".join(paragraph(words) for words in route.sign_out)
    return f'<div class="sign-out" aria-hidden="true">{table(SIGN_OUT_TITLE, NOT_DRAWN_HEADS, empty)}{written}</div>'


def _phones(phones: Sequence[tuple[str, str]]) -> str:
    """Return whom to phone, in bold, each with the occasions."""
    told = (f"<b>{text(who)}</b>{f': {text(when)}' if when else ''}" for who, when in phones)
    return f"<b>PHONE</b> {'; '.join(told)}"


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


def _stop(route: RouteView, stop: StopView, number: int, *, with_ward: bool) -> str:
    key = f"{number}-{stop.number}"
    is_last = stop.number == route.stops[-1].number
    forward = f"map-{number}" if is_last else f"stop-{number}-{stop.number + 1}"
    words = "Map and timeline" if is_last else f"Next: stop {stop.number + 1}"
    onward = f'<p class="onward"><a href="#{forward}">{words}</a></p>'
    if isinstance(stop, VisitView):
        return _visit(route, stop, key, onward, with_ward=with_ward)
    if isinstance(stop, HandoverView):
        return _handover(route, stop, key, onward)
    return _break(stop, key, onward)


def _head(key: str, number: int, kind: str, title: str, at: str, ward: str = "") -> str:
    word = f'<span class="kind">{kind}</span>' if kind else ""
    above = f'<span class="ward">{text(ward)}</span> ' if ward else ""
    return (
        f'<h3 id="head-{key}"><span class="number"><span class="hidden">Stop </span>{number}</span> {above}'
        f'<span class="bed">{word}{text(title)}</span> <span class="time">{text(at)}</span></h3>'
    )


def _tick(key: str, words: str, class_: str = "", **data: str) -> str:
    """Return a box to tick with its label; ``data`` is what the saved file says of it."""
    return (
        f"<label{attributes(class_=f'tick {class_}'.strip())}>"
        f'<input type="checkbox" data-keep="{key}"{attributes(**data)}> '
        f"<span>{text(words)}</span></label>"
    )


def _visit(route: RouteView, visit: VisitView, key: str, onward: str, *, with_ward: bool) -> str:
    words = [mark for mark in (visit.change_word, *(mark.words for mark in visit.marks)) if mark]
    marks = f'<p class="marks">{text(" ".join(words))}</p>' if words else ""
    ward = visit.ward if with_ward else ""
    data = attributes(
        data_bed=visit.bed,
        data_patient=visit.patient_number,
        data_orders="\n".join(visit.order_numbers),
        data_initials=route.initials,
    )
    return (
        f"{paragraph(visit.way, 'way') if visit.way else ''}"
        f'<article class="stop visit" id="stop-{key}" aria-labelledby="head-{key}"{data}>'
        f'<div class="side">{_head(key, visit.number, "Bed ", visit.label, visit.at, ward)}{marks}'
        f"{paragraph(f'{visit.needles}, {visit.total}', 'needle')}"
        f"{paragraph(_orders(visit), 'needle')}</div>"
        f'<div class="body"><div class="who">{_tick(f"{key}-name", visit.name, "name")}'
        f"{_tick(f'{key}-born', f'born {visit.born}')}{_tick(f'{key}-number', visit.patient_number)}</div>"
        f"{_notes_list(visit)}{_tubes(visit.tubes, key)}"
        f'<p class="give"><b>GIVE</b> {"<br>".join(text(line.words) for line in visit.goes_to) or "nothing"}'
        f"{f' <b>{text(visit.slip)}</b>' if visit.slip else ''}</p>"
        f"{_paper_boxes()}{_outcome(key)}</div>{onward}</article>"
    )


def _orders(visit: VisitView) -> str:
    """Return the numbers by which a visit is reported where its patient has several; empty without orders."""
    return (
        f"Order{'s' * (len(visit.order_numbers) > 1)} {', '.join(visit.order_numbers)}" if visit.order_numbers else ""
    )


def _notes_list(visit: VisitView) -> str:
    """Return the notes; what protects somebody, and a time that matters, is bold."""
    items = []
    for note in card_notes(visit):
        look = "" if note.weight is Weight.PLAIN else attributes(class_=note.weight.value)
        items.append(f"<div{look}><dt>{note.label}</dt><dd>{text(note.words)}</dd></div>")
    return f'<dl class="notes">{"".join(items)}</dl>' if items else ""


def _tubes(tubes: Sequence[TubeLine], key: str) -> str:
    rows = []
    for tube in tubes:
        is_long = len(tube.tests) + len(tube.handling) > _BESIDE
        after = f' <b class="after">{text(tube.handling)}</b>' if tube.handling else ""
        beside = f"{text(tube.tests)}{'.' if after else ''}{after}" if not is_long else text(tube.tests)
        boxes = "".join(
            _tick(f"{key}-tube-{position}", str(position), data_tube=str(position), data_orders="\n".join(orders))
            for position, orders in tube.fills
        ) or _tick(f"{key}-tube-{tube.positions}".replace(" ", ""), tube.positions)
        invert = f'<span class="narrow">Invert </span>{text(tube.inversions)}' if tube.inversions else ""
        rows.append(
            f"<tr><td>{boxes}</td>"
            f'<th scope="row">{text(tube.label)} <span class="additive">{text(tube.additive)}</span></th>'
            f'<td>{text(tube.size)}</td><td>{invert}</td><td class="tests">{beside}</td></tr>'
        )
        if after and is_long:
            rows.append(f'<tr class="more"><td></td><td colspan="4">{after}</td></tr>')
    heads = "".join(f'<th scope="col">{h}</th>' for h in ("Fill", "Tube, cap", "Size", "Invert", "Tests, handling"))
    columns = "<colgroup>" + "".join(f'<col class="col-{n}">' for n in range(1, 6)) + "</colgroup>"
    return (
        '<table class="tubes"><caption class="hidden">Tubes in order of draw</caption>'
        f"{columns}<thead><tr>{heads}</tr></thead><tbody>{''.join(rows)}</tbody></table>"
    )


def _paper_boxes() -> str:
    boxes = " ".join(f"☐\u00a0{outcome.word}" for outcome in OUTCOMES if outcome.on_paper)
    return f'<p class="paper" aria-hidden="true">at _____:_____ by\u00a0________ {boxes}</p>'


def _outcome(key: str) -> str:
    """Return the fields that a phone keeps: how it went, when, who, and a note."""
    choices = "".join(
        f'<label class="choice"><input type="radio" name="outcome-{key}" value="{outcome.code}" '
        f'data-keep="{key}-outcome"> <span>{text(outcome.word)}</span></label>'
        for outcome in OUTCOMES
    )
    moments = "".join(
        f'<div class="moment"><button type="button" class="now" data-now="{key}-{name}">{words} now</button>'
        f'<label class="field field-{name}">{words} <input type="time" step="1" data-keep="{key}-{name}" '
        'autocomplete="off"></label></div>'
        for name, words in (("arrived", "Arrived"), ("time", "Drawn"), ("left", "Left"))
    )
    inputs = "".join(
        f'<label class="field field-{name}">{words} <input type="text" data-keep="{key}-{name}" autocomplete="off">'
        "</label>"
        for name, words in (("initials", "Initials"), ("note", "Note"))
    )
    ticked = f'<input type="hidden" data-keep="{key}-ticked">'
    return (
        f'<fieldset class="outcome"><legend>How did it go?</legend>{choices}{moments}{inputs}{ticked}'
        '<p class="untick">Tick an outcome again to take it back. After "part", the tubes ticked above are those '
        "filled.</p></fieldset>"
    )


def _handover(route: RouteView, stop: HandoverView, key: str, onward: str) -> str:
    special = _tick(f"{key}-special", stop.special, "strong") if stop.special else ""
    tubes = f"{count_words(stop.num_tubes, 'tube')}: {stop.beds}"
    where = f"Hand over at {stop.headline}"
    fallback = paragraph(stop.fallback) if stop.fallback else ""
    data = attributes(data_place=stop.where, data_initials=route.initials)
    return (
        f'<article class="stop handover" id="stop-{key}" aria-labelledby="head-{key}"{data}>'
        f'<div class="side">{_head(key, stop.number, "", "Hand over", stop.at)}</div><div class="body">'
        f'{paragraph(where, "strong")}<div class="count">{_tick(f"{key}-tubes", tubes)}{special}</div>{fallback}'
        f'<input type="hidden" data-keep="{key}-ticked">'
        f'<p class="contents">{text(stop.contents)}</p></div>{onward}</article>'
    )


def _break(stop: BreakView, key: str, onward: str) -> str:
    return (
        f'<article class="stop rest" id="stop-{key}" aria-labelledby="head-{key}">'
        f'<div class="side">{_head(key, stop.number, "", "Break", stop.at)}</div>'
        f'<div class="body">{paragraph(stop.headline, "strong")}</div>{onward}</article>'
    )
