"""What the starter workbook holds: for each table its columns, notes, choices and example rows, all invented."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

EXAMPLE = "EXAMPLE"
"""What the key of an example row begins with. Loaders leave such rows out as soon as there is a real order."""

_YES_NO = ("yes", "no")


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading, the note on it, two or more example values, the choices of its drop-down."""

    name: str
    note: str
    examples: tuple[str, ...]
    choices: tuple[str, ...] = ()
    is_required: bool = False


SHEETS: Mapping[str, tuple[Column, ...]] = {
    "orders": (
        Column("order_number", "Number of the order, as text. Each order has its own.", ("EXAMPLE-1", "EXAMPLE-2"),
               is_required=True),
        Column("patient_number", "Number of the patient, exactly as on the wristband.", ("EXAMPLE-P1", "EXAMPLE-P2"),
               is_required=True),
        Column("test", "Code of the test (see sheet 'test codes') or its LOINC code.", ("CBC", "LYTES"),
               is_required=True),
        Column("priority", "How soon. Empty: routine. 'timed' needs a collection time.", ("routine", "urgent"),
               ("stat", "asap", "urgent", "routine", "timed")),
        Column("collect_at", "Clock time HH:MM, or date and time 2026-01-31 05:30. Empty: any time of the round.",
               ("", "06:00")),
        Column("collect_from", "Not before this time.", ("", "")),
        Column("collect_to", "Not after this time.", ("", "")),
        Column("fasting", "Does the order ask for a fasting patient? Empty: as the test says.", ("", ""), _YES_NO),
        Column("last_dose_at", "Last dose, start of infusion or change of rate. After the round's end: evening before.",
               ("", "")),
        Column("next_dose_at", "Next dose due: trough levels are drawn before it.", ("", "")),
        Column("infusion_end_at", "End of the infusion.", ("", "")),
        Column("series", "Same name for all draws of one series; they are never merged.", ("", "")),
        Column("performer", "Who draws. Orders that others draw are listed, not planned. Empty: laboratory.", ("", ""),
               ("laboratory", "nurse", "doctor")),
        Column("status", "Empty or active: to be drawn.", ("", ""), ("active", "cancelled", "collected", "on hold")),
        Column("drawn_at", "When a collected order of a series was drawn: the next keeps its gap from it.", ("", "")),
        Column("drawn_into", "Tube kind of that draw (see sheet 'test codes'): tests that compare values stay in it.",
               ("", "")),
        Column("specimen", "Empty: blood. Other specimens are listed, not planned.", ("", ""),
               ("blood", "arterial blood", "urine", "swab", "sputum", "stool", "csf")),
        Column("ordered_at", "When the order was entered.", ("", "")),
        Column("note", "Printed on the sheet.", ("overwrite this row", "overwrite this row")),
    ),
    "patients": (
        Column("patient_number", "Number of the patient, as in the orders.", ("EXAMPLE-P1", "EXAMPLE-P2"),
               is_required=True),
        Column("family_name", "Printed on the sheet, first identifier.", ("Example", "Muster")),
        Column("given_name", "Printed on the sheet.", ("Ada", "Ole")),
        Column("birth_date", "Write the year in full: 1960-05-31.", ("1960-05-31", "1972-11-02")),
        Column("sex", "Printed on the sheet.", ("F", "M"), ("F", "M", "X")),
        Column("ward", "Ward of the bed, as in the sheet 'places'.", (f"{EXAMPLE} ward",) * 2),
        Column("bed", "Bed, as in the sheet 'places'. Every patient has one.", ("EXAMPLE 1", "EXAMPLE 2"),
               is_required=True),
        Column("weight_kg", "Kilograms; needed for children.", ("71.5", "80")),
        Column("precautions", "Isolation; several separated by ';'.", ("", "contact"),
               ("contact", "droplet", "airborne", "protective", "contact; droplet", "contact; airborne")),
        Column("alerts", "Separated by ';'. 'difficult veins' gives more time.", ("difficult veins", "")),
        Column("limbs", "Arms that must not be used: left, right or both. With both the orders need a decision.",
               ("", "left"), ("left", "right", "both")),
        Column("last_ate_at", "Last meal; a time after the round's end means the evening before.", ("19:00", "")),
        Column("next_meal_at", "Fasting draws are made before it. Empty: breakfast time of the policy.", ("", "")),
        Column("drawn_ml_24h", "mL drawn in the last 24 hours before this round.", ("", "")),
        Column("method", "How blood is taken. Empty: venous; under 28 days as the policy says.", ("", ""),
               ("venous", "capillary", "ward")),
        Column("away", "Not at the bed: 06:30-07:15; 08:00-08:30.", ("", "06:30-07:15")),
        Column("needs", "Skills that the collector must have, separated by ';'.", ("", "")),
    ),
    "places": (
        Column("place", "Name of the place; beds as in the sheet 'patients'. Leave the sheet empty to have beds taken "
               "in natural order along one corridor.", ("EXAMPLE base", "EXAMPLE 1", "EXAMPLE 2", "EXAMPLE station",
               "EXAMPLE laboratory"),
               is_required=True),
        Column("ward", "Ward of the place. Every ward may have a bed 1: ward and bed together name it.",
               (f"{EXAMPLE} ward",) * 5),
        Column("kind", "base: people start here. bed. pickup: a courier calls here. tube station. laboratory. "
               "waypoint: a corner, a door or a lift that corridors lead to.",
               ("base", "bed", "bed", "tube station", "laboratory"),
               ("bed", "base", "pickup", "tube station", "laboratory", "waypoint")),
        Column("x_m", "Metres along the ward; only used without corridors.", ("0", "8", "12", "2", "60")),
        Column("y_m", "Metres across the ward; only used without corridors.", ("0", "2", "2", "0", "0")),
        Column("order", "Order along the corridor, when there are no metres.", ("", "1", "2", "", "")),
    ),
    "corridors": (
        Column("from", "A place, as ward/place where several wards have it. Leave the sheet empty to go by metres "
               "or by order.",
               ("EXAMPLE base", "EXAMPLE 1", "EXAMPLE base", "EXAMPLE base"), is_required=True),
        Column("to", "Another place.", ("EXAMPLE 1", "EXAMPLE 2", "EXAMPLE station",
               "EXAMPLE laboratory"), is_required=True),
        Column("metres", "Length in metres, or give seconds.", ("8", "4", "2", "")),
        Column("seconds", "Walking seconds, doors included. A lift between two floors is a corridor in seconds.",
               ("", "", "", "180")),
        Column("one_way", "yes: only in this direction.", ("", "", "", ""), _YES_NO),
    ),
    "staff": (
        Column("name", "Who collects. Leave the sheet empty to plan for one person.", ("EXAMPLE Kim Sato",
               "EXAMPLE Jo Lind"), is_required=True),
        Column("initials", "Printed in the boxes of the sheet.", ("KS", "JL")),
        Column("from", "Start of the shift, HH:MM.", ("05:00", "05:00"), is_required=True),
        Column("until", "End of the shift, HH:MM.", ("09:00", "09:00"), is_required=True),
        Column("starts_at", "Place where she starts. Empty: the first base.", ("", "")),
        Column("skills", "Separated by ';'.", ("", "")),
        Column("wards", "Only these wards, separated by ';'. Empty: all.", ("", "")),
        Column("break", "Span and length of a break: 07:00-08:00 15 min.", ("", "")),
    ),
    "pickups": (
        Column("place", "Where specimens leave the ward; ward/place where several wards have it. Leave the sheet "
               "empty: they are carried to the laboratory.",
               ("EXAMPLE station", "EXAMPLE laboratory"), is_required=True),
        Column("kind", "courier leaves at its times, tube sends at once, carried: by hand.", ("tube", "carried"),
               ("courier", "tube", "carried"), is_required=True),
        Column("departs", "Courier times 06:00; 07:30 or: every 30 min.", ("", "")),
        Column("transit_minutes", "Minutes from there to the laboratory.", ("5", "0")),
    ),
    "tests": (
        Column("test", "Code of a test that the site changes or adds. Only the cells that you fill change it.",
               ("EXAMPLE 1", "EXAMPLE 2"), is_required=True),
        Column("name", "Name; a new test needs it.", ("Invented test, large", "Invented test, small")),
        Column("loinc", "LOINC code, with its check digit.", ("", "")),
        Column("tubes", "Tube kinds that serve it, in order of preference, separated by ';'.", ("EDTA", "EDTA")),
        Column("min_ml", "mL of blood that make the test possible alone.", ("2", "1")),
        Column("add_ml", "mL that it adds to a tube that is drawn anyway.", ("1", "0.5")),
        Column("share_group", "Tests of one group share a tube; 'own': never.", ("HAEM", "HAEM")),
        Column("max_rt_min", "Minutes from draw to laboratory.", ("", "240")),
        Column("notes", "For the reader.", ("overwrite this row", "overwrite this row")),
    ),
    "tubes": (
        Column("code", "Code of a tube kind that the site changes. Only the cells that you fill change it.",
               ("EXAMPLE A", "EXAMPLE B"), is_required=True),
        Column("name", "Name as printed.", ("Invented tube A", "Invented tube B")),
        Column("additive", "What is in it.", ("invented", "invented")),
        Column("closure", "Colour of the closure, in words.", ("striped", "dotted")),
        Column("rank", "Place in the order of draw, 1 first.", ("9", "9")),
        Column("inversions", "How often it is turned over after filling.", ("8", "8")),
        Column("sizes", "Draw volumes in mL by use: adult:2.7;child:1.0.", ("adult:4.0", "adult:3.0;child:1.0")),
        Column("min_fill_pct", "Least filling that the laboratory accepts, in per cent.", ("50", "50")),
    ),
    "policy": (
        Column("key", "Name of a rule, as in policy.toml: round.needed_by.Ward 1 is when specimens of Ward 1 should be "
               "in the laboratory. Empty sheet: every default.",
               ("round.breakfast_at", "round.phlebotomists"), is_required=True),
        Column("value", "Its value; clock times as 08:00.", ("08:00", "1"), is_required=True),
    ),
}  # fmt: skip
