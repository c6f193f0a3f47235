"""What shaped each person's route, in a line: the fair share, who may do what, windows, couriers. Facts of the plan."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from planner.domain.derived.shares import Share, earliest_s, shares
from planner.domain.plan import Handover, Visit
from planner.exporters.view.cards.windows import minutes_up
from planner.exporters.view.context import ViewContext
from planner.exporters.view.words import RULE, count_words


def shares_of(context: ViewContext) -> tuple[Share, ...]:
    """Return the share of everybody; nothing for a single person, whose route holds whatever can be done."""
    found = shares(context.problem, context.plan, context.windows)
    return found if len(found) > 1 else ()


def share_words(share: Share) -> str:
    """Return how many visits somebody makes, and the fair share: '11 visits (fair share 12.4)'."""
    fair = f"{share.fair:.1f}".removesuffix(".0")
    number = count_words(len(share.visits), "visit") if share.visits else "no visit"
    return f"{number} (fair share {fair})"


def shaped_words(context: ViewContext, found: Sequence[Share], person: int) -> str:
    """Return what shaped the route of a person; empty where nothing did."""
    return "; ".join(_shaped(context, found, person))


def route_words(context: ViewContext) -> Mapping[int, str]:
    """Return the share of each person and what shaped the route, as a sheet prints it, by number of the person."""
    found = shares_of(context)
    return {
        person: "; ".join(filter(None, (share_words(share), shaped_words(context, found, person))))
        for person, share in enumerate(found)
    }


def _shaped(context: ViewContext, found: Sequence[Share], person: int) -> Iterator[str]:
    who, share = context.problem.staff[person], found[person]
    if who.wards:
        yield f"goes to {', '.join(map(context.clean, sorted(who.wards)))} only"
    if who.prefers:
        yield f"prefers {', '.join(map(context.clean, sorted(who.prefers)))}"
    if share.able < share.num_all:
        yield f"may make {share.able} of the {share.num_all} visits"
    if share.alone:
        yield f"{share.alone} of them nobody else may make"
    if share.in_shift < share.able:
        span = f"{context.clock(who.from_s)} to {context.clock(who.until_s)}"
        yield f"the shift ({span}) leaves time for {share.in_shift} of the {share.able}"
    if share.is_far:
        yield from _far(found, person)
    if waits := _wait_words(context, share.visits):
        yield waits
    if caught := _couriers(context, person):
        yield f"couriers {', '.join(caught)}"


def _far(found: Sequence[Share], person: int) -> Iterator[str]:
    """Yield what a share far from the fair one comes of, where nothing said before explains it."""
    share = found[person]
    is_few = len(share.visits) < share.fair
    if share.is_bound and (is_few or share.alone):
        return
    others = [other for n, other in enumerate(found) if n != person]
    if not is_few and any(other.in_shift < other.num_all for other in others):
        yield "others may make fewer"
    elif is_few and any(other.alone for other in others):
        yield "others have visits that nobody else may make"
    elif own_s := _longer_s(share, found) if is_few else 0:
        yield f"these visits take {own_s / 60:.1f} min each, longer than the others"
    else:
        yield "no skill, ward or shift asks for this share: walking, windows and prices do"


def _longer_s(share: Share, found: Sequence[Share]) -> int:
    """Return how long the visits of a share take on average, where that makes up for their number; else 0."""
    if not share.visits:
        return 0
    work_s = sum(visit.depart_s - visit.start_s for visit in share.visits)
    all_s = sum(visit.depart_s - visit.start_s for other in found for visit in other.visits)
    is_fair = 4 * work_s * share.num_all >= 3 * all_s * share.fair
    return work_s // len(share.visits) if is_fair else 0


def _wait_words(context: ViewContext, visits: Sequence[Visit]) -> str:
    """Return how long somebody waits at beds, and at which the longest, with what sets its first time."""
    waits = [(visit.start_s - visit.arrive_s, visit) for visit in visits if visit.start_s > visit.arrive_s]
    if not waits:
        return ""
    longest_s, visit = max(waits, key=lambda wait: wait[0])
    bed = f"bed {context.place(visit.place)}"
    where = f"at {bed}" if len(waits) == 1 else f"{minutes_up(longest_s)} of it at {bed}"
    first_s, window = earliest_s(visit, context.windows), context.window_of(visit)
    if window.earliest is not None and first_s == visit.draw_s:
        where += f", not before {context.clock(first_s)} ({RULE[window.earliest.rule]})"
    return f"waits {minutes_up(sum(wait_s for wait_s, _ in waits))} min, {where}"


def _couriers(context: ViewContext, person: int) -> list[str]:
    """Return when the couriers leave that the hand-overs to come are for, each once."""
    stops = (stop for r in context.plan.routes if r.phlebotomist == person for _, stop in context.coming(r))
    return list(dict.fromkeys(context.clock(s.departs_s) for s in stops if isinstance(s, Handover) and s.departs_s))
