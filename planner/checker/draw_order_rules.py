"""Are the tubes filled in the right order, with the discard tube where it belongs, cultures from separate sites?"""

from __future__ import annotations

from collections.abc import Iterator

from planner.checker.broken import Broken, Rule
from planner.checker.facts import Facts, VisitAt
from planner.checker.specimens import Specimen, is_citrate, specimens_of, tubes_of, type_of
from planner.domain.catalogue import DISCARD_TUBE, Handling, TestCode
from planner.domain.draws import Device, Tube


def order_of_draw(facts: Facts) -> Iterator[Broken]:
    """Positions run from 1 without gaps, cultures first, then by rank; where the discard tube goes is `discard`'s."""
    for at in facts.visits:
        tubes = sorted(tubes_of(at), key=lambda tube: tube.draw_position)
        if [tube.draw_position for tube in tubes] != list(range(1, len(tubes) + 1)):
            found = ", ".join(str(tube.draw_position) for tube in tubes)
            yield Broken(f"{at.where}: draw positions {found}, expected 1 to {len(tubes)}", at.visit.order_ids)
            continue
        filled = [tube for tube in tubes if not tube.is_discard]
        ranks = [_rank(facts, at, tube) for tube in filled]
        if ranks != sorted(ranks):
            expected = sorted(filled, key=lambda tube: _rank(facts, at, tube))
            yield Broken(f"{at.where}: drawn {_kinds(filled)}, expected {_kinds(expected)}", at.visit.order_ids)


def discard(facts: Facts) -> Iterator[Broken]:
    """A discard tube comes directly before the first citrate tube where one is needed, and nowhere else."""
    for at in facts.visits:
        discards = [tube for tube in tubes_of(at) if tube.is_discard]
        citrates = [tube for tube in tubes_of(at) if not tube.is_discard and is_citrate(type_of(facts, tube))]
        needed = _needs_discard(facts, at, citrates)
        if len(discards) != needed:
            found = f"found {len(discards)} discard tubes, expected {int(needed)}"
        elif any(tube.tube != DISCARD_TUBE for tube in discards):
            found = f"a tube of type {discards[0].tube} without a test, expected {DISCARD_TUBE}"
        elif needed and discards[0].draw_position + 1 != min(tube.draw_position for tube in citrates):
            found = f"the discard tube is number {discards[0].draw_position}, expected just before the first citrate"
        else:
            continue
        yield Broken(f"{at.where}: {found}", at.visit.order_ids)


def culture_sites(facts: Facts) -> Iterator[Broken]:
    """Sites count from 1, and each culture set of a test has one of its own."""
    for at in facts.visits:
        sites = {tube.site for tube in tubes_of(at)}
        used: dict[tuple[TestCode, int], Specimen] = {}
        if sites and sites != set(range(1, len(sites) + 1)):
            found = ", ".join(map(str, sorted(sites)))
            yield Broken(f"{at.where}: puncture sites {found}, expected 1 to {len(sites)}", at.visit.order_ids)
        for culture in (s for s in specimens_of(facts, at) if s.test.is_culture):
            own = {tube.site for tube in culture.tubes}
            if len(own) > 1:
                yield Broken(f"{culture.where}: one set drawn from {len(own)} sites", culture.order_ids)
            for site in own:
                other = used.setdefault((culture.test.code, site), culture)
                if other is not culture:
                    ids = (*other.order_ids, *culture.order_ids)
                    yield Broken(f"{culture.where}: two sets are drawn from site {site}", ids)


def culture_sets(facts: Facts) -> Iterator[Broken]:
    """Each order of a culture is a set of its own: no set serves two orders."""
    for at in facts.visits:
        for culture in specimens_of(facts, at):
            if culture.test.is_culture and len(culture.orders) > 1:
                yield Broken(
                    f"{culture.where}: one set for {len(culture.orders)} orders, expected a set each", culture.order_ids
                )


def _rank(facts: Facts, at: VisitAt, tube: Tube) -> tuple[int, int, int, int, str, int]:
    kind = type_of(facts, tube)
    if facts.is_from_skin(at.patient) and kind.capillary_rank is not None:
        return (1, 0, kind.capillary_rank, kind.rank_within, kind.code, tube.site)
    if kind.is_culture:
        return (0, tube.site, kind.rank, kind.rank_within, kind.code, 0)
    return (1, 0, kind.rank, kind.rank_within, kind.code, tube.site)


def _needs_discard(facts: Facts, at: VisitAt, citrates: list[Tube]) -> bool:
    if not citrates:
        return False
    tests = facts.problem.catalogue.tests
    if any(Handling.DISCARD_FIRST in tests[code].handling for tube in citrates for code in tube.tests):
        return True
    first = min(tube.draw_position for tube in citrates)
    is_first = not any(tube.draw_position < first for tube in tubes_of(at) if not tube.is_discard)
    return at.visit.needle.device == Device.WINGED and is_first


def _kinds(tubes: list[Tube]) -> str:
    return ", ".join(f"{tube.tube} (site {tube.site})" if tube.site > 1 else tube.tube for tube in tubes)


RULES: tuple[Rule, ...] = (order_of_draw, discard, culture_sites, culture_sets)
