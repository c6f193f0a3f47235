"""Patients: all rows under one number brought together, with what speaks against planning for them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from planner.columns import TABLES
from planner.domain.orders import Arm, Patient, Precaution
from planner.domain.places import PlaceId
from planner.domain.plan import ListedPerson, Reason, SetAside
from planner.findings import Severity
from planner.loaders.build.patient_cells import PatientCells
from planner.loaders.build.patient_drafts import PatientDraft
from planner.loaders.tables.near_safety import safety_column_near, says_something
from planner.loaders.tables.records import Record
from planner.loaders.values.arm_words import ArmWords, arms_said
from planner.loaders.values.fields import Reading, word
from planner.loaders.values.words import NO_ALLERGY

_FIELDS = frozenset(TABLES["patients"].columns) - {"patient_number"}
_KILOGRAMS = {
    "kg": 1.0, "kgs": 1.0, "kilograms": 1.0, "g": 0.001, "gram": 0.001, "grams": 0.001,
    "lb": 0.45359237, "lbs": 0.45359237,
}  # fmt: skip
_MILLILITRES = {"ml": 1.0, "millilitres": 1.0, "milliliters": 1.0, "cc": 1.0, "l": 1000.0, "ul": 0.001, "µl": 0.001}
_HAEMOGLOBIN = {"g/l": 1.0, "g/dl": 10.0}
_DIFFICULT = re.compile(r"difficult\s+(vein|veins|access|stick|venous access)|poor veins|schwierige venen")
_SPEAKING = ("alerts", "precautions", "allergies", "note", "test_name")
"""Columns whose words may bar an arm."""
_MAX_WEIGHT_KG = 400
_MIN_WEIGHT_KG = 0.3
_MAX_DRAWN_ML = 3000


def has_patient_fields(record: Record) -> bool:
    """Return whether a row says anything about a patient beyond the number."""
    return not _FIELDS.isdisjoint(record.values) or not _FIELDS.isdisjoint(record.flags)


def unmapped_texts(records: Iterable[Record]) -> tuple[str, ...]:
    """Return what the rows of a patient hold in columns that nobody has mapped, each text once."""
    return tuple(dict.fromkeys(f"{heading}: {text}" for record in records for heading, text in record.unmapped.items()))


def _arms_said(records: Iterable[Record]) -> ArmWords:
    """Return what the rows of a patient say of arms in words, notes of orders that are set aside included."""
    found = ArmWords()
    for record in records:
        found |= arms_said(record.text("limbs"), is_about_arms=True)
        for name in _SPEAKING:
            found |= arms_said(record.text(name))
        for heading, text in record.unmapped.items():
            found |= arms_said(text, is_about_arms=safety_column_near(heading) == "limbs")
    return found


def _unclear_texts(records: Iterable[Record]) -> tuple[str, ...]:
    """Return those of the texts whose column is nearly a safety column, where they say something."""
    return tuple(
        dict.fromkeys(
            f"{heading}: {text}"
            for record in records
            for heading, text in record.unmapped.items()
            if safety_column_near(heading) is not None and says_something(heading, text)
        )
    )


def read_patient(draft: PatientDraft, reading: Reading, live: Sequence[Record]) -> Patient:
    """Return the patient of a draft, and set the draft's bed, ward and fault. The bed is looked up later.

    ``live`` are the rows that count for the bed: a cancelled order may still name the last one.
    """
    cells = PatientCells(draft, reading)
    birth_date = cells.birth_date()
    cells.check_names()
    draft.ward, draft.bed = cells.bed(live or draft.records)
    weight_kg = cells.number("weight_kg", _MIN_WEIGHT_KG, _MAX_WEIGHT_KG, "kg", _KILOGRAMS)
    if weight_kg is None:
        grams = cells.number(
            "weight_g", 1000 * _MIN_WEIGHT_KG, 1000 * _MAX_WEIGHT_KG, "g", {u: 1000 * f for u, f in _KILOGRAMS.items()}
        )
        weight_kg = None if grams is None else grams / 1000
    haemoglobin = cells.number("haemoglobin_g_l", 20, 250, "g/L", _HAEMOGLOBIN)
    drawn_24h = cells.number("drawn_ml_24h", 0, _MAX_DRAWN_ML, "mL", _MILLILITRES)
    drawn_30d = cells.number("drawn_ml_30d", 0, 10 * _MAX_DRAWN_ML, "mL", _MILLILITRES)
    precautions, precaution_texts = cells.precautions()
    alerted, alert_texts = cells.alerts()
    allergies = [f"allergy: {part}" for part in cells.parts("allergies") if word(part) not in NO_ALLERGY]
    arms, arm_texts = cells.arms()
    alerts = tuple(dict.fromkeys([*arm_texts, *alert_texts, *allergies, *precaution_texts]))
    unmapped = unmapped_texts((*draft.records, *draft.order_records))
    said = _arms_said((*draft.records, *draft.order_records))
    unclear = _unclear_texts((*draft.records, *draft.order_records))
    precautions |= alerted
    in_words = cells.isolation_in_words(precautions, unmapped)
    if any(safety_column_near(text.partition(": ")[0]) == "precautions" for text in unclear):
        in_words |= {Precaution.UNCLEAR}
    if in_words - precautions >= {Precaution.PROTECTIVE}:
        unclear += ("Protective isolation",)
    precautions |= in_words
    family, given = cells.names()
    if draft.fault is None or draft.fault.reason is not Reason.IDENTITY_CONFLICT:
        draft.person = ListedPerson(
            family_name=family, given_name=given, birth_date=birth_date, ward=draft.ward or cells.first("ward")
        )
    patient = Patient(
        id=draft.id,
        bed=PlaceId(draft.bed),
        ward=draft.ward,
        family_name=family,
        given_name=given,
        birth_date=birth_date,
        sex=cells.first("sex"),
        weight_g=None if weight_kg is None else round(weight_kg * 1000),
        haemoglobin_g_l=None if haemoglobin is None else round(haemoglobin),
        precautions=precautions,
        alerts=alerts,
        has_difficult_veins=any(_DIFFICULT.search(word(alert)) for alert in alerts),
        last_ate_s=cells.instant("last_ate_at", is_past=True),
        next_meal_s=cells.instant("next_meal_at"),
        drawn_24h_ul=None if drawn_24h is None else round(drawn_24h * 1000),
        drawn_30d_ul=None if drawn_30d is None else round(drawn_30d * 1000),
        away=cells.away(),
        method=cells.method(),
        needs=frozenset(word(part) for part in cells.parts("needs", ";,")),
        arms_barred=arms,
        arms_in_words=said.barred,
        infusion_arms=said.running,
        arms_unexplained=said.unexplained,
        has_sideless_reason=bool(arm_texts or said.sideless - said.sided),
        unmapped=unmapped,
        unclear=unclear,
    )
    if len(arms) == len(Arm) and draft.fault is None:
        detail = "neither arm may be used; ask the doctor from where, and have it drawn by who may"
        reading.report.add(
            "no-arm", Severity.ERROR, detail, source=draft.source_record.at("limbs"), order_ids=draft.order_ids
        )
        draft.fault = SetAside(Reason.NO_ARM, detail)
    cells.settle()
    return patient
