"""What every part of the view needs: the round, its plan, the windows of its orders, and how things are called."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from planner.domain.beds import PlaceNames, names_listed
from planner.domain.draws import DrawGap, DrawId, OrderWindow, Tube
from planner.domain.orders import NEONATE_UNDER_DAYS, Order, OrderId, Patient, PatientId
from planner.domain.patients.ages import is_limited
from planner.domain.places import PlaceId
from planner.domain.plan import ListedPerson, Plan, Route, Stop, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.stop_changes import StopChange, stop_changes
from planner.exporters.view.cards.windows import VisitWindow
from planner.exporters.view.texts import TextCleaner
from planner.exporters.view.words import UNCONFIRMED, birth_words, time_words

_CHANGED_NAMED = 8
"""So many changed tests and tube kinds are named on a sheet; `planner check` names all."""


@dataclass(frozen=True, slots=True)
class ViewContext:
    """The round, the windows of its orders, and the cleaner of texts."""

    problem: Problem
    plan: Plan
    windows: Mapping[OrderId, OrderWindow]
    clean: TextCleaner
    checked: Mapping[OrderId, tuple[str, ...]] = field(default_factory=dict)
    """What a person should look at first, by order: printed on the card, whose reader may hold nothing else."""
    gaps: tuple[DrawGap, ...] = ()
    """What the visits to come keep between one another (see ``planner.visits.linked``)."""
    dues_s: Mapping[OrderId, int] = field(default_factory=dict)
    """When stat and asap orders should be in the laboratory (see ``planner.visits.to_laboratory``)."""
    changes: tuple[StopChange, ...] = field(init=False)
    """What a replanned round changes for the people who walk it."""

    names: PlaceNames = field(init=False)
    visits: Mapping[DrawId, Visit] = field(init=False)
    """The visits of all routes, by draw."""
    _orders: Mapping[OrderId, tuple[int, Order]] = field(init=False)
    """The orders by number, each with its place in the list."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "changes", stop_changes(self.problem, self.plan))
        object.__setattr__(self, "names", self.problem.place_names)
        object.__setattr__(self, "visits", {v.draw_id: v for route in self.plan.routes for v in route.visits})
        object.__setattr__(self, "_orders", {o.id: (n, o) for n, o in enumerate(self.problem.orders)})

    def clock(self, seconds: int) -> str:
        """Return HH:MM as the ward's wall shows it."""
        return time_words(self.problem.clock, seconds)

    def place(self, place_id: PlaceId) -> str:
        """Return what a place is called, a bed with its ward on a round of several wards (see `PlaceNames`)."""
        return self.clean(self.names(place_id))

    def label(self, place_id: PlaceId) -> str:
        """Return the name of a place without its ward, to be printed beside or under it."""
        place = self.problem.places.get(place_id)
        return self.clean((place.label if place else "") or place_id)

    def beds(self, place_ids: Iterable[PlaceId]) -> str:
        """Return beds one after the other, each once: 'bed 3', 'beds Heron 3A, Rowan 3A'."""
        names = list(dict.fromkeys(self.place(place_id) for place_id in place_ids))
        return f"bed{'s' * (len(names) > 1)} {names_listed(names)}"

    def counted_beds(self, place_ids: Iterable[PlaceId]) -> str:
        """Return beds with how often each is named: 'beds Heron 3A: 2; Rowan 3A: 1'."""
        counts = Counter(place_ids)
        counted = "; ".join(f"{self.place(bed)}: {number}" for bed, number in counts.items())
        return f"bed{'s' * (len(counts) > 1)} {counted}"

    def person(self, phlebotomist: int) -> str:
        """Return what a phlebotomist is called, with the initials where several have one name."""
        person = self.problem.staff[phlebotomist]
        name, initials = self.clean(person.name), self.clean(person.initials)
        return f"{name} ({initials})" if self.is_named_alike(phlebotomist) else name or initials

    def is_named_alike(self, phlebotomist: int) -> bool:
        """Return whether another phlebotomist has the same name, so that the initials stand with it."""
        name = self.problem.staff[phlebotomist].name
        alike = sum(other.name.casefold() == name.casefold() for other in self.problem.staff)
        return bool(self.clean(name)) and alike > 1

    @property
    def unconfirmed(self) -> str:
        """What every sheet says where the laboratory has not confirmed the values in use; empty where it has."""
        confirmed = self.problem.confirmation
        if confirmed is None:
            return UNCONFIRMED
        if confirmed.is_valid:
            return ""
        codes = [self.clean(code) for code in confirmed.changed]
        more = f" and {len(codes) - _CHANGED_NAMED} more" if len(codes) > _CHANGED_NAMED else ""
        return f"{UNCONFIRMED} since {confirmed.when[:10]}: {', '.join(codes[:_CHANGED_NAMED])}{more}"

    def called(self, orders: Iterable[Order]) -> tuple[str, ...]:
        """Return the tests of orders as the order list names them, each once, in order of their names."""
        return tuple(sorted({self.clean(order.called) for order in orders}))

    def tests_in(self, tube: Tube) -> tuple[str, ...]:
        """Return the tests that a tube serves as the order list names them, in their order; a code without an order."""
        names: dict[str, dict[str, None]] = {code: {} for code in tube.tests}
        for order in self._listed(tube.order_ids):
            if order.test in names:
                names[order.test][self.clean(order.called)] = None
        return tuple(name for code, own in names.items() for name in own or (self.clean(code),))

    def orders_of(self, visit: Visit) -> tuple[Order, ...]:
        """Return the orders that a visit serves."""
        return self._listed(visit.order_ids)

    def _listed(self, order_ids: Iterable[OrderId]) -> tuple[Order, ...]:
        """Return the orders of the round that have these numbers, each once, as the order list has them."""
        found = {order_id: self._orders[order_id] for order_id in order_ids if order_id in self._orders}
        return tuple(order for _, order in sorted(found.values(), key=lambda placed: placed[0]))

    def window_of(self, visit: Visit) -> VisitWindow:
        """Return the window that the visit's orders have in common."""
        return VisitWindow.of(visit, self.windows_of(visit))

    def windows_of(self, visit: Visit) -> list[OrderWindow]:
        """Return the windows of the visit's orders."""
        return [self.windows[o] for o in visit.order_ids if o in self.windows]

    def num_past(self, route: Route) -> int:
        """Return how many stops of a route were made before this revision, or are being made; 0 when planned afresh."""
        past = self.problem.replan.past if self.problem.replan else ()
        return next((len(p.stops) for p in past if p.phlebotomist == route.phlebotomist), 0)

    def begins(self, route: Route) -> tuple[int, PlaceId]:
        """Return when and where a route begins, or goes on when the round is replanned."""
        person = self.problem.staff[route.phlebotomist]
        past = self.problem.replan.past if self.problem.replan else ()
        return next(
            ((p.free_s, p.place) for p in past if p.phlebotomist == route.phlebotomist),
            (person.from_s, person.starts_at),
        )

    def coming(self, route: Route) -> tuple[tuple[int, Stop], ...]:
        """Return the stops of a route that are still to come, each with its number (from 1 over the whole route)."""
        num_past = self.num_past(route)
        return tuple(enumerate(route.stops[num_past:], start=num_past + 1))

    def visits_to_come(self, route: Route) -> tuple[Visit, ...]:
        """Return the visits of a route that are still to come."""
        return tuple(stop for _, stop in self.coming(route) if isinstance(stop, Visit))


