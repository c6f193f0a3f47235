"""Why a visit has no place in the round: found by trying it alone, then with single rules away.

What is said of a rule was tried: a visit that nobody can make alone, and that somebody could make without the rule.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from planner.domain.draws import Draw
from planner.domain.plan import Reason, SetAside, Unplanned
from planner.domain.problem import Problem
from planner.scheduling.rounds.alone import made_alone
from planner.scheduling.timing.instance import NO_LIMIT_S, Instance, SpecimenData
from planner.scheduling.timing.solution import Solution
from planner.units import SECONDS_PER_MINUTE


def unplanned_orders(
    problem: Problem, instance: Instance, draws: Sequence[Draw], solution: Solution
) -> list[Unplanned]:
    """Return every order of the draws that the solution does not make, with the reason."""
    served = {stop for stops in solution.routes for stop in stops if stop >= 0}
    found: list[Unplanned] = []
    for index, draw in enumerate(draws):
        if index in served:
            continue
        reason, detail = _why(problem, instance, draw, index)
        found += [Unplanned.of(order, reason, detail, bed=draw.request.bed) for order in draw.request.orders]
    return found


def _why(problem: Problem, instance: Instance, draw: Draw, index: int) -> SetAside:
    visit = instance.visits[index]
    if not visit.able:
        return _nobody(problem, draw)
    if made_alone(instance, index):
        return SetAside(
            Reason.NO_TIME,
            f"may be drawn {_window(problem, draw)}, but the plan has no room for it beside the other orders; find "
            "another collector, or ask the ward for a later time",
        )
    for relaxed, reason, detail in _without_one_rule(problem, instance, draw, index):
        if made_alone(relaxed, index):
            return SetAside(reason, detail)
    return SetAside(
        Reason.NO_TIME,
        f"may be drawn {_window(problem, draw)}, and nobody who may make the visit can be at the bed then and leave it "
        "within the shift; ask the ward for another time, or find another collector",
    )


def _nobody(problem: Problem, draw: Draw) -> SetAside:
    """Return why nobody of the round may make a visit."""
    ward = problem.patients[draw.request.patient_id].ward
    skills = ", ".join(sorted(draw.skills))
    skilled = [who for who in problem.staff if draw.skills <= who.skills]
    if not skilled:
        return SetAside(Reason.NO_SKILL, f"needs {skills}, which nobody on this round has; ask for somebody who has it")
    if not any(who.goes_to(ward) for who in skilled):
        whom = f" who has {skills}" if skills else ""
        return SetAside(
            Reason.NO_WARD, f"nobody{whom} on this round goes to ward {ward}; find somebody, or change the wards"
        )
    return SetAside(Reason.SECOND_PERSON, "an attempt failed, and nobody else of this round may try; find somebody")


def _window(problem: Problem, draw: Draw) -> str:
    first_s, last_s = draw.request.windows[0].earliest_s, draw.request.windows[-1].latest_s
    return f"between {problem.clock.format_clock(first_s)} and {problem.clock.format_clock(last_s)}"


def _without_one_rule(
    problem: Problem, instance: Instance, draw: Draw, index: int
) -> Iterator[tuple[Instance, Reason, str]]:
    """Yield the round without a rule that keeps specimens from the laboratory, and what is to be said if it is that."""
    visit = instance.visits[index]
    num_tubes = sum(specimens.num_tubes for specimens in visit.specimens)
    if instance.tray_limit is not None and num_tubes > instance.tray_limit:
        yield (
            replace(instance, tray_limit=None),
            Reason.TRAY_TOO_SMALL,
            f"takes {num_tubes} tubes at once, and a tray holds {instance.tray_limit}; use a larger tray, or a porter",
        )
    minutes = min((s.limit_s for s in visit.specimens), default=0) - draw.lead_s
    keeping = _with_specimens(instance, index, lambda s: replace(s, limit_s=NO_LIMIT_S))
    must = f"must reach the laboratory within {minutes // SECONDS_PER_MINUTE} min of the draw"
    yield (
        keeping,
        Reason.NO_HANDOVER,
        f"{must}, and no hand-over of this round brings it there in time; arrange a porter, or draw it near a "
        "courier's departure",
    )
    by_hand = "must be carried by hand, never by tube station"
    yield (
        _with_specimens(instance, index, lambda s: replace(s, by_hand=False)),
        Reason.NO_HANDOVER,
        f"{by_hand}, and no other hand-over of this round can be used for it; arrange a porter",
    )
    free = _with_specimens(instance, index, lambda s: replace(s, by_hand=False, limit_s=NO_LIMIT_S))
    yield (
        free,
        Reason.NO_HANDOVER,
        f"{must} and {by_hand}, and no hand-over of this round does both; arrange a porter",
    )
    yield (
        replace(free, tray_limit=None),
        Reason.NO_HANDOVER,
        f"takes {num_tubes} tubes at once, more than a tray holds, and what travels by hand or keeps only minutes "
        "finds no hand-over in time; arrange a porter",
    )
    visits = (*instance.visits[:index], replace(visit, specimens=()), *instance.visits[index + 1 :])
    yield (
        replace(instance, visits=visits),
        Reason.NO_HANDOVER,
        f"may be drawn {_window(problem, draw)}, but no hand-over can be reached after the draw; arrange a porter, or "
        "ask the ward for an earlier time",
    )


def _with_specimens(instance: Instance, index: int, change: Callable[[SpecimenData], SpecimenData]) -> Instance:
    """Return the round with every specimen of one visit changed."""
    visit = instance.visits[index]
    changed = replace(visit, specimens=tuple(map(change, visit.specimens)))
    return replace(instance, visits=(*instance.visits[:index], changed, *instance.visits[index + 1 :]))
