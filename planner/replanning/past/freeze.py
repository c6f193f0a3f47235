"""What has happened by now, person by person: the stops made or under way, which stay, and where everybody goes on.

Once a list of what is done names a visit of a phlebotomist, what is not reported as done is still to come, but for the
visit that is under way now. One visit reported by itself, as on the phone, says nothing of the others: those before it
are assumed as if nothing were reported. Where nothing is reported now, the plan is assumed to have been kept since the
last revision, except for stat draws: an unreported stat is still to come. Once it was due on a sheet, nobody is taken
to be drawing it in a later slot either (`open_visits.py`).
Hand-overs and breaks are never reported; they are assumed to have been made where the plan has them, without delay.
Who is on the way walks on to the next stop, and can be called elsewhere from there.

Example: the plan has bed 4 at 05:30 to 05:35 and bed 5 at 05:36 to 05:41, and it is 05:42. Nothing reported: both are
done (assumed). Bed 4 reported as drawn at 05:36: that visit ended at about 05:39, and bed 5 is under way from 05:40 to
05:45, which stays. Bed 4 reported as drawn at 05:32: bed 5 was due to end at 05:41, and is still to come.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from planner.domain.draws import DrawId
from planner.domain.places import PickupKind, PlaceId
from planner.domain.plan import Break, Handover, Plan, Stop, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past
from planner.domain.revisions.reported import Reported
from planner.replanning.past.happened import Told, as_planned, as_told, shifted, told_of
from planner.replanning.past.open_visits import is_stat, unanswered


def freeze(
    problem: Problem,
    plan: Plan,
    reports: Sequence[Reported],
    now_s: int,
    held: Collection[int] = (),
    never_came: Collection[int] = (),
    left_out: Collection[DrawId] = (),
) -> tuple[Past, ...]:
    """Return what happened by now for everybody of the staff.

    Parameters
    ----------
    problem, plan
        The revision that is replanned.
    reports
        What was told of visits.
    now_s
        The time it is, seconds after midnight of the round's day.
    held
        Those who are held up now: no visit of theirs that nobody reported is under way.
    never_came
        Those who did not come: nothing is assumed of them.
    left_out
        Visits that their phlebotomists were told to leave out, by what is taken back now: not made unless reported.
    """
    told: dict[DrawId, list[Reported]] = {}
    for report in reports:
        told.setdefault(report.draw_id, []).append(report)
    made_by = collectors(plan, reports)
    sheets = [_Sheet(person, plan, made_by) for person in range(len(problem.staff))]
    return tuple(
        _absent(problem, person, sheet, told, now_s)
        if person in never_came
        else _past(problem, person, sheet, told, now_s, is_held=person in held, left_out=left_out)
        for person, sheet in enumerate(sheets)
    )


def collectors(plan: Plan, reports: Iterable[Reported]) -> dict[DrawId, int]:
    """Return who made each visit that is reported: whose it is on the sheet, unless the report says otherwise."""
    has = {visit.draw_id: route.phlebotomist for route in plan.routes for visit in route.visits}
    return {
        report.draw_id: has[report.draw_id] if report.drawn_by is None else report.drawn_by
        for report in reports
        if report.draw_id in has
    }


class _Sheet:
    """The stops of somebody on the last sheet, which of them others made instead, and what they made of others'."""

    def __init__(self, person: int, plan: Plan, made_by: Mapping[DrawId, int]) -> None:
        self.stops = next((route.stops for route in plan.routes if route.phlebotomist == person), ())
        own = [stop.draw_id for stop in self.stops if isinstance(stop, Visit)]
        self.of_others = frozenset(draw_id for draw_id in own if made_by.get(draw_id, person) != person)
        visits = (visit for route in plan.routes for visit in route.visits)
        self.from_others = [v for v in visits if made_by.get(v.draw_id) == person and v.draw_id not in own]

    def is_own(self, stop: Stop) -> bool:
        """Return whether nobody else is said to have made a stop."""
        return not isinstance(stop, Visit) or stop.draw_id not in self.of_others

    def taken_over(self, told: Told, now_s: int) -> list[Visit]:
        """Return the visits made for others, the first first; nothing is known of a hand-over: their tubes are kept."""
        made = [as_told(visit, told_of(visit, told), now_s) for visit in self.from_others]
        made.sort(key=lambda visit: visit.start_s)
        return [replace(v, tubes=tuple(replace(tube, handover=None) for tube in v.tubes)) for v in made]


