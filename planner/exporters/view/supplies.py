"""Builds the supplies list: what each phlebotomist takes along, with spares."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from planner.domain.catalogue import Handling, TransportMode
from planner.domain.draws import Tube
from planner.domain.orders import Precaution
from planner.domain.plan import Route, Visit
from planner.domain.problem import Problem
from planner.exporters.view.cards.cares import LATEX_FREE, asked_of
from planner.exporters.view.context import ViewContext
from planner.exporters.view.rows import SupplyLine
from planner.exporters.view.stop_view import container_label
from planner.units import format_ml


@dataclass(frozen=True, slots=True)
class Need:
    """One thing that one visit needs; ``rank`` orders the list."""

    rank: tuple[object, ...]
    group: str
    item: str
    number: int


def supply_lines(context: ViewContext) -> tuple[SupplyLine, ...]:
    """Return all supplies: tubes in order of draw, needles, cold and dark, what to wear."""
    routes = context.plan.routes
    totals: dict[tuple[object, ...], tuple[str, str, list[int]]] = {}
    for column, route in enumerate(routes):
        for need in (need for visit in context.visits_to_come(route) for need in needs_of(context, visit)):
            entry = totals.setdefault(need.rank, (need.group, need.item, [0] * len(routes)))
            entry[2][column] += need.number
    lines = []
    for rank in sorted(totals, key=str_key):
        group, item, needed = totals[rank]
        spares = tuple(num_spare(number, context.problem.policy.tubes.spare_one_in) for number in needed)
        lines.append(SupplyLine(group=group, item=item, needed=tuple(needed), spares=spares))
    return tuple(lines)


def num_spare(needed: int, one_in: int) -> int:
    """Return the number of spares: one for every ``one_in`` needed, begun ones counted; none when that is 0."""
    return -(-needed // one_in) if one_in > 0 else 0


def spare_words(problem: Problem) -> str:
    """Return the spare rule as the list prints it."""
    one_in = problem.policy.tubes.spare_one_in
    return f"One spare for every {one_in} that a person needs, begun ones counted." if one_in > 0 else "No spares."


def cold_lines(context: ViewContext, route: Route) -> tuple[str, ...]:
    """Return the tubes of a route that travel on ice or are chilled before, a line a visit."""
    lines = []
    for visit in context.visits_to_come(route):
        said = []
        for tube in sorted((planned.tube for planned in visit.tubes), key=lambda tube: tube.draw_position):
            is_chilled = Handling.PRECHILL in tube.handling
            if is_chilled or tube.mode is TransportMode.ICE:
                name = context.clean(context.problem.catalogue.tubes[tube.tube].name_of(tube.size_ul))
                first = ", chill it empty" if is_chilled else ""
                said.append(f"tube {tube.draw_position}, {name} ({', '.join(context.tests_in(tube))}){first}")
        if said:
            bed = context.place(context.problem.patients[visit.patient_id].bed)
            lines.append(f"bed {bed}, {context.clock(visit.start_s)}: {'; '.join(said)}")
    return tuple(lines)


def str_key(rank: tuple[object, ...]) -> tuple[tuple[bool, object], ...]:
    """Return a key that orders ranks of numbers and texts, numbers first."""
    return tuple((isinstance(part, str), part) for part in rank)


def needs_of(context: ViewContext, visit: Visit) -> Iterable[Need]:
    """Yield what one visit needs."""
    yield from _containers(context, visit)
    yield from _sticks(context, visit)
    yield from _keeping(visit)
    yield from _wear(context, visit)


def _containers(context: ViewContext, visit: Visit) -> Iterable[Need]:
    for planned in visit.tubes:
        kind = context.problem.catalogue.tubes[planned.tube.tube]
        group = "Culture bottles" if kind.is_culture else "Tubes"
        name = container_label(context.clean(kind.name_of(planned.tube.size_ul)), context.clean(kind.closure))
        if not kind.filled_to_need:
            name += f", {format_ml(planned.tube.size_ul)} mL"
        rank = (
            1 if kind.is_culture else 2,
            kind.rank,
            kind.rank_within,
            kind.code,
            _size(planned.tube, kind.filled_to_need),
        )
        yield Need(rank, group, name, 1)


def _size(tube: Tube, is_filled_to_need: bool) -> int:
    return 0 if is_filled_to_need else tube.size_ul


def _sticks(context: ViewContext, visit: Visit) -> Iterable[Need]:
    sites = len({planned.tube.site for planned in visit.tubes})
    needle = visit.needle
    yield Need((3, needle.gauge or 0, needle.device), "Needles", context.clean(needle.name), max(1, sites))
    culture_sites = {p.tube.site for p in visit.tubes if context.problem.catalogue.tubes[p.tube.tube].is_culture}
    if culture_sites:
        yield Need((4, 1), "Culture sets", "Skin preparation for blood cultures, one a site", len(culture_sites))


_KEEPING: tuple[tuple[str, Callable[[Tube], bool]], ...] = (
    ("Sealed bag with a cold pack, by tube", lambda t: t.mode is TransportMode.ICE),
    ("Warm flask at 37 C, place for a tube", lambda t: t.mode is TransportMode.WARM),
    ("Foil or amber bag, by tube", lambda t: Handling.LIGHT in t.handling),
    ("Transfusion label, by tube", lambda t: Handling.STRICT_LABEL in t.handling),
)


def _keeping(visit: Visit) -> Iterable[Need]:
    for position, (item, applies) in enumerate(_KEEPING):
        if number := sum(applies(planned.tube) for planned in visit.tubes):
            yield Need((5, position), "Cold, warm, dark, labels", item, number)


_WEAR: tuple[tuple[str, frozenset[Precaution]], ...] = (
    ("Gown", frozenset({Precaution.CONTACT, Precaution.PROTECTIVE, Precaution.UNCLEAR})),
    ("Surgical mask", frozenset({Precaution.DROPLET, Precaution.PROTECTIVE})),
    ("Eye cover", frozenset({Precaution.DROPLET, Precaution.UNCLEAR})),
    ("Fit-tested respirator", frozenset({Precaution.AIRBORNE, Precaution.UNCLEAR})),
    ("Disposable tourniquet", frozenset({Precaution.CONTACT, Precaution.UNCLEAR})),
)


def _wear(context: ViewContext, visit: Visit) -> Iterable[Need]:
    patient = context.problem.patients[visit.patient_id]
    precautions = patient.precautions
    supplies = asked_of(context, patient, context.orders_of(visit)).supplies
    if LATEX_FREE in supplies:
        yield Need((6, 0, 1), "To wear", "Pair of latex-free gloves", 1)
        yield Need((6, 0, 2), "To wear", "Latex-free tourniquet", 1)
    else:
        yield Need((6, 0, 0), "To wear", "Pair of gloves", 1)
    for item in supplies:
        if item != LATEX_FREE:
            yield Need((5, 9, item), "Cold, warm, dark, labels", f"{item[:1].upper()}{item[1:]}", 1)
    for position, (item, asks) in enumerate(_WEAR, start=1):
        if precautions & asks:
            yield Need((6, position), "To wear", item, 1)
