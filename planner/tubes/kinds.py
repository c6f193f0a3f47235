"""What can be said of a tube kind: sizes a patient may get, citrate or not, its place in the order of draw."""

from __future__ import annotations

from planner.domain.ages import is_child
from planner.domain.catalogue import DISCARD_TUBE, Catalogue, LabTest, SizeUse, TubeCode, TubeType
from planner.domain.orders import Patient
from planner.domain.problem import Problem

CITRATE_CODES = ("9NC", "4NC")
"""ISO 6710 codes of sodium citrate tubes."""


Uses = frozenset[SizeUse]
"""Whom the tube sizes are for that a draw may have."""

ADULT_USES: Uses = frozenset({SizeUse.ADULT, SizeUse.SMALL})
CHILD_USES: Uses = ADULT_USES | {SizeUse.CHILD}


def uses_for(problem: Problem, patient: Patient) -> Uses:
    """Return whom the sizes are for that a patient may get (rule ``size-for-patient``)."""
    return CHILD_USES if is_child(problem, patient) else ADULT_USES


def allowed_sizes(kind: TubeType, uses: Uses) -> tuple[int, ...]:
    """Return the draw volumes in microlitres of a kind's sizes for these uses, ascending."""
    return tuple(sorted({size.draw_ul for size in kind.sizes if size.use in uses}))


def is_citrate(kind: TubeType) -> bool:
    """Return whether the kind is a coagulation or sedimentation tube, before which a discard may be needed."""
    return kind.code != DISCARD_TUBE and kind.iso_code in CITRATE_CODES


def draw_key(kind: TubeType) -> tuple[bool, int, int, str]:
    """Return the kind's place in the order of draw: culture bottles first, then by rank (``order-of-draw``)."""
    return not kind.is_culture, kind.rank, kind.rank_within, kind.code


def goes_before_citrate(catalogue: Catalogue, code: TubeCode) -> bool:
    """Return whether a container of this kind, filled first, clears the tubing for every citrate tube."""
    citrate = [draw_key(kind)[:2] for kind in catalogue.tubes.values() if is_citrate(kind)]
    return bool(citrate) and code != DISCARD_TUBE and draw_key(catalogue.tubes[code])[:2] < min(citrate)


def is_culture_test(catalogue: Catalogue, test: LabTest) -> bool:
    """Return whether the test's preferred containers are culture bottles."""
    return all(catalogue.tubes[code].is_culture for code in test.accepts[0])
