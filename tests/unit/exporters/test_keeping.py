"""How long what a visit draws keeps, said on its card."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.plan import Handover, Visit
from planner.exporters.view.cards.keeping import keeps_words
from planner.exporters.view.context import ViewContext
from planner.exporters.view.texts import TextCleaner
from tests.unit.exporters.rounds import make_round


def test_draw_that_would_be_too_early_for_its_courier_is_forbidden() -> None:
    """A tube that keeps 20 min and reaches the laboratory 18 min after the planned draw: 2 min earlier it is wasted."""
    problem, plan, windows = make_round()
    found = [
        (route, index, planned.handover)
        for route in plan.routes
        for index, visit in enumerate(route.stops)
        if isinstance(visit, Visit)
        for planned in visit.tubes
        if planned.handover is not None
    ]
    route, index, at = next(f for f in found if isinstance(h := f[0].stops[f[2]], Handover) and h.departs_s is not None)
    visit, courier = route.stops[index], route.stops[at]
    assert isinstance(visit, Visit) and isinstance(courier, Handover)
    for minutes, said in ((18, True), (12, False)):
        stops = list(route.stops)
        stops[at] = replace(courier, lab_arrival_s=visit.draw_s + 60 * minutes)
        tubes = (replace(p, tube=replace(p.tube, stability_s=1200 if p.handover == at else None)) for p in visit.tubes)
        stops[index] = replace(visit, tubes=tuple(tubes))
        changed = replace(route, stops=tuple(stops))
        context = ViewContext(problem, replace(plan, routes=(changed,)), windows, TextCleaner())
        words = keeps_words(context, changed, replace(visit, tubes=stops[index].tubes))
        earliest = problem.clock.format_clock(visit.draw_s - 120 + 59)
        assert words == ((f"NOT BEFORE {earliest} (it keeps 20 min and waits for the courier)",) if said else ())
