"""What can be said of a tube kind: sizes a patient may get, citrate or not, its place in the order of draw."""

from __future__ import annotations

from planner.domain.catalogue import DISCARD_TUBE, Catalogue, LabTest, SizeUse, TransportMode, TubeCode, TubeType
from planner.domain.methods import method_of
from planner.domain.orders import Method, Patient
from planner.domain.patients.ages import is_child
from planner.domain.problem import Problem

CITRATE_CODES = ("9NC", "4NC")
"""ISO 6710 codes of sodium citrate tubes."""


Uses = frozenset[SizeUse]
"""Whom the tube sizes are for that a draw may have."""

ADULT_USES: Uses = frozenset({SizeUse.ADULT, SizeUse.SMALL})
CHILD_USES: Uses = ADULT_USES | {SizeUse.CHILD}


CAPILLARY_USES: Uses = frozenset({SizeUse.CAPILLARY})


def is_capillary(problem: Problem, patient: Patient) -> bool:
    """Return whether blood is taken from the skin: other containers, volumes and another order of draw."""
    return method_of(patient, problem.clock.day, problem.policy.blood) is Method.CAPILLARY


def uses_for(problem: Problem, patient: Patient) -> Uses:
    """Return whom the sizes are for that a patient may get (rule ``size-for-patient``)."""
    if is_capillary(problem, patient):
        return CAPILLARY_USES
    return CHILD_USES if is_child(problem, patient) else ADULT_USES


def small_uses_for(problem: Problem, patient: Patient) -> Uses:
    """Return whom the sizes are for that a patient may get where blood is short: children's too, whatever the age."""
    return CAPILLARY_USES if is_capillary(problem, patient) else CHILD_USES


def allowed_sizes(kind: TubeType, uses: Uses) -> tuple[int, ...]:
    """Return the draw volumes in microlitres of a kind's sizes for these uses, ascending."""
    return tuple(sorted({size.draw_ul for size in kind.sizes if size.use in uses}))


def is_citrate(kind: TubeType) -> bool:
    """Return whether the kind is a coagulation or sedimentation tube, before which a discard may be needed."""
    return kind.code != DISCARD_TUBE and kind.iso_code in CITRATE_CODES


def draw_key(kind: TubeType, *, from_skin: bool = False) -> tuple[bool, int, int, str]:
    """Return the kind's place in the order of draw: culture bottles first, then by rank (``order-of-draw``).

    From the skin it is the capillary rank: gases, EDTA, heparin, other additives, serum (CLSI GP42, from C2; L19).
    """
    rank = kind.capillary_rank if from_skin and kind.capillary_rank is not None else kind.rank
    return not kind.is_culture, rank, kind.rank_within, kind.code


def goes_before_citrate(catalogue: Catalogue, code: TubeCode) -> bool:
    """Return whether a container of this kind, filled first, clears the tubing for every citrate tube."""
    citrate = [draw_key(kind)[:2] for kind in catalogue.tubes.values() if is_citrate(kind)]
    return bool(citrate) and code != DISCARD_TUBE and draw_key(catalogue.tubes[code])[:2] < min(citrate)


def is_kept_from_tube(problem: Problem, kind: TubeType, mode: TransportMode) -> bool:
    """Return whether the site keeps a container out of the pneumatic tube (rule ``hand-deliver``)."""
    policy = problem.policy.handover
    on_ice = mode is TransportMode.ICE and not policy.tube_takes_ice
    return on_ice or (kind.is_culture and not policy.tube_takes_glass)


def is_culture_test(catalogue: Catalogue, test: LabTest) -> bool:
    """Return whether the test's preferred containers are culture bottles."""
    return all(catalogue.tubes[code].is_culture for code in test.accepts[0])
