"""One tube kind over all draws of a test in a series, on wards whose beds bear the same numbers."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.catalogue import SizeUse, TubeCode, TubeLimit, TubeSize
from planner.domain.draws import Device, DrawId, Needle
from planner.domain.orders import EarlierDraw, PatientId
from planner.domain.places import PlaceId
from planner.domain.plan import Outcome, PlannedTube, Visit
from planner.domain.revisions.replan import AddOn, Past, Replan
from planner.tubes import TubeChoice, choose_tubes
from tests.builders import clock
from tests.replan_builders import make_drawn_tube
from tests.unit.tubes.bedside import (
    BASE,
    PARAMS,
    make_catalogue,
    make_child,
    make_kind,
    make_order,
    make_patient,
    make_problem,
    make_request,
    make_test,
)

# S is a series test in G or H, X needs H, Y needs G. First visit S and X: one H. Second S and Y: one G, were S free.
# In one kind: G then takes H with X and G with S and Y, three tubes; so does H.
KINDS = [make_kind("G", 2000), make_kind("H", 2500)]
S = make_test("S", "G;H", 500, 100, one_kind_in_series=True)
X, Y = make_test("X", "H", 500, 100), make_test("Y", "G", 500, 100)
CATALOGUE = make_catalogue([S, X, Y], KINDS)


def made(
    catalogue=CATALOGUE, visits=("S X", "S Y"), patients=None, **changes
) -> tuple[dict[str, list[str]], TubeChoice]:
    """Return the tubes of each visit as 'H S+X', for each patient the same visits, and the whole choice."""
    patients = patients or [make_patient("P1")]
    orders = {
        (p.id, n): [make_order(t, f"{p.id}-{n}{t}", p.id, series="S" if t == "S" else None) for t in tests.split()]
        for p in patients
        for n, tests in enumerate(visits, start=1)
    }
    problem = replace(make_problem(patients, [o for of in orders.values() for o in of], catalogue=catalogue), **changes)
    requests = [make_request(problem.patients[p], of, n) for (p, n), of in orders.items()]
    choice = choose_tubes(problem, requests, PARAMS)
    return {
        d: [f"{t.tube} {'+'.join(t.tests)}" for t in found.tubes if not t.is_discard]
        for d, found in choice.tube_sets.items()
    }, choice


def kinds_of_s(visits: dict[str, list[str]]) -> list[str]:
    return [tube[0] for d in sorted(visits) for tube in visits[d] if "S" in tube[2:].split("+")]


def test_all_draws_of_a_series_are_in_one_kind_at_the_least_cost_together():
    # G: G S, H X (4.5 mL), G S+Y (2.0): 3 tubes, 6.5 mL. H: H S+X (2.5), G Y, H S (4.5): 3 tubes, 7.0 mL. So G.
    visits, choice = made()
    assert visits == {"P1#1": ["G S", "H X"], "P1#2": ["G S+Y"]}
    assert all(found.is_proven for found in choice.tube_sets.values())
    # Free, each visit would take its least: one H, one G.
    free = make_catalogue([replace(S, one_kind_in_series=False), X, Y], KINDS)
    assert made(free)[0] == {"P1#1": ["H S+X"], "P1#2": ["G S+Y"]}


def test_kind_saves_tubes_over_all_visits_not_in_the_first():
    # Two later visits with Y make G the better, two with X make H the better.
    assert kinds_of_s(made(visits=("S X", "S Y", "S Y"))[0]) == ["G", "G", "G"]
    assert kinds_of_s(made(visits=("S Y", "S X", "S X"))[0]) == ["H", "H", "H"]


def test_each_patient_has_a_kind_of_their_own_and_namesake_beds_do_not_mix():
    people = [
        make_patient(f"P{n}", bed=PlaceId(f"{ward}/1A"), ward=ward)
        for n, ward in enumerate(("Elm", "Oak, E", "Yew"), 1)
    ]
    drawn = [EarlierDraw(patient_id=PatientId("P2"), test="S", series="S", draw_s=0, tube=TubeCode("H"))]
    visits, _ = made(patients=people, earlier_draws=tuple(drawn))
    assert kinds_of_s(visits) == ["G", "G", "H", "H", "G", "G"]


def test_series_without_a_name_counts_too():
    # Two orders without a series, drawn at two visits, are compared all the same.
    order = [make_order("S", "A"), make_order("X", "B")], [make_order("S", "C"), make_order("Y", "D")]
    problem = make_problem([make_patient("P1")], [o for of in order for o in of], catalogue=CATALOGUE)
    requests = [make_request(problem.patients["P1"], of, n) for n, of in enumerate(order, start=1)]
    found = choose_tubes(problem, requests, PARAMS).tube_sets
    assert [t.tube for d in sorted(found) for t in found[d].tubes if "S" in t.tests] == ["G", "G"]


@pytest.mark.parametrize("kind", ["G", "H"])
def test_kind_of_the_last_draw_known_is_kept(kind):
    # The earlier of two is not asked.
    drawn = [
        EarlierDraw(patient_id=PatientId("P1"), test="S", series="S", draw_s=at, tube=TubeCode(tube))
        for at, tube in [(-7200, "G" if kind == "H" else "H"), (-3600, kind)]
    ]
    assert kinds_of_s(made(earlier_draws=tuple(drawn))[0]) == [kind, kind]


def test_kind_drawn_in_this_round_is_kept_and_so_is_an_add_on():
    tube = make_drawn_tube(("S",), ["P1-0S"], "H", size_ul=2500)
    visit = Visit(
        draw_id=DrawId("P1#9"), patient_id=PatientId("P1"), place=PlaceId("B-P1"), order_ids=("P1-0S",),
        arrive_s=clock("05:08"), start_s=clock("05:08"), draw_s=clock("05:10"), depart_s=clock("05:13"),
        tubes=(PlannedTube(tube=tube, handover=None),), needle=Needle(gauge=21, device=Device.STRAIGHT),
        outcome=Outcome.COLLECTED,
    )  # fmt: skip
    past = Past(phlebotomist=0, stops=(visit,), place=BASE, free_s=clock("05:40"))
    replan = Replan(parent=1, now_s=clock("05:40"), past=(past,))
    assert kinds_of_s(made(replan=replan)[0]) == ["H", "H"]
    addon = AddOn(
        order_id="Z", patient_id="P1", place="B1", test="S", draw_id=DrawId("P1#9"), tube=TubeCode("H"),
        draw_position=1, drawn_s=clock("05:10"), collector="AB",
    )  # fmt: skip
    added = replace(replan, past=(replace(past, stops=()),), addons=(addon,))
    assert kinds_of_s(made(replan=added)[0]) == ["H", "H"]


def test_kind_of_an_earlier_draw_that_the_patient_cannot_have_is_reported():
    # The ward drew it into Q, which S does not accept: any kind, but one; the values may not compare.
    drawn = EarlierDraw(patient_id=PatientId("P1"), test="S", series="S", draw_s=0, tube=TubeCode("Q"))
    visits, choice = made(earlier_draws=(drawn,))
    assert kinds_of_s(visits) == ["G", "G"]
    (finding,) = [f for f in choice.findings if f.code == "series-kind-differs"]
    assert set(finding.order_ids) == {"P1-1S", "P1-2S"} and "Q" in finding.message


def test_childs_blood_limit_weighs_every_kind():
    # 3 kg: 5.1 mL a day. In G a child's tube takes 3.0 each time (6.0 in all), in H 2.0: all fits only in H.
    sizes = {"G": 3000, "H": 2000}
    kinds = [make_kind(c, sizes=(TubeSize(draw_ul=ul, use=SizeUse.CHILD),)) for c, ul in sizes.items()]
    low = replace(S, accepts=((TubeCode("G"),), (TubeCode("H"),)), add_volume_ul=100)
    visits, choice = made(make_catalogue([low], kinds), visits=("S", "S"), patients=[make_child(0, 3, drawn_24h_ul=0)])
    assert kinds_of_s(visits) == ["H", "H"] and not choice.postponed


def test_kind_that_is_too_late_in_one_visit_is_left_for_both():
    from planner.domain.orders import TimeWindow
    from tests.builders import make_order as order
    from tests.builders import make_pickup
    from tests.builders import make_problem as whole_problem

    # One courier at 06:00, five minutes to the laboratory; H keeps S 20 min. Drawn by 05:30 it would be 35 min old.
    late = replace(S, tube_limits=(TubeLimit(tube=TubeCode("H"), max_room_s=1200),))
    catalogue = make_catalogue([late, X, Y], KINDS)
    orders = [[order("O1", "P1", "S"), order("O2", "P1", "X")], [order("O3", "P1", "S"), order("O4", "P1", "X")]]
    courier = [make_pickup(departures_s=(clock("06:00"),), transit_s=300)]
    problem = whole_problem([o for of in orders for o in of], catalogue=catalogue, pickups=courier)
    spans = [("05:10", "05:30"), ("05:40", "05:55")]
    requests = [
        replace(
            make_request(problem.patients["P1"], of, n),
            windows=(TimeWindow(earliest_s=clock(spans[n - 1][0]), latest_s=clock(spans[n - 1][1])),),
        )
        for n, of in enumerate(orders, start=1)
    ]
    found = choose_tubes(problem, requests, PARAMS).tube_sets
    assert [t.tube for d in sorted(found) for t in found[d].tubes if "S" in t.tests] == ["G", "G"]
