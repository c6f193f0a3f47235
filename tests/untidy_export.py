"""One system's untidy export of orders on two days: five wards with equal bed numbers, and the site's own words.

Headings, tests and isolation words are such as no list of ours has. Everything is invented. The two days have other
patients, rows, title lines and spellings (case, blanks), and the same names.
"""

from __future__ import annotations

from collections.abc import Iterator

WARDS = ("Heron", "Kite (South)", "Rail, East", "Teal", "Wren/2")
BEDS = ("1A", "2A", "3A")
HEAD = ("Auftrags-Kennung", "Fall-Kennz.", "Pat. Zuname", "Geb.Tag", "Org-Einheit", "Bettstelle", "LabAnforderung",
        "Eile", "Iso-Verm.", "Merker", "Kostenstelle")  # fmt: skip
MEANS = ("order_number", "patient_number", "family_name", "birth_date", "ward", "bed", "test", "priority",
         "precautions", "alerts", None)  # fmt: skip
"""What a lead confirms of each heading; None: nothing that this program uses."""
TESTS = {"Kl. Blutbild EDTA": "CBC", "Kalium blitz": "POT", "Entz.-Wert CRP hs": "CRP", "Gerinnung Quick": "PT"}
PRECAUTIONS = {"Kontaktiso": "contact", "VRE-Kolon.": "contact", "Spuckschutz": "droplet"}
ALERTS = {"Phenprocoumonpat.": "phenprocoumon"}
_NAMES = ("Ahlers", "Brandt", "Çelik", "Dvořák", "Eriksen", "Fontane", "Null", "O'Brien", "Ng", "Őry", "Sand", "True",
          "Uhl", "Vogel", "Wu")  # fmt: skip


def monday() -> str:
    """Return the export of Monday, 9 March 2026."""
    return _export("09.03.2026", shift=0, changed=str)


def tuesday() -> str:
    """Return the export of Tuesday, 10 March 2026: other patients, spelled in capitals, with more blanks."""
    return _export("10.03.2026", shift=1, changed=lambda text: f" {text.upper()} ")


def _export(day: str, shift: int, changed: type[str] | object) -> str:
    lines = [f"Entnahmeliste gedruckt am {day}", ";".join(HEAD), *_rows(shift)]
    assert callable(changed)
    return "\n".join([*lines[:2], *(changed(line).strip() if shift else line for line in lines[2:])]) + "\n"


def _rows(shift: int) -> Iterator[str]:
    tests, isolation = list(TESTS), ["", *PRECAUTIONS, ""]
    for w, ward in enumerate(WARDS):
        for b, bed in enumerate(BEDS):
            at = 3 * w + b
            name = _NAMES[(at + shift) % len(_NAMES)]
            number = f"{shift + 1}0{at:03d}"
            iso = isolation[at % len(isolation)]
            alert = "Phenprocoumonpat." if at % 4 == 0 else ""
            for n in range(2):
                test = tests[(at + n + shift) % len(tests)]
                born = f"{1 + at:02d}.05.19{40 + at}"
                cells = [
                    f"0{number}{n}",
                    number,
                    name,
                    born,
                    f'"{ward}"',
                    bed,
                    test,
                    "routine",
                    iso,
                    alert,
                    f"K{at % 3}",
                ]
                yield ";".join(cells)
