"""``planner.explain``: why an order is where it is, late or not planned, and what single change would mend it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from planner.domain.beds import find_beds, which_bed
from planner.domain.derived.shares import Share, shares
from planner.domain.draws import DrawId
from planner.domain.order_numbers import find_order, find_patient, nearest_orders
from planner.domain.orders import OrderId
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.domain.staff import find_people, which_person
from planner.errors import RequestError
from planner.explaining.elsewhere import Elsewhere, tried_elsewhere
from planner.explaining.mends import Mend, mends
from planner.explaining.reasons import Explained
from planner.explaining.reasons import explain as explain_order
from planner.explaining.share_tries import ShareTry, share_tries
from planner.library.written import Revision, read
from planner.loaders.names.known import SiteNames
from planner.solving.params import Effort, SolveParams
from planner.visits import order_windows

TRY_LIMIT_S = 20.0
"""The guard for one try on a stalled machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """What a plan does with one order, which rule set each end of its window, and which single changes mend it.

    ``is_tried``: changes were tried, because the order is late or not planned; without it ``mends`` says nothing.
    ``elsewhere`` is what its visit would cost in another place; None: not worked out, or it cannot be (it is past).
    """

    explained: Explained
    mends: tuple[Mend, ...] = ()
    is_tried: bool = False
    elsewhere: tuple[Elsewhere, ...] | None = None


def explain(
    out: str | Path | Revision,
    order: str,
    *,
    tries: bool = True,
    seed: int = 1,
    accept_edited: bool = False,
    on_try: Callable[[str], None] = lambda _words: None,
) -> tuple[Explanation, ...]:
    """Return why orders are where they are, late or not planned; of the latter, what would mend each.

    Parameters
    ----------
    out
        The outputs of a round (its newest revision), one revision of them, or what `planner.read` returned.
    order
        The number of an order; a bed or a patient number stands for all orders of its patient.
    tries
        Plan again with single changes for an order that is late or not planned, which takes up to a minute; time the
        visit of a planned one anew in other places of the round.
    seed
        Seed of these searches.
    accept_edited
        Go on with a plan that was changed since it was written.
    on_try
        Called with each change, in words, before it is tried.

    Raises
    ------
    RequestError
        If ``order`` means none, or a bed of several wards.
    PlanFileError, CheckRefusedError
        As `planner.read`.
    """
    written = out if isinstance(out, Revision) else read(out, accept_edited=accept_edited)
    params = SolveParams(seed=seed, effort=Effort.QUICK, wall_limit_s=TRY_LIMIT_S, proves=False)
    found: list[Explanation] = []
    elsewhere: dict[DrawId, tuple[Elsewhere, ...] | None] = {}
    for order_id in _orders_meant(written.problem, written.plan, order):
        explained = explain_order(written.problem, written.plan, order_id)
        assert explained is not None
        is_well = explained.made is not None and not explained.late_s
        is_tried = tries and not is_well and explained.window is not None
        changes = mends(written.problem, written.plan, written.number, order_id, params, on_try) if is_tried else ()
        if tries and explained.made is not None and (visit := explained.made.visit).draw_id not in elsewhere:
            elsewhere[visit.draw_id] = tried_elsewhere(written.problem, written.plan, visit, params)
        found.append(
            Explanation(
                explained=explained,
                mends=tuple(changes),
                is_tried=is_tried,
                elsewhere=elsewhere.get(explained.made.visit.draw_id) if explained.made else None,
            )
        )
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareExplanation:
    """What one person does of a plan, and how many visits other prices and limits would give them.

    ``shares`` are those of everybody, in the order of the staff. ``tries`` are only those that give this person
    another number of visits; ``is_tried``: without it they say nothing.
    """

    person: int
    shares: tuple[Share, ...]
    tries: tuple[ShareTry, ...] = ()
    is_tried: bool = False


def explain_share(
    out: str | Path | Revision,
    name: str,
    *,
    tries: bool = True,
    seed: int = 1,
    accept_edited: bool = False,
    on_try: Callable[[str], None] = lambda _words: None,
) -> ShareExplanation:
    """Return why a person has so many visits, and which price or limit would have to change for another share.

    Parameters
    ----------
    name
        Name or initials of the person.
    out, tries, seed, accept_edited, on_try
        As `explain`.

    Raises
    ------
    RequestError
        If ``name`` means nobody, or several people.
    PlanFileError, CheckRefusedError
        As `planner.read`.
    """
    written = out if isinstance(out, Revision) else read(out, accept_edited=accept_edited)
    found = find_people(written.problem.staff, name)
    if len(found) != 1:
        raise RequestError(which_person(written.problem.staff, name))
    windows, _without = order_windows(written.problem)
    params = SolveParams(seed=seed, effort=Effort.QUICK, wall_limit_s=TRY_LIMIT_S, proves=False)
    return ShareExplanation(
        person=found[0],
        shares=shares(written.problem, written.plan, windows),
        tries=tuple(share_tries(written.problem, found[0], params, on_try)) if tries else (),
        is_tried=tries,
    )


def means_person(written: Revision, text: str) -> bool:
    """Return whether a text is the name or the initials of one who collects, and no order, bed or patient."""
    try:
        _orders_meant(written.problem, written.plan, text)
    except RequestError:
        return bool(find_people(written.problem.staff, text))
    return False


def _orders_meant(problem: Problem, plan: Plan, text: str) -> list[OrderId]:
    """Return the order of a number, else the orders of the patient of a bed or patient number.

    Raises
    ------
    RequestError
        If the text means none, or a bed of several wards.
    """
    whose = {u.order_id: u.patient_id for u in (*problem.set_aside, *plan.unplanned)}
    whose |= {order.id: order.patient_id for order in problem.orders}
    if (order_id := find_order(whose, text)) is not None:
        return [order_id]
    beds = find_beds(problem.places.values(), SiteNames(problem.site_names).bed(text, problem.places.values()))
    all_here = [patient for patient in problem.patients.values() if patient.bed in beds]
    lying = [patient for patient in all_here if patient.gone_s is None] or all_here
    occupied = [bed for bed in beds if any(patient.bed == bed for patient in lying)]
    if len(occupied) > 1:
        raise RequestError(which_bed(text, map(problem.place_name, occupied)))
    patient = find_patient(problem.patients, {}, text)
    here = {patient.id for patient in lying} or ({patient.id} if patient else set())
    found = sorted(order_id for order_id, patient_id in whose.items() if patient_id in here)
    if not found:
        orders = nearest_orders(whose, text)
        raise RequestError(f"{text!r} is no order, bed, patient or person of this round; orders: {orders}")
    return found
