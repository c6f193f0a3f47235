"""The windows of a draw that was made, against the planner's own windows: never a yes where those say no."""

from __future__ import annotations

from random import Random

import pytest

from planner.domain.catalogue import Catalogue
from planner.domain.draws import OrderWindow
from planner.domain.orders import Order
from planner.loaders.catalogue.load import load_catalogue
from planner.replanning.addons.draw_time import draw_time_fault
from planner.visits.windows import window_of
from tests.builders import clock, make_order, make_patient, make_problem

CATALOGUE: Catalogue = load_catalogue((), ())[0]


def some_order(random: Random) -> Order:
    """An order of any test with times around the round, or none."""

    def sometime() -> int | None:
        return clock("03:00") + 60 * random.randrange(480) if random.random() < 0.4 else None

    from_s, to_s = sorted([clock("04:00") + 60 * random.randrange(300) for _ in range(2)])
    return make_order(
        "S1",
        "P1",
        random.choice(sorted(CATALOGUE.tests)),
        collect_at_s=sometime(),
        collect_from_s=from_s if random.random() < 0.2 else None,
        collect_to_s=to_s if random.random() < 0.2 else None,
        fasting=random.choice([None, None, True, False]),
        last_dose_s=sometime(),
        next_dose_s=sometime(),
        infusion_end_s=sometime(),
    )


@pytest.mark.slow
def test_what_counts_as_in_time_lies_in_the_planned_window() -> None:
    random = Random(5)
    num_yes = num_no = 0
    for _ in range(3000):
        patient = make_patient(
            "P1",
            "B1",
            last_ate_s=random.choice([None, -clock("06:00"), clock("00:00")]),
            next_meal_s=random.choice([None, clock("07:30")]),
        )
        order = some_order(random)
        problem = make_problem([order], [patient], catalogue=CATALOGUE)
        drawn_s = problem.start_s + 60 * random.randrange(240)
        is_fine = draw_time_fault(problem, order, drawn_s) == ""
        window = window_of(problem, order)
        is_planned = isinstance(window, OrderWindow) and any(drawn_s in span for span in window.windows)
        assert is_planned or not is_fine, (order, drawn_s)
        num_yes += is_fine
        num_no += not is_planned
    assert num_yes > 500 and num_no > 500  # both answers were met often
