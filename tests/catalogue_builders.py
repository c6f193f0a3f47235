"""Makes the small laboratory of the tests: one test for each way in which tests differ, the tubes that they take.

Shared and not, ice and 37 degrees, by hand, fasting, clock and dose rules, a series, cultures, two containers.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from planner.domain.catalogue import (
    Catalogue,
    ClockRule,
    DoseRule,
    Handling,
    LabTest,
    SizeUse,
    TestCode,
    TubeCode,
    TubeSize,
    TubeType,
)
from planner.units import hours_to_s, minutes_to_s


def make_tube(code: str = "EDTA", **changes: Any) -> TubeType:
    """Return a tube type: an EDTA tube of 4 and 3 mL (adult), 2 mL (small) and 1 mL (child) unless changed.

    ``sizes`` may be given as (microlitres, ``"adult"``) pairs in ascending order.
    """
    fields: dict[str, Any] = {
        "name": f"{code} tube",
        "additive": code,
        "iso_code": "",
        "closure": "purple",
        "rank": 5,
        "rank_within": 1,
        "inversions": "8-10",
        "sizes": ((1000, "child"), (2000, "small"), (3000, "adult"), (4000, "adult")),
        "min_fill_pct": 50,
    } | changes
    fields["sizes"] = tuple(
        s if isinstance(s, TubeSize) else TubeSize(draw_ul=s[0], use=SizeUse(s[1])) for s in fields["sizes"]
    )
    return TubeType(code=TubeCode(code), **fields)


def make_test(code: str = "CBC", accepts: Iterable[str | tuple[str, ...]] = ("EDTA",), **changes: Any) -> LabTest:
    """Return a laboratory test: half a millilitre of EDTA blood, not shared, room temperature, four hours.

    ``accepts`` lists tube codes, or tuples of codes where an alternative has several containers; ``handling``
    may be given as the codes of the catalogue files.
    """
    fields: dict[str, Any] = {
        "name": f"test {code}",
        "loinc": "",
        "loinc_name": "",
        "section": "chemistry",
        "min_volume_ul": 500,
        "add_volume_ul": 200,
        "share_group": None,
        "min_fill_pct": 0,
        "containers": 1,
        "handling": (),
        "max_room_s": hours_to_s(4),
        "max_ice_s": None,
        "max_warm_s": None,
    } | changes
    fields["handling"] = frozenset(Handling(h) for h in fields["handling"])
    alternatives = tuple((TubeCode(a),) if isinstance(a, str) else tuple(TubeCode(code) for code in a) for a in accepts)
    return LabTest(code=TestCode(code), accepts=alternatives, **fields)


def make_tubes() -> tuple[TubeType, ...]:
    """Return the ten tube types of the built laboratory."""
    bottle = {"closure": "bottle", "rank": 1, "inversions": "4-5", "is_culture": True, "filled_to_need": True}
    bottle_sizes = ((1000, "child"), (4000, "child"), (10_000, "adult"))
    clot_sizes = ((1000, "child"), (2000, "child"), (3500, "adult"), (5000, "adult"))
    return (
        make_tube("BCA", name="aerobic bottle", rank_within=1, min_fill_pct=0, sizes=bottle_sizes, **bottle),
        make_tube("BCN", name="anaerobic bottle", rank_within=2, min_fill_pct=0, sizes=bottle_sizes, **bottle),
        make_tube(
            "CIT",
            name="sodium citrate",
            additive="sodium citrate 3.2 %",
            iso_code="9NC",
            closure="light blue",
            rank=2,
            inversions="3-4",
            min_fill_pct=90,
            sizes=((1000, "child"), (1800, "small"), (2700, "adult")),
        ),
        make_tube(
            "SER",
            name="serum",
            closure="red",
            rank=3,
            inversions="5-6",
            sizes=clot_sizes,
            clot_minutes=60,
        ),
        make_tube(
            "SERG",
            name="serum with gel",
            closure="gold",
            rank=3,
            rank_within=2,
            inversions="5-6",
            sizes=clot_sizes,
            has_gel=True,
            clot_minutes=30,
        ),
        make_tube(
            "HEPG",
            name="lithium heparin with gel",
            closure="light green",
            rank=4,
            sizes=((500, "child"), (1000, "child"), (3000, "adult"), (4500, "adult")),
            has_gel=True,
            has_lithium_heparin=True,
        ),
        make_tube("EDTA", name="EDTA"),
        make_tube(
            "EDTB",
            name="EDTA for transfusion",
            closure="pink",
            rank_within=2,
            sizes=((2000, "child"), (6000, "adult")),
        ),
        make_tube("FLU", name="fluoride", closure="grey", rank=6, sizes=((1000, "child"), (2000, "adult"))),
        make_tube(
            "DIS",
            name="discard tube",
            closure="plain",
            rank=2,
            rank_within=0,
            inversions="0",
            min_fill_pct=0,
            sizes=((500, "child"), (1000, "adult")),
        ),
    )


def make_tests() -> tuple[LabTest, ...]:
    """Return the sixteen tests of the built laboratory; volumes and limits as a hospital might have them."""
    chemistry = ("HEPG", "SERG", "SER")
    return (
        make_test("CBC", section="haematology", share_group="HAEM", max_room_s=hours_to_s(24)),
        make_test(
            "ESR",
            section="haematology",
            share_group="HAEM",
            min_volume_ul=1500,
            add_volume_ul=1000,
        ),
        make_test(
            "PT",
            ("CIT",),
            section="coagulation",
            share_group="COAG",
            min_volume_ul=1000,
            add_volume_ul=300,
            min_fill_pct=90,
            handling=("full_fill", "no_ice"),
        ),
        make_test(
            "AT",
            ("CIT",),
            section="coagulation",
            share_group="COAGS",
            min_volume_ul=1800,
            add_volume_ul=500,
            min_fill_pct=90,
            handling=("full_fill", "no_ice", "discard_first"),
        ),
        make_test(
            "PFN",
            ("CIT",),
            section="coagulation",
            min_volume_ul=5400,
            add_volume_ul=0,
            min_fill_pct=90,
            containers=2,
            handling=("full_fill", "no_ice", "hand_deliver", "discard_first"),
        ),
        make_test(
            "BMP",
            chemistry,
            share_group="CHEM",
            min_volume_ul=600,
            handling=("no_ice", "no_fist"),
            max_room_s=hours_to_s(2),
        ),
        make_test("LFT", chemistry, share_group="CHEM", min_volume_ul=600, max_room_s=hours_to_s(2)),
        make_test(
            "LIPID",
            chemistry,
            share_group="CHEM",
            add_volume_ul=100,
            max_room_s=hours_to_s(2),
            fasting_s=hours_to_s(12),
        ),
        make_test(
            "FGLU",
            ("FLU", "HEPG"),
            share_group="FLU",
            max_room_s=hours_to_s(2),
            fasting_s=hours_to_s(8),
            fasting_required=True,
        ),
        make_test(
            "LACT",
            ("FLU", "HEPG"),
            min_volume_ul=1000,
            add_volume_ul=500,
            handling=("ice", "no_tourniquet", "record_time"),
            max_room_s=minutes_to_s(15),
            max_ice_s=minutes_to_s(30),
        ),
        make_test(
            "TNT",
            ("HEPG", "SERG"),
            share_group="CHEM",
            min_volume_ul=900,
            handling=("record_time",),
            max_room_s=hours_to_s(2),
            serial_offsets=((0, hours_to_s(1)), (0, hours_to_s(2)), (0, hours_to_s(3))),
            serial_tolerance_s=minutes_to_s(10),
        ),
        make_test(
            "CORTAM",
            ("SERG", "SER", "HEPG"),
            section="endocrine",
            share_group="CHEM",
            add_volume_ul=150,
            clock_rule=ClockRule(from_s=hours_to_s(7), to_s=hours_to_s(9), is_required=True),
        ),
        make_test(
            "VANCT",
            ("SER", "HEPG", "SERG"),
            section="toxicology",
            share_group="CHEM",
            min_volume_ul=600,
            add_volume_ul=150,
            handling=("record_dose", "record_time"),
            dose_rule=DoseRule(kind="trough", from_s=0, to_s=minutes_to_s(30)),
        ),
        make_test(
            "CRYO",
            ("SER",),
            section="immunology",
            min_volume_ul=5000,
            add_volume_ul=0,
            handling=("prewarm", "warm37", "hand_deliver"),
            max_room_s=None,
            max_warm_s=hours_to_s(1),
        ),
        make_test(
            "XM",
            ("EDTB",),
            section="blood bank",
            share_group="BB",
            min_volume_ul=4000,
            add_volume_ul=0,
            handling=("strict_label", "record_time"),
            max_room_s=hours_to_s(24),
        ),
        make_test(
            "BC",
            (("BCA", "BCN"),),
            section="microbiology",
            min_volume_ul=20_000,
            add_volume_ul=0,
            containers=2,
            handling=("asepsis", "before_antibiotics", "no_ice", "record_time"),
            max_room_s=hours_to_s(2),
        ),
    )


def make_catalogue(
    tests: Iterable[LabTest] | None = None, tubes: Iterable[TubeType] | None = None, extra_tests: Iterable[LabTest] = ()
) -> Catalogue:
    """Return the built laboratory, or one of the given tests and tubes; ``extra_tests`` are added or replace."""
    all_tests = (*(make_tests() if tests is None else tests), *extra_tests)
    all_tubes = tuple(make_tubes() if tubes is None else tubes)
    return Catalogue(tests={t.code: t for t in all_tests}, tubes={t.code: t for t in all_tubes})
