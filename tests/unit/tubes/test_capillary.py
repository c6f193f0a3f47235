"""Draws from the skin: containers, volumes and order of their own; a newborn is a decision unless a site says so."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from planner.checker.ages import way_of_collection
from planner.domain.catalogue import SizeUse
from planner.domain.methods import method_of
from planner.domain.orders import Method
from planner.domain.patients.births import PartialDate
from planner.domain.policy import BloodPolicy, NeonateMethod
from tests.unit.tubes.bedside import DAY, choose, make_child, make_patient, real_catalogue, tube_set, written

HEEL = {"method": Method.CAPILLARY, "drawn_24h_ul": 0}


def newborn(days: int = 9, **given: object):
    facts = {"birth_date": DAY - timedelta(days=days), "weight_g": 3100, "drawn_24h_ul": 0} | given
    return make_patient(**facts)


def test_order_of_draw_from_the_skin_is_gas_edta_heparin_other_additive_serum() -> None:
    # CLSI GP42 (quoted in [C2]): blood gas, EDTA, other additives, serum; Sunnybrook [L19]: EDTA, heparin, serum gel.
    # From a vein it would be serum, gas, heparin, EDTA, fluoride [L1].
    codes = "VBG, CBC, LFT, GLU, CRP"
    found = tube_set(newborn(**HEEL), codes)
    ranks = [real_catalogue().tubes[tube.tube].capillary_rank for tube in found.tubes]
    assert ranks == sorted(ranks) and found.tubes[0].tube == "GAS" and found.tubes[1].tube == "EDTA"
    assert [tube.draw_position for tube in found.tubes] == list(range(1, len(found.tubes) + 1))
    table = sorted((t.capillary_rank, t.code) for t in real_catalogue().tubes.values() if t.capillary_rank is not None)
    kinds = ["".join(c for c in code if c != "G") if code != "GAS" else code for _, code in table]
    assert list(dict.fromkeys(kinds)) == ["GAS", "EDTA", "HEP", "FLU", "SER"]


def test_containers_are_filled_to_their_lines_and_hold_a_newborns_least_volumes() -> None:
    # Auckland newborn services [C1]: full blood count 0.2 mL, bilirubin 0.3 mL.
    assert written(tube_set(newborn(**HEEL), "CBC")) == ["EDTA 0.25 CBC"]
    (tube,) = tube_set(newborn(**HEEL), "TBIL").tubes
    assert tube.volume_ul == 400
    found = tube_set(newborn(**HEEL), "CBC, TBIL, CRP")
    sizes = {s.draw_ul for kind in real_catalogue().tubes.values() for s in kind.sizes if s.use is SizeUse.CAPILLARY}
    assert {tube.size_ul for tube in found.tubes} <= sizes
    assert (found.needle.gauge, found.needle.device) == (None, "lancet")
    assert not any(tube.is_discard for tube in found.tubes)


@pytest.mark.parametrize("code", ["BC", "PT", "TS", "XM", "NH3", "LACT"])
def test_what_the_skin_does_not_give_is_a_decision(code: str) -> None:
    # Homerton [C3] and Auckland [C1]: no cultures and no clotting studies from a heel prick.
    choice = choose(newborn(**HEEL), f"{code}, CBC")
    assert [(u.test, u.reason.value) for u in choice.postponed] == [(code, "not-capillary")]
    assert choice.postponed[0].reason.needs_decision
    (found,) = choice.tube_sets.values()
    assert written(found) == ["EDTA 0.25 CBC"]


@pytest.mark.parametrize("card", ["NBS", "ACYL"])
@pytest.mark.parametrize("way", [Method.CAPILLARY, Method.VENOUS])
def test_screening_card_is_a_heel_test_of_ward_staff_or_a_trained_person_whatever_the_way(
    way: Method, card: str
) -> None:
    """Dried blood spots are taken from the heel by who is trained for it: common practice, no source."""
    choice = choose(newborn(method=way), f"{card}, CBC")
    assert [(u.test, u.reason.value) for u in choice.postponed] == [(card, "heel-test")]
    assert "heel test" in choice.postponed[0].detail and "have it drawn from a vein" not in choice.postponed[0].detail
    assert len(choice.tube_sets) == 1


def test_screening_card_of_an_adult_is_not_said_to_be_for_a_trained_person() -> None:
    (aside,) = choose(make_patient(), "NBS, CBC").postponed
    assert (aside.test, aside.reason.value) == ("NBS", "heel-test")
    assert aside.detail == "NBS is taken from a newborn's heel, and this patient is none; ask who was meant"


def test_no_venous_draw_gets_a_capillary_container() -> None:
    for patient in (make_patient(), newborn(method=Method.VENOUS), make_child(3, 14, drawn_24h_ul=0)):
        for code in ("CBC", "LFT", "VBG"):
            for tube in tube_set(patient, code).tubes:
                uses = {s.use for s in real_catalogue().tubes[tube.tube].sizes if s.draw_ul == tube.size_ul}
                assert uses - {SizeUse.CAPILLARY}


@pytest.mark.parametrize(
    ("policy", "reason", "device"),
    [("decision", "neonate", ""), ("capillary", "", "lancet"), ("venous", "", "winged"), ("ward", "ward-draws", "")],
)
def test_a_newborn_goes_by_policy_and_by_default_needs_a_decision(policy: str, reason: str, device: str) -> None:
    blood = {"neonate_method": NeonateMethod(policy)}
    choice = choose(newborn(27), "CBC", blood=blood)
    assert [u.reason.value for u in choice.postponed] == [reason] * bool(reason)
    assert [s.needle.device for s in choice.tube_sets.values()] == [device] * bool(device)
    # 28 days old: no newborn any more.
    assert [s.needle.device for s in choose(newborn(28), "CBC", blood=blood).tube_sets.values()] == ["winged"]
    # What the patient's own row says goes before the policy.
    own = choose(newborn(3, method=Method.CAPILLARY), "CBC", blood=blood)
    assert [s.needle.device for s in own.tube_sets.values()] == ["lancet"]


def test_a_month_that_may_be_a_newborns_is_one() -> None:
    # The round is on 14 May 2024: born in April means 14 days at the youngest; in March, 44.
    for born, is_open in ((PartialDate(2024, 4), True), (PartialDate(2024), True), (PartialDate(2024, 3), False)):
        choice = choose(make_patient(birth_date=born, weight_g=4000, drawn_24h_ul=0), "CBC")
        assert [u.reason.value for u in choice.postponed] == ["neonate"] * is_open


def test_who_is_light_and_has_no_birth_date_may_be_a_newborn() -> None:
    # WHO: boys of one month weigh 5.8 kg at +2 SD.
    for grams, is_open in ((3100, True), (5799, True), (5800, False), (14_000, False)):
        choice = choose(make_patient(birth_date=None, weight_g=grams, drawn_24h_ul=0), "CBC")
        assert [u.reason.value for u in choice.postponed] == ["neonate"] * is_open
    said = choose(make_patient(birth_date=None, weight_g=3100, method=Method.VENOUS, drawn_24h_ul=0), "CBC")
    assert said.postponed == ()


def test_limits_by_weight_hold_from_the_skin_too() -> None:
    # 1 kg: 1.7 mL a day [L53, L55]; six containers would take more.
    choice = choose(newborn(**HEEL | {"weight_g": 1000}), "VBG, CBC, LFT, TSH, CRP, VANCT, AA")
    assert sum(s.volume_ul for s in choice.tube_sets.values()) <= 1700
    assert choice.postponed and {u.reason.value for u in choice.postponed} == {"blood-limit"}
    assert "VBG" not in {u.test for u in choice.postponed}


def test_planner_and_checker_agree_on_the_way_of_collection() -> None:
    births = [
        None,
        date(1960, 1, 1),
        *(DAY - timedelta(days=n) for n in range(60)),
        PartialDate(2024),
        PartialDate(2024, 4),
    ]
    for neonates in NeonateMethod:
        policy = BloodPolicy(neonate_method=neonates)
        for method in (None, *Method):
            for born in births:
                for grams in (None, 3000, 5800):
                    patient = make_patient(birth_date=born, method=method, weight_g=grams)
                    found = method_of(patient, DAY, policy)
                    assert way_of_collection(policy, patient, DAY) == ("open" if found is None else found.value)
