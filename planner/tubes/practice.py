"""The practice against which a tube set is shown: one tube for each order."""

from __future__ import annotations

from collections.abc import Sequence

from planner.domain.orders import Patient
from planner.domain.problem import Problem
from planner.tubes.demands import Demand
from planner.tubes.kinds import uses_for
from planner.tubes.options import own_options


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
