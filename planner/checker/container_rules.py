"""Is each test on the right containers, in company it may keep, with enough blood, and labelled with its needs?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

from planner.checker.broken import Broken, Rule
from planner.checker.facts import Facts, VisitAt
from planner.checker.specimens import (
    Specimen,
    alone_ul,
    alternatives,
    has_child_volume,
    need_ul,
    sizes_for,
    specimens,
    specimens_of,
    tubes_of,
    type_of,
)
from planner.domain.catalogue import DISCARD_TUBE, Handling, LabTest, TransportMode, TubeCode
from planner.domain.draws import Tube
from planner.units import format_ml


def accepted_kind(facts: Facts) -> Iterator[Broken]:
    """Every test is on all containers of one of its alternatives, and on nothing else."""
    for specimen in specimens(facts):
        found = Counter(tube.tube for tube in specimen.tubes)
        wanted = list(alternatives(facts, specimen))
        if dict(found) not in [dict(kinds) for kinds in wanted]:
            choices = " or ".join(_in_words(kinds) for kinds in wanted) or "no kind that the patient may have"
            yield Broken(
                f"{specimen.where}: found on {_in_words(found) or 'no tube'}, expected {choices}",
                specimen.order_ids,
            )


def first_choice(facts: Facts) -> Iterator[Broken]:
    """A test that takes its first choice is on the first of its alternatives that the patient can have."""
    for specimen in specimens(facts):
        wanted = _usable(facts, specimen)
        found = dict(Counter(tube.tube for tube in specimen.tubes))
        if specimen.test.takes_first_choice and found in wanted[1:] and found != wanted[0]:
            yield Broken(
                f"{specimen.where}: found on {_in_words(found)}, expected its first choice, {_in_words(wanted[0])}",
                specimen.order_ids,
            )


def series_kind(facts: Facts) -> Iterator[Broken]:
    """All draws of a test that wants one tube kind in a series are in one, that of its last draw if possible."""
    found: dict[tuple[str, str], list[Specimen]] = {}
    for specimen in specimens(facts):
        if specimen.test.one_kind_in_series and specimen.tubes:
            found.setdefault((specimen.at.visit.patient_id, specimen.test.code), []).append(specimen)
    for (patient_id, code), drawn in found.items():
        made = _last_made_in(facts, patient_id, code)
        may_go_on = any(set(kinds) == {made} for kinds in _usable(facts, drawn[0]))
        first = {made} if made is not None and may_go_on else {tube.tube for tube in drawn[0].tubes}
        for specimen in drawn:
            if (kinds := {tube.tube for tube in specimen.tubes}) != first:
                yield Broken(
                    f"{specimen.where}: in {_list(kinds)}, expected {_list(first)} as in the other draws of its series",
                    specimen.order_ids,
                )


def _last_made_in(facts: Facts, patient_id: str, code: str) -> TubeCode | None:
    """Return the kind of the last draw of a test that was made before, in this round's past, or as an add-on."""
    made: list[tuple[int, TubeCode]] = []
    for draw in facts.problem.earlier_draws:
        if (draw.patient_id, draw.test) == (patient_id, code) and draw.tube is not None:
            made.append((draw.draw_s, draw.tube))
    for at in facts.all_visits:
        if at.visit.outcome is not None and at.visit.patient_id == patient_id:
            for tube in tubes_of(at):
                if code in tube.tests and any(order_id in at.visit.order_ids for order_id in tube.order_ids):
                    made.append((at.visit.draw_s, tube.tube))
    for addon in facts.problem.replan.addons if facts.problem.replan else ():
        if (addon.patient_id, addon.test) == (patient_id, code):
            made.append((addon.drawn_s, addon.tube))
    return sorted(made, key=lambda pair: pair[0])[-1][1] if made else None


def _usable(facts: Facts, specimen: Specimen) -> list[dict[TubeCode, int]]:
    """Return the alternatives that the patient can have; of several tubes only where no single one will do."""
    wanted = [dict(kinds) for kinds in alternatives(facts, specimen)]
    single = [kinds for kinds in wanted if sum(kinds.values()) == 1]
    return single if specimen.test.containers == 1 and single else wanted


