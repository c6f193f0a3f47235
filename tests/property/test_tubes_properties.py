"""What holds for every visit: all rules of tubes, and how the set answers to more orders or fewer alternatives."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from planner.domain.catalogue import Catalogue, Handling, LabTest, SizeUse, TestCode, TransportMode
from planner.domain.draws import Tube, TubeSet
from planner.domain.orders import Order
from planner.tubes import TubeChoice
from tests.property.tube_oracle import Bed, need_of, sizes_for
from tests.unit.tubes.bedside import choose, make_child, make_order, make_patient, real_catalogue

FOR_CHILDREN = {
    code
    for code, test in real_catalogue().tests.items()
    if all(size.use is SizeUse.CHILD for size in real_catalogue().tubes[test.accepts[0][0]].sizes)
}
"""Tests whose container has sizes for children only: an adult's order is set aside before (`test_blood`)."""
CODES = sorted(real_catalogue().tests.keys() - FOR_CHILDREN)
ADULT = make_patient()
VISITS = st.lists(st.sampled_from(CODES), min_size=1, max_size=14)
QUICK = settings(max_examples=150, deadline=None)


def orders_of(codes: Sequence[str]) -> list[Order]:
    return [make_order(code, f"P1-{n:03d}") for n, code in enumerate(codes)]


def the_set(choice: TubeChoice) -> TubeSet:
    (found,) = choice.tube_sets.values()
    return found


def assert_rules(catalogue: Catalogue, found: TubeSet, orders: Sequence[Order], bed: Bed) -> None:
    """Check every rule of the chapter Tubes, tube by tube."""
    served: dict[TestCode, list[Tube]] = {}
    for tube in found.tubes:
        for code in tube.tests:
            served.setdefault(code, []).append(tube)
    assert [t.draw_position for t in found.tubes] == list(range(1, len(found.tubes) + 1))
    for order in orders:
        mine = [t for t in found.tubes if order.id in t.order_ids]
        if catalogue.tests[order.test].is_culture:  # each order is a set of its own, from its own site
            assert all(t.order_ids == (order.id,) for t in mine)
            assert len({t.site for t in mine}) == 1
        else:
            assert mine == served[order.test], order.test
        kinds = Counter(t.tube for t in mine)
        assert any(
            set(kinds) == set(codes) and len(set(kinds.values())) == 1 for codes in catalogue.tests[order.test].accepts
        )
    for tube in found.tubes:
        if not tube.is_discard:
            assert_tube(catalogue, tube, bed)
    sites = Counter(t.site for t in found.tubes if catalogue.tubes[t.tube].is_culture)
    assert sorted(sites) == list(range(1, len(sites) + 1))
    ranks = [
        (t.site if k.is_culture else len(sites) + 1, k.rank, k.rank_within, k.code)
        for t, k in ((t, catalogue.tubes[t.tube]) for t in found.tubes if not t.is_discard)
    ]
    assert ranks == sorted(ranks)
    discards = [n for n, t in enumerate(found.tubes) if t.is_discard]
    citrate = [n for n, t in enumerate(found.tubes) if catalogue.tubes[t.tube].iso_code in ("9NC", "4NC")]
    asks = any(Handling.DISCARD_FIRST in catalogue.tests[c].handling for n in citrate for c in found.tubes[n].tests)
    air = bed.is_winged and bool(citrate) and (citrate[0] == 0 or discards == [0])
    assert discards == ([citrate[0] - 1] if asks or air else [])


