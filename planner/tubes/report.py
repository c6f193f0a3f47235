"""Figures on tube sets for people: tubes and blood beside one tube for each order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from planner.domain.draws import DrawId, TubeSet, VisitRequest
from planner.domain.orders import PatientId
from planner.domain.problem import Problem
from planner.units import format_ml


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeFigures:
    """Tubes (the discard not counted) and microlitres (the discard counted), ours and one tube for each order."""

    num_tubes: int = 0
    volume_ul: int = 0
    num_separate: int = 0
    separate_ul: int = 0
    num_sets: int = 0
    num_proven: int = 0

    @property
    def saved_tubes(self) -> int:
        """Tubes fewer than one for each order."""
        return self.num_separate - self.num_tubes

    @property
    def saved_ul(self) -> int:
        """Microlitres less than with one tube for each order."""
        return self.separate_ul - self.volume_ul


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientTubes:
    """One patient's visits, in the order of their ids, and their figures together.

    ``today_ul`` adds what was drawn in the 24 hours before; None when that is not known.
    """

    patient_id: PatientId
    bed: str
    visits: tuple[tuple[DrawId, TubeSet], ...]
    figures: TubeFigures
    today_ul: int | None


def figures_of(tube_sets: Iterable[TubeSet]) -> TubeFigures:
    """Return the figures of tube sets together."""
    sets = tuple(tube_sets)
    return TubeFigures(
        num_tubes=sum(s.num_tubes for s in sets),
        volume_ul=sum(s.volume_ul for s in sets),
        num_separate=sum(s.num_separate for s in sets),
        separate_ul=sum(s.separate_ul for s in sets),
        num_sets=len(sets),
        num_proven=sum(s.is_proven for s in sets),
    )


def by_patient(
    problem: Problem, requests: Iterable[VisitRequest], tube_sets: Mapping[DrawId, TubeSet]
) -> tuple[PatientTubes, ...]:
    """Return the tubes patient by patient, by bed, then patient number; patients without tubes are left out."""
    visits: dict[PatientId, list[tuple[DrawId, TubeSet]]] = {}
    for request in sorted(requests, key=lambda r: r.id):
        if request.id in tube_sets:
            visits.setdefault(request.patient_id, []).append((request.id, tube_sets[request.id]))
    found = []
    for patient_id, drawn in visits.items():
        patient, figures = problem.patients[patient_id], figures_of(tube_set for _, tube_set in drawn)
        before_ul = problem.drawn_24h_ul(patient)
        found.append(
            PatientTubes(
                patient_id=patient_id,
                bed=patient.bed,
                visits=tuple(drawn),
                figures=figures,
                today_ul=None if before_ul is None else before_ul + figures.volume_ul,
            )
        )
    return tuple(sorted(found, key=lambda p: (p.bed, p.patient_id)))


def tube_lines(problem: Problem, patient: PatientTubes) -> Iterator[str]:
    """Yield lines of plain text: a heading with bed and totals, then the tubes of each visit in order of draw."""
    figures = patient.figures
    today = "" if patient.today_ul is None else f"; {format_ml(patient.today_ul)} mL in 24 h"
    yield (
        f"bed {problem.place_name(patient.bed)}: {figures.num_tubes} tubes, {format_ml(figures.volume_ul)} mL "
        f"(one tube for each order: {figures.num_separate} tubes, {format_ml(figures.separate_ul)} mL){today}"
    )
    for draw_id, tube_set in patient.visits:
        needle = tube_set.needle
        counter = draw_id.rpartition("#")[2]
        yield f"  visit {counter}: {needle.name} suggested ({'; '.join(needle.reasons)})"
        for tube in tube_set.tubes:
            kind = problem.catalogue.tubes[tube.tube]
            content = "thrown away" if tube.is_discard else ", ".join(tube.tests)
            site = f", site {tube.site}" if tube.site > 1 else ""
            filled = "" if tube.volume_ul == tube.size_ul else f", filled with {format_ml(tube.volume_ul)} mL"
            container = f"{kind.name_of(tube.size_ul)} ({kind.closure}), {format_ml(tube.size_ul)} mL"
            yield f"    {tube.draw_position}. {container}{filled}{site}: {content}"


def total_line(figures: TubeFigures) -> str:
    """Return one line with the totals, the saving and the proofs."""
    return (
        f"{figures.num_tubes} tubes, {format_ml(figures.volume_ul)} mL in {figures.num_sets} visits; "
        f"one tube for each order: {figures.num_separate} tubes, {format_ml(figures.separate_ul)} mL; "
        f"saved: {figures.saved_tubes} tubes, {format_ml(figures.saved_ul)} mL; "
        f"proven minimal: {figures.num_proven} of {figures.num_sets}"
    )