def tube_orders(facts: Facts) -> Iterator[Broken]:
    """A tube names each of its tests once, and exactly the visit's orders that it serves; a bottle its set's."""
    for at, tube in _tubes(facts):
        ordered = {order.id for order in at.orders if order.test in tube.tests}
        if strange := sorted(set(tube.tests) - {order.test for order in at.orders}):
            yield Broken(f"{_where(at, tube)}: test {', '.join(strange)} is not ordered in this visit", tube.order_ids)
        elif len(set(tube.tests)) < len(tube.tests) or len(set(tube.order_ids)) < len(tube.order_ids):
            yield Broken(f"{_where(at, tube)}: a test or an order stands twice", tube.order_ids)
        elif any(test.is_culture for test in _tests(facts, tube)):
            if not tube.order_ids or not set(tube.order_ids) <= ordered:
                yield Broken(f"{_where(at, tube)}: expected orders of its culture", tube.order_ids)
        elif set(tube.order_ids) != ordered:
            yield Broken(
                f"{_where(at, tube)}: serves orders {_list(tube.order_ids)}, expected {_list(ordered)}", ordered
            )


def share_group(facts: Facts) -> Iterator[Broken]:
    """Tests share a tube only within one share group and transport mode, and never one of several own tubes."""
    for at in facts.visits:
        multiple = {s.test.code for s in specimens_of(facts, at) if len(s.tubes) > 1}
        for tube in tubes_of(at):
            tests = _tests(facts, tube)
            if len(tests) < 2:
                continue
            groups = {test.share_group for test in tests}
            if None in groups or len(groups) > 1:
                yield Broken(f"{_where(at, tube)}: {_codes(tests)} are not of one share group", tube.order_ids)
            elif len({test.mode for test in tests}) > 1:
                yield Broken(f"{_where(at, tube)}: {_codes(tests)} travel at different temperatures", tube.order_ids)
            elif alone := sorted(multiple & {test.code for test in tests}):
                yield Broken(f"{_where(at, tube)}: {', '.join(alone)} needs tubes of its own", tube.order_ids)


def volume(facts: Facts) -> Iterator[Broken]:
    """A shared tube draws what its tests need together; several own tubes draw together what their test needs."""
    for at, tube in _tubes(facts):
        need = need_ul(facts, at.patient, _tests(facts, tube))
        if len(set(tube.tests)) > 1 and need > tube.size_ul:
            yield Broken(
                f"{_where(at, tube)}: draws {format_ml(tube.size_ul)} mL, its tests need {format_ml(need)} mL",
                tube.order_ids,
            )
    for specimen in specimens(facts):
        alone = [tube for tube in specimen.tubes if len(set(tube.tests)) == 1]
        drawn = sum(tube.size_ul for tube in alone)
        if not alone or len(alone) < len(specimen.tubes) or has_child_volume(facts, specimen):
            continue
        needed = alone_ul(facts, specimen.at.patient, specimen.test)
        if drawn < needed:
            yield Broken(
                f"{specimen.where}: its tubes draw {format_ml(drawn)} mL, expected at least {format_ml(needed)} mL",
                specimen.order_ids,
            )


def fill(facts: Facts) -> Iterator[Broken]:
    """A tube takes what its size draws; one filled to need its even share; the discard tube what the policy says."""
    for at, tube in _tubes(facts):
        least, most = _fill_range(facts, at, tube)
        if not least <= tube.volume_ul <= most:
            expected = format_ml(least) + ("" if least == most else f" to {format_ml(most)}")
            yield Broken(
                f"{_where(at, tube)}: takes {format_ml(tube.volume_ul)} mL, expected {expected} mL", tube.order_ids
            )


def size_for_patient(facts: Facts) -> Iterator[Broken]:
    """A tube has a size of its type; children's sizes are for children."""
    for at, tube in _tubes(facts):
        sizes = sizes_for(facts, at.patient, type_of(facts, tube))
        if tube.size_ul not in sizes:
            expected = ", ".join(format_ml(size) for size in sizes) or "no size for this patient"
            yield Broken(f"{_where(at, tube)}: size {format_ml(tube.size_ul)} mL, expected {expected}", tube.order_ids)


def tube_stability(facts: Facts) -> Iterator[Broken]:
    """A tube keeps as long as the test that keeps shortest in its kind."""
    for at, tube in _tubes(facts):
        expected = stability_s(facts, tube)
        if tube.stability_s != expected:
            yield Broken(f"{_where(at, tube)}: stability {tube.stability_s} s, expected {expected} s", tube.order_ids)


