"""Blood limits and children's culture volumes against the published tables, and what happens over a limit."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from planner.domain.catalogue import Catalogue
from planner.domain.orders import Priority
from planner.domain.patients.blood_limits import blood_limits, cap_per_draw_ul
from planner.findings import Source
from planner.loaders.catalogue.load import SiteRow, load_catalogue
from planner.solving.params import SolveParams
from planner.tubes import choose_tubes
from planner.tubes.cultures import child_set_ul
from planner.tubes.demands import demands_of
from tests.unit.tubes.bedside import (
    choose,
    make_catalogue,
    make_child,
    make_kind,
    make_order,
    make_orders,
    make_patient,
    make_problem,
    make_request,
    make_test,
    real_catalogue,
    tube_set,
    with_only,
    written,
)


def without_child_volumes(*tests: str) -> Catalogue:
    """The catalogue of a laboratory that asks as much of a child as of an adult, for these tests."""
    rows = [SiteRow(cells={"test": code, "child_min_ml": "-"}, source=Source(file="tests.csv")) for code in tests]
    catalogue, findings = load_catalogue(rows)
    assert findings == []
    return catalogue


@pytest.mark.parametrize(
    ("kg", "cap_ml"),
    [
        # L54 Beaumont, after the Phlebotomy Handbook 8th ed. 2010: both ends of each printed row.
        *[(2.7, 2.5), (3.5, 2.5), (3.6, 3.5), (4.4, 3.5), (7.3, 10), (18.2, 10), (18.6, 20), (27.3, 20)],
        *[(27.7, 25), (29.5, 25), (30.0, 30), (45.5, 30)],
        # From memory: 4.5-6.8 kg 5 mL.
        *[(4.5, 5), (6.8, 5)],
        # Between the printed rows, below and above them: the row below (engineering choice).
        *[(7.0, 5), (18.4, 10), (29.8, 25), (2.0, 2.5), (60.0, 30)],
    ],
)
def test_cap_at_one_time(kg: float, cap_ml: float) -> None:
    assert cap_per_draw_ul(round(kg * 1000)) == cap_ml * 1000


@pytest.mark.parametrize(
    ("kg", "day_ml", "month_ml"),
    # trade-facts 2.2, computed at 80 mL/kg: 1.7 mL/kg/day [L53, L55] and 5 % of total blood volume.
    [(2, 3.4, 8), (3, 5.1, 12), (5, 8.5, 20), (8, 13.6, 32), (10, 17, 40), (15, 25.5, 60), (20, 34, 80), (40, 68, 160)],
)
def test_daily_and_monthly_limit(kg: float, day_ml: float, month_ml: float) -> None:
    child = make_child(15, kg, drawn_24h_ul=0)  # 15 years: no cap at one time
    problem = make_problem([child], [])
    limits = blood_limits(problem, child, round(kg * 1000))
    assert (limits.draw_ul, limits.round_ul) == (None, day_ml * 1000)
    late = make_child(15, kg, drawn_24h_ul=0, drawn_30d_ul=round(month_ml * 1000) - 700)
    assert blood_limits(problem, late, round(kg * 1000)).round_ul == 700


def test_what_was_drawn_today_counts() -> None:
    child = make_child(15, 10, drawn_24h_ul=16_000)
    # 17 mL - 16 mL.
    assert blood_limits(make_problem([child], []), child, 10_000).round_ul == 1000
    over = make_child(15, 10, drawn_24h_ul=20_000)
    assert blood_limits(make_problem([over], []), over, 10_000).round_ul == 0


def test_last_day_is_part_of_the_last_month() -> None:
    # A site's limit of 1 % in 30 days: 8 mL of 800; 5 mL of the last 24 h count although the 30 days say 2 or nothing.
    for month_ul in (None, 2000):
        child = make_child(15, 10, drawn_24h_ul=5000, drawn_30d_ul=month_ul)
        problem = make_problem([child], [], blood={"child_30d_tbv_pct": 1.0})
        assert blood_limits(problem, child, 10_000).round_ul == 3000


def test_anaemia_lowers_the_limits_in_proportion() -> None:
    child = make_child(3, 10, haemoglobin_g_l=88, drawn_24h_ul=0)
    limits = blood_limits(make_problem([child], []), child, 10_000)
    # 88 / 110 = 0.8: cap 10 -> 8 mL, day 17 -> 13.6 mL, total blood volume 800 -> 640 mL.
    assert (limits.draw_ul, limits.round_ul, limits.total_ul) == (8000, 13_600, 640_000)
    healthy = make_child(3, 10, haemoglobin_g_l=125, drawn_24h_ul=0)
    assert blood_limits(make_problem([healthy], []), healthy, 10_000).round_ul == 17_000


@pytest.mark.parametrize(
    ("kg", "age_days", "ml"),
    # L5 UCSF, mL a set: below and above each printed border.
    [
        (0.9, 10, 1),
        (0.9, 2, 0.5),
        (1, 2, 2),
        (4.9, 99, 2),
        (5, 99, 3),
        (14.9, 99, 3),
        (15, 99, 6),
        (40, 99, 6),
        (41, 99, 10),
    ],
)
def test_culture_volume_table_a(kg: float, age_days: int, ml: float) -> None:
    assert child_set_ul("a", round(kg * 1000), age_days, 1) == ml * 1000


@pytest.mark.parametrize(
    ("kg", "num_sets", "ml"),
    # L4 UW Health, mL a septic episode, shared by the sets: 2, 4.5, 6, and 40 in two sets of 20 over 36.3 kg.
    [(1.0, 1, 2), (2.0, 1, 4.5), (12.7, 1, 6), (12.7, 2, 3), (36.4, 2, 20), (36.4, 1, 20), (20, 1, 6)],
)
def test_culture_volume_table_b(kg: float, num_sets: int, ml: float) -> None:
    assert child_set_ul("b", round(kg * 1000), 99, num_sets) == ml * 1000


def test_adult_culture_set_is_twenty_millilitres() -> None:
    # L5, L6: one aerobic and one anaerobic bottle of 10 mL.
    assert written(tube_set(make_patient(), "BC")) == ["BCA 10 BC", "BCN 10 BC"]


def test_child_culture_is_one_paediatric_bottle_or_two_half_filled() -> None:
    # Table a: 10 kg 3 mL fits one paediatric bottle of 4 mL; 20 kg 6 mL: 3 + 3 aerobic and anaerobic, preferred
    # to two paediatric bottles.
    assert written(tube_set(make_child(1, 10), "BC")) == ["BCP 3 BC"]
    found = tube_set(make_child(6, 20), "BC")
    assert written(found) == ["BCA 3 BC", "BCN 3 BC"]
    assert [t.size_ul for t in found.tubes] == [4000, 5000]


def test_adolescent_culture_goes_by_weight_in_adult_bottles() -> None:
    # 16 years, 60 kg: table a, over 40 kg, 10 mL: 5 + 5 in bottles of 10.
    found = tube_set(make_child(16, 60), "BC")
    assert written(found) == ["BCA 5 BC", "BCN 5 BC"]
    assert {t.size_ul for t in found.tubes} == {10_000}
    # 18 years: an adult's set.
    assert written(tube_set(make_child(18, 60), "BC")) == ["BCA 10 BC", "BCN 10 BC"]


def test_uneven_share_is_rounded_up() -> None:
    # Table b, 1.5 kg: 4.5 mL an episode in four sets: 1.125 mL each, 0.5625 in each of two
    # bottles.
    orders = [make_order("BC", f"P1-{n}", series="S") for n in range(4)]
    child = make_child(0, 1.5)
    problem = make_problem([child], orders, tubes={"weight_table_cultures": "b"})
    demands = demands_of(problem, make_request(child, orders))
    assert [d.need_ul for d in demands] == [1125] * 4
    pair = next(o for o in demands[0].options if len(o.containers) == 2)
    assert [c.volume_ul for c in pair.containers] == [563, 563]


def test_unreadable_rows_of_table_b_are_said() -> None:
    choice = choose(make_child(6, 20, drawn_24h_ul=0), "BC", tubes={"weight_table_cultures": "b"})
    assert "culture-table-gap" in [f.code for f in choice.findings]


def test_child_without_weight_needs_a_decision() -> None:
    choice = choose(make_child(6, None), "CBC, BC")
    assert choice.tube_sets == {}
    assert {u.reason.value for u in choice.postponed} == {"weight-missing"}
    assert [f.code for f in choice.findings] == ["weight-missing"]
    assert choice.findings[0].order_ids == ("P1-001", "P1-002")


def test_smaller_tubes_come_before_postponing() -> None:
    # Child of 3 kg, cap 2.5 mL. CBC + ESR: together 1.5 + 0.2 = 1.7 mL, one EDTA of 3.0 mL: too much. Apart: EDTA
    # 0.5, ESR citrate 1.6 and a discard of 0.5 (winged): 2.6 mL, still over. With nothing to discard (a culture of
    # 2 mL first) it would be more. So the child of 4 kg (cap 3.5): one tube of 3.0 fits.
    asked = without_child_volumes("ESR")
    assert written(tube_set(make_child(0, 4), "CBC, ESR", catalogue=asked)) == ["EDTA 3 CBC+ESR"]
    # Cap 2.6 mL instead: anaemia of 82 g/L lowers 3.5 to 2.609 mL, and two tubes with the discard take 2.6.
    choice = choose(make_child(0, 4, haemoglobin_g_l=82, drawn_24h_ul=0), "CBC, ESR", catalogue=asked)
    (found,) = choice.tube_sets.values()
    assert written(found) == ["DIS 0.5", "ESRC 1.6 ESR", "EDTA 0.5 CBC"]
    assert not choice.postponed
    assert "blood-limit-smaller-tubes" in [f.code for f in choice.findings]


def test_least_urgent_order_waits_with_millilitres_and_reason() -> None:
    # 3 kg, cap 2.5 mL: XM 4.0 mL never fits; CBC 0.5 does.
    orders = [make_order("CBC", "P1-001"), make_order("XM", "P1-002", priority=Priority.STAT)]
    choice = choose(make_child(0, 3, drawn_24h_ul=0), orders, catalogue=without_child_volumes("XM"))
    (found,) = choice.tube_sets.values()
    assert written(found) == ["EDTA 0.5 CBC"]
    (late,) = choice.postponed
    assert (late.order_id, late.reason.value) == ("P1-002", "blood-limit")
    assert "5.1 mL in 24 h" in late.detail and "2.5 mL at one time" in late.detail and "at least 4 mL" in late.detail


def test_urgent_order_is_kept_and_routine_waits() -> None:
    # 3 kg, 5.1 mL a day less 4 mL drawn leaves 1.1 mL. BMP needs 0.6: the serum tube of 1.0 is the least; CBC
    # takes 0.5: one of them. The stat one stays.
    for stat, kept in (("BMP", "SER 1 BMP"), ("CBC", "EDTA 0.5 CBC")):
        orders = [
            make_order(code, f"P1-{n:03d}", priority=Priority.STAT if code == stat else Priority.ROUTINE)
            for n, code in enumerate(("BMP", "CBC"))
        ]
        choice = choose(make_child(0, 3, drawn_24h_ul=4000), orders)
        (found,) = choice.tube_sets.values()
        assert written(found) == [kept]


def test_of_equally_urgent_orders_the_one_that_saves_most_waits() -> None:
    # As above, both routine and for today's treatment: postponing LFT saves 1.0 mL, CBC 0.5.
    choice = choose(make_child(0, 3, drawn_24h_ul=4000), "LFT, CBC")
    assert [u.test for u in choice.postponed] == ["LFT"]


def test_urgent_order_waits_when_only_the_routine_one_fits() -> None:
    # Both in one tube 2.2 mL, the urgent one alone 1.2, the routine one alone 1.0; the stat one takes 1.0 of its
    # own; 3 kg leaves 5.1 - 3.0 = 2.1 mL.
    tests = [
        make_test("R", "A", 1000, 1000),
        make_test("U", "A", 1200, 1200),
        make_test("V", "A", 1000, 1000, None),
    ]
    catalogue = make_catalogue(tests, [make_kind("A", 1000, 1200, 2200)])
    orders = [
        make_order("R", "P1-001"),
        make_order("U", "P1-002", priority=Priority.URGENT),
        make_order("V", "P1-003", priority=Priority.STAT),
    ]
    choice = choose(make_child(0, 3, drawn_24h_ul=3000), orders, catalogue=catalogue)
    (found,) = choice.tube_sets.values()
    assert written(found) == ["A 1 R", "A 1 V"]
    assert [u.order_id for u in choice.postponed] == ["P1-002"]


def test_all_visits_of_the_round_count_together() -> None:
    # 3 kg: 5.1 mL a day less 4.4 leaves 0.7 mL: one visit of CBC 0.5, not two.
    child = make_child(0, 3, drawn_24h_ul=4400)
    orders = [make_order("CBC", "P1-001", priority=Priority.URGENT), make_order("CBC", "P1-002")]
    problem = make_problem([child], orders)
    requests = [make_request(child, [order], n) for n, order in enumerate(orders, start=1)]
    choice = choose_tubes(problem, requests, SolveParams())
    assert list(choice.tube_sets) == ["P1#1"]
    assert [u.order_id for u in choice.postponed] == ["P1-002"]


def test_nothing_left_for_today_postpones_everything() -> None:
    choice = choose(make_child(5, 20, drawn_24h_ul=34_000), "CBC, BMP")
    assert choice.tube_sets == {}
    assert len(choice.postponed) == 2


def test_adult_is_flagged_and_never_blocked() -> None:
    # BC in three sets of a series: 60 mL, over 50.
    orders = [make_order("BC", f"P1-{n:03d}", series="S") for n in range(3)]
    choice = choose(make_patient(), orders)
    assert [f.code for f in choice.findings] == ["blood-adult-flag"]
    assert not choice.postponed
    # 40 mL with 11 mL before: over as well; with 10 mL before: not.
    for before_ul, codes in ((11_000, ["blood-adult-flag"]), (10_000, [])):
        choice = choose(make_patient(drawn_24h_ul=before_ul), orders[:2])
        assert [f.code for f in choice.findings] == codes


def test_large_share_of_a_childs_blood_is_said() -> None:
    # 10 kg: 1 % of 800 mL is 8 mL. KARYO 4 mL and LEUK 2 in sodium heparin, CD4 and MAL 1.2 each: 8.4.
    asked = without_child_volumes("KARYO", "LEUK", "CD4", "MAL")
    choice = choose(make_child(2, 10, drawn_24h_ul=0), "KARYO, LEUK, CD4, MAL", catalogue=asked)
    assert [f.code for f in choice.findings] == ["blood-visit-share"]
    assert choose(make_child(2, 10, drawn_24h_ul=0), "KARYO, LEUK, CD4", catalogue=asked).findings == ()


def test_infant_in_need_of_blood_is_not_postponed_for_the_adult_volume() -> None:
    # L43 South Tees: an infant's crossmatch takes 1 mL of EDTA; the adult's 4 mL never fitted the 2.5 mL of 3 kg.
    assert written(tube_set(make_child(0, 3, drawn_24h_ul=0), "CBC, XM")) == ["EDTA 0.5 CBC", "EDTB 1 XM"]
    assert written(tube_set(make_child(1, 7.5, drawn_24h_ul=0), "ZN")) == ["EDTT 1 ZN"]


@pytest.mark.parametrize(("code", "reason"), [("NBS", "heel-test"), ("CGAS", "no-tube"), ("BCPED", "no-tube")])
def test_container_for_children_is_not_given_to_an_adult(code: str, reason: str) -> None:
    choice = choose(make_patient(), f"{code}, CBC")
    (found,) = choice.tube_sets.values()
    assert written(found) == ["EDTA 3 CBC"]
    assert [late.reason.value for late in choice.postponed] == [reason]


def test_unknown_history_is_said() -> None:
    assert [f.code for f in choose(make_child(5, 20), "CBC").findings] == ["blood-history-unknown"]


def test_near_the_limit_unknown_history_is_a_decision() -> None:
    # 3 kg: 5.1 mL in 24 h, of which half may have been drawn already: 2.55 mL are left, and 2.5 mL at one time.
    # Two visits of 1.6 mL each (black citrate, and a discard of 0.5): one is drawn, the other is for a person.
    child = make_child(0, 3)
    orders = [make_order("ESR", "P1-001"), make_order("ESR", "P1-002")]
    catalogue = with_only(real_catalogue(), "ESR", accepts=(("ESRC",),))
    requests = [make_request(child, [order], n) for n, order in enumerate(orders, start=1)]
    for given, num_waiting in ((None, 1), (0, 0)):
        patient = replace(child, drawn_24h_ul=given)
        choice = choose_tubes(make_problem([patient], orders, catalogue=catalogue), requests, SolveParams())
        assert len(choice.postponed) == num_waiting
        assert all("nobody knows what was drawn before" in u.detail for u in choice.postponed)
    # The site's own share.
    problem = make_problem([child], orders, catalogue=catalogue, blood={"unknown_drawn_pct": 100})
    assert not choose_tubes(problem, requests, SolveParams()).postponed


def test_adolescent_gets_childrens_sizes_before_anything_waits() -> None:
    # 15 years, 40 kg: 68 mL a day, 66.9 mL of it drawn: 1.1 mL is left; the least adult EDTA tube takes 3.0 mL.
    assert tube_set(make_child(15, 40, drawn_24h_ul=0), "CBC").volume_ul == 3000
    choice = choose(make_child(15, 40, drawn_24h_ul=66_900), "CBC")
    assert not choice.postponed
    assert written(*choice.tube_sets.values()) == ["EDTA 0.5 CBC"]
    assert "blood-limit-smaller-tubes" in [f.code for f in choice.findings]


def test_what_past_visits_of_the_round_drew_counts_beside_the_thirty_days() -> None:
    # 10 kg, 40 mL in 30 days: 30 mL stated and 4 mL of this round by now leave 6 mL.
    child = make_child(15, 10, drawn_24h_ul=0, drawn_30d_ul=30_000)
    problem = make_problem([child], [])
    past = SimpleNamespace(
        visits=[SimpleNamespace(patient_id=child.id, tubes=[SimpleNamespace(tube=SimpleNamespace(volume_ul=4000))])]
    )
    object.__setattr__(problem, "replan", past)
    assert blood_limits(problem, child, 10_000).round_ul == 6000


def test_adults_total_of_the_stay_is_said_only_where_it_is_given() -> None:
    orders = [make_order("BC", f"P1-{n:03d}", series="S") for n in range(3)]
    for stated_ul, words in ((None, False), (100_000, True)):
        (finding,) = choose(make_patient(drawn_30d_ul=stated_ul), orders).findings
        assert ("160 mL in 30 days" in finding.message) is words


def test_findings_name_bed_and_orders_only() -> None:
    child = make_child(0, 3, family_name="Secretname", given_name="Hidden")
    for finding in choose(child, make_orders("XM, CBC")).findings:
        assert "Secretname" not in str(finding) and "Hidden" not in str(finding)
        assert "2024" not in str(finding)
