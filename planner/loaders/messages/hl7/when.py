"""When and how urgently an order is to be drawn, how much of it, and what its time hangs on."""

from __future__ import annotations

from planner.domain.plan import Reason
from planner.findings import Severity
from planner.loaders.messages.common.request import Quantity, Request
from planner.loaders.messages.hl7.codes import PRIORITIES
from planner.loaders.messages.hl7.context import Context
from planner.loaders.messages.hl7.grouping import Group
from planner.loaders.messages.hl7.timing import timings_of


def put_when(request: Request, group: Group, context: Context) -> None:
    """Set timings, quantity and priority, and say what is taken for granted in them."""
    when = timings_of(group, context.sender)
    request.timings = when.timings
    if when.is_observation_time and request.fault is None:
        message = "only OBR-7 states a time, which is often that of entry; it was taken as the time of the draw"
        ids = [request.number.number]
        context.add("time-from-observation", Severity.WARNING, message, group.obr, "OBR-7", ids)
    request.quantity = _quantity(group)
    _report_links(request, group, context)
    text, heading = _priority(group)
    request.put("priority", PRIORITIES.get(text.upper(), text), heading)
    if text.upper() in ("PRN", "AS NEEDED"):
        request.cells.pop("priority", None)
        request.set_aside(Reason.TIME_MISSING, "it is to be drawn as needed (PRN), and nobody has asked for it now")
    elif len(text) > 1 and text[0].upper() == "T" and text[-1].isdecimal():
        request.put("priority", "timed", heading)
        if request.fault is None:
            message = (
                f"the draw is to be timed within {text[1:20]} (HL7 table 0485: S seconds, M minutes, H hours, D days, "
                "W weeks, L months); the site's own tolerance counts. Look whether that is close enough"
            )
            context.add("timing-tolerance", Severity.WARNING, message, group.first, heading, [request.number.number])


def _quantity(group: Group) -> Quantity:
    """Return how much is asked for: TQ1-2, ORC-7.1, OBR-27.1; the first that is filled."""
    for segment in group.timings:
        if text := segment.text(2):
            return Quantity(text, segment.text(2, 2), "TQ1-2")
    for source, number in ((group.orc, 7), (group.obr, 27)):
        if source is not None and (text := source.text(number)):
            return Quantity(text, source.text(number, 1, 2), f"{source.name}-{number}")
    return Quantity()


def _report_links(request: Request, group: Group, context: Context) -> None:
    """Say where a timing hangs on another one (TQ1-12, HL7 table 0472; ORC-7.9) or on another order (TQ2)."""
    if request.fault is not None:
        return
    ids = [request.number.number]
    if group.has_sequence:
        message = "the order's time hangs on another order (TQ2), which is not taken into account"
        if request.timings:
            message += "; it is planned at the time that it states itself. Look in which order they are wanted"
            context.add("timing-linked", Severity.WARNING, message, group.first, "TQ2", ids)
        else:
            message += "; it is set aside. Write when it is to be drawn"
            context.add("timing-linked", Severity.ERROR, message, group.first, "TQ2", ids)
            request.set_aside(Reason.TIME_MISSING, message)
    linked = [f"{s.name}-{number}" for s in group.timings for number in (5, 12) if s.has(number)]
    if group.orc is not None and group.orc.text(7, 9):
        linked.append("ORC-7.9")
    if linked:
        message = (
            f"{linked[0]} ties a timing to the next; every time that is stated is planned for itself. Look at gaps"
        )
        is_alone = len(request.timings) < 2
        context.add(
            "timing-linked", Severity.NOTE if is_alone else Severity.WARNING, message, group.first, linked[0], ids
        )


def _priority(group: Group) -> tuple[str, str]:
    """Return the priority by precedence: TQ1-9, ORC-7.6, OBR-27.6, OBR-5."""
    for segment in group.timings:
        if text := segment.text(9):
            return text, "TQ1-9"
    for source, number, part in ((group.orc, 7, 6), (group.obr, 27, 6), (group.obr, 5, 1)):
        if source is not None and (text := source.text(number, part)):
            return text, f"{source.name}-{number}"
    return "", ""
