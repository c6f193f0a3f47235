"""Who could be taken for whom: patients without a second identifier, and patients whose names are alike."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from difflib import SequenceMatcher

from planner.domain.beds import PlaceNames
from planner.domain.derived.metrics import natural_key
from planner.domain.orders import Order, Patient, PatientId
from planner.finding_codes import Code
from planner.findings import Report, Severity
from planner.loaders.tables.records import Record

_NEAR = 0.8
"""Names of one birth date that are so much alike are easily mixed up (engineering choice)."""
_FILLER = 40
"""A name or birth date that more patients share is a filler and tells nobody apart."""
_MOST_BEDS = 6


def report_missing_identifiers(
    patients: Mapping[PatientId, Patient],
    planned: Iterable[Order],
    name: PlaceNames,
    rows: Mapping[PatientId, Record],
    report: Report,
) -> None:
    """Report patients to be drawn whose list lacks birth date or name: two identifiers are compared at the bed.

    A gap in a list that has them for others needs a decision; a list that has none of them at all is a warning.
    ``rows`` are those that findings about patients point to, also in the functions below.
    """
    orders: dict[PatientId, list[str]] = {}
    for order in planned:
        orders.setdefault(order.patient_id, []).append(order.id)
    drawn = [patient for number, patient in patients.items() if number in orders]
    for what, column, lacking in (
        ("birth date", "birth_date", [p for p in drawn if p.birth_date is None]),
        ("name", "family_name", [p for p in drawn if not (p.family_name or p.given_name)]),
    ):
        if lacking:
            message = (
                f"no {what} on the list for {_beds(name, [p.bed for p in lacking])}, so one of the two identifiers is "
                "missing on the sheet. Add it, or compare the wristband with the ward's own record"
            )
            ids = [order_id for p in lacking for order_id in orders[p.id]]
            # A list without any: whoever plans from it has decided how patients are identified. One gap among many has
            # been seen by nobody.
            code: Code = "identifier-missing" if len(lacking) == len(drawn) else "identifier-gap"
            report.add(code, Severity.WARNING, message, source=rows[lacking[0].id].at(column), order_ids=ids)


def with_name_alerts(
    patients: Mapping[PatientId, Patient], name: PlaceNames, rows: Mapping[PatientId, Record], report: Report
) -> dict[PatientId, Patient]:
    """Return the patients, those with names alike with an alert that names the other's bed."""
    others: dict[PatientId, dict[PatientId, None]] = {}
    for group in (*_same_family(patients.values()), *_near_names(patients.values())):
        for patient in group:
            others.setdefault(patient.id, {}).update(dict.fromkeys(p.id for p in group if p.id != patient.id))
    told: set[frozenset[PatientId]] = set()
    found = dict(patients)
    for number, alike in others.items():
        twins = [patients[other].bed for other in alike if _is_one_identity(patients[number], patients[other])]
        beds = [bed for other in alike if (bed := patients[other].bed) not in twins]
        alerts = list(patients[number].alerts)
        if twins:
            same = f"SAME NAME AND BIRTH DATE in {_beds(name, twins)}; read the number digit by digit"
            alerts.append(f"name alert: {same}")
        namesakes = {patients[other].bed for other in alike if _whole(patients[other]) == _whole(patients[number])}
        same_name = [bed for bed in beds if bed in namesakes]
        for words, found_in in (("SAME NAME", same_name), ("similar name", [b for b in beds if b not in same_name])):
            if found_in:
                alerts.append(f"name alert: {words} in {_beds(name, found_in)}")
        found[number] = replace(patients[number], alerts=tuple(alerts))
        members = frozenset((number, *alike))
        if members not in told:
            told.add(members)
            message = (
                f"similar names in {_beds(name, [patients[p].bed for p in members])}; the sheet warns at each of them"
            )
            report.add("name-alike", Severity.NOTE, message, source=rows[number].at("family_name"))
    return found


