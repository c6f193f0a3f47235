"""Finds new orders that a tube already drawn can serve, so that nobody is punctured: the laboratory is phoned instead.

An add-on that the laboratory cannot do hurts more than a puncture, so where anything is in doubt the answer is no.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from planner.domain.catalogue import Handling, LabTest, TransportMode
from planner.domain.methods import method_of
from planner.domain.orders import Method, Order
from planner.domain.patients.ages import is_child
from planner.domain.problem import Problem
from planner.domain.revisions.replan import AddOn
from planner.replanning.addons.draw_time import draw_time_fault
from planner.replanning.addons.drawn_tubes import DrawnTube, drawn_tubes
from planner.tubes.series_kind import last_kind
from planner.units import format_minutes, format_ml
from planner.visits.closed import closed_spans

__all__ = ["DrawnTube", "drawn_tubes", "find_addons"]

_TOLD_BY_THE_DRAW = frozenset({Handling.RECORD_TIME})
"""Met afterwards when somebody told the time of the draw."""
_NEW_SPECIMEN = frozenset({Handling.STRICT_LABEL, Handling.ASEPSIS})
"""Transfusion and culture specimens are drawn for their own order and for nothing else."""


def find_addons(
    problem: Problem, drawn: Iterable[DrawnTube], orders: Iterable[Order], now_s: int
) -> tuple[tuple[AddOn, ...], tuple[tuple[Order, str], ...]]:
    """Return the orders that drawn tubes can serve, and the others of the same patients with the reason why not.

    Orders are taken by priority, then number, and each add-on counts for the next. Of several tubes the one of the
    kind that the test prefers is taken, then the one drawn last. Orders of patients without a drawn tube are in
    neither of the two.
    """
    tubes = list(drawn)
    addons: list[AddOn] = []
    not_served: list[tuple[Order, str]] = []
    for order in sorted(orders, key=lambda o: (_URGENCY[o.priority.value], o.id)):
        of_patient = [n for n, tube in enumerate(tubes) if tube.patient_id == order.patient_id]
        faults = {n: _fault(problem, tubes[n], order, now_s) for n in of_patient}
        fitting = [n for n, fault in faults.items() if fault is None]
        if fitting:
            best = min(fitting, key=lambda n: _preference(problem.test_of(order), tubes[n]))
            addons.append(_addon(problem, tubes[best], order))
            tubes[best] = _with(tubes[best], problem.test_of(order))
        elif of_patient:
            nearest = max((fault for fault in faults.values() if fault), key=lambda fault: fault.step)
            not_served.append((order, nearest.words))
    return tuple(addons), tuple(not_served)


_URGENCY = {"stat": 0, "asap": 1, "urgent": 2, "routine": 3}


@dataclass(frozen=True, slots=True)
class _Fault:
    """Why a tube cannot serve an order; ``step`` counts the questions that it stood before."""

    step: int
    words: str


def _fault(problem: Problem, drawn: DrawnTube, order: Order, now_s: int) -> _Fault | None:
    """Return the first rule that a tube breaks for an order; None when it can serve it."""
    test = problem.test_of(order)
    questions: tuple[Callable[[], str], ...] = (
        lambda: _needs_own_draw(problem, order, test),
        lambda: _kind_fault(problem, drawn, test),
        lambda: _series_fault(problem, drawn, test),
        lambda: _company_fault(problem, drawn, test),
        lambda: _handling_fault(drawn, test),
        lambda: draw_time_fault(problem, order, drawn.drawn_s),
        lambda: _closed_fault(problem, drawn, order, now_s),
        lambda: _volume_fault(problem, drawn, test),
        lambda: _stability_fault(problem, drawn, test, now_s),
    )
    for step, question in enumerate(questions):
        if words := question():
            return _Fault(step, words)
    return None


def _needs_own_draw(problem: Problem, order: Order, test: LabTest) -> str:
    if order.series is not None:
        return f"{test.code} is one of a series and needs a draw of its own"
    if order.time_in_note and not order.is_timed:
        return f"{test.code} has a note that speaks of a time and needs a draw of its own"
    if test.counts_from is not None:
        return f"{test.code} counts from what the ward gives and needs a draw of its own"
    cultures = any(problem.catalogue.tubes[code].is_culture for kinds in test.accepts for code in kinds)
    if cultures or test.handling & _NEW_SPECIMEN:
        return f"{test.code} needs a specimen drawn for it (culture or transfusion)"
    if test.share_group is None or test.containers > 1:
        return f"{test.code} needs a tube of its own"
    return ""


def _kind_fault(problem: Problem, drawn: DrawnTube, test: LabTest) -> str:
    code = drawn.tube.tube
    patient = problem.patients[drawn.patient_id]
    if method_of(patient, problem.clock.day, problem.policy.blood) is Method.CAPILLARY:
        return f"{code} was drawn from the skin, with no more than its own tests need"
    if (code,) not in test.accepts:
        accepted = " or ".join("+".join(kinds) for kinds in test.accepts)
        return f"{test.code} needs {accepted}, drawn is {code}"
    kind = problem.catalogue.tubes[code]
    if kind.filled_to_need or kind.is_culture:
        return f"{code} is filled for its own test only"
    if Handling.NO_GEL in test.handling and kind.has_gel:
        return f"{test.code} may not be in a gel tube"
    if Handling.NOT_LITHIUM_HEPARIN in test.handling and kind.has_lithium_heparin:
        return f"{test.code} may not be in a lithium heparin tube"
    return ""


def _series_fault(problem: Problem, drawn: DrawnTube, test: LabTest) -> str:
    """A test that wants one tube kind in a series is not added to another (rule ``series-kind``)."""
    made = last_kind(problem, drawn.patient_id, test) if test.one_kind_in_series else None
    if made is None or made == drawn.tube.tube:
        return ""
    return f"{test.code} was drawn into {made} before and needs the same tube kind, drawn is {drawn.tube.tube}"


def _company_fault(problem: Problem, drawn: DrawnTube, test: LabTest) -> str:
    """Tests share a tube only within one share group and transport mode (rule ``share-group``)."""
    there = _tests(problem, drawn)
    if any(other.code == test.code for other in there):
        at = problem.clock.format_clock(drawn.drawn_s)
        return f"{test.code} was drawn at {at} already; cancel the order if that result will do"
    if drawn.is_one_of_several or any(other.share_group != test.share_group or other.containers > 1 for other in there):
        return f"{test.code} may not share the tube with {', '.join(other.code for other in there)}"
    if drawn.tube.mode is not test.mode:
        return f"{test.code} travels {_MODES[test.mode]}, the tube {_MODES[drawn.tube.mode]}"
    return ""


_MODES = {TransportMode.ROOM: "at room temperature", TransportMode.ICE: "on ice", TransportMode.WARM: "at 37 C"}


def _handling_fault(drawn: DrawnTube, test: LabTest) -> str:
    """The tube was drawn and carried as its own tests ask; what else the test asks for was not done."""
    missing = test.handling - drawn.tube.handling - {Handling.NO_GEL, Handling.NOT_LITHIUM_HEPARIN}
    if drawn.tube.mode is TransportMode.ROOM:
        missing -= {Handling.NO_ICE}
    if not drawn.is_assumed:
        missing -= _TOLD_BY_THE_DRAW
    if not missing:
        return ""
    if missing == _TOLD_BY_THE_DRAW:
        return f"{test.code} needs the exact time of the draw, which nobody has told"
    return f"{test.code} asks for handling that the tube did not have: {', '.join(sorted(h.value for h in missing))}"


def _closed_fault(problem: Problem, drawn: DrawnTube, order: Order, now_s: int) -> str:
    """The laboratory must take the test when the tube was drawn and when it could begin (rule ``closed``)."""
    instants = (drawn.drawn_s, max(now_s, drawn.lab_arrival_s or now_s))
    if any(from_s <= at_s < to_s for at_s in instants for from_s, to_s in closed_spans(problem, order)):
        return f"the laboratory does not take {order.test} now"
    return ""


def _volume_fault(problem: Problem, drawn: DrawnTube, test: LabTest) -> str:
    """The tests of a tube need the largest of one alone plus what the others add (rule ``volume``)."""
    there = _tests(problem, drawn)
    holds_ul = min(drawn.tube.size_ul, drawn.tube.volume_ul)
    for_child = is_child(problem, problem.patients[drawn.patient_id])
    before_ul, after_ul = _need_ul(there, for_child), _need_ul([*there, test], for_child)
    if after_ul <= holds_ul:
        return ""
    left_ul = max(0, holds_ul - before_ul)
    return f"volume left {format_ml(left_ul)} mL, {test.code} needs {format_ml(after_ul - before_ul)} mL more"


def _need_ul(tests: Sequence[LabTest], for_child: bool) -> int:
    needs = [test.volumes_ul(is_child=for_child) for test in tests]
    return max((alone - adds for alone, adds in needs), default=0) + sum(adds for _, adds in needs)


def _stability_fault(problem: Problem, drawn: DrawnTube, test: LabTest, now_s: int) -> str:
    if drawn.lab_arrival_s is None:
        return "nobody knows when the tube reaches the laboratory"
    limit_s = _limit_s(drawn, test)
    ready_s = max(now_s, drawn.lab_arrival_s)
    if limit_s is None or ready_s <= limit_s:
        return ""
    clock, keeps_s = problem.clock, limit_s - drawn.drawn_s
    return (
        f"{test.code} keeps {format_minutes(keeps_s)} minutes, until {clock.format_clock(limit_s)}; the "
        f"laboratory could begin at {clock.format_clock(ready_s)}"
    )


def _limit_s(drawn: DrawnTube, test: LabTest) -> int | None:
    keeps_s = test.stability_in(drawn.tube.tube)
    return None if keeps_s is None else drawn.drawn_s + keeps_s


def _tests(problem: Problem, drawn: DrawnTube) -> list[LabTest]:
    """Return the tests that a tube serves, those added to it included, each once."""
    own = [problem.catalogue.tests[code] for code in drawn.tube.tests]
    return list({test.code: test for test in [*own, *drawn.added]}.values())


def _preference(test: LabTest, drawn: DrawnTube) -> tuple[int, int, str, int]:
    return test.accepts.index((drawn.tube.tube,)), -drawn.drawn_s, drawn.draw_id, drawn.tube.draw_position


def _with(drawn: DrawnTube, test: LabTest) -> DrawnTube:
    return replace(drawn, added=(*drawn.added, test))


def _addon(problem: Problem, drawn: DrawnTube, order: Order) -> AddOn:
    return AddOn(
        order_id=order.id,
        patient_id=order.patient_id,
        place=drawn.place,
        test=order.test,
        draw_id=drawn.draw_id,
        tube=drawn.tube.tube,
        draw_position=drawn.tube.draw_position,
        drawn_s=drawn.drawn_s,
        collector=drawn.collector,
        limit_s=_limit_s(drawn, problem.test_of(order)),
    )