_NOWHERE = -1
"""Index of a stop that is not on somebody's own sheet."""


@dataclass(slots=True)
class _Walk:
    """Somebody on her way through the plan: the stops made so far, where she is, and since when she is free."""

    place: PlaceId
    clock_s: int
    made: list[tuple[Stop, int, bool]] = field(default_factory=list)
    """Stop as it was, its index in the plan, and whether that is only assumed."""

    def add(self, stop: Stop, index: int, is_assumed: bool) -> None:
        """Make a stop; one that was over before another is not where she is."""
        self.made.append((stop, index, is_assumed))
        if stop.depart_s >= self.clock_s:
            self.place, self.clock_s = stop.place, stop.depart_s


def _absent(problem: Problem, person: int, sheet: _Sheet, told: Told, now_s: int) -> Past:
    """Return the past of somebody who never came: what was reported of them, and nothing else."""
    before, stops = problem.replan.past[person] if problem.replan else None, sheet.stops
    known = [n for n in range(len(before.stops)) if n not in before.assumed] if before else []
    made = [(stops[n], n) for n in known if sheet.is_own(stops[n])]
    made += [(visit, _NOWHERE) for visit in sheet.taken_over(told, now_s)]
    for index, stop in enumerate(stops):
        if index not in known and isinstance(stop, Visit) and sheet.is_own(stop) and (reports := told_of(stop, told)):
            made.append((as_told(stop, reports, now_s), index))
    made.sort(key=lambda m: _instant(m[0]))
    return Past(
        phlebotomist=person,
        stops=_renumbered(made, stops),
        place=problem.staff[person].starts_at,
        free_s=max(now_s, problem.staff[person].until_s),
    )


def _past(
    problem: Problem,
    person: int,
    sheet: _Sheet,
    told: Told,
    now_s: int,
    *,
    is_held: bool,
    left_out: Collection[DrawId],
) -> Past:
    before, stops = problem.replan.past[person] if problem.replan else None, sheet.stops
    num_before = len(before.stops) if before else 0
    who = problem.staff[person]
    walk = _Walk(who.starts_at, who.from_s)
    mine = [*(s for s in stops if isinstance(s, Visit) and sheet.is_own(s)), *sheet.from_others]
    is_told = any(not all(r.is_by_itself for r in told_of(s, told)) for s in mine)
    for index, stop in enumerate(stops[:num_before]):
        is_assumed = before is not None and index in before.assumed
        if not sheet.is_own(stop):
            continue
        if isinstance(stop, Visit) and is_assumed and (reports := told_of(stop, told)):
            walk.add(as_told(stop, reports, now_s), index, False)
        elif not is_assumed or (not _is_in(stop, left_out) and _may_stay_assumed(problem, stop, is_told, now_s)):
            walk.add(stop, index, is_assumed)
    if before is not None:
        walk.place, walk.clock_s = before.place, max(before.free_s, walk.clock_s)
    coming = [(index, stop) for index, stop in enumerate(stops) if index >= num_before and sheet.is_own(stop)]
    taken_over = sheet.taken_over(told, now_s)
    _go_on(problem, walk, coming, taken_over, told, is_told, now_s, is_held=is_held, left_out=left_out)
    for visit in taken_over:
        walk.add(visit, _NOWHERE, False)
    made = sorted(walk.made, key=lambda m: _instant(m[0]))
    return Past(
        phlebotomist=person,
        stops=_renumbered([(stop, index) for stop, index, _assumed in made], stops),
        place=walk.place,
        free_s=max(now_s, walk.clock_s),
        assumed=frozenset(n for n, (_stop, _index, is_assumed) in enumerate(made) if is_assumed),
    )


