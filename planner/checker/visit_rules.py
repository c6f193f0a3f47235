"""Is each visit one patient's, at the right bed, of the right length, and within what may be drawn?"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations, pairwise, permutations, product

from planner.checker.ages import counts_as, way_of_collection, weight_bounds_g
from planner.checker.broken import Broken, Rule
from planner.checker.facts import Facts, VisitAt
from planner.checker.windows import counts_from_stated
from planner.domain.catalogue import DoseKind, Handling
from planner.domain.draws import Device
from planner.domain.orders import Arm, Order, Patient
from planner.domain.patients.weights import CAP_PER_DRAW
from planner.domain.policy import BloodPolicy
from planner.findings import Severity
from planner.units import format_ml


def visit_patient(facts: Facts) -> Iterator[Broken]:
    """A visit stands at its patient's bed and serves at least one order, all of that patient."""
    for at in facts.visits:
        if at.visit.place != at.patient.bed:
            yield Broken(
                f"{at.where}: the patient lies in {facts.problem.place_name(at.patient.bed)}", at.visit.order_ids
            )
        if not at.orders:
            yield Broken(f"{at.where}: a visit without an order")
        if strange := [o.id for o in at.orders if o.patient_id != at.visit.patient_id]:
            yield Broken(f"{at.where}: orders of another patient: {', '.join(strange)}", strange)


def draw_id(facts: Facts) -> Iterator[Broken]:
    """No two visits carry the same draw id, and none an empty one."""
    for draw, count in Counter(at.visit.draw_id for at in facts.all_visits).items():
        if count > 1 or not draw:
            visits = [at for at in facts.all_visits if at.visit.draw_id == draw]
            yield Broken(
                f"{'; '.join(at.where for at in visits)}: expected a draw id of its own for each visit",
                [order_id for at in visits for order_id in at.visit.order_ids],
            )


def series(facts: Facts) -> Iterator[Broken]:
    """Orders of one series and test are never drawn in one visit, cultures excepted."""
    for at in facts.visits:
        repeated = Counter(
            (order.series, order.test)
            for order in at.orders
            if order.series is not None and not facts.test(order).is_culture
        )
        for (name, test), count in repeated.items():
            if count > 1:
                ids = [o.id for o in at.orders if (o.series, o.test) == (name, test)]
                yield Broken(f"{at.where}: {count} draws of one series of {test}, expected one", ids)


def second_sample(facts: Facts) -> Iterator[Broken]:
    """Two samples for the blood bank are never one visit: each is a puncture after an identification of its own."""
    for at in facts.visits:
        for one, other in combinations(_for_blood_bank(facts, at), 2):
            if _is_pair(facts, one, other):
                tests = " and ".join(sorted((one.test, other.test)))
                yield Broken(f"{at.where}: samples of {tests} in one visit, expected one", [one.id, other.id])


def second_sample_by_one_person(facts: Facts) -> Iterator[Broken]:
    """Both samples are drawn by one person only where the policy allows it; else a person decides: no error."""
    if facts.problem.policy.transfusion.one_person_may_draw_both:
        return
    for_blood_bank = [at for at in facts.all_visits if _for_blood_bank(facts, at)]
    for first, second in combinations(for_blood_bank, 2):
        if first.patient.id != second.patient.id or first.at.route.phlebotomist != second.at.route.phlebotomist:
            continue
        if first.visit.outcome is not None and second.visit.outcome is not None:
            continue
        samples = [_for_blood_bank(facts, at) for at in (first, second)]
        if any(_is_pair(facts, one, other) for one, other in product(*samples)):
            message = f"{second.where}: both samples for the blood bank by one person; expected two, or a decision"
            yield Broken(message, [order.id for own in samples for order in own], Severity.WARNING)


def _for_blood_bank(facts: Facts, at: VisitAt) -> list[Order]:
    return [order for order in at.orders if Handling.STRICT_LABEL in facts.test(order).handling]


def _is_pair(facts: Facts, one: Order, other: Order) -> bool:
    """Whether one of two transfusion orders is a second sample, by its row or because the test is the same."""
    is_second = (Handling.SECOND_SAMPLE in facts.test(order).handling for order in (one, other))
    return one.test == other.test or any(is_second)


