"""Order of draw, the discard tube, and the suggested needle, against the published rules."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.catalogue import TubeCode
from tests.unit.tubes.bedside import (
    make_catalogue,
    make_child,
    make_kind,
    make_order,
    make_patient,
    make_test,
    real_catalogue,
    tube_set,
    written,
)

ADULT = make_patient()
DIFFICULT = make_patient(has_difficult_veins=True)


def test_order_of_draw_is_the_published_one() -> None:
    # L1, L6: cultures, citrate, serum (plain, then gel), heparin, EDTA, fluoride, others.
    found = tube_set(ADULT, "FGLU, CBC, BMP, HIV, CRYO, PT, BC")
    assert [t.tube for t in found.tubes] == ["BCA", "BCN", "CIT", "SER", "SERG", "HEPG", "EDTA", "FLU"]
    assert [t.draw_position for t in found.tubes] == list(range(1, 9))


def test_rank_of_the_catalogue_decides() -> None:
    # A site that draws serum before citrate sets the rank.
    catalogue = real_catalogue()
    tubes = {**catalogue.tubes, TubeCode("CIT"): replace(catalogue.tubes[TubeCode("CIT")], rank=4, rank_within=9)}
    found = tube_set(ADULT, "PT, HIV", catalogue=replace(catalogue, tubes=tubes))
    assert [t.tube for t in found.tubes] == ["SERG", "CIT"]


@pytest.mark.parametrize(
    ("patient", "tests", "device", "expected"),
    [
        # L1, L2, L44: winged, citrate first or only tube: a discard clears the air from the tubing.
        (ADULT, "PT", "winged", ["DIS", "CIT"]),
        (ADULT, "PT, CBC", "winged", ["DIS", "CIT", "EDTA"]),
        # L1, L3: straight needle, PT and APTT: not needed.
        (ADULT, "PT, APTT", "straight", ["CIT"]),
        # L1, L3: special coagulation asks for one with any needle.
        (ADULT, "AXAL", "straight", ["DIS", "CIT"]),
        # A culture bottle has cleared the tubing.
        (ADULT, "PT, BC", "winged", ["BCA", "BCN", "CIT"]),
        # Asked for by the test: also after a culture, right before the citrate.
        (ADULT, "AXAL, BC", "winged", ["BCA", "BCN", "DIS", "CIT"]),
        # No citrate, no discard.
        (ADULT, "CBC, BMP", "winged", ["HEPG", "EDTA"]),
        # Two citrate tubes (COAG and COAGS), one discard.
        (ADULT, "PT, AXAL", "straight", ["DIS", "CIT", "CIT"]),
        # Difficult veins: a winged set whatever the policy says.
        (DIFFICULT, "PT", "straight", ["DIS", "CIT"]),
    ],
)
def test_discard(patient: object, tests: str, device: str, expected: list[str]) -> None:
    found = tube_set(patient, tests, tubes={"routine_device": device})
    assert [t.tube for t in found.tubes] == expected


def test_discard_is_thrown_away_and_its_blood_counts() -> None:
    found = tube_set(DIFFICULT, "PT")
    discard = found.tubes[0]
    # Discard 1.0 mL for an adult (planner's choice), citrate 1.8.
    assert (discard.is_discard, discard.order_ids, discard.volume_ul) == (True, (), 1000)
    assert (found.num_tubes, found.volume_ul) == (1, 2800)


def test_child_discard_is_half_a_millilitre() -> None:
    # Child of 20 kg: PT 1.0 mL in the 1.0 mL citrate tube, winged set, discard 0.5.
    assert written(tube_set(make_child(6, 20), "PT")) == ["DIS 0.5", "CIT 1 PT"]


def test_sedimentation_avoids_citrate_where_a_discard_would_cost_more() -> None:
    # ESR alone: ESR citrate 1.6 mL, or EDTA 3.0. Straight: 1.6. Winged: 1.6 + 1.0 discard = 2.6 < 3.0 still.
    assert written(tube_set(ADULT, "ESR")) == ["ESRC 1.6 ESR"]
    assert written(tube_set(DIFFICULT, "ESR")) == ["DIS 1", "ESRC 1.6 ESR"]
    # With a discard of 2 mL it would be 3.6 > 3.0.
    assert written(tube_set(DIFFICULT, "ESR", tubes={"discard_adult_ul": 2000})) == ["EDTA 3 ESR"]


def test_routine_needle() -> None:
    needle = tube_set(ADULT, "CBC").needle
    assert (needle.gauge, needle.device, needle.reasons) == (21, "straight", ("routine draw",))


@pytest.mark.parametrize("patient", [DIFFICULT, make_child(5, 20)])
def test_fine_winged_needle_for_children_and_difficult_veins(patient: object) -> None:
    needle = tube_set(patient, "CBC, PT").needle
    # L3: coagulation not smaller than 23G.
    assert (needle.gauge, needle.device) == (23, "winged")
    assert any("coagulation" in reason for reason in needle.reasons)


def test_platelet_function_asks_for_21_gauge() -> None:
    # L8, L59.
    needle = tube_set(DIFFICULT, "PFN").needle
    assert (needle.gauge, needle.device) == (21, "winged")
    assert "PFN asks for a 21G needle" in needle.reasons


def test_haemolysis_and_many_tubes_are_reasons() -> None:
    assert any("haemolysis" in reason for reason in tube_set(ADULT, "POT").needle.reasons)
    reasons = tube_set(ADULT, "CBC, BMP, PT, TS, LACT, TAC").needle.reasons
    assert "6 tubes: a wider needle fills them sooner" in reasons


def test_aerobic_bottle_comes_first() -> None:
    # L6: winged set, aerobic first.
    orders = [make_order("BC", "P1-001", series="S")]
    assert [t.tube for t in tube_set(ADULT, orders).tubes] == ["BCA", "BCN"]


def test_pair_with_an_early_bottle_saves_the_discard() -> None:
    # X takes two tubes of A, or an early bottle and one A: two tubes either way. Y takes citrate; a discard 3 mL.
    kinds = [make_kind("E", 1000, rank=1), make_kind("A", 2000), make_kind("C", 2000, rank=2, iso_code="9NC")]
    tests = [
        make_test("X", "A;E+A", 2000, 0, None, containers=2),
        make_test("Y", "C", 1000, 0),
    ]
    found = tube_set(DIFFICULT, "X, Y", catalogue=make_catalogue(tests, kinds), tubes={"discard_adult_ul": 3000})
    # E 1 + A 2 + C 2 = 5 mL without a discard; A 2 + A 2 + C 2 + 3 = 9 with one.
    assert written(found) == ["E 1 X", "C 2 Y", "A 2 X"]


def test_culture_bottles_come_first_whatever_their_rank() -> None:
    catalogue = real_catalogue()
    tubes = {code: replace(kind, rank=8 if kind.is_culture else kind.rank) for code, kind in catalogue.tubes.items()}
    found = tube_set(DIFFICULT, "BC, PT", catalogue=replace(catalogue, tubes=tubes))
    assert [t.tube for t in found.tubes] == ["BCA", "BCN", "CIT"]


def test_culture_bottles_are_filled_with_a_winged_set_and_the_other_tubes_need_no_discard() -> None:
    """Bottles upright below the arm: common practice, no source. The bottles before it clear the air of the tubing."""
    found = tube_set(ADULT, "BC, PT")
    assert (found.needle.gauge, found.needle.device) == (21, "winged")
    assert not any(tube.is_discard for tube in found.tubes)
    assert tube_set(ADULT, "PT").needle.device == "straight"