def _go_on(
    problem: Problem,
    walk: _Walk,
    coming: list[tuple[int, Stop]],
    taken_over: list[Visit],
    told: Told,
    is_told: bool,
    now_s: int,
    *,
    is_held: bool,
    left_out: Collection[DrawId],
) -> None:
    """Walk through the stops that the plan has next, as far as they have begun by now.

    What was made for others is taken from ``taken_over`` in its turn: what was due before is not put off by it. After
    a list, what is not reported can only be made after all that is.
    """
    last_told = max((i for i, stop in coming if isinstance(stop, Visit) and stop.draw_id in told), default=-1)
    told_at = [(i, _began_s(stop, told, now_s)) for i, stop in coming if isinstance(stop, Visit)]
    is_in_turn = True
    for index, stop in coming:
        at_s = walk.clock_s + problem.walking.between(walk.place, stop.place)
        while taken_over and (taken_over[0].start_s < max(stop.start_s, at_s) or (is_told and index > last_told)):
            walk.add(taken_over.pop(0), _NOWHERE, False)
            at_s = walk.clock_s + problem.walking.between(walk.place, stop.place)
        if isinstance(stop, Visit) and stop.draw_id in told:
            begun = shifted(stop, max(0, at_s - stop.start_s))
            walk.add(as_told(begun, told_of(stop, told), now_s), index, False)
            continue
        if _is_in(stop, left_out):
            is_in_turn = False
            continue
        if index < last_told:
            if isinstance(stop, Visit):
                is_open = is_told or is_stat(problem, stop) or unanswered(problem, stop) is not None
                made = None if is_open else _begun_by(problem, stop, at_s, now_s)
                is_in_turn = is_in_turn and made is not None
            else:
                by_s = min((begun for i, begun in told_at if i > index), default=now_s)
                made = _made_by(problem, stop, at_s, now_s, by_s if is_in_turn else None)
            if made is not None and (made.depart_s <= now_s or not isinstance(stop, Visit)):
                walk.add(made, index, True)
            continue
        if walk.clock_s > now_s:
            return
        guess = _begun_by(problem, stop, at_s, now_s)
        if guess is None or (is_held and isinstance(guess, Visit) and guess.depart_s > now_s):
            if walk.clock_s < now_s:
                walk.place, walk.clock_s = stop.place, at_s  # she is there and waits, or is on her way
            return
        if isinstance(guess, Visit) and _is_to_come(problem, guess, is_told, now_s):
            # due and not reported: still to come, from the bed at which its phlebotomist is taken to be
            walk.place, walk.clock_s = guess.place, min(guess.depart_s, now_s)
        else:
            walk.add(guess, index, True)
        if isinstance(stop, Visit) and is_told:
            return  # the visit after the last one reported is the only one that can be under way


def _is_in(stop: Stop, draw_ids: Collection[DrawId]) -> bool:
    return isinstance(stop, Visit) and stop.draw_id in draw_ids


def _is_to_come(problem: Problem, visit: Visit, is_told: bool, now_s: int) -> bool:
    """Whether a visit that has begun by the plan, and of which nothing is told, is still to come."""
    is_open = is_told or is_stat(problem, visit)
    return unanswered(problem, visit) is not None or (is_open and visit.depart_s <= now_s)


def _may_stay_assumed(problem: Problem, stop: Stop, is_told: bool, now_s: int) -> bool:
    """Whether a stop that the last revision assumed, and that is not reported now, is assumed still.

    A stat is never assumed drawn, and nothing is of whom a list says what they have done: it is not on it.
    """
    return not isinstance(stop, Visit) or stop.depart_s > now_s or not (is_told or is_stat(problem, stop))


def _begun_by(problem: Problem, stop: Stop, at_s: int, now_s: int) -> Stop | None:
    """Return a stop of which nothing is told as it was or is being made; None when it has not begun by now."""
    late_s = max(0, at_s - stop.start_s)
    if isinstance(stop, Visit):
        visit = as_planned(shifted(stop, late_s))
        return None if visit.start_s > now_s else visit
    if stop.start_s + late_s > now_s:
        return None
    return _later(problem, stop, late_s)


