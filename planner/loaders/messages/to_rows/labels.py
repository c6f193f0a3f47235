"""Numbers and beds as the round's tables know them: authorities where they matter, beds by the site's name."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from planner.findings import Report, Severity
from planner.loaders.frame.places import place_key
from planner.loaders.messages.common.request import Bedside, Ident, Request
from planner.loaders.messages.common.texts import tidy

_WORDS = re.compile(r"^(room|bed|bay|zimmer|bett|chambre|lit)[\s.:#-]+(?=\S)", re.IGNORECASE)
_LONG_ENOUGH = 3
"""A bed's name of so many characters says by itself which bed is meant, whatever the room."""


class Numbers:
    """Labels for identifiers: the bare number, and with its authority where several gave the same number."""

    def __init__(self, idents: Iterable[Ident]) -> None:
        authorities: dict[str, set[str]] = {}
        for ident in idents:
            if ident.number and ident.authority:
                authorities.setdefault(ident.number, set()).add(ident.authority)
        self._shared = {number for number, named in authorities.items() if _are_several(named)}

    def label(self, ident: Ident) -> str:
        """Return the text for an identifier."""
        number = tidy(ident.number)
        return f"{number}@{tidy(ident.authority) or '?'}" if self.is_shared(ident.number) else number

    def is_shared(self, number: str) -> bool:
        """Return whether two authorities, both named, gave this number."""
        return number in self._shared


def _are_several(authorities: set[str]) -> bool:
    """Return whether names mean several authorities.

    HL7 v2 names authorities by codes and FHIR by URIs; one of each may be the same, so they are not compared.
    """
    uris = sum(":" in authority for authority in authorities)
    return max(uris, len(authorities) - uris) > 1


def report_shared(numbers: Numbers, requests: Sequence[Request], report: Report) -> None:
    """Say once for each patient number that two authorities gave it, so that it stands for two patients."""
    seen: set[str] = set()
    for request in requests:
        number = request.patient.number
        if number in seen or not numbers.is_shared(number):
            continue
        seen.add(number)
        message = (
            "two authorities gave one patient number; they are taken for two patients, each named with its authority"
        )
        source = request.source
        report.add("authority-differs", Severity.WARNING, message, source=source, order_ids=[request.number.number])


def bed_label(place: Bedside, known: frozenset[str]) -> str:
    """Return the bed as the place table writes it (``known`` are its names, compared), else room and bed joined."""
    if place.text and not (place.room or place.bed):
        return tidy(place.text)
    room, bed = _WORDS.sub("", tidy(place.room)), _WORDS.sub("", tidy(place.bed))
    if not room or not bed or room == bed:
        choices = [bed or room, tidy(place.bed) or tidy(place.room)]
    else:
        choices = [f"{room}-{bed}", f"{room} {bed}", f"{room}{bed}", f"{room}/{bed}"]
        if len(bed) >= _LONG_ENOUGH:
            choices.append(bed)
        if place_key(room) == place_key(place.ward):
            choices.append(bed)
    return next((c for c in choices if place_key(c) in known), choices[0]) if known else choices[0]
