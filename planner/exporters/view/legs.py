"""The legs of a route: which way it goes from ward to ward and to each hand-over, in words made from the map.

A leg ends at the first bed of another ward. Its words name what is passed on the way: doors, lifts, stairs; and turns,
where coordinates say so. Of the points along a corridor nothing is said: their names stand on no wall. Nor of turns at
them on the way out of a ward: whoever is there sees its door.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import groupby
from math import atan2, degrees

from planner.domain.places import Place, PlaceId, PlaceKind
from planner.domain.plan import Route, Visit
from planner.exporters.view.context import ViewContext
from planner.exporters.view.drawn.ways import shortest_way

_TURN_DEGREES = 40.0
"""A smaller turn is walking straight on (our choice)."""


class Ways:
    """The ways between places of a round, in words."""

    def __init__(self, context: ViewContext) -> None:
        problem = context.problem
        self._context, self._places = context, problem.places
        self._measured = {frozenset((c.from_place, c.to_place)) for c in problem.corridors if c.metres is not None}
        points = {place.id: _stem(place) for place in problem.places.values() if place.kind is PlaceKind.WAYPOINT}
        counts = Counter(points.values())
        self._in_a_row = {place_id for place_id, stem in points.items() if counts[stem] > 1}
        """Points of which there are several, told apart by a number alone: 'Corridor 1' to 'Corridor 12'."""

    def legs(self, route: Route) -> Mapping[int, str]:
        """Return the words of each leg by the index of the stop that it leads to; a round of one ward has none.

        One leads to the first bed of another ward, and back into a ward that was left for a hand-over, unless the way
        back is that there: then the hand-over says so.

        'GO TO Osprey, floor 2 (leg 3, from Tube station): Lift A up to floor 2; past Bramble door; left in at Osprey
        door; S1 on the right'. To a hand-over only the way is said.
        """
        context, words = self._context, dict[int, str]()
        if not context.names.has_several_wards:
            return words
        number, ward, place = 0, "", context.problem.staff[route.phlebotomist].starts_at
        for index, stop in enumerate(route.stops):
            start = context.begins(route)[1] if context.num_past(route) == index else place
            place = stop.place
            way = self.words(start, place)
            if not isinstance(stop, Visit):
                if way and self._places[start].ward:
                    words[index] = f"Way: {way}"
            elif self._places[place].ward != ward:
                number, ward = number + 1, self._places[place].ward
                head = f"GO TO {self._ward(place)}"
                words[index] = f"{head} (leg {number}, from {context.place(start)})" + (f": {way}" if way else "")
            elif self._is_back(start, place, way):
                is_read = index - 1 in words and index - 1 >= max(1, context.num_past(route))
                if is_read and self._is_same_way(route.stops[index - 2].place, start, place):
                    words[index - 1] += "; same way back"
                else:
                    words[index] = f"GO BACK TO {self._ward(place)}" + (f": {way}" if way else "")
        return words

    def _ward(self, place_id: PlaceId) -> str:
        place, clean = self._places[place_id], self._context.clean
        return clean(place.ward) + (f", floor {clean(place.floor)}" if place.floor else "")

    def _is_back(self, start: PlaceId, place: PlaceId, way: str) -> bool:
        """Return whether somebody comes back into a ward from outside, and there is something to say of the way."""
        out, back = self._places[start], self._places[place]
        return out.ward != back.ward and (bool(way) or out.floor != back.floor)

    def _is_same_way(self, bed: PlaceId, out: PlaceId, back: PlaceId) -> bool:
        """Return whether from a place outside one comes back into the ward of a bed by the way that one took."""
        there = [p for p in self._way(bed, out) if p.ward != self._places[back].ward]
        return self._places[bed].ward == self._places[back].ward and there == [
            p for p in reversed(self._way(out, back)) if p.ward != self._places[back].ward
        ]

    def _way(self, start: PlaceId, end: PlaceId) -> list[Place]:
        context = self._context
        ids = shortest_way(context.problem.corridors, context.problem.policy.walking, start, end)
        return [self._places[p] for p in ids]

    def words(self, start: PlaceId, end: PlaceId) -> str:
        """Return what is done on the way from one place to another; empty where no corridors are given."""
        if not self._context.problem.corridors or start == end:
            return ""
        parts = []
        for is_passed, steps in groupby(self._steps(self._way(start, end)), key=lambda step: step[0]):
            said = [words for _, words in steps]
            parts += [f"past {', '.join(said)}"] if is_passed else said
        return "; ".join(parts)

    def _steps(self, way: list[Place]) -> Iterator[tuple[bool, str]]:
        """Yield what is done on a way: a place that is only passed, with True, or the words of another step."""
        for before, here, after in zip(way, way[1:], way[2:], strict=False):
            side, name = self._side(before, here, after), self._context.place(here.id)
            is_named = here.id not in self._in_a_row
            if here.floor != after.floor:
                floor = self._context.clean(after.floor)
                yield False, f"{name} {_up_or_down(here.floor, after.floor)} to floor {floor}"
            elif here.ward and here.ward not in (before.ward, way[-1].ward):
                yield (False, f"past {name}, {side}") if side else (True, name)
            elif here.ward and here.ward != before.ward:
                yield False, f"{side} in at {name}".lstrip()
            elif here.ward and here.ward != after.ward:
                yield False, f"out at {name}" + (f", {side}" if side else "")
            elif after is way[-1] and side and not is_named:
                yield False, f"{self._context.label(after.id)} on the {side}"
            elif side and (is_named or here.ward != way[0].ward or here.ward == way[-1].ward):
                yield False, f"turn {side}" + (f" at {name}" if is_named else "")
            elif is_named and before.floor == here.floor and here.kind is not PlaceKind.BED:
                yield True, name

    def _side(self, before: Place, here: Place, after: Place) -> str:
        """Return 'left' or 'right' where somebody turns at the second of three places; empty: straight on, or unknown.

        Coordinates compare on one floor only, and say nothing of a link that is given in seconds: a lift, say.
        """
        for one, other in ((before, here), (here, after)):
            if frozenset((one.id, other.id)) not in self._measured or one.floor != other.floor:
                return ""
        points = [(p.x_m, p.y_m) for p in (before, here, after) if p.x_m is not None and p.y_m is not None]
        if len(points) < 3:
            return ""
        (x1, y1), (x2, y2), (x3, y3) = points
        come, go = (x2 - x1, y2 - y1), (x3 - x2, y3 - y2)
        angle = degrees(atan2(come[0] * go[1] - come[1] * go[0], come[0] * go[0] + come[1] * go[1]))
        return "" if abs(angle) < _TURN_DEGREES else "left" if angle > 0 else "right"


def _stem(place: Place) -> tuple[str, str, str]:
    """Return what places of one row have in common: ward, floor, and the name without its numbers."""
    return place.ward, place.floor, re.sub(r"\d+", "", place.label or place.id)


def _up_or_down(one: str, other: str) -> str:
    """Return whether a floor lies above another, where both are numbers."""
    try:
        return "up" if float(other) > float(one) else "down"
    except ValueError:
        return "goes"
