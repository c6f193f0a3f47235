"""Places, corridors, staff and pickups: from tables, and what is assumed without them."""

from __future__ import annotations

from datetime import date, time

import pytest

from planner.domain.orders import TimeWindow
from planner.domain.places import PickupKind, PlaceKind
from planner.domain.plan import Reason
from planner.loaders import Loaded

DAY = date(2026, 3, 4)
ORDERS = "order_number,patient_number,ward,bed,test\nA1,1,East,4,CBC\nA2,2,East,5,TSH\n"
PLACES = "place,ward,kind\nBase,,base\n4,East,bed\n5,East,bed\nStation,East,tube station\nLab,,laboratory\n"
CORRIDORS = "from,to,metres\nBase,4,10\n4,5,5\n5,Station,5\nBase,Lab,100\n"
STAFF = "name,initials,from,until\nKim Sato,KS,05:00,08:30\n"
PICKUPS = "place,kind,departs,transit_minutes\nStation,courier,06:00; 07:30,10\n"


def codes(loaded: Loaded) -> set[str]:
    return {f.code for f in loaded.findings} - {"file-format", "identifier-missing"}


def round_of(load_folder, **tables: str) -> Loaded:
    files = {"orders.csv": ORDERS, "places.csv": PLACES, "corridors.csv": CORRIDORS, "staff.csv": STAFF}
    files["pickups.csv"] = PICKUPS
    files.update({f"{name}.csv": text for name, text in tables.items()})
    return load_folder({name: text for name, text in files.items() if text}, round_date=DAY)


def test_everything_given_assumes_nothing(load_folder):
    loaded = round_of(load_folder)
    problem = loaded.problem
    assert codes(loaded) == set()
    assert problem.assumptions == ()
    # 10 m + 5 m at 1.2 m/s, each rounded up: 9 s + 5 s
    assert problem.walking.between("Base", "5") == 14
    assert (problem.start_s, problem.end_s) == (18_000, 30_600)
    assert problem.staff[0].starts_at == "Base"
    assert problem.pickups[0].departures_s == (21_600, 27_000)
    assert problem.pickups[0].transit_s == 600


def test_nothing_given_assumes_everything_and_says_so(load_folder):
    problem = load_folder({"orders.csv": ORDERS}, round_date=DAY, num_phlebotomists=2, start=time(6)).problem
    assert [p.initials for p in problem.staff] == ["P1", "P2"]
    assert problem.pickups[0].kind is PickupKind.CARRIED
    assert problem.places[problem.pickups[0].place].kind is PlaceKind.LABORATORY
    said = " ".join(problem.assumptions)
    for words in ("No places table", "No staff table: 2 phlebotomists work from 06:00 to 09:00", "No pickups"):
        assert words in said


def test_beds_in_natural_order_when_there_is_no_map(load_folder):
    orders = "order_number,patient_number,bed,test\nA1,1,10,CBC\nA2,2,9,CBC\nA3,3,1,CBC\n"
    walking = load_folder({"orders.csv": orders}, round_date=DAY).problem.walking
    # beds 1, 9, 10 are neighbours 4 m apart: 4 m at 1.2 m/s is 3.33 s, 8 m is 6.67 s, rounded up
    assert (walking.between("9", "10"), walking.between("1", "10")) == (4, 7)


@pytest.mark.parametrize("bed", ["6", "44"])
def test_bed_that_is_not_on_the_map(load_folder, bed):
    loaded = round_of(load_folder, orders=ORDERS.replace("East,5", f"East,{bed}"))
    assert {u.order_id: u.reason for u in loaded.problem.set_aside} == {"A2": Reason.NO_BED}
    assert codes(loaded) == {"unknown-bed"}


def test_bed_of_another_ward_is_not_taken(load_folder):
    loaded = round_of(load_folder, orders=ORDERS.replace("East,5", "West,5"))
    assert {u.order_id: u.reason for u in loaded.problem.set_aside} == {"A2": Reason.NO_BED}


