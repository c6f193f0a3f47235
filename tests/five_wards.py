"""A round of five wards that all have beds 1A to 3B: the three wards and two more, a third patient of one name.

The wards added have slashes, brackets and semicolons in their names. Everything is invented.
"""

from __future__ import annotations

from tests.three_wards import BEDS, Tables, three_ward_tables

ASH, LINDEN = "Ash; Birch", "Linden [2nd floor]"

_MORE = (
    (ASH, "1A", "A0401", "Kowalska", "Maria", "1951-03-04", ("CBC",)),
    (ASH, "2A", "A0402", "Igwe", "Obi", "1946-08-12", ("BMP", "CBC")),
    (ASH, "3B", "A0403", "Toivonen", "Aino", "1972-02-29", ("PT",)),
    (LINDEN, "1A", "L0501", "Mertens", "Jan", "1967-10-05", ("CBC",)),
    (LINDEN, "2A", "L0502", "None", "Sami", "1938-01-31", ("LIPID",)),
    (LINDEN, "3B", "L0503", "Ferreira", "Rui", "1980-06-06", ("BMP",)),
)


def five_ward_tables() -> Tables:
    """Return the tables of the round: 18 patients, 25 orders, 3 phlebotomists of whom two have one name."""
    tables = three_ward_tables()
    for ward, bed, number, family, given, born, tests in _MORE:
        tables["patients"].append(
            {
                "patient_number": number,
                "family_name": family,
                "given_name": given,
                "birth_date": born,
                "sex": "F",
                "ward": ward,
                "bed": bed,
                "weight_kg": "70",
                "precautions": "",
                "alerts": "",
                "last_ate_at": "2026-03-09 18:30",
            }
        )
        tables["orders"] += [
            {"order_number": f"{number}-{n}", "patient_number": number, "test": test, "priority": "routine"}
            for n, test in enumerate(tests, start=1)
        ]
    tables["places"] += [
        {"place": bed, "ward": ward, "kind": "bed", "position": str(10 * number + n)}
        for number, ward in enumerate((ASH, LINDEN), start=3)
        for n, bed in enumerate(BEDS, start=1)
    ]
    return tables