def _began_s(visit: Visit, told: Told, now_s: int) -> int:
    """Return when a visit began by the time that was reported of it; now where none was."""
    draws = [report.at_s for report in told_of(visit, told) if report.at_s is not None]
    return min((draw_s - (visit.draw_s - visit.start_s) for draw_s in draws), default=now_s)


def _made_by(problem: Problem, stop: Stop, at_s: int, now_s: int, early_s: int | None) -> Stop | None:
    """Return a hand-over or break before a visit that was made: it was made too, if its time has come by now.

    One that is due only later was made before its time if every visit before it was made and there was time to go
    there before ``early_s`` (None: not every one was made), when a visit after it began: who went out of turn to a bed
    has given nothing away on the way. None: it is still to come.
    """
    late_s = max(0, at_s - stop.start_s)
    if stop.depart_s + late_s > now_s:
        if early_s is None or early_s - (stop.depart_s - stop.start_s) < at_s:
            return None
        late_s = early_s - stop.depart_s
    return _later(problem, stop, late_s)


def _later(problem: Problem, stop: Stop, by_s: int) -> Stop | None:
    """Return a hand-over or break some seconds later, with the courier that then comes; None when none does."""
    if isinstance(stop, Visit):
        return shifted(stop, by_s)
    moved = replace(stop, arrive_s=stop.arrive_s + by_s, start_s=stop.start_s + by_s, depart_s=stop.depart_s + by_s)
    if by_s == 0 or isinstance(moved, Break):
        return moved
    return _caught(problem, moved)


def _caught(problem: Problem, stop: Handover) -> Handover | None:
    """Return a hand-over with the departure and arrival that its end gives; None when no courier comes any more."""
    pickups = [p for p in problem.pickups if (p.place, p.kind) == (stop.place, stop.kind)]
    if stop.kind is not PickupKind.COURIER:
        return replace(stop, lab_arrival_s=stop.depart_s + min(p.transit_s for p in pickups))
    leaving = [(d, d + p.transit_s) for p in pickups for d in p.departures_s if d >= stop.depart_s]
    if not leaving:
        return None
    departs_s, arrival_s = min(leaving)
    return replace(stop, departs_s=departs_s, lab_arrival_s=arrival_s)


def _in_turn(stops: Sequence[Stop]) -> tuple[Stop, ...]:
    """Return the stops of one person, in their order, without overlaps: nobody was at two places at once.

    Draws keep their times, which people report; when a stay began and ended is calculated, and gives way: a stop begins
    when the one before is over, at its draw at the latest, and the one before ends by then.
    """
    turns: list[Stop] = []
    for stop in stops:
        if turns and turns[-1].depart_s > stop.start_s:
            last = turns[-1]
            ends_s = (
                max(_instant(last), stop.start_s) if isinstance(last, Visit) else min(last.depart_s, _instant(stop))
            )
            turns[-1] = replace(last, depart_s=ends_s)
            stop = replace(stop, arrive_s=max(stop.arrive_s, ends_s), start_s=max(stop.start_s, ends_s))
        turns.append(stop)
    return tuple(turns)


def _instant(stop: Stop) -> int:
    """Return the draw of a visit, or when a hand-over or break began: what stops go by in their order."""
    return stop.draw_s if isinstance(stop, Visit) else stop.start_s


def _renumbered(made: Sequence[tuple[Stop, int]], planned: Sequence[Stop]) -> tuple[Stop, ...]:
    """Return the stops with hand-overs of tubes by their new places; a tube not given away by now is in the tray."""
    place_of: Mapping[int, int] = {index: n for n, (_stop, index) in enumerate(made)}
    return _in_turn(
        tuple(
            replace(
                stop,
                tubes=tuple(replace(tube, handover=_given(place_of, tube.handover, n)) for tube in stop.tubes),
            )
            if isinstance(stop, Visit)
            else stop
            for n, (stop, _index) in enumerate(made)
        )
    )


def _given(place_of: Mapping[int, int], handover: int | None, visit: int) -> int | None:
    """Return where a tube was given away, if that was after its visit."""
    place = None if handover is None else place_of.get(handover)
    return place if place is not None and place > visit else None