def handling(facts: Facts) -> Iterator[Broken]:
    """A tube's handling is that of all its tests together, and by hand where the site's pneumatic tube may not take it.

    That is so for what travels on ice and for culture bottles, unless the policy allows them.
    """
    allowed = facts.problem.policy.handover
    for at, tube in _tubes(facts):
        expected = {code for test in _tests(facts, tube) for code in test.handling}
        is_ice = any(Handling.ICE in test.handling for test in _tests(facts, tube))
        is_bottle = bool(tube.tests) and type_of(facts, tube).is_culture
        if (is_ice and not allowed.tube_takes_ice) or (is_bottle and not allowed.tube_takes_glass):
            expected.add(Handling.HAND_DELIVER)
        if tube.handling != expected:
            odd = sorted(code.value for code in tube.handling ^ expected)
            yield Broken(f"{_where(at, tube)}: handling missing or too much: {', '.join(odd)}", tube.order_ids)


def transport_mode(facts: Facts) -> Iterator[Broken]:
    """A tube travels as its tests do; a tube whose tests differ is a matter of `share_group`."""
    for at, tube in _tubes(facts):
        modes = {test.mode for test in _tests(facts, tube)}
        if len(modes) == 1 and tube.mode not in modes:
            expected = ", ".join(mode.value for mode in modes)
            yield Broken(f"{_where(at, tube)}: travels {tube.mode.value}, expected {expected}", tube.order_ids)


def stability_s(facts: Facts, tube: Tube) -> int | None:
    """Return the smallest stability of a tube's tests, each in this kind and as it travels; None: no limit."""
    columns = {TransportMode.ROOM: "max_room_s", TransportMode.ICE: "max_ice_s", TransportMode.WARM: "max_warm_s"}
    found: list[int] = []
    for test in _tests(facts, tube):
        column = columns[test.mode]
        of_kind = [getattr(limit, column) for limit in test.tube_limits if limit.tube == tube.tube]
        stated = [seconds for seconds in (*of_kind, getattr(test, column)) if seconds is not None]
        found += stated[:1]
    return min(found, default=None)


def _fill_range(facts: Facts, at: VisitAt, tube: Tube) -> tuple[int, int]:
    """Return least and most microlitres that a tube may take."""
    if tube.tube == DISCARD_TUBE and tube.is_discard:
        policy = facts.problem.policy.tubes
        discard_ul = policy.discard_child_ul if facts.is_child(at.patient) else policy.discard_adult_ul
        return discard_ul, discard_ul
    tests = _tests(facts, tube)
    if not type_of(facts, tube).filled_to_need or not tests:
        return tube.size_ul, tube.size_ul
    if len(tests) > 1:
        need = need_ul(facts, at.patient, tests)
        return need, need
    specimen = next((s for s in specimens_of(facts, at) if tube in s.tubes), None)
    need, count = alone_ul(facts, at.patient, tests[0]), 1 if specimen is None else len(specimen.tubes)
    share = -(-need // count)
    if specimen is not None and has_child_volume(facts, specimen):
        return 1, min(share, tube.size_ul)
    return share, share


def _tubes(facts: Facts) -> Iterator[tuple[VisitAt, Tube]]:
    return ((at, tube) for at in facts.visits for tube in tubes_of(at))


def _tests(facts: Facts, tube: Tube) -> list[LabTest]:
    return [facts.problem.catalogue.tests[code] for code in dict.fromkeys(tube.tests)]


def _where(at: VisitAt, tube: Tube) -> str:
    return f"{at.where}, tube {tube.draw_position} ({tube.tube})"


def _in_words(kinds: Mapping[TubeCode, int]) -> str:
    return " and ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))


def _list(order_ids: Iterable[str]) -> str:
    return ", ".join(sorted(order_ids)) or "none"


def _codes(tests: list[LabTest]) -> str:
    return " and ".join(test.code for test in tests)


RULES: tuple[Rule, ...] = (
    accepted_kind,
    first_choice,
    series_kind,
    tube_orders,
    share_group,
    volume,
    fill,
    size_for_patient,
    tube_stability,
    handling,
    transport_mode,
)
