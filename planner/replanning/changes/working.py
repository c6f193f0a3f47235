"""A round while changes are applied to it: what it is by now, the events, and what was found."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TypeVar

from planner.domain.beds import PlaceNames, find_beds, nearest_beds, which_bed
from planner.domain.order_numbers import find_patient
from planner.domain.orders import Order, OrderId, Patient, PatientId
from planner.domain.places import PickupKind, Place, PlaceId
from planner.domain.plan import Outcome, Plan, Reason, Unplanned, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Refused
from planner.domain.revisions.events import Event, Happening
from planner.domain.revisions.replan import Held
from planner.finding_codes import Code
from planner.findings import Finding, Report, Severity
from planner.units import RoundClock

H = TypeVar("H")


@dataclass(frozen=True, slots=True, kw_only=True)
class PeopleChange:
    """What became of those who collect, by their index in the staff: not before when they can go on, and who is out."""

    ready_s: dict[int, int] = field(default_factory=dict)
    lost: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """The round after the changes.

    ``events`` are the changes that were applied, to be kept in the log. ``added`` are the orders that are new,
    ``recollect`` drawn orders that are to be drawn again.
    """

    problem: Problem
    people: PeopleChange
    events: tuple[Event, ...]
    added: tuple[OrderId, ...]
    recollect: frozenset[OrderId]
    findings: tuple[Finding, ...]
    refused: tuple[Refused, ...] = ()


class Working:
    """The parts of a problem that changes change, and the look-ups that they need."""

    def __init__(
        self,
        problem: Problem,
        plan: Plan,
        now_s: int,
        drawn: Collection[OrderId],
        reported: Collection[int] = (),
        assumed: Mapping[OrderId, Held] | None = None,
    ) -> None:
        self.problem = problem
        self.plan = plan
        self.now_s = now_s
        self.drawn = frozenset(drawn)
        self.assumed = assumed or {}
        self.patients: dict[PatientId, Patient] = dict(problem.patients)
        self.orders: dict[OrderId, Order] = {o.id: o for o in problem.orders}
        self.set_aside: dict[OrderId, Unplanned] = {u.order_id: u for u in problem.set_aside}
        self.places: dict[PlaceId, Place] = dict(problem.places)
        self.corridors = problem.corridors
        self.walking = problem.walking
        self.staff = list(problem.staff)
        self.pickups = list(problem.pickups)
        self.ready_s: dict[int, int] = {}
        self.lost: set[int] = set()
        self.events: list[Event] = []
        self.added: list[OrderId] = []
        self.recollect: set[OrderId] = set()
        self.report = Report()
        self.option = ""
        """The option whose changes are being applied: it stands before what is said of a fault."""
        self.typed = ""
        """The text behind the option."""
        self.refused: list[Refused] = []
        self._reported = frozenset(reported)
        self._instead: tuple[str, str] | None = None
        self._log = problem.replan.log if problem.replan else ()

    @property
    def clock(self) -> RoundClock:
        """The round's clock."""
        return self.problem.clock

    def words(self, seconds: int) -> str:
        """Return a clock time."""
        return self.clock.format_clock(seconds)

    def near_now(self, wall_s: int) -> int:
        """Return the instant of a clock time on the day that brings it nearest to now."""
        return self.clock.near(wall_s, self.now_s)

    def log(self) -> tuple[Event, ...]:
        """Return all events so far."""
        return (*self._log, *self.events)

    def happened(self, kind: type[H]) -> list[H]:
        """Return what of a kind happened in this morning so far, in its order."""
        return [event.what for event in self.log() if isinstance(event.what, kind)]

    def knows(self, what: Happening) -> bool:
        """Return whether the same happened already."""
        return any(event.what == what for event in self.log())

    def courier_at(self, place: PlaceId) -> int:
        """Return the index of the pickup of the courier who calls at a place."""
        return next(n for n, p in enumerate(self.pickups) if p.place == place and p.kind is PickupKind.COURIER)

    def say(self, code: Code, severity: Severity, message: str, order_ids: Iterable[str] = ()) -> None:
        """Add a finding."""
        self.report.add(code, severity, message, order_ids=order_ids)

    def error(self, code: Code, message: str, order_ids: Iterable[str] = ()) -> None:
        """Add the finding of a change that is not applied."""
        option = f"--{self.option}: " if self.option else ""
        finding = Finding(
            code=code, severity=Severity.ERROR, message=f"{option}{message}", order_ids=tuple(map(str, order_ids))
        )
        self.report.extend([finding])
        if self.option != "orders" and code != "order-drawn":
            wrong, right = self._instead or ("", "")
            self.refused.append(
                Refused(option=self.option, typed=self.typed, finding=finding, wrong=wrong, instead=right)
            )
        self._instead = None

    def drawn_already(self, code: Code, order_id: OrderId, so: str, advice: str) -> None:
        """Say of an order that is drawn, or only counts so, why something is not applied to it, and what to do.

        Where nobody reported the draw, whoever counts as having made it is asked first.
        """
        held = self.assumed.get(order_id)
        if held is None:
            message = f"order {order_id} is drawn already; {so}. {advice}"
        else:
            who, at = self.staff[held.phlebotomist].initials, self.words(held.draw_s)
            message = (
                f"order {order_id} counts as drawn at {at} by {who}, which nobody reported; {so}. Ask {who}: if it is "
                f"drawn: {advice[:1].lower()}{advice[1:]}; if not, give what {who} has done (--done), then this again"
            )
        self.error(code, message, [order_id])

    def instead(self, wrong: str, right: str) -> None:
        """Say which part of what was typed is not clear, and what alone can have been meant; empty: nobody can say.

        It belongs to the next error. A bed, a patient or an order is never put right by likeness or order.
        """
        self._instead = (wrong, right)

    def has_reported(self, phlebotomist: int) -> bool:
        """Return whether a visit of somebody was reported."""
        return phlebotomist in self._reported

    def say_known(self, what: str, advice: str = "") -> None:
        """Add the note on a change that was given before."""
        self.say("change-known", Severity.NOTE, f"{what}: known already; not applied again{advice}")

    def bed_words(self, bed: PlaceId) -> str:
        """Return what a bed, or another place, is called."""
        return PlaceNames(self.places.values())(bed)

    def bed(self, text: str, unless_new: str = "") -> PlaceId | None:
        """Return the bed that a text means; None with a finding. ``unless_new``: how to write a bed that is new."""
        found = find_beds(self.places.values(), text)
        if len(found) == 1:
            return found[0]
        self.instead(text, "")
        if found:
            message = which_bed(text, map(self.bed_words, found))
        else:
            message = f"bed {text!r} is not in this round. {nearest_beds(self.places.values(), text)}"
            if unless_new:
                message += f". If there is such a bed all the same, add --new-bed {unless_new!r}"
        self.error("bed-not-found", message)
        return None

    def patients_at(self, bed: PlaceId) -> list[Patient]:
        """Return the patients who lie in a bed now."""
        return [p for p in self.patients.values() if p.bed == bed and p.gone_s is None]

    def selected(self, text: str) -> Patient | None:
        """Return the one patient whom a text means: by the bed in which they lie, else by patient or order number."""
        beds = find_beds(self.places.values(), text)
        here = self.patients_at(beds[0]) if len(beds) == 1 else []
        if here:
            return here[0] if len(here) == 1 else None
        return find_patient(self.patients, self.order_patients(), text)

    def order_patients(self) -> Mapping[OrderId, PatientId]:
        """Return whose every order of the round is."""
        aside = {u.order_id: u.patient_id for u in self.set_aside.values() if u.patient_id is not None}
        return {**aside, **{order.id: order.patient_id for order in self.orders.values()}}

    def patient(self, text: str) -> Patient | None:
        """Return the patient whom a text means, and who is still there; None with a finding."""
        if (patient := self.selected(text)) is not None and patient.gone_s is None:
            return patient
        if patient is not None:
            message = f"the patient of bed {self.bed_words(patient.bed)} was gone at {self.words(patient.gone_s or 0)}"
            self.error("bed-empty", message)
            return None
        bed = self.bed(text)
        if bed is None:
            return None
        found = self.patients_at(bed)
        if found:
            message = (
                f"{len(found)} patients of this round are in bed {self.bed_words(bed)}; write the patient or an order "
                "number instead of the bed"
            )
            self.error("bed-occupied", message)
        else:
            message = (
                f"no patient of this round lies in bed {self.bed_words(bed)}; for a new patient give an order list "
                "with patient number and bed: --orders FILE"
            )
            self.error("bed-empty", message)
        return None

    def order_ids(self) -> list[OrderId]:
        """Return the numbers of all orders of the round, those set aside included."""
        return [*self.orders, *self.set_aside]

    def put_aside(self, order: Order, reason: Reason, detail: str) -> None:
        """Take an order out of those to plan, and list it with its reason."""
        self.orders.pop(order.id, None)
        patient = self.patients.get(order.patient_id)
        self.set_aside[order.id] = Unplanned.of(order, reason, detail, bed="" if patient is None else patient.bed)

    def to_come(self) -> frozenset[OrderId]:
        """Return the orders of visits that the plan still has to make."""
        visits = [v for route in self.plan.routes for v in route.visits]
        return frozenset(i for v in visits if v.outcome is None and v.draw_s > self.now_s for i in v.order_ids)

    def result(self) -> Changed:
        """Return the changed round."""
        problem = replace(
            self.problem,
            patients=dict(sorted(self.patients.items())),
            orders=tuple(sorted(self.orders.values(), key=lambda o: o.id)),
            set_aside=tuple(self.set_aside.values()),
            places=self.places,
            corridors=self.corridors,
            walking=self.walking,
            staff=tuple(self.staff),
            pickups=tuple(self.pickups),
        )
        return Changed(
            problem=problem,
            people=PeopleChange(ready_s=dict(self.ready_s), lost=frozenset(self.lost)),
            events=tuple(self.events),
            added=tuple(self.added),
            recollect=frozenset(self.recollect),
            findings=tuple(self.report),
            refused=tuple(self.refused),
        )


_BROUGHT_BLOOD = frozenset({None, Outcome.COLLECTED, Outcome.PARTIAL})
"""None: due and not told otherwise."""


def drawn_orders(plan: Plan, now_s: int) -> frozenset[OrderId]:
    """Return the orders whose blood is drawn by now: told so, or due and not told otherwise."""
    visits: list[Visit] = [v for route in plan.routes for v in route.visits]
    made = [v for v in visits if v.outcome in _BROUGHT_BLOOD and v.draw_s <= now_s]
    return frozenset(i for v in made for i in v.order_ids if i not in v.tried)
