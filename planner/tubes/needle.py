"""A suggested needle, with its reasons. The collector decides at the bedside."""

from __future__ import annotations

import re
from collections.abc import Sequence

from planner.domain.catalogue import Catalogue, Handling, LabTest, TubeType
from planner.domain.draws import Device, Needle
from planner.domain.orders import Patient
from planner.domain.patients.ages import is_child
from planner.domain.problem import Problem
from planner.tubes.kinds import is_capillary, is_citrate

ROUTINE_GAUGE = 21
"""Common practice, no source."""

FINE_GAUGE = 23
"""For children and difficult veins (common practice, no source); coagulation allows no finer one [L3]."""

MANY_TUBES = 6
"""From here on the number of tubes is named as a reason for the wider needle (common practice, no source)."""


def is_fine(patient: Patient, problem: Problem) -> bool:
    """Return whether the patient is a child or has difficult veins: a winged set, and finer."""
    return patient.has_difficult_veins or is_child(problem, patient)


def is_winged(problem: Problem, patient: Patient) -> bool:
    """Return whether the draw is planned with a winged set, whose tubing holds air."""
    if is_capillary(problem, patient):
        return False
    return is_fine(patient, problem) or problem.policy.tubes.routine_device == Device.WINGED


def suggest_needle(problem: Problem, patient: Patient, tests: Sequence[LabTest], kinds: Sequence[TubeType]) -> Needle:
    """Return gauge and device with the reasons; ``kinds`` are those of the containers to fill.

    Culture bottles are filled with a winged set, upright below the arm (common practice, no source). A test whose
    notes name a needle (platelet function: 21G [L8, L59]) sets the gauge; else 23G winged for children and difficult
    veins, 21G for others. A 25G needle is never suggested: it can haemolyse (common practice, no source). From the
    skin it is a lancet.
    """
    if is_capillary(problem, patient):
        return Needle(gauge=None, device=Device.LANCET, reasons=("drawn from the skin",))
    reasons = []
    named = sorted({gauge for test in tests if (gauge := _named_gauge(test)) is not None})
    gauge = named[0] if named else FINE_GAUGE if is_fine(patient, problem) else ROUTINE_GAUGE
    if named:
        codes = ", ".join(sorted(test.code for test in tests if _named_gauge(test) == gauge))
        reasons.append(f"{codes} asks for a {gauge}G needle")
    if is_child(problem, patient):
        reasons.append("child")
    if patient.has_difficult_veins:
        reasons.append("difficult veins noted")
    reasons += _reasons_of_tests(problem.catalogue, tests)
    has_bottles = any(kind.is_culture for kind in kinds)
    if has_bottles:
        reasons.append("culture bottles: winged set, bottle upright below the arm")
    if len(kinds) >= MANY_TUBES and gauge <= ROUTINE_GAUGE:
        reasons.append(f"{len(kinds)} tubes: a wider needle fills them sooner")
    device = Device.WINGED if has_bottles or is_winged(problem, patient) else Device.STRAIGHT
    return Needle(gauge=gauge, device=device, reasons=tuple(reasons) or ("routine draw",))


def _named_gauge(test: LabTest) -> int | None:
    """Return the gauge that the catalogue's notes on a test name, as in '21G needle'."""
    match = re.search(r"\b(\d\d)G needle", test.notes)
    return None if match is None else int(match[1])


def _reasons_of_tests(catalogue: Catalogue, tests: Sequence[LabTest]) -> list[str]:
    reasons = []
    if any(is_citrate(catalogue.tubes[test.accepts[0][0]]) for test in tests):
        reasons.append("coagulation tests: not finer than 23G")
    if any(Handling.NO_FIST in test.handling or "sensitive to haemolysis" in test.notes for test in tests):
        reasons.append("haemolysis would spoil a result: not finer than 23G")
    return reasons