def report_same_identities(
    patients: Mapping[PatientId, Patient],
    planned: Iterable[Order],
    name: PlaceNames,
    rows: Mapping[PatientId, Record],
    report: Report,
) -> None:
    """Report patients to be drawn of one name and one birth date: what both say at the bed fits both of them.

    They are two people, or one person under two numbers; a person decides which.
    """
    orders: dict[PatientId, list[str]] = {}
    for order in planned:
        orders.setdefault(order.patient_id, []).append(order.id)
    groups: dict[tuple[str, object], list[Patient]] = {}
    for number, patient in patients.items():
        if number in orders and patient.birth_date is not None and (whole := _whole(patient)):
            groups.setdefault((whole, patient.birth_date), []).append(patient)
    for members in groups.values():
        if 1 < len(members) <= _FILLER:
            message = (
                f"one name and one birth date in {_beds(name, [p.bed for p in members])}: two people, or one under two "
                "patient numbers? If two, only the patient number on the wristband tells them apart"
            )
            ids = [order_id for p in members for order_id in orders[p.id]]
            source = rows[members[-1].id].at("patient_number")
            report.add("identity-shared", Severity.WARNING, message, source=source, order_ids=ids)


def _is_one_identity(one: Patient, other: Patient) -> bool:
    return one.birth_date is not None and (_whole(one), one.birth_date) == (_whole(other), other.birth_date)


def _beds(name: PlaceNames, beds: Sequence[str]) -> str:
    ordered = sorted(beds, key=natural_key)
    shown = name.listed(ordered[:_MOST_BEDS])
    more = f" and {len(ordered) - _MOST_BEDS} more" if len(ordered) > _MOST_BEDS else ""
    return f"{'bed' if len(ordered) == 1 else 'beds'} {shown}{more}"


def _same_family(patients: Iterable[Patient]) -> Iterator[list[Patient]]:
    groups: dict[str, list[Patient]] = {}
    for patient in patients:
        if family := _family(patient):
            groups.setdefault(family, []).append(patient)
    return (group for group in groups.values() if 1 < len(group) <= _FILLER)


def _near_names(patients: Iterable[Patient]) -> Iterator[list[Patient]]:
    """Yield pairs of one birth date whose whole names differ in a few letters."""
    groups: dict[object, list[tuple[str, Patient]]] = {}
    for patient in patients:
        if patient.birth_date is not None and (whole := _whole(patient)):
            groups.setdefault(patient.birth_date, []).append((whole, patient))
    for group in groups.values():
        if len(group) > _FILLER:
            continue
        for i, j in sorted(_near_pairs([name for name, _ in group])):
            yield [group[i][1], group[j][1]]


def _near_pairs(names: Sequence[str]) -> Iterator[tuple[int, int]]:
    """Yield the pairs of names that are much alike. The two quick measures are never less than the true one."""
    for j, second in enumerate(names):
        matcher = SequenceMatcher(None, b=second)  # it keeps what it works out of the second name
        for i in range(j):
            matcher.set_seq1(names[i])
            if matcher.real_quick_ratio() >= _NEAR and matcher.quick_ratio() >= _NEAR and matcher.ratio() >= _NEAR:
                yield i, j


def _whole(patient: Patient) -> str:
    return " ".join(sorted(_plain(f"{patient.family_name} {patient.given_name}").split()))


def _family(patient: Patient) -> str:
    """Return the family name as it is compared; of a whole name the word in capitals, else the last."""
    if patient.given_name or " " not in patient.family_name.strip():
        return _plain(patient.family_name)
    words = patient.family_name.split()
    capitals = [w for w in words if len(w) > 1 and w.isupper()]
    return _plain(" ".join(capitals) if 0 < len(capitals) < len(words) else words[-1])


def _plain(text: str) -> str:
    folded = unicodedata.normalize("NFKD", text.casefold())
    letters = "".join(c if c.isalnum() else " " for c in folded if not unicodedata.combining(c))
    return " ".join(letters.split())
