"""What can be said of a tube kind: sizes a patient may get, citrate or not, its place in the order of draw."""

from __future__ import annotations

from planner.domain.catalogue import DISCARD_TUBE, Catalogue, LabTest, SizeUse, TubeCode, TubeType

CITRATE_CODES = ("9NC", "4NC")
"""ISO 6710 codes of sodium citrate tubes."""


def allowed_sizes(kind: TubeType, *, is_child: bool) -> tuple[int, ...]:
    """Return the draw volumes in microlitres that a patient may get, ascending (rule ``size-for-patient``)."""
    return tuple(sorted({size.draw_ul for size in kind.sizes if is_child or size.use is not SizeUse.CHILD}))


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
