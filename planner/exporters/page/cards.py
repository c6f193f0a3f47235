"""Writes the stops of a route as HTML: an article a stop, to read, to print and to tick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.exporters.page.controls import answers, outcome, tick
from planner.exporters.page.parts import attributes, paragraph, text
from planner.exporters.view.cards.card_notes import Weight, card_notes
from planner.exporters.view.round_view import RouteView
from planner.exporters.view.stop_view import BreakView, HandoverView, StopView, TubeLine, VisitView
from planner.exporters.view.words import OUTCOMES, count_words

_BESIDE = 84
"""Letters of tests and handling that stand beside a tube on two lines; more goes under it, over the whole width."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cards:
    """Writes the cards of one route; ``number`` counts routes from 1 and makes the identifiers of its parts."""

    route: RouteView
    number: int
    with_ward: bool
    calls: str
    """The numbers to phone, as links; empty where the site states none."""

    def html(self) -> str:
        """Return all cards in their order."""
        return "".join(map(self._stop, self.route.stops))

    def _stop(self, stop: StopView) -> str:
        key = f"{self.number}-{stop.number}"
        if isinstance(stop, VisitView):
            return self._visit(stop, key)
        if isinstance(stop, HandoverView):
            return self._handover(stop, key)
        return self._break(stop, key)

    def _onward(self, stop: StopView) -> str:
        """Return where a thumb goes from a card: the next stop, and what helps when it does not go as planned."""
        following = next((s for s in self.route.stops if s.number == stop.number + 1), None)
        target = f"stop-{self.number}-{following.number}" if following else f"end-{self.number}"
        words = f"Next: {following.number}, {self._called(following)}" if following else "End of the route"
        helps = [("phones", "Phone")] + ([("what-if", "What if")] if self.route.what_if else [])
        links = "".join(f'<a href="#{name}-{self.number}">{label}</a>' for name, label in helps)
        return f'<p class="onward"><a class="next" href="#{target}">{text(words)}</a>{links}</p>'

    def _called(self, stop: StopView) -> str:
        """Return a stop as a line names it: 'Juniper 1A 05:40'."""
        if isinstance(stop, VisitView):
            name = stop.bed if stop.ward in stop.bed or not self.with_ward else f"{stop.ward} {stop.bed}"
            return f"{name} {stop.at}"
        return f"{stop.place} {stop.at}" if isinstance(stop, HandoverView) else f"break {stop.at}"

    def _nth(self, stop: StopView) -> str:
        return f'{stop.number}<span class="of"><span class="hidden"> of </span>{self.route.num_stops}</span>'

    def _article(self, stop: StopView, kind: str, key: str, inside: str, **data: str) -> str:
        return (
            f'<article class="stop {kind}" id="stop-{key}" aria-labelledby="head-{key}" tabindex="-1"'
            f"{attributes(data_number=str(stop.number), data_called=self._called(stop), **data)}>"
            f"{inside}{self._onward(stop)}</article>"
        )

    def _visit(self, visit: VisitView, key: str) -> str:
        words = [mark for mark in (visit.change_word, *(mark.words for mark in visit.marks)) if mark]
        marks = f'<p class="marks">{text(" ".join(words))}</p>' if words else ""
        ward = visit.ward if self.with_ward else ""
        inside = (
            f'<div class="side">{_head(key, self._nth(visit), "Bed ", visit.label, visit.at, ward)}{marks}'
            f"{_puncture(visit)}"
            f"{paragraph(_orders(visit), 'needle')}</div>"
            f'<div class="body"><div class="who" role="group" aria-label="Identity">'
            '<p class="step">Identity: tick at least two</p>'
            f"{_identifier(f'{key}-name', visit.name, 'name')}{_identifier(f'{key}-born', f'born {visit.born}')}"
            f"{_identifier(f'{key}-number', visit.patient_number)}</div>"
            f"{_notes_list(visit)}{answers(visit.answers, key)}{_tubes(visit.tubes, key)}"
            f"{_give(visit)}"
            f"{_paper_boxes()}{outcome(key, self.calls)}</div>"
        )
        data = {
            "data_bed": visit.bed,
            "data_patient": visit.patient_number,
            "data_orders": "\n".join(visit.order_numbers),
            "data_initials": self.route.initials,
            **_limits(visit),
        }
        way = paragraph(visit.way, "way") if visit.way else ""
        return way + self._article(visit, "visit", key, inside, **data)

    def _handover(self, stop: HandoverView, key: str) -> str:
        special = tick(f"{key}-special", stop.special, "strong") if stop.special else ""
        tubes = f"{count_words(stop.num_tubes, 'tube')}: {stop.beds}"
        fallback = paragraph(stop.fallback) if stop.fallback else ""
        wait = paragraph(stop.wait, "strong") if stop.wait else ""
        way = paragraph(stop.way) if stop.way else ""
        inside = (
            f'<div class="side">{_head(key, self._nth(stop), "", "Hand over", stop.at)}</div><div class="body">'
            f"{paragraph(f'Hand over at {stop.headline}', 'strong')}"
            f'<div class="count">{tick(f"{key}-tubes", tubes)}{special}</div>'
            f'<p class="filled strong screen" role="status"></p>{wait}{fallback}{way}'
            f'<input type="hidden" data-keep="{key}-ticked">'
            f'<p class="contents">{text(stop.contents)}</p></div>'
        )
        data = {"data_place": stop.where, "data_initials": self.route.initials, "data_tubes": str(stop.num_tubes)}
        return self._article(stop, "handover", key, inside, **data)

    def _break(self, stop: BreakView, key: str) -> str:
        inside = (
            f'<div class="side">{_head(key, self._nth(stop), "", "Break", stop.at)}</div>'
            f'<div class="body">{paragraph(stop.headline, "strong")}{paragraph(stop.wait) if stop.wait else ""}'
            f"{tick(f'{key}-taken', 'Break taken', 'screen')}</div>"
        )
        return self._article(stop, "rest", key, inside)


