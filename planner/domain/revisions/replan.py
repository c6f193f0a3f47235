"""A round that has begun: what happened by now and stays, what the last sheet promised, and what was added since."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from planner.domain.catalogue import TestCode, TubeCode
from planner.domain.draws import DrawId
from planner.domain.orders import OrderId, PatientId
from planner.domain.places import PickupKind, PlaceId
from planner.domain.plan import Stop, Visit
from planner.domain.revisions.events import Event, PhlebotomistLost, PhlebotomistNeverCame


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """The stops that one phlebotomist has made or is making, and where and when she is free to go on.

    A visit among ``stops`` has an outcome, its instants are the true ones as far as they are known, and a tube of it
    without a hand-over is still in her tray. ``assumed`` are the indices of stops of which nobody said that they
    took place. ``free_s`` is never before ``Replan.now_s``.
    """

    phlebotomist: int
    stops: tuple[Stop, ...]
    place: PlaceId
    free_s: int
    assumed: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """Whose visit one was on a sheet that counts no more, drawn when, and until when that sheet counted.

    ``is_stat``: a stat was to be drawn at that visit.
    """

    phlebotomist: int
    draw_s: int
    until_s: int
    is_stat: bool = False

    @property
    def is_due(self) -> bool:
        """Whether the draw was due while the sheet counted: it may have been made."""
        return self.draw_s <= self.until_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Promised:
    """A visit to come, as the last sheet has it: who makes it, as which of their visits to come (from 0), and when.

    ``walking_on_s`` is when it would be drawn if its phlebotomist walked on in the order of the last sheet, from where
    they are and are free now; None: not known (files of older versions), it is then as promised. ``earlier`` says
    whose it was on older sheets, the oldest first: those on which it was due, or somebody else's. ``is_stat``: a stat
    is drawn at it.
    """

    draw_id: DrawId
    patient_id: PatientId
    place: PlaceId
    order_ids: tuple[OrderId, ...]
    phlebotomist: int
    position: int
    draw_s: int
    walking_on_s: int | None = None
    earlier: tuple[Held, ...] = ()
    is_stat: bool = False

    @property
    def due_s(self) -> int:
        """When the visit is to be expected: as promised, or as late as its phlebotomist is anyway."""
        return self.draw_s if self.walking_on_s is None else max(self.draw_s, self.walking_on_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class PromisedPause:
    """A hand-over to come on the last sheet, or a break (``kind`` None), and how many visits to come are before it."""

    phlebotomist: int
    num_before: int
    place: PlaceId
    kind: PickupKind | None = None
    departs_s: int | None = None
    """When the courier leaves whom the last sheet has there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """A visit that a report ended before anybody went there: whose it was, and the visit with what was reported."""

    phlebotomist: int
    visit: Visit


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """The visits of the revision for which a phlebotomist took supplies along: what is at hand, less what was used.

    Who had no visit then took nothing. Who has not set out yet, or joins now, has no entry: they load for this one.
    """

    phlebotomist: int
    revision: int
    visits: tuple[Visit, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Retry:
    """An order that is drawn again: by nobody of ``not_by``, and not before ``not_before_s``."""

    order_id: OrderId
    not_by: frozenset[int] = frozenset()
    not_before_s: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AddOn:
    """An order that a tube already drawn can serve: the laboratory is phoned, nobody is punctured.

    ``drawn_s`` is when the tube was drawn, ``limit_s`` the last second at which the test may begin; None: no limit
    is stated. ``collector`` are the initials on the label.
    """

    order_id: OrderId
    patient_id: PatientId
    place: PlaceId
    test: TestCode
    draw_id: DrawId
    tube: TubeCode
    draw_position: int
    drawn_s: int
    collector: str
    limit_s: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Replan:
    """What a replanned round goes on from.

    ``events`` are those that made this revision, ``log`` all that are in force, these included, in their order.
    ``past`` has one entry a phlebotomist, in the order of the staff.
    """

    parent: int
    now_s: int
    past: tuple[Past, ...]
    events: tuple[Event, ...] = ()
    log: tuple[Event, ...] = ()
    goes_on_from: int | None = None
    """The revision whose round this one goes on with, when that is not the parent: what came between is taken back."""
    taken_back: tuple[Event, ...] = ()
    """The events that this revision takes back."""
    notes: tuple[str, ...] = ()
    """What a plan file of schema 1 says was given up to it: words, which nothing reads but a person."""
    promised: tuple[Promised, ...] = ()
    came_back: tuple[Promised, ...] = ()
    """Visits that somebody was told to leave out by what is taken back, as they were before: they come after all."""
    answered: tuple[Answered, ...] = ()
    """Visits that reports ended before anybody went there: they are in nobody's past."""
    pauses: tuple[PromisedPause, ...] = ()
    """The other stops to come of the last sheet: from them the search begins."""
    retries: tuple[Retry, ...] = ()
    addons: tuple[AddOn, ...] = ()
    joined: frozenset[int] = frozenset()
    """Who has no older sheet: those who join in this revision."""
    loaded: tuple[Loaded, ...] = ()
    """What those who have set out took along, by phlebotomist."""

    def held(self, order_ids: Iterable[OrderId]) -> tuple[Held, ...]:
        """Return on whose sheets a visit to come was up to now, the oldest first, but for those who never came."""
        absent = {event.what.phlebotomist for event in self.log if isinstance(event.what, PhlebotomistNeverCame)}
        own = set(order_ids)
        last = [
            Held(phlebotomist=one.phlebotomist, draw_s=one.draw_s, until_s=self.now_s, is_stat=one.is_stat)
            for one in self.promised
            if own.intersection(one.order_ids)
        ]
        older = (
            held for one in (*self.promised, *self.came_back) if own.intersection(one.order_ids) for held in one.earlier
        )
        found = (held for held in (*older, *last) if held.phlebotomist not in absent)
        return tuple(sorted(dict.fromkeys(found), key=lambda held: held.until_s))

    def unanswered(self, order_ids: Iterable[OrderId]) -> tuple[Held, ...]:
        """Return on whose sheets visits of some orders were due at which a stat was to be drawn: nobody reported them.

        A stat that was ordered after its bed was due is not what was due then.
        """
        return tuple(one for one in self.held(order_ids) if one.is_due and one.is_stat)

    @property
    def returning(self) -> frozenset[int]:
        """Who was said by mistake not to come, or to collect no more; they hold the sheet that they had before."""
        gone = (event.what for event in self.taken_back)
        return frozenset(
            what.phlebotomist for what in gone if isinstance(what, PhlebotomistNeverCame | PhlebotomistLost)
        )

    @property
    def kept_from(self) -> tuple[Promised, ...]:
        """What moving a stop is counted from: the last sheet, but for the stops of `returning` their own sheets."""
        own = [one for one in self.came_back if one.phlebotomist in self.returning]
        theirs = {order_id for one in own for order_id in one.order_ids}
        return (*(one for one in self.promised if not theirs.intersection(one.order_ids)), *own)

    @property
    def assumed(self) -> frozenset[DrawId]:
        """The visits of the past that count as made although nobody reported them."""
        stops = (past.stops[n] for past in self.past for n in past.assumed)
        return frozenset(stop.draw_id for stop in stops if isinstance(stop, Visit))

    @property
    def visits(self) -> tuple[Visit, ...]:
        """All visits of the past, by phlebotomist, in the order in which they were made."""
        return tuple(stop for past in self.past for stop in past.stops if isinstance(stop, Visit))

    @property
    def ended(self) -> tuple[Visit, ...]:
        """All visits that are over or under way: those of the past, and those to which nobody went after a report."""
        return (*self.visits, *(one.visit for one in self.answered))