def free_arm(facts: Facts) -> Iterator[Broken]:
    """Nobody is visited without an arm that is known to be free: see the rule book."""
    noted = [o for o in facts.problem.orders if o.arms_in_words or o.infusion_arms or o.arms_unexplained]
    for at in facts.visits:
        closed = {*at.patient.arms_barred, *at.patient.arms_in_words}
        running = {*at.patient.infusion_arms}
        named = {*at.patient.arms_unexplained}
        for order in noted:
            if order.patient_id == at.visit.patient_id:
                closed.update(order.arms_in_words)
                running.update(order.infusion_arms)
                named.update(order.arms_unexplained)
        if closed.issuperset(Arm):
            yield Broken(f"{at.where}: neither arm may be used", at.visit.order_ids)
        elif running and (closed | running).issuperset(Arm):
            yield Broken(f"{at.where}: something runs into every arm that may be used", at.visit.order_ids)
        elif (closed or running) and (closed | running | named).issuperset(Arm):
            yield Broken(f"{at.where}: a text names the arm that is left, and nobody knows why", at.visit.order_ids)
        elif at.patient.has_sideless_reason and (closed | running) and not at.patient.arms_barred:
            yield Broken(f"{at.where}: a reason without a side may close the arm that is left", at.visit.order_ids)


def stated_times(facts: Facts) -> Iterator[Broken]:
    """Two orders of one test that state different times are two visits, the one asked for earlier first."""
    for (one_at, one), (two_at, two) in combinations(((at, order) for at, order, _ in facts.draws), 2):
        if (one.patient_id, one.test) != (two.patient_id, two.test):
            continue
        is_timed = one.is_timed and two.is_timed
        asked = _asked(one), _asked(two)
        if one_at is two_at:
            if (is_timed and asked[0] != asked[1]) or _count_from_two_doses(facts, one, two):
                yield Broken(f"{one_at.where}: one draw for orders that state different times", (one.id, two.id))
        elif is_timed and not (one.series and one.series == two.series):
            asked_s = [next(at_s for at_s in times if at_s is not None) for times in asked]
            drawn_s = one_at.visit.draw_s, two_at.visit.draw_s
            if (asked_s[0] < asked_s[1] and drawn_s[0] > drawn_s[1]) or (
                asked_s[0] > asked_s[1] and drawn_s[0] < drawn_s[1]
            ):
                yield Broken(f"{one_at.where}: drawn against the order of the times that are stated", (one.id, two.id))


def stated_spacing(facts: Facts) -> Iterator[Broken]:
    """Two draws of one test, one asked for so long after the other, are at least the policy's part of that apart."""
    percent = facts.problem.policy.windows.stated_spacing_pct
    drawn = [(at, order) for at in facts.all_visits for order in at.orders]
    for (before_at, before), (after_at, after) in permutations(drawn, 2):
        if (before.patient_id, before.test) != (after.patient_id, after.test) or after_at.visit.outcome is not None:
            continue
        if before.series is not None and before.series == after.series and not facts.test(after).is_culture:
            continue
        if before.collect_at_s is not None and after.collect_at_s is not None:
            wished_s = after.collect_at_s - before.collect_at_s
        elif before.collect_from_s is not None and after.collect_from_s is not None:
            wished_s = after.collect_from_s - before.collect_from_s
        else:
            continue
        apart_s = after_at.visit.draw_s - before_at.visit.draw_s
        if wished_s > 0 and 0 < apart_s < wished_s * percent // 100:
            yield Broken(
                f"{after_at.where}: {after.test} drawn {apart_s} s after order {before.id}, asked for {wished_s} s "
                f"after it, expected at least {percent} % of that",
                (before.id, after.id),
            )


def _asked(order: Order) -> tuple[int | None, int | None, int | None]:
    return order.collect_at_s, order.collect_from_s, order.collect_to_s


def _count_from_two_doses(facts: Facts, one: Order, two: Order) -> bool:
    rule = facts.test(one).dose_rule
    if rule is None or not counts_from_stated(rule, one) or not counts_from_stated(rule, two):
        return False
    if rule.kind == DoseKind.TROUGH:
        return one.next_dose_s != two.next_dose_s
    if rule.kind == DoseKind.POST_END:
        return one.infusion_end_s != two.infusion_end_s
    return one.last_dose_s != two.last_dose_s


def lead(facts: Facts) -> Iterator[Broken]:
    """The draw time is the start plus identifying, preparing and half the gown time, rounded down."""
    service = facts.problem.policy.service
    for at in facts.visits:
        lead_s = service.identify_s + service.prepare_s + _gown_s(facts, at.patient) // 2
        expected_s = at.visit.start_s + lead_s
        if at.visit.draw_s != expected_s:
            yield Broken(
                f"{at.where}: drawn at {facts.time(at.visit.draw_s)}, expected {facts.time(expected_s)}",
                at.visit.order_ids,
            )