def name_words(context: ViewContext, patient: Patient | ListedPerson) -> str:
    """Return family name, given name."""
    return context.clean(", ".join(n for n in (patient.family_name, patient.given_name) if n)) or "Name not on file"


def who_words(context: ViewContext, patient_id: PatientId) -> str:
    """Return name and birth date of a patient, as they are said over the phone; the number where no date is known."""
    patient = context.problem.patients[patient_id]
    born = patient.birth_date
    known = f"born {birth_words(born)}" if born is not None else f"number {context.clean(patient.id)}"
    return f"{name_words(context, patient)}, {known}"


def born_words(context: ViewContext, patient: Patient) -> str:
    """Return the birth date as far as it is known, with age, sex and the weight that the blood limits went by."""
    age = patient.age_years(context.problem.clock.day)
    details = [] if age is None else [_age_words(context, patient, age), context.clean(patient.sex)]
    if is_limited(context.problem, patient) and patient.weight_g is not None:
        details.append(f"{patient.weight_g / 1000:.1f} kg")
    born = "not on file" if patient.birth_date is None else birth_words(patient.birth_date)
    told = ", ".join(d for d in details if d)
    return f"{born} ({told})" if told else born


def _age_words(context: ViewContext, patient: Patient, years: int) -> str:
    """Return the youngest age that the birth date allows: days under 28, months under two years, else years."""
    days = patient.youngest_days(context.problem.clock.day)
    if days is None or years >= 2:
        return f"{years} y"
    if days < NEONATE_UNDER_DAYS:
        return f"{days} d"
    return f"{days * 10_000 // 304_375} mo"  # a month has 30.4375 days, as WHO counts ages
