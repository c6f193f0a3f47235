"""Ways to a bed at which nobody was to stop so far: over the map, or beside its neighbour where the map lacks it."""

from __future__ import annotations

import re
from dataclasses import replace

from planner.domain.beds import ward_and_bed, with_ward
from planner.domain.places import Corridor, Place, PlaceId, PlaceKind, WalkingTimes
from planner.domain.revisions.events import BedAdded
from planner.findings import Severity
from planner.replanning.changes.working import Working
from planner.walking import BASE, LABORATORY, natural_key, seconds_for, walking_times

_WORDS_THEN_NUMBER = re.compile(r"^(\D+)\d+\w*$")


def can_reach(work: Working, place: PlaceId) -> bool:
    """Make the ways to a place known; False with a finding when the map has none.

    Ways that the plan was made with stay as they are, to the second.
    """
    stops = {p.starts_at for p in work.staff} | {p.place for p in work.pickups}
    stops |= {p.bed for p in work.patients.values()}
    known = work.walking.seconds
    if all((stop, place) in known and (place, stop) in known for stop in stops if stop != place):
        return True
    times, unreachable = walking_times(
        work.places, work.corridors, work.problem.policy.walking, [*sorted(stops), place]
    )
    if place in unreachable:
        work.error("unreachable", f"no way on the map leads to {work.bed_words(place)} and back; add a corridor")
        return False
    work.walking = WalkingTimes({**times.seconds, **known})
    return True


def bed_off_the_map(work: Working, text: str, like: PlaceId) -> BedAdded | None:
    """Return a bed that the round does not have, beside its neighbour; None where the text names none.

    Its ward is the one that the text names, else that of the bed ``like``; it is called as that one is. Where a map was
    given, a bed that it lacks is more likely a slip: there the text must name the ward. The bed lies one bed spacing
    from the bed before it in natural order (else from the one behind it), and every way to it leads over that bed.
    """
    named = ward_and_bed({p.ward for p in work.places.values() if p.kind is PlaceKind.BED}, text)
    if named is None and not _is_assumed(work):
        return None
    ward, bed = named or (work.places[like].ward, text)
    beds = [p for p in work.places.values() if p.kind is PlaceKind.BED and p.ward == ward]
    pattern = work.places[like] if work.places[like].ward == ward else min(beds, key=_natural)
    label = _label(bed, pattern.label or pattern.id)
    place_id = PlaceId(f"{ward}/{label}" if pattern.id != (pattern.label or pattern.id) else label)
    if not label or place_id in work.places:
        return None
    before = [b for b in beds if _natural(b) < natural_key(label)]
    neighbour = max(before, key=_natural) if before else min(beds, key=_natural)
    if not can_reach(work, neighbour.id):
        return None
    message = (
        f"bed {with_ward(ward, label)!r} was not in this round; it is taken to lie beside bed "
        f"{work.bed_words(neighbour.id)}. If that is a slip, correct the bed"
    )
    work.say("bed-assumed", Severity.WARNING, message)
    return BedAdded(place=replace(neighbour, id=place_id, label=label), neighbour=neighbour.id)


def add_bed(work: Working, place: Place, neighbour: PlaceId) -> None:
    """Add a bed beside its neighbour, with a corridor of one bed spacing where the map has corridors."""
    can_reach(work, neighbour)
    work.places[place.id] = place
    if work.corridors:
        metres = work.problem.policy.walking.bed_spacing_m
        work.corridors = (*work.corridors, Corridor(from_place=neighbour, to_place=place.id, metres=metres))
    _lead_over(work, neighbour, place.id)


def _lead_over(work: Working, neighbour: PlaceId, place: PlaceId) -> None:
    """Make every way to a place lead over its neighbour; ways between other places stay the shortest."""
    policy = work.problem.policy.walking
    step_s = seconds_for(policy.bed_spacing_m, policy)
    known = dict(work.walking.seconds)
    own = {(neighbour, place): step_s, (place, neighbour): step_s}
    own |= {(place, end): step_s + s for (start, end), s in known.items() if start == neighbour}
    own |= {(start, place): step_s + s for (start, end), s in known.items() if end == neighbour}
    work.walking = WalkingTimes({**known, **own})


def _label(text: str, like: str) -> str:
    """Return the label of a new bed: '15' is 'Alder 15' where the others are called 'Alder 14'."""
    text = text.strip()
    match = _WORDS_THEN_NUMBER.match(like)
    return f"{match[1]}{text}" if match and text[:1].isdigit() else text


def _natural(place: Place) -> tuple[tuple[bool, int, str], ...]:
    return natural_key(place.label or place.id)


def _is_assumed(work: Working) -> bool:
    """Whether no table of places was given: no corridors, no coordinates, the assumed base and laboratory."""
    places = work.problem.places
    has_map = bool(work.problem.corridors) or any(p.x_m is not None for p in places.values())
    return not has_map and all(i in places and places[i].position is None for i in (BASE, LABORATORY))