def service(facts: Facts) -> Iterator[Broken]:
    """The visit ends after its service time, which is the sum of the parts that the policy states."""
    for at in facts.visits:
        expected_s = at.visit.start_s + _service_s(facts, at)
        if at.visit.depart_s != expected_s:
            yield Broken(
                f"{at.where}: departs at {facts.time(at.visit.depart_s)}, expected {facts.time(expected_s)}",
                at.visit.order_ids,
            )


def absence(facts: Facts) -> Iterator[Broken]:
    """Nobody is visited while away: neither draw nor stay touches the inside of an away span."""
    for at in facts.visits:
        for span in at.patient.away:
            is_stay = at.visit.start_s < span.latest_s and at.visit.depart_s > span.earliest_s
            if is_stay or span.earliest_s <= at.visit.draw_s < span.latest_s:
                yield Broken(
                    f"{at.where}: visited {facts.time(at.visit.start_s)} to {facts.time(at.visit.depart_s)}, "
                    f"but away {facts.time(span.earliest_s)} to {facts.time(span.latest_s)}",
                    at.visit.order_ids,
                )


def one_at_the_bed(facts: Facts) -> Iterator[Broken]:
    """Two visits of one patient do not overlap; touching ends are allowed."""
    in_time = sorted(facts.all_visits, key=lambda at: (at.visit.patient_id, at.visit.start_s, at.visit.depart_s))
    for first, second in pairwise(in_time):
        is_one_patient = first.visit.patient_id == second.visit.patient_id
        is_past = second.visit.outcome is not None
        if is_one_patient and not is_past and second.visit.start_s < first.visit.depart_s:
            yield Broken(
                f"{second.where}: starts at {facts.time(second.visit.start_s)}, before {first.where} has left "
                f"at {facts.time(first.visit.depart_s)}",
                (*first.visit.order_ids, *second.visit.order_ids),
            )


def age_known(facts: Facts) -> Iterator[Broken]:
    """Nobody is visited of whom nothing tells whether the limits for children apply."""
    for at in facts.visits:
        if _is_age_open(facts, at.patient):
            yield Broken(f"{at.where}: the age is not known, expected a decision before the draw", at.visit.order_ids)


def weight_for_age(facts: Facts) -> Iterator[Broken]:
    """Nobody is visited whose weight lies outside the bounds at every age that the birth date allows."""
    for at in facts.visits:
        weight_g, bounds = at.patient.weight_g, weight_bounds_g(at.patient, facts.problem.clock.day)
        if weight_g is not None and bounds is not None and not bounds[0] <= weight_g <= bounds[1]:
            yield Broken(
                f"{at.where}: a weight of {weight_g} g, expected {bounds[0]} to {bounds[1]} g at this age",
                at.visit.order_ids,
            )


def collection_method(facts: Facts) -> Iterator[Broken]:
    """Nobody is visited whom the ward draws, or of whom nobody has said how; a lancet is for the skin alone;
    heel tests are never of the round."""
    policy, today = facts.problem.policy.blood, facts.problem.clock.day
    for at in facts.visits:
        way = way_of_collection(policy, at.patient, today)
        if way in ("open", "ward"):
            yield Broken(f"{at.where}: way of collection {way}, expected venous or capillary", at.visit.order_ids)
        elif (way == "capillary") != (at.visit.needle.device == Device.LANCET):
            yield Broken(f"{at.where}: {way} draw with a {at.visit.needle.device} device", at.visit.order_ids)
        for order in at.orders:
            if Handling.HEEL_ONLY in facts.test(order).handling:
                yield Broken(f"{at.where}: {order.test} is a heel test, expected nobody of the round", (order.id,))


