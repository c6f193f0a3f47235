"""One shared view of a round, ready to print: every sheet, page and list says what stands here, in these words.

All texts are cleaned and in their final wording; times are HH:MM as the ward's wall shows them. Nothing here is a
number to reckon with, except counts that a sheet adds up or aligns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from planner.domain.orders import Priority
from planner.exporters.view.drawn.pictures import MapView, TimelineView
from planner.exporters.view.marks import marks_used
from planner.exporters.view.notes.changes import DoneLine, NoteLine, ReplanView
from planner.exporters.view.rows import (
    CheckLine,
    CollectionLine,
    DecisionGroup,
    DecisionLine,
    GoalLine,
    LateLine,
    SupplyLine,
    TestKey,
    TubeKey,
    WhatIfLine,
    alike_together,
    orders_counted,
)
from planner.exporters.view.stop_view import HandoverView, StopView, VisitView
from planner.exporters.view.words import NEWEST, PRICES_TRIED

WHOLE = "round-sheet"
"""The name of the files of the whole round, without the ending."""

_HEADER_LETTERS = 38
"""Letters at the left of a header, so that the middle has room."""
NAME_LETTERS = 28
"""Letters in the middle of a header."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteView:
    """The round of one phlebotomist."""

    name: str
    """With the initials where several have one name."""
    staff_index: int
    initials: str
    has_initials: bool
    """True where the name already holds the initials."""
    starts: str
    ends: str
    summary: str
    stops: tuple[StopView, ...]
    """Stops still to come: all of them, unless the round is replanned."""
    cold: tuple[str, ...] = ()
    """Tubes on ice, by bed."""
    first_walk: str = ""
    """The way to the first stop, on a round of one ward."""
    shaped: str = ""
    """The share of the visits and what shaped the route; empty where nobody else is there."""
    done: tuple[DoneLine, ...] = ()
    tray: tuple[str, ...] = ()
    """What she carries at the instant of the revision, by hand-over."""
    unconfirmed: str = ""
    """That the laboratory has not confirmed its values; empty where it has."""
    bedside: tuple[str, ...] = ()
    """What the laboratory's rows say of tests that many beds have: once for all, above the stops."""
    lacking: str = ""
    """What is not among the supplies that were loaded for an earlier revision; empty where nothing lacks."""
    packet: str = WHOLE
    """The name of the files that hold this route alone, without the ending."""
    loading: str = ""
    """When to begin to load, and in which order; empty where nothing is to be loaded."""
    newest: str = NEWEST
    """The first line: whether this is the newest sheet, and which one it replaces."""
    break_after: str = ""
    """The break that is taken when the route is done; empty where it is on the route, or nobody owes one."""
    sign_out: tuple[str, ...] = ()
    """What is written when the route is done, a line each; empty where there was nothing to do."""
    what_if: tuple[WhatIfLine, ...] = ()
    """The what-if card: a line for each thing that may go wrong on this route."""
    note: tuple[NoteLine, ...] = ()
    """The change note, to be read out; empty unless the round is replanned."""
    is_idle: bool = False
    """Nothing is left to do, in a round that is replanned: no page is printed."""

    @property
    def num_stops(self) -> int:
        """The number of the last stop: those that were made before a revision are counted."""
        return max((stop.number for stop in self.stops), default=0)

    @property
    def map_words(self) -> str:
        """How the map is read, and the way to the first stop where places on it have names."""
        walk = f" First walk: {self.first_walk}." if self.first_walk else ""
        return f"Black box: bed, with the number of its stop beside it. Grey box: other stops.{walk}"

    @property
    def called(self) -> str:
        """Name with initials, as lists name her."""
        is_said = self.initials in ("", self.name) or self.has_initials
        return self.name if is_said else f"{self.name} ({self.initials})"

    @property
    def visits(self) -> tuple[VisitView, ...]:
        """The stops at beds."""
        return tuple(stop for stop in self.stops if isinstance(stop, VisitView))

    @property
    def hand_overs(self) -> str:
        """Where specimens leave her hands: 'Courier leaves 07:05, Courier shelf; Tube station 6 times'."""
        counts: dict[str, int] = {}
        for stop in self.stops:
            if isinstance(stop, HandoverView):
                said = f"{stop.what}, {stop.place}" if stop.leaves else stop.place
                counts[said] = counts.get(said, 0) + 1
        return "; ".join(said if n == 1 else f"{said} {n} times" for said, n in counts.items()) or "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundView:
    """A whole round, ready to print."""

    title: str
    date: str
    wards: str
    has_several_wards: bool
    """True when every bed is named with its ward."""
    revision: str
    printed: str
    """When the sheet was made; empty when that is to be left out."""
    confidentiality: str
    summary: tuple[str, ...]
    decisions: tuple[DecisionLine, ...]
    late: tuple[LateLine, ...]
    checks: tuple[CheckLine, ...]
    """Warnings that a person should look at."""
    for_information: tuple[DecisionLine, ...]
    """Orders that are not planned and need no decision; on a packet those of its own patients."""
    routes: tuple[RouteView, ...]
    collections: tuple[CollectionLine, ...]
    supplies: tuple[SupplyLine, ...]
    spare_rule: str
    phones: tuple[tuple[str, str], ...]
    """Whom to phone, with number or room to write it, and on which occasions."""
    numbers: tuple[str, ...] = ()
    """The numbers among them that a telephone can dial."""
    ends_at: str = ""
    """End of the round, ISO 8601 with offset: from it a page counts how long it keeps what is ticked."""
    page_keeps_s: int = 0
    """How long it does so (policy ``sheet.page_keeps``), in seconds."""
    others: tuple[str, ...] = ()
    """Who else walks, on a sheet made for one person."""
    goals: tuple[GoalLine, ...]
    prices: tuple[str, ...] = ()
    """Those by which the plan was made and that are not the site's."""
    stats: tuple[str, ...] = ()
    """Of each stat: when it is drawn, when it is in the laboratory, what it waits for."""
    assumptions: tuple[str, ...]
    tube_key: tuple[TubeKey, ...]
    test_key: tuple[TestKey, ...]
    marks_key: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    map: MapView
    timeline: TimelineView
    number: int = 1
    """Of the revision."""
    stem: str = WHOLE
    """The name of the files that hold the view, without the ending."""
    unconfirmed: str = ""
    """That the laboratory has not confirmed its values; empty where it has."""
    replan: ReplanView | None = None
    """What a revision that goes on from another says first."""

    @property
    def header(self) -> tuple[str, str]:
        """What stands at the left and at the right above every page: ward and date, the revision."""
        room = _HEADER_LETTERS - len(self.date)
        wards = self.wards if len(self.wards) <= room else f"{self.wards[: room - 3].rstrip()}..."
        return f"{wards} {self.date}", self.revision

    @property
    def heading(self) -> str:
        """What stands first: the round; on a packet whose it is."""
        return f"{self.routes[0].name}: {self.title}" if self.is_packet else self.title

    @property
    def newest(self) -> str:
        """Asks on the first page of a packet whether it is the newest."""
        return self.routes[0].newest if self.is_packet else ""

    @property
    def decision_groups(self) -> tuple[DecisionGroup, ...]:
        """The decisions by reason: first those about a stat, then those in which nobody may draw, then the largest."""
        groups: dict[tuple[str, str], list[DecisionLine]] = {}
        for line in self.decisions:
            groups.setdefault((line.what, line.action), []).append(line)

        def place(key: tuple[str, str]) -> tuple[object, ...]:
            has_stat = any(line.priority is Priority.STAT for line in groups[key])
            return not has_stat, not any(line.forbids for line in groups[key]), -len(groups[key]), key

        return tuple(
            DecisionGroup(what=key[0], action=key[1], lines=alike_together(groups[key]))
            for key in sorted(groups, key=place)
        )

    @property
    def decision_count(self) -> str:
        """How much there is to decide: '3 orders, 1 STAT, not planned', '5 orders, 2 of them planned'."""
        of_list = sum(line.is_of_list for line in self.decisions)
        orders = [line for line in self.decisions if not line.is_of_list]
        planned = sum(line.num_orders for line in orders if line.is_planned)
        words = [f"{of_list} about the list"] if of_list else []
        if orders:
            words.append(orders_counted(orders) + (f", {planned} of them planned" if planned else ", not planned"))
        return "; ".join(words)

    @property
    def supply_heads(self) -> tuple[str, ...]:
        """What stands above the numbers of the supplies list."""
        if len(self.routes) == 1:
            return "Needed", "Spare", "Take"
        return (*(route.initials for route in self.routes), "In all")

    @property
    def supply_note(self) -> str:
        """The spare rule, and whose initials stand above the numbers."""
        people = ", ".join(
            route.name if route.has_initials else f"{route.initials} = {route.name}" for route in self.routes
        )
        columns = " Below initials: needed + spare, to be taken by that person." if len(self.routes) > 1 else ""
        return f"{people}.{columns} {self.spare_rule}" if people else self.spare_rule

    @property
    def cold_lines(self) -> tuple[str, ...]:
        """All tubes on ice, by bed; by person where several walk."""
        many = len(self.routes) > 1
        return tuple(f"{route.initials}, {line}" if many else line for route in self.routes for line in route.cold)

    def supply_cells(self, line: SupplyLine) -> tuple[str, ...]:
        """Return the numbers of one thing to take along, as `supply_heads` names them."""
        if len(self.routes) == 1:
            return str(line.needed[0]), str(line.spares[0]), str(line.total)
        own = (f"{n} + {s}" if n else "" for n, s in zip(line.needed, line.spares, strict=True))
        return (*own, str(line.total))

    @property
    def judged(self) -> str:
        """How good the plan is, tier by tier: the total, what is known of better plans, and the parts."""
        said = "; ".join(map(_said, self.goals))
        if not said:
            return ""
        stats = f" Stat: {'; '.join(self.stats)}." if self.stats else ""
        prices = f" {PRICES_TRIED}: {'; '.join(self.prices)}." if self.prices else ""
        return f"{said}.{stats}{prices}"

    @property
    def is_packet(self) -> bool:
        """True for what one person holds, and nobody else."""
        return self.stem != WHOLE

    @property
    def index(self) -> str:
        """Which files hold the packets; empty on a packet."""
        if self.is_packet:
            return ""
        named = ", ".join(f"{route.packet} ({route.name})" for route in self.routes if route.stops)
        return f"Packets to hand out, .xlsx to print and .html for a phone: {named}." if named else ""

    @property
    def loading(self) -> str:
        """When and how to load, on a packet."""
        return self.routes[0].loading if len(self.routes) == 1 else ""

    @property
    def packets(self) -> tuple[RoundView, ...]:
        """The view of each phlebotomist alone who has stops to come."""
        return tuple(self.of_person(route.staff_index) for route in self.routes if route.stops)

    def of_person(self, staff_index: int) -> RoundView:
        """Return the packet of one phlebotomist: the only sheets that this person may hold."""
        kept = [i for i, route in enumerate(self.routes) if route.staff_index == staff_index]
        own = self.routes[kept[0]]
        return replace(self._of_routes(kept), stem=own.packet, summary=(f"Start {own.starts}", own.summary))

    def only_for(self, name: str) -> RoundView:
        """Return the view with the routes of one phlebotomist (name or initials), her collections and her pictures."""
        wanted = name.casefold()
        by_initials = [i for i, r in enumerate(self.routes) if r.initials.casefold() == wanted]
        return self._of_routes(by_initials or [i for i, r in enumerate(self.routes) if r.name.casefold() == wanted])

    def _of_routes(self, kept: Sequence[int]) -> RoundView:
        people = {self.routes[i].staff_index for i in kept}
        tubes = [tube for i in kept for visit in self.routes[i].visits for tube in visit.tubes]
        late = tuple(line for line in self.late if line.staff_index in people)
        numbers = {visit.patient_number for i in kept for visit in self.routes[i].visits}
        for_information = tuple(line for line in self.for_information if line.patient_number in numbers)
        listed = (*self.decisions, *for_information)
        own = (*(x.test_names for x in tubes), *(x.test_names for x in listed), *(x.test_names for x in late))
        named = {name for names in own for name in names}
        return replace(
            self,
            others=tuple(route.name for i, route in enumerate(self.routes) if i not in kept),
            goals=(),  # how good the plan is, is said to whom all of it is given
            routes=tuple(self.routes[i] for i in kept),
            collections=tuple(c for c in self.collections if c.staff_index in people),
            late=late,
            for_information=for_information,
            checks=tuple(line for line in self.checks if line.people is None or line.people & people),
            tube_key=tuple(key for key in self.tube_key if key.code in {tube.kind for tube in tubes}),
            test_key=tuple(key for key in self.test_key if key.called in named),
            supplies=_supplies_of(self.supplies, kept),
            marks_key=marks_used(self.marks_key, [visit for i in kept for visit in self.routes[i].visits]),
            map=self.map.only_for(kept),
            timeline=replace(self.timeline, rows=tuple(self.timeline.rows[i] for i in kept)),
        )


def _supplies_of(supplies: tuple[SupplyLine, ...], kept: Sequence[int]) -> tuple[SupplyLine, ...]:
    """Return what these routes need, with their spares."""
    own = (
        replace(line, needed=tuple(line.needed[i] for i in kept), spares=tuple(line.spares[i] for i in kept))
        for line in supplies
    )
    return tuple(line for line in own if sum(line.needed))


def _said(goal: GoalLine) -> str:
    """Return a tier of goals in words: its total, its proof or bound, and each part in its own unit."""
    parts = ", ".join(f"{part.name} {part.value}" for part in goal.parts)
    return f"{goal.name.lower()} {goal.value}, {goal.proof}" + (f" ({parts})" if parts else "")