def assert_tube(catalogue: Catalogue, tube: Tube, bed: Bed) -> None:
    kind, tests = catalogue.tubes[tube.tube], [catalogue.tests[c] for c in tube.tests]
    assert tube.size_ul in sizes_for(kind, bed)
    assert tube.volume_ul <= tube.size_ul
    if not kind.filled_to_need:
        assert tube.volume_ul == tube.size_ul
    if len(tests) > 1:
        assert len({(t.share_group, t.mode) for t in tests}) == 1
        assert tests[0].share_group is not None
        assert need_of(tests, bed) <= tube.size_ul
    assert tube.mode is tests[0].mode
    limits = [t.stability_in(tube.tube) for t in tests]
    assert tube.stability_s == min((limit for limit in limits if limit is not None), default=None)
    # The site has not allowed ice or culture bottles in its pneumatic tube (policy, default).
    by_hand = {Handling.HAND_DELIVER} if kind.is_culture or tube.mode is TransportMode.ICE else set()
    assert tube.handling == frozenset().union(by_hand, *(t.handling for t in tests))


@QUICK
@given(VISITS, st.booleans())
def test_adult_visit_keeps_every_rule(codes: list[str], winged: bool) -> None:
    orders = orders_of(codes)
    choice = choose(ADULT, orders, tubes={"routine_device": "winged" if winged else "straight"})
    assert not choice.postponed
    bed = Bed(is_child=False, is_winged=winged, discard_ul=1000)
    assert_rules(real_catalogue(), the_set(choice), orders, bed)
    assert the_set(choice).is_proven


@QUICK
@given(VISITS, st.integers(0, 13), st.sampled_from([2, 3, 5, 8, 12, 20, 40]))
def test_child_stays_within_its_limits_and_every_order_is_accounted_for(codes: list[str], years: int, kg: int) -> None:
    orders = orders_of(codes[:8])
    choice = choose(make_child(years, kg), orders)
    waiting = {u.order_id for u in choice.postponed}
    drawn = [o for o in orders if o.id not in waiting]
    served = {order_id for s in choice.tube_sets.values() for t in s.tubes for order_id in t.order_ids}
    assert served == {o.id for o in drawn}
    if drawn:
        found = the_set(choice)
        assert found.volume_ul <= 1700 * kg
        assert_rules(real_catalogue(), found, drawn, Bed(is_child=True, is_winged=True, discard_ul=500))


@QUICK
@given(VISITS, st.sampled_from(CODES))
def test_another_order_never_lowers_the_number_of_tubes(codes: list[str], more: str) -> None:
    before = the_set(choose(ADULT, orders_of(codes))).num_tubes
    assert the_set(choose(ADULT, orders_of([*codes, more]))).num_tubes >= before


@QUICK
@given(VISITS, st.integers(0, 2**16))
def test_fewer_alternatives_never_lower_the_number_of_tubes(codes: list[str], seed: int) -> None:
    rng, catalogue = random.Random(seed), real_catalogue()
    fewer = {c: less(catalogue.tests[TestCode(c)], rng) for c in codes}
    changed = replace(catalogue, tests={**catalogue.tests, **{TestCode(c): t for c, t in fewer.items()}})
    before = the_set(choose(ADULT, orders_of(codes)))
    after = choose(ADULT, orders_of(codes), catalogue=changed)
    if not after.postponed:
        assert the_set(after).num_tubes >= before.num_tubes


def less(test: LabTest, rng: random.Random) -> LabTest:
    """The test with one alternative fewer, where it has several; the first stays, its containers are stated."""
    if len(test.accepts) == 1:
        return test
    gone = rng.randrange(1, len(test.accepts))
    return replace(test, accepts=test.accepts[:gone] + test.accepts[gone + 1 :])


@QUICK
@given(VISITS, st.randoms(use_true_random=False))
def test_order_of_the_input_changes_nothing(codes: list[str], rng: random.Random) -> None:
    orders = orders_of(codes)
    mixed = list(orders)
    rng.shuffle(mixed)
    assert choose(ADULT, orders) == choose(ADULT, mixed)


@QUICK
@given(VISITS)
def test_one_tube_for_each_order_is_never_better(codes: list[str]) -> None:
    found = the_set(choose(ADULT, orders_of(codes)))
    assert found.num_tubes <= found.num_separate