def blood_limit(facts: Facts) -> Iterator[Broken]:
    """What a child gives in the round and gave before stays within the limits by weight, of a day and of 30 days."""
    policy = facts.problem.policy.blood
    for patient_id in dict.fromkeys(at.visit.patient_id for at in facts.visits):
        patient = facts.problem.patients[patient_id]
        if not facts.is_limited(patient) or _is_age_open(facts, patient):
            continue
        visits = [at.visit for at in facts.all_visits if at.visit.patient_id == patient_id]
        ids = [order_id for visit in visits for order_id in visit.order_ids]
        bed = facts.problem.place_name(patient.bed)
        if patient.weight_g is None:
            yield Broken(
                f"bed {bed}: a child without a weight, expected a decision before the draw",
                ids,
            )
            continue
        drawn_ul = sum(planned.tube.volume_ul for visit in visits for planned in visit.tubes)
        day_before_ul = patient.drawn_24h_ul or 0
        month_before_ul = max(day_before_ul, patient.drawn_30d_ul or 0)
        day_ul = _lowered_ul(policy, patient, Fraction(policy.child_day_ul_per_kg * patient.weight_g, 1000))
        if patient.drawn_24h_ul is None:
            day_ul = math.floor(day_ul * Fraction(round(policy.unknown_drawn_pct * 100), 10_000))
        month_ul = _lowered_ul(policy, patient, _month_limit_ul(policy, patient.weight_g))
        for span, before_ul, limit_ul in (("24 h", day_before_ul, day_ul), ("30 days", month_before_ul, month_ul)):
            if drawn_ul + before_ul > limit_ul:
                yield Broken(
                    f"bed {bed}: {format_ml(drawn_ul + before_ul)} mL in {span} with this round's "
                    f"{format_ml(drawn_ul)} mL, expected at most {format_ml(limit_ul)} mL",
                    ids,
                )


def blood_draw_cap(facts: Facts) -> Iterator[Broken]:
    """One draw from a child under 14 takes no more than the cap for one draw at the child's weight."""
    for at in facts.visits:
        weight_g = at.patient.weight_g
        if weight_g is None or not facts.is_child(at.patient):
            continue
        caps = [cap_ul for from_g, cap_ul in CAP_PER_DRAW if from_g <= weight_g]
        cap = Fraction(max(caps, default=CAP_PER_DRAW[0][1]))
        cap_ul = _lowered_ul(facts.problem.policy.blood, at.patient, cap)
        drawn_ul = sum(planned.tube.volume_ul for planned in at.visit.tubes)
        if drawn_ul > cap_ul:
            yield Broken(
                f"{at.where}: {format_ml(drawn_ul)} mL at one time, expected at most {format_ml(cap_ul)} mL",
                at.visit.order_ids,
            )


def _is_age_open(facts: Facts, patient: Patient) -> bool:
    return patient.birth_date is None and counts_as(facts.problem.policy.blood, patient) == "open"


def _month_limit_ul(policy: BloodPolicy, weight_g: int) -> Fraction:
    """Return microlitres in 30 days: a percentage (of two decimals) of the total blood volume."""
    return Fraction(policy.child_ml_per_kg_tbv * weight_g * round(policy.child_30d_tbv_pct * 100), 10_000)


def _lowered_ul(policy: BloodPolicy, patient: Patient, limit: Fraction) -> int:
    """Return a limit rounded down, then lowered in proportion when the patient is anaemic and rounded down again."""
    limit_ul = limit.numerator // limit.denominator
    haemoglobin, reference = patient.haemoglobin_g_l, policy.anaemia_reference_g_l
    if haemoglobin is not None and haemoglobin < reference:
        return limit_ul * haemoglobin // reference
    return limit_ul


def _gown_s(facts: Facts, patient: Patient) -> int:
    gown_s = facts.problem.policy.service.gown_s
    return max((gown_s.get(precaution, 0) for precaution in patient.precautions), default=0)


def _service_s(facts: Facts, at: VisitAt) -> int:
    policy = facts.problem.policy.service
    containers = len(at.visit.tubes)
    sites = len({planned.tube.site for planned in at.visit.tubes})
    seconds = policy.identify_s + policy.prepare_s + policy.draw_s + policy.label_s + policy.tidy_s
    seconds += policy.extra_tube_s * max(0, containers - policy.tubes_included)
    seconds += policy.extra_culture_site_s * max(0, sites - 1)
    if facts.is_child(at.patient):
        seconds += policy.child_extra_s
    if at.patient.has_difficult_veins:
        seconds += policy.difficult_veins_extra_s
    return seconds + _gown_s(facts, at.patient)


RULES: tuple[Rule, ...] = (
    visit_patient,
    draw_id,
    series,
    second_sample,
    second_sample_by_one_person,
    stated_times,
    stated_spacing,
    free_arm,
    lead,
    service,
    absence,
    one_at_the_bed,
    age_known,
    weight_for_age,
    collection_method,
    blood_limit,
    blood_draw_cap,
)
