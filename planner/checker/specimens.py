"""What the tests of a visit need, computed from the rule book: containers by kind, volumes, sizes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from planner.checker.facts import Facts, VisitAt
from planner.domain.catalogue import DISCARD_TUBE, LabTest, SizeUse, TubeCode, TubeType
from planner.domain.draws import Tube
from planner.domain.orders import Order, Patient


@dataclass(frozen=True, slots=True, kw_only=True)
class Specimen:
    """A test that is drawn once in a visit, with the orders it serves and the tubes that carry it.

    The same test ordered twice is one specimen; of cultures each set is one, with the orders that its bottles name.
    """

    at: VisitAt
    test: LabTest
    orders: tuple[Order, ...]
    tubes: tuple[Tube, ...]

    @property
    def where(self) -> str:
        """Initials, stop number, bed and test."""
        return f"{self.at.where}, test {self.test.code}"

    @property
    def order_ids(self) -> tuple[str, ...]:
        """Numbers of the orders it serves."""
        return tuple(order.id for order in self.orders)


def specimens(facts: Facts) -> Iterator[Specimen]:
    """Yield the specimens of all visits."""
    for at in facts.visits:
        yield from specimens_of(facts, at)


def specimens_of(facts: Facts, at: VisitAt) -> Iterator[Specimen]:
    """Yield the specimens of one visit, in the order of its orders."""
    tubes = tubes_of(at)
    for code in dict.fromkeys(order.test for order in at.orders):
        test = facts.problem.catalogue.tests[code]
        orders = tuple(order for order in at.orders if order.test == code)
        carrying = tuple(tube for tube in tubes if code in tube.tests)
        if test.is_culture:
            sets: dict[tuple[Tube, ...], list[Order]] = {}
            for order in orders:
                sets.setdefault(tuple(tube for tube in carrying if order.id in tube.order_ids), []).append(order)
            for own, served in sets.items():
                yield Specimen(at=at, test=test, orders=tuple(served), tubes=own)
        else:
            yield Specimen(at=at, test=test, orders=orders, tubes=carrying)


def tubes_of(at: VisitAt) -> tuple[Tube, ...]:
    """Return the tubes of a visit."""
    return tuple(planned.tube for planned in at.visit.tubes)


def type_of(facts: Facts, tube: Tube) -> TubeType:
    """Return the catalogue's type of a tube."""
    return facts.problem.catalogue.tubes[tube.tube]


def is_citrate(tube_type: TubeType) -> bool:
    """Return whether a tube holds sodium citrate (ISO 6710 codes 9NC, 4NC); the discard tube does not count."""
    return tube_type.code != DISCARD_TUBE and tube_type.iso_code.endswith("NC")


def sizes_for(facts: Facts, patient: Patient, tube_type: TubeType) -> tuple[int, ...]:
    """Return the draw volumes that may be used: capillary ones from the skin, a child's within the limits by weight."""
    barred = {SizeUse.CAPILLARY} if facts.is_limited(patient) else {SizeUse.CAPILLARY, SizeUse.CHILD}
    if facts.is_from_skin(patient):
        barred = set(SizeUse) - {SizeUse.CAPILLARY}
    return tuple(size.draw_ul for size in tube_type.sizes if size.use not in barred)


def has_child_volume(facts: Facts, specimen: Specimen) -> bool:
    """Return whether a culture's volume follows the patient's weight instead of the catalogue: under 18 years."""
    return specimen.test.is_culture and facts.is_limited(specimen.at.patient)


def alternatives(facts: Facts, specimen: Specimen) -> Iterator[Mapping[TubeCode, int]]:
    """Yield how many tubes of each kind serve a test: one mapping for each alternative that the patient can have.

    The first alternative takes ``containers`` tubes, spread evenly over its kinds; another takes one of each. Where
    the largest size that the patient may have is too small, it is as many as the volume needs. A child's culture
    follows the weight, so its volume asks for no further bottles.
    """
    test = specimen.test
    if facts.is_from_skin(specimen.at.patient) and test.capillary_min_volume_ul is None:
        return
    for number, kinds in enumerate(test.accepts):
        total = max(test.containers, len(kinds)) if number == 0 else len(kinds)
        wanted: dict[TubeCode, int] = {}
        for kind, slots in Counter(kinds).items():
            sizes = sizes_for(facts, specimen.at.patient, facts.problem.catalogue.tubes[kind])
            if not sizes:
                break
            share_ul = _ceil(alone_ul(facts, specimen.at.patient, test) * slots, len(kinds))
            by_volume = 0 if has_child_volume(facts, specimen) else _ceil(share_ul, max(sizes))
            wanted[kind] = max(total * slots // len(kinds), by_volume)
        else:
            yield wanted


def alone_ul(facts: Facts, patient: Patient, test: LabTest) -> int:
    """Return the blood that a test needs in a tube of its own: from the skin its own minimum, for a child a child's."""
    if facts.is_from_skin(patient) and test.capillary_min_volume_ul is not None:
        return test.capillary_min_volume_ul
    if facts.is_child(patient) and test.child_min_volume_ul is not None:
        return test.child_min_volume_ul
    return test.min_volume_ul


def need_ul(facts: Facts, patient: Patient, tests: list[LabTest]) -> int:
    """Return the blood that tests sharing one tube need: the largest of one alone plus what the others add.

    No test adds more than a child's minimum of it, or than its minimum from the skin.
    """
    alone = [alone_ul(facts, patient, test) for test in tests]
    adds = [
        test.add_volume_ul if ul == test.min_volume_ul else min(test.add_volume_ul, ul)
        for test, ul in zip(tests, alone, strict=True)
    ]
    return max((ul - add for ul, add in zip(alone, adds, strict=True)), default=0) + sum(adds)


def _ceil(numerator: int, denominator: int) -> int:
    return -(-numerator // denominator)
