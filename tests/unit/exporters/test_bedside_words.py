"""What a laboratory's row says at the bed: its own words, dynamic tests, and preparation that must agree."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

import pytest

from planner.domain.catalogue import CountsFrom, Handling
from planner.domain.orders import Order
from planner.domain.places import PlaceId
from planner.exporters.page.page import round_sheet_html
from planner.exporters.view.build import build_view
from planner.exporters.view.round_view import RoundView
from planner.exporters.view.stop_view import VisitView
from planner.exporters.workbook.book import round_sheet_workbook
from planner.loaders.catalogue.load import load_catalogue
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from planner.visits import order_windows
from tests.builders import (
    clock,
    make_catalogue,
    make_order,
    make_patient,
    make_phlebotomist,
    make_place,
    make_problem,
    make_test,
)

pytestmark = pytest.mark.slow

HOUR_S = 3600


def view_of(orders: Iterable[Order], tests: Iterable, patients=None, **changes) -> RoundView:
    problem = make_problem(list(orders), patients, catalogue=make_catalogue(extra_tests=tests), **changes)
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    return build_view(problem, plan, order_windows(problem)[0], revision=1)


def visits(view: RoundView) -> list[VisitView]:
    return sorted((v for route in view.routes for v in route.visits), key=lambda v: v.number)


CHEM = ("HEPG", "SERG")
WORDS = [
    make_test("PTX", ("CIT",), share_group="COAG", bedside="Haematocrit over 55 %? Ask for a tube."),
    make_test("APX", ("CIT",), share_group="COAG", bedside="Haematocrit over 55 %? Ask for a tube."),
    make_test("PYX", CHEM, share_group="CHEM", bedside="Exactly 1 mL from a syringe"),
]


def test_words_of_the_row_are_printed_once_with_the_tests_that_say_them() -> None:
    orders = [make_order(f"O{n}", "P1", t) for n, t in enumerate(("PTX", "APX", "PYX", "CBC", "PYX"))]
    (visit,) = visits(view_of(orders, WORDS))
    assert visit.bedside == (
        "APX, PTX: Haematocrit over 55 %? Ask for a tube.",
        "PYX: Exactly 1 mL from a syringe",
    )


def test_words_reach_workbook_and_page() -> None:
    import re
    import zipfile
    from io import BytesIO

    view = view_of([make_order("O1", "P1", "PYX")], WORDS)
    page = round_sheet_html(view, paper="a4").decode()
    assert "Exactly 1 mL from a syringe" in page
    book = zipfile.ZipFile(BytesIO(round_sheet_workbook(view, paper="a4")))
    texts = "".join(book.read(name).decode() for name in book.namelist() if name.endswith(".xml"))
    assert "Exactly 1 mL from a syringe" in re.sub(r"<[^>]+>", "", texts)


def test_words_stand_at_their_own_bed_on_wards_with_equal_bed_numbers() -> None:
    places = [
        make_place("BASE", position=0),
        *(make_place(f"{ward}/1A", position=n, ward=ward) for n, ward in enumerate(("Elm", "Oak (E), 2", "Yew"), 1)),
        make_place("PICKUP", position=5),
    ]
    from planner.domain.places import PickupKind
    from tests.builders import make_pickup

    people = [
        make_patient(f"P{n}", bed=PlaceId(f"{w}/1A"), ward=w) for n, w in enumerate(("Elm", "Oak (E), 2", "Yew"), 1)
    ]
    orders = [make_order("O1", "P1", "CBC"), make_order("O2", "P2", "PYX"), make_order("O3", "P3", "PTX")]
    view = view_of(
        orders, WORDS, people, places=places, pickups=[make_pickup("PICKUP", PickupKind.CARRIED, transit_s=60)]
    )
    assert {v.patient_number: v.bedside for v in visits(view)} == {
        "P1": (),
        "P2": ("PYX: Exactly 1 mL from a syringe",),
        "P3": ("PTX: Haematocrit over 55 %? Ask for a tube.",),
    }


def test_words_that_many_beds_need_are_said_once_above_the_stops() -> None:
    # PYX at four beds, PTX at three: the former stand above the stops, the latter at their beds.
    orders = [make_order(f"O{n}", f"P{n}", "PYX") for n in range(1, 5)]
    orders += [make_order(f"Q{n}", f"P{n}", "PTX") for n in range(1, 4)]
    view = view_of(orders, WORDS)
    assert view.routes[0].bedside == ("PYX: Exactly 1 mL from a syringe",)
    found = {v.patient_number: v.bedside for v in visits(view)}
    assert found["P4"] == () and found["P1"] == ("PTX: Haematocrit over 55 %? Ask for a tube.",)
    page = round_sheet_html(view, paper="a4").decode()
    assert page.count("Exactly 1 mL from a syringe") == 1


# Blood cultures: the words belong to the bottles of the visit


@pytest.mark.parametrize(
    ("test", "weight_g", "years", "said"),
    [
        # [L5]: 2 mL a set under 5 kg, 3 mL under 15 kg: one paediatric bottle of either.
        ("BC", 4_200, 1, "BC: One paediatric culture bottle: stop at 2 mL."),
        ("BC", 12_000, 2, "BC: One paediatric culture bottle: stop at 3 mL."),
        (
            "BCPAIR",
            12_000,
            2,
            "BCPAIR: You draw the vein set; the ward draws the line set within minutes, same volume. Write site and "
            "time on each. One paediatric culture bottle: stop at 3 mL.",
        ),
        # [L5, L6]: an adult's set is two bottles of 10 mL.
        (
            "BC",
            None,
            60,
            "BC: Winged set: aerobic first; syringe: anaerobic first. Short draw: fill aerobic first. "
            "Each bottle: stop at 10 mL.",
        ),
    ],
)
def test_words_on_cultures_are_those_of_the_bottles_of_the_visit(test, weight_g, years, said) -> None:
    born = date(2026 - years, 2, 1) if years > 1 else date(2025, 12, 20)
    patient = make_patient("P1", birth_date=born, weight_g=weight_g, drawn_24h_ul=0)
    problem = make_problem([make_order("O1", "P1", test)], [patient], catalogue=load_catalogue()[0])
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    (visit,) = visits(build_view(problem, plan, order_windows(problem)[0], revision=1))
    assert visit.bedside == (said,)


# Dynamic tests: the later samples count from what the ward gives after the first


def dynamic(counts_from: CountsFrom, **changes):
    fields = {"fasting_s": 8 * HOUR_S, "fasting_required": True} if counts_from is CountsFrom.DRINK else {}
    return make_test(
        "DYN", CHEM, share_group="CHEM", counts_from=counts_from, serial_offsets=((0, HOUR_S, 2 * HOUR_S),),
        serial_tolerance_s=300, **(fields | changes),
    )  # fmt: skip


def series(number: int = 3, **changes):
    return [make_order(f"O{n}", "P1", "DYN", series="S", **changes) for n in range(1, number + 1)]


def test_drink_is_given_by_the_nurse_after_the_first_sample_and_the_others_count_from_it() -> None:
    first, second, third = visits(view_of(series(), [dynamic(CountsFrom.DRINK)]))
    assert "DYN: after this sample the nurse gives the drink. Drink given at: _____:_____" in first.ask
    assert any(line.startswith("Only water since") for line in first.ask)
    assert second.ask == (
        "DYN sample 2: drink given at _____:_____ (ask). Draw 60 min after it: _____:_____. Not given: do not draw.",
    )
    assert third.ask == (
        "DYN sample 3: drink given at _____:_____ (ask). Draw 120 min after it: _____:_____. Not given: do not draw.",
    )


def test_injection_is_the_wards_too() -> None:
    first, second, _ = visits(view_of(series(), [dynamic(CountsFrom.INJECTION)]))
    assert first.ask[1:] == ("DYN: after this sample the nurse gives the injection. Injection given at: _____:_____",)
    assert "the fast is broken" not in first.ask[0]
    assert second.ask[0].startswith("DYN sample 2: injection given at _____:_____ (ask). Draw 60 min after it")


def test_later_sample_does_not_ask_for_fasting_though_its_order_does_nor_ends_at_breakfast() -> None:
    # Breakfast 08:00 (policy): the first sample at 07:00, the others at 08:00 and 09:00 of a patient who has drunk.
    at = {n: clock(f"0{6 + n}:00") for n in (1, 2, 3)}
    orders = [make_order(f"O{n}", "P1", "DYN", series="S", collect_at_s=s, fasting=True) for n, s in at.items()]
    from tests.builders import make_phlebotomist

    staff = [make_phlebotomist(until_s=clock("10:00"))]
    found = visits(view_of(orders, [dynamic(CountsFrom.DRINK)], staff=staff))
    assert len(found) == 3
    assert [sum("Only water" in line for line in visit.ask) for visit in found] == [1, 0, 0]


def test_sample_after_one_that_the_ward_drew_is_the_second() -> None:
    from planner.domain.orders import EarlierDraw, PatientId

    drawn = EarlierDraw(patient_id=PatientId("P1"), test="DYN", series="S", draw_s=clock("04:50"))
    second, third = visits(view_of(series(2), [dynamic(CountsFrom.DRINK)], earlier_draws=(drawn,)))
    assert second.ask[0].startswith("DYN sample 2: ") and third.ask[0].startswith("DYN sample 3: ")


def test_first_sample_says_when_the_drink_must_not_be_begun() -> None:
    """Baseline first, later samples assured, fast kept: common practice, from memory."""
    first, second, third = visits(view_of(series(), [dynamic(CountsFrom.DRINK)]))
    (said,) = (line for line in first.ask if "do not begin" in line)
    assert said == (
        "DYN, first sample: do not begin if the fast is broken, this sample fails or nobody draws the later ones "
        f"(planned {second.draw_at} by you, {third.draw_at} by you): phone the ward, no drink"
    )
    (alone,) = visits(view_of(series(1), [dynamic(CountsFrom.DRINK)]))
    assert any("later ones (none planned in this round)" in line for line in alone.ask)


# Series: the later draws count from the first


def repeat(**changes):
    return make_test("REP", CHEM, share_group="CHEM", serial_offsets=((0, HOUR_S),), serial_tolerance_s=600, **changes)


def of_series(test: str = "REP", number: int = 2):
    return [make_order(f"O{n}", "P1", test, series="S") for n in range(1, number + 1)]


def test_card_of_a_series_says_which_draw_it_is_and_from_what_the_gap_counts() -> None:
    first, second = visits(view_of(of_series(), [repeat()]))
    assert first.ask == (
        f"REP 1 of 2: write the exact time; the next counts from it (planned {second.draw_at} by you)",
    )
    assert second.ask == (
        "REP 2 of 2: 60 min after the first, give or take 10 min; drawn at _____:_____ "
        f"(planned {first.draw_at} by you: see its card): so at _____:_____.",
    )


def test_who_draws_the_first_of_a_series_tells_who_draws_the_second() -> None:
    """Each holds the own packet alone: common practice, no source."""
    early, late = ("05:00", "05:30"), ("05:50", "09:00")
    staff = [make_phlebotomist(i, from_s=clock(a), until_s=clock(b)) for i, (a, b) in (("AB", early), ("CD", late))]
    first, second = sorted(visits(view_of(of_series(), [repeat()], staff=staff)), key=lambda card: card.draw_at)
    assert first.ask[0].endswith(f"(planned {second.draw_at} by CD; tell CD the time)")
    assert f"drawn at _____:_____ (planned {first.draw_at} by AB: ask): so at _____:_____." in second.ask[0]


def test_single_draw_with_a_series_and_culture_sets_say_nothing_of_a_gap() -> None:
    (alone,) = visits(view_of(of_series(number=1), [repeat()]))
    assert alone.ask == ()
    found = visits(view_of([make_order("O1", "P1", "CBC", series="S"), make_order("O2", "P1", "PT")], []))
    assert all(visit.ask == () for visit in found)


# Preparation of the skin


@pytest.mark.parametrize(
    ("tests", "said"),
    [
        (("ETX", "BCX"), ["Sterile culture technique, with an alcohol-free antiseptic for every tube (ETX)"]),
        (("ETX",), ["Clean the skin without alcohol"]),
        (("BCX",), ["Sterile culture technique"]),
    ],
)
def test_cultures_and_alcohol_free_skin_are_one_instruction(tests, said) -> None:
    made = [
        make_test("ETX", ("FLU",), share_group="FLU", handling=(Handling.NO_ALCOHOL_PREP.value,)),
        make_test("BCX", ("EDTA",), share_group=None, handling=(Handling.ASEPSIS.value,)),
    ]
    orders = [make_order(f"O{n}", "P1", test) for n, test in enumerate(tests)]
    (visit,) = visits(view_of(orders, made))
    assert [line for line in visit.do if "alcohol" in line or "Sterile" in line] == said


def test_no_built_in_row_says_at_the_bed_what_the_card_says_by_itself() -> None:
    # Said twice in other words, it contradicts: "another site for cultures" beside "one alcohol-free antiseptic".
    from planner.loaders.catalogue.load import load_catalogue

    tests = load_catalogue()[0].tests.values()
    told = [t.code for t in tests if t.bedside and (t.counts_from or Handling.NO_ALCOHOL_PREP in t.handling)]
    assert told == []