def test_ward_is_taken_from_the_map(load_folder):
    loaded = round_of(load_folder, orders=ORDERS.replace("East", ""))
    assert {p.ward for p in loaded.problem.patients.values()} == {"East"}


def test_bed_in_two_wards_needs_the_ward(load_folder):
    places = PLACES + "5,West,bed\n"
    corridors = (
        CORRIDORS.replace("4,5,5", "East/4,East/5,5").replace("Base,4", "Base,East/4").replace("5,St", "East/5,St")
    )
    loaded = round_of(load_folder, places=places, corridors=corridors, orders=ORDERS.replace("East,5", ",5"))
    assert {u.order_id: u.reason for u in loaded.problem.set_aside} == {"A2": Reason.NO_BED}
    assert loaded.problem.patients["1"].bed == "East/4"


def test_bed_without_a_way_is_unreachable(load_folder):
    loaded = round_of(load_folder, corridors=CORRIDORS.replace("4,5,5\n5,Station,5", "4,Station,5"))
    assert {u.order_id: u.reason for u in loaded.problem.set_aside} == {"A2": Reason.UNREACHABLE}
    assert codes(loaded) == {"unreachable"}


@pytest.mark.parametrize(
    ("tables", "code"),
    [
        ({"places": PLACES + ",East,bed\n"}, "place-unreadable"),
        ({"places": PLACES + "4,East,bed\n"}, "place-twice"),
        ({"places": PLACES + "Pool,East,swimming\n"}, "unknown-kind"),
        ({"corridors": CORRIDORS + "4,Nowhere,3\n"}, "unknown-place"),
        ({"corridors": CORRIDORS + "4,Base,\n"}, "corridor-unreadable"),
        ({"corridors": CORRIDORS + "4,Base,-3\n"}, "absurd-value"),
        ({"staff": STAFF + "Jo,JO,05:00,\n"}, "staff-unreadable"),
        ({"staff": STAFF + "Jo,JO,2026-03-04,08:00\n"}, "date-where-time-belongs"),
        ({"staff": STAFF.replace("until", "until,starts_at").replace("08:30", "08:30,Moon")}, "unknown-place"),
        ({"pickups": PICKUPS + "Station,pigeon,,5\n"}, "unknown-kind"),
        ({"pickups": PICKUPS + "Roof,courier,07:00,5\n"}, "unknown-place"),
        ({"pickups": PICKUPS + "Station,courier,,5\n"}, "pickup-unreadable"),
        ({"pickups": PICKUPS + "Station,courier,2026-03-04,5\n"}, "date-where-time-belongs"),
        ({"pickups": PICKUPS + "Station,tube,,1500\n"}, "absurd-value"),
        ({"pickups": PICKUPS.replace("06:00", "04:00")}, "courier-before-round"),
    ],
)  # fmt: skip
def test_bad_row_is_said_and_the_rest_is_used(load_folder, tables, code):
    loaded = round_of(load_folder, **tables)
    assert code in codes(loaded)
    assert len(loaded.problem.orders) == 2
    assert (len(loaded.problem.staff), len(loaded.problem.pickups)) == (1, 1)


def test_courier_before_the_round_is_left_out(load_folder):
    loaded = round_of(load_folder, pickups=PICKUPS.replace("06:00", "04:00"))
    assert loaded.problem.pickups[0].departures_s == (27_000,)


def test_courier_every_half_hour(load_folder):
    loaded = round_of(load_folder, pickups=PICKUPS.replace("06:00; 07:30", "every 30 min"))
    # from 05:00 to 08:30 (the only shift): 8 departures
    assert loaded.problem.pickups[0].departures_s == tuple(range(18_000, 30_601, 1800))


