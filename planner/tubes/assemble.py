"""From chosen containers to a tube set in the order of draw, with needle, handling and what it saves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.domain.catalogue import DISCARD_TUBE, Handling, LabTest
from planner.domain.draws import Tube, TubeSet
from planner.domain.orders import Patient
from planner.domain.problem import Problem
from planner.tubes.choice import Choice
from planner.tubes.demands import Demand
from planner.tubes.discard import discard_size_ul
from planner.tubes.groups import Filled
from planner.tubes.kinds import draw_key, is_capillary, is_citrate, is_kept_from_tube, uses_for
from planner.tubes.needle import suggest_needle
from planner.tubes.options import own_options


def assemble(problem: Problem, patient: Patient, choice: Choice) -> TubeSet:
    """Return the tube set of one visit (rules ``order-of-draw``, ``discard`` and ``stability``)."""
    from_skin = is_capillary(problem, patient)
    ordered = _in_order_of_draw(problem, [_tube(problem, filled) for filled in choice.filled], from_skin=from_skin)
    if choice.discard_ul:
        discard = Tube(
            tube=DISCARD_TUBE,
            size_ul=discard_size_ul(problem.catalogue, choice.discard_ul, uses_for(problem, patient)),
            volume_ul=choice.discard_ul,
            draw_position=0,
            tests=(),
            order_ids=(),
        )
        kinds = problem.catalogue.tubes
        at = next(n for n, tube in enumerate(ordered) if is_citrate(kinds[tube.tube]))
        ordered.insert(at, discard)
    demands = _distinct_demands(choice.filled)
    num_separate, separate_ul = separate_tubes(problem, patient, demands)
    return TubeSet(
        tubes=tuple(replace(tube, draw_position=n) for n, tube in enumerate(ordered, start=1)),
        needle=suggest_needle(
            problem,
            patient,
            _distinct_tests(demands),
            [problem.catalogue.tubes[filled.container.kind] for filled in choice.filled],
        ),
        num_separate=num_separate,
        separate_ul=separate_ul + choice.discard_ul,
        is_proven=choice.is_proven,
    )


def _tube(problem: Problem, filled: Filled) -> Tube:
    """Return a container with its tests and orders; it keeps as long as its least stable test in that kind."""
    tests = [demand.test for demand in filled.demands]
    limits = [limit_s for test in tests if (limit_s := test.stability_in(filled.container.kind)) is not None]
    kind = problem.catalogue.tubes[filled.container.kind]
    by_hand = {Handling.HAND_DELIVER} if is_kept_from_tube(problem, kind, tests[0].mode) else frozenset()
    return Tube(
        tube=filled.container.kind,
        size_ul=filled.container.size_ul,
        volume_ul=filled.container.volume_ul,
        draw_position=0,
        tests=tuple(sorted({test.code for test in tests})),
        order_ids=tuple(sorted({order_id for demand in filled.demands for order_id in demand.order_ids})),
        mode=tests[0].mode,
        handling=frozenset().union(by_hand, *(test.handling for test in tests)),
        stability_s=min(limits, default=None),
        site=filled.demands[0].site,
    )


def _in_order_of_draw(problem: Problem, tubes: Sequence[Tube], *, from_skin: bool) -> list[Tube]:
    """Return the culture sets site by site, then the other tubes by rank; ties by size, then tests."""
    kinds = problem.catalogue.tubes

    def key(tube: Tube) -> tuple[object, ...]:
        kind = kinds[tube.tube]
        site = tube.site if kind.is_culture else 0
        return (
            not kind.is_culture,
            site,
            draw_key(kind, from_skin=from_skin),
            tube.site,
            -tube.size_ul,
            tube.tests,
            tube.order_ids,
        )

    return sorted(tubes, key=key)


def _distinct_demands(filled: Sequence[Filled]) -> list[Demand]:
    by_key = {demand.key: demand for f in filled for demand in f.demands}
    return [by_key[key] for key in sorted(by_key)]


def _distinct_tests(demands: Sequence[Demand]) -> list[LabTest]:
    return list({demand.test.code: demand.test for demand in demands}.values())


def separate_tubes(problem: Problem, patient: Patient, demands: Sequence[Demand]) -> tuple[int, int]:
    """Return (tubes, microlitres) when every order gets containers of its own, without a discard.

    Each order takes the first alternative in the test's preference order that fits, in its smallest size.
    """
    uses = uses_for(problem, patient)
    num_tubes = volume_ul = 0
    for demand in demands:
        option = own_options(problem.catalogue, demand.test, demand.need_ul, uses)[0]
        num_tubes += len(option.containers) * len(demand.orders)
        volume_ul += option.volume_ul * len(demand.orders)
    return num_tubes, volume_ul
