"""Draws of series that were made before the round: the next of the series keeps its gap from them."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from planner.domain.catalogue import Catalogue, TubeCode
from planner.domain.orders import EarlierDraw, PatientId
from planner.domain.plan import Reason
from planner.findings import Severity
from planner.loaders.build.order_rows import OrderDraft
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.values.fields import Fields, Reading


def earlier_draws(
    drafts: Iterable[OrderDraft],
    tests: TestLookup,
    catalogue: Catalogue,
    reading: Reading,
    open_series: Collection[tuple[str, str]],
) -> tuple[EarlierDraw, ...]:
    """Return the draws that orders of the list tell of, in the order of their times.

    An order that is drawn already counts if it names a series of which another order is still to be planned
    (``open_series``: patient number, series). Without a time of the draw (``drawn_at``, else ``collect_at``) a warning
    says that the gap cannot be kept.
    """
    found: list[EarlierDraw] = []
    for draft in drafts:
        if draft.fault is None or draft.fault.reason is not Reason.ALREADY_DRAWN:
            continue
        patient, series = draft.record.text("patient_number"), draft.record.text("series")
        code = tests.find(draft.test_text) if draft.test_text else None
        if not series or code is None or (patient, series) not in open_series or catalogue.tests[code].is_culture:
            continue
        fields = Fields(draft.record, reading, draft.id)
        drawn_s = fields.instant("drawn_at", is_past=True)
        stated_s = fields.instant("collect_at", is_past=True)
        if drawn_s is None:
            drawn_s = stated_s
        if drawn_s is None:
            message = (
                f"the first draw of series {series} is made, but not when: the gap to the next is not kept; write "
                "the time in column drawn_at"
            )
            fields.add("series-draw-time", Severity.WARNING, "drawn_at", message)
            continue
        tube = _tube(draft, catalogue, fields)
        found.append(
            EarlierDraw(
                patient_id=PatientId(patient),
                test=code,
                series=series,
                draw_s=drawn_s,
                tube=tube,
                collect_at_s=stated_s,
            )
        )
    return tuple(sorted(found, key=lambda d: (d.draw_s, d.patient_id, d.series, d.test)))


def _tube(draft: OrderDraft, catalogue: Catalogue, fields: Fields) -> TubeCode | None:
    """Return the tube kind into which an earlier draw was made, by its code or its name; None when none is stated."""
    text = draft.record.text("drawn_into")
    if not text:
        return None
    for code, kind in catalogue.tubes.items():
        if text.casefold() in (code.casefold(), kind.name.casefold()):
            return code
    known = ", ".join(sorted(catalogue.tubes))
    message = f"tube kind {text!r} is not in the catalogue, so the next draw may go into another; known: {known}"
    fields.add("series-tube-unknown", Severity.WARNING, "drawn_into", message)
    return None