def test_pickup_without_a_map_becomes_a_place(load_folder):
    loaded = round_of(load_folder, places="", corridors="")
    assert loaded.problem.places["Station"].kind is PlaceKind.PICKUP
    assert not any("pickup" in sentence.lower() for sentence in loaded.problem.assumptions)


def test_shift_over_midnight(load_folder):
    loaded = round_of(load_folder, staff=STAFF.replace("05:00,08:30", "22:00,02:00"), pickups="")
    assert (loaded.problem.start_s, loaded.problem.end_s) == (79_200, 93_600)
    assert "shift-over-midnight" in codes(loaded)


def test_shift_that_ends_before_the_start_asked_for(load_folder):
    files = {"orders.csv": ORDERS, "staff.csv": STAFF + "Jo,JO,05:00,06:00\n"}
    loaded = load_folder(files, round_date=DAY, start=time(6, 30))
    assert [(p.initials, p.from_s) for p in loaded.problem.staff] == [("KS", 23_400)]
    assert "staff-left-out" in codes(loaded)


def test_staff_details(load_folder):
    staff = (
        "name,from,until,skills,break\nKim Sato,05:00,08:30,Paediatric; lines,06:30-07:30 15 min\nKit Sol,5 am,9 am,,\n"
    )
    first, second = round_of(load_folder, staff=staff).problem.staff
    assert (first.initials, second.initials) == ("KS", "KS2")
    assert first.skills == {"paediatric", "lines"}
    assert (first.break_window, first.break_s) == (TimeWindow(earliest_s=23_400, latest_s=27_000), 900)


def test_staff_table_without_a_usable_row_falls_back(load_folder):
    loaded = round_of(load_folder, staff="name,from,until\nKim,,\n")
    assert "staff-unreadable" in codes(loaded)
    assert any("No staff table" in sentence for sentence in loaded.problem.assumptions)


@pytest.mark.parametrize("cut", ["Base,4,10\n", "5,Station,5\n"])
def test_people_or_pickups_cut_off_from_the_beds(load_folder, cut):
    """Without the base's or the station's only way to the beds nothing can be planned, and nothing is lost."""
    loaded = round_of(load_folder, corridors=CORRIDORS.replace(cut, ""))
    assert {u.reason for u in loaded.problem.set_aside} == {Reason.UNREACHABLE}
    assert "unreachable" in codes(loaded)


def test_bed_named_like_the_base_is_a_place_of_its_own(load_folder):
    orders = "order_number,patient_number,bed,test\nA1,1,Base,CBC\nA2,2,Laboratory,CBC\n"
    problem = load_folder({"orders.csv": orders}, round_date=DAY).problem
    assert len(problem.orders) == 2
    assert problem.places["Base"].kind is PlaceKind.BASE
    assert problem.places[problem.patients["1"].bed].label == "Base"


def test_place_that_is_no_bed_holds_no_patient(load_folder):
    loaded = round_of(load_folder, orders=ORDERS.replace("East,5", "East,Station"))
    assert {u.order_id: u.reason for u in loaded.problem.set_aside} == {"A2": Reason.NO_BED}


def test_corridor_names_a_bed_of_two_wards_by_ward_and_bed(load_folder):
    places = "place,ward,kind\nBase,,base\n1A,North (old wing),bed\n1A,South,bed\nLab,,laboratory\n"
    corridors = "from,to,metres\nBase,Lab,9\nBase,North (old wing) 1A,5\nBase,South/1A,7\n"
    orders = "order_number,patient_number,ward,bed,test\nA1,1,North (old wing),1A,CBC\nA2,2,South,1A,TSH\n"
    loaded = round_of(load_folder, places=places, corridors=corridors, orders=orders, pickups="")
    assert "unknown-place" not in codes(loaded)
    # 5 m at 1.2 m/s, and 7 m, each rounded up
    walking = loaded.problem.walking
    assert [walking.between("Base", f"{ward}/1A") for ward in ("North (old wing)", "South")] == [5, 6]
