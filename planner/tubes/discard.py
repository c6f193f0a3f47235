"""The discard tube: when it is drawn, and how much it takes (rule ``discard``)."""

from __future__ import annotations

from collections.abc import Iterable

from planner.domain.catalogue import DISCARD_TUBE, Catalogue, Handling
from planner.domain.orders import Patient
from planner.domain.patients.ages import is_child
from planner.domain.problem import Problem
from planner.tubes.groups import Filled
from planner.tubes.kinds import Uses, allowed_sizes, draw_key, is_citrate


def needs_discard(catalogue: Catalogue, filled: Iterable[Filled], *, is_winged: bool) -> bool:
    """Return whether a discard tube comes before the first citrate tube.

    It does when a test in a citrate tube asks for one, and when the tubing of a winged set still holds air:
    nothing is filled before the citrate [L1, L2, L44].
    """
    contents = [(catalogue.tubes[f.container.kind], f.demands) for f in filled]
    citrate = [(kind, demands) for kind, demands in contents if is_citrate(kind)]
    if not citrate:
        return False
    if any(Handling.DISCARD_FIRST in d.test.handling for _, demands in citrate for d in demands):
        return True
    first = min(draw_key(kind) for kind, _ in citrate)
    return is_winged and not any(draw_key(kind) < first for kind, _ in contents)


def discard_volume_ul(problem: Problem, patient: Patient) -> int:
    """Return what a discard takes; it need not be full [L1, L2, L44]."""
    policy = problem.policy.tubes
    return policy.discard_child_ul if is_child(problem, patient) else policy.discard_adult_ul


def discard_size_ul(catalogue: Catalogue, volume_ul: int, uses: Uses) -> int:
    """Return the smallest discard tube that holds the volume; the volume itself when the catalogue has none."""
    kind = catalogue.tubes.get(DISCARD_TUBE)
    sizes = () if kind is None else allowed_sizes(kind, uses)
    return next((size for size in sizes if size >= volume_ul), volume_ul)