def _head(key: str, nth: str, kind: str, title: str, at: str, ward: str = "") -> str:
    word = f'<span class="kind">{kind}</span>' if kind else ""
    above = f'<span class="ward">{text(ward)}</span> ' if ward else ""
    return (
        f'<h3 id="head-{key}"><span class="number"><span class="hidden">Stop </span>{nth}</span> {above}'
        f'<span class="bed">{word}{text(title)}</span> <span class="time">{text(at)}</span></h3>'
        '<p class="result"></p>'
    )


def _identifier(key: str, words: str, class_: str = "") -> str:
    return tick(key, words, class_, data_identifier="")


def _limits(visit: VisitView) -> dict[str, str]:
    """Return by what the script judges the time of the draw."""
    if visit.limits is None:
        return {}
    ends = {"earliest": visit.limits.earliest, "latest": visit.limits.latest, "wish": visit.limits.wish}
    said = {f"data_{name}": end.at for name, end in ends.items() if end}
    said |= {f"data_{name}_said": end.said for name, end in ends.items() if end}
    return {"data_planned": visit.limits.planned, **said} if said else {}


def _orders(visit: VisitView) -> str:
    """Return the numbers by which a visit is reported where its patient has several; empty without orders."""
    return (
        f"Order{'s' * (len(visit.order_numbers) > 1)} {', '.join(visit.order_numbers)}" if visit.order_numbers else ""
    )


def _puncture(visit: VisitView) -> str:
    """Return needle and blood; how many tubes, where there is room."""
    if not visit.tubes:
        return ""
    count = f'<span class="screen">{visit.tube_count}, </span>' if visit.tube_count else ""
    return f'<p class="needle">{text(visit.needles)}, {count}{text(visit.total)}</p>'


def _give(visit: VisitView) -> str:
    """Return where the tubes go, and how far the stop may slip; empty where nobody goes in."""
    if visit.keep_out:
        return ""
    where = "<br>".join(text(line.words) for line in visit.goes_to) or "nothing"
    return f'<p class="give"><b>GIVE</b> {where}{f" <b>{text(visit.slip)}</b>" if visit.slip else ""}</p>'


def _notes_list(visit: VisitView) -> str:
    """Return the notes; what protects somebody, and a time that matters, is bold."""
    items = []
    for note in card_notes(visit):
        look = "" if note.weight is Weight.PLAIN else attributes(class_=note.weight.value)
        items.append(f"<div{look}><dt>{note.label}</dt><dd>{text(note.words)}</dd></div>")
    return f'<dl class="notes">{"".join(items)}</dl>' if items else ""


def _tubes(tubes: Sequence[TubeLine], key: str) -> str:
    if not tubes:
        return ""
    rows = []
    for tube in tubes:
        is_long = len(tube.tests) + len(tube.handling) > _BESIDE
        after = f' <b class="after">{text(tube.handling)}</b>' if tube.handling else ""
        beside = f"{text(tube.tests)}{'.' if after else ''}{after}" if not is_long else text(tube.tests)
        invert = f'<span class="narrow">Invert </span>{text(tube.inversions)}' if tube.inversions else ""
        rows.append(
            f"<tr><td>{_tube_boxes(tube, key)}</td>"
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


def _tube_boxes(tube: TubeLine, key: str) -> str:
    return "".join(
        tick(
            f"{key}-tube-{position}",
            str(position),
            data_tube=str(position),
            data_orders="\n".join(orders),
            data_called=f"{position} {tube.label}",
            data_given="" if stop is None else f"stop-{key.partition('-')[0]}-{stop}",
        )
        for position, orders, stop in tube.fills
    ) or tick(f"{key}-tube-{tube.positions}".replace(" ", ""), tube.positions)


def _paper_boxes() -> str:
    boxes = " ".join(f"☐\u00a0{one.word}" for one in OUTCOMES if one.on_paper)
    return f'<p class="paper" aria-hidden="true">at _____:_____ by\u00a0________ {boxes}</p>'
