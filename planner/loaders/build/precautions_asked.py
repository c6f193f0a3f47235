"""Words about precautions that nobody knows: a person decides who goes in, and in what turn."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from planner.domain.beds import PlaceNames
from planner.domain.orders import Order, Patient, PatientId, Precaution
from planner.findings import Report, Severity
from planner.loaders.build.patient_drafts import PatientDraft

_KNOWN = ", ".join(p.value for p in Precaution if p is not Precaution.UNCLEAR)
_STRICTEST = "the room is planned as the strictest (last)"


def report_unknown_precautions(
    people: Iterable[PatientDraft],
    patients: Mapping[PatientId, Patient],
    planned: Iterable[Order],
    name: PlaceNames,
    report: Report,
) -> None:
    """Report each word that is not known, with the planned orders of the patient, else all of them, and the bed.

    The room is planned as the strictest, so last: of a protective one that is the wrong turn. Where another word says
    that it is protective, that decides the turn.
    """
    ids_planned: dict[str, list[str]] = {}
    for order in planned:
        ids_planned.setdefault(order.patient_id, []).append(order.id)
    for draft in people:
        ids = ids_planned.get(draft.id, draft.order_ids)
        orders = f"{'order' if len(ids) == 1 else 'orders'} {', '.join(ids)}, " if ids else ""
        bed = f"bed {name(draft.place)}: " if draft.place else f"bed {draft.bed or '?'}: "
        patient = patients.get(draft.id)
        is_protective = patient is not None and Precaution.PROTECTIVE in patient.precautions
        turn = "the known words beside it decide the turn (protective: first)" if is_protective else _STRICTEST
        for words, source in draft.unknown_precautions:
            message = (
                f"{orders}{bed}{words} is not known; {turn}, with the longest "
                "time to dress, and the card prints the word and says to ask before going in. If it is to protect the "
                f"patient, it must come first: ask the ward, and write a known word. Known: {_KNOWN}, many infections, "
                "and what a table of 'planner names' confirms"
            )
            report.add("unknown-precaution", Severity.ERROR, message, source=source, order_ids=ids)
