"""Generated laboratories and visits for the tests of the tube room."""

from __future__ import annotations

import random
from dataclasses import replace

from planner.domain.catalogue import Catalogue, Handling, LabTest, SizeUse, TubeSize, TubeType
from tests.unit.tubes.bedside import make_catalogue, make_kind, make_test

USES = (SizeUse.ADULT, SizeUse.ADULT, SizeUse.SMALL, SizeUse.CHILD)


def random_catalogue(rng: random.Random, num_tests: int) -> Catalogue:
    """A laboratory with citrate, culture-like early tubes, tubes filled to need, ice, and awkward volumes."""
    kinds = [
        _kind(rng, "EARLY", rank=1, filled_to_need=rng.random() < 0.5),
        _kind(rng, "CIT", rank=2, iso_code="9NC"),
        _kind(rng, "A", rank=3),
        _kind(rng, "B", rank=4),
        _kind(rng, "C", rank=5, filled_to_need=rng.random() < 0.3),
    ]
    return make_catalogue([_test(rng, f"T{n}", kinds) for n in range(num_tests)], kinds)


def _kind(rng: random.Random, code: str, **given: object) -> TubeType:
    sizes = sorted({rng.randrange(2, 25) * 250 for _ in range(rng.randint(1, 4))})
    with_uses = [TubeSize(draw_ul=ul, use=rng.choice(USES)) for ul in sizes]
    with_uses[-1] = replace(with_uses[-1], use=SizeUse.ADULT)
    return replace(make_kind(code, 1000, **given), sizes=tuple(with_uses))


def _test(rng: random.Random, code: str, kinds: list[TubeType]) -> LabTest:
    accepted = rng.sample([k.code for k in kinds], rng.randint(1, 3))
    group = rng.choice(["G", "G", "G", "H", None])
    pair = group is None and len(accepted) > 1 and rng.random() < 0.4
    accepts = "+".join(accepted[:2]) + "".join(f";{c}" for c in accepted[2:]) if pair else ";".join(accepted)
    handling = frozenset(
        ([Handling.ICE] if rng.random() < 0.15 else []) + ([Handling.DISCARD_FIRST] if rng.random() < 0.2 else [])
    )
    min_ul = rng.randrange(1, 16) * 250
    add_ul = rng.randrange(0, 5) * 250 if rng.random() < 0.1 else min(min_ul, rng.randrange(0, 5) * 250)
    containers = 2 if pair or (group is None and rng.random() < 0.2) else 1
    return make_test(
        code,
        accepts,
        min_ul,
        add_ul,
        group,
        handling=handling,
        containers=containers,
        child_min_volume_ul=rng.randrange(250, min_ul + 1, 250) if rng.random() < 0.3 else None,
        first_choice=rng.choice([True, False, None]) if rng.random() < 0.3 else None,
    )
