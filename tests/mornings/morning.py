"""One simulated morning: a round is planned, walked, and replanned at everything that is heard, to its end."""

from __future__ import annotations

import random
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from planner.domain.orders import OrderId
from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Cancel, Change, StatOrders
from planner.domain.revisions.reported import Reported
from planner.domain.revisions.stop_changes import ChangeKind, stop_changes
from planner.findings import Finding, Severity
from planner.pipeline import plan_round
from planner.replanning.next_problem import next_problem, remade_problem
from planner.replanning.past.taken_back import TakenBack
from planner.solving.params import SolveParams
from tests.mornings.account import Account, ends
from tests.mornings.in_vain import causes, in_vain, saved_by_going_straight
from tests.mornings.news import News, changes_of, news_of_the_morning
from tests.mornings.past_stays import past_faults
from tests.mornings.rates import Rates
from tests.mornings.walk_on import walked_on
from tests.mornings.walkers import Walker

PARAMS = SolveParams(effort="quick", wall_limit_s=300.0, proves=False)
"""As the command replans while somebody waits at the phone: without proofs."""


@dataclass(slots=True)
class Morning:
    """What came of one morning."""

    seed: int
    faults: list[str] = field(default_factory=list)
    heard: Counter[str] = field(default_factory=Counter)
    moved: list[int] = field(default_factory=list)
    """Stops moved at each event, those not made of promised ones left out."""
    seconds: list[float] = field(default_factory=list)
    """Seconds of one core for each replan, so that other programs on the machine count little."""
    num_promised: list[int] = field(default_factory=list)
    compared: int = 0
    """Replans that were set beside walking on in the old order."""
    ends: Counter[str] = field(default_factory=Counter)
    in_vain: Counter[str] = field(default_factory=Counter)
    """Orders drawn in vain, by cause."""


def simulate(seed: int, problem: Problem, rates: Rates, params: SolveParams = PARAMS) -> Morning:
    """Plan a round and let the morning happen; every revision is held against the account, the past and walking on."""
    rng = random.Random(f"morning {seed}")
    morning = Morning(seed)
    plan = plan_round(problem, params).plan
    account = Account.of(problem)
    walkers = _walkers(problem, plan, rng)
    num_visits = sum(len(route.visits) for route in plan.routes)
    news = news_of_the_morning(problem, num_visits, rates, rng)
    revision, last, first_problem = 1, News(problem.end_s, "end"), problem
    for event in [*news, last]:
        reports = list(_walk(walkers, problem, event.at_s, rates, rng))
        silent = [k for k in range(len(first_problem.staff)) if k not in {walker.person for walker in walkers}]
        changes = changes_of(event, problem, plan, rng, first_problem, silent) if event is not last else []
        account.tell(reports)
        before, began_s = problem, time.process_time()
        taken_back = None
        if event.kind == "slip" and changes:  # it was the wrong patient: the command is taken back at once
            taken_back = _slip(problem, plan, revision, event.at_s, reports, changes, params)
            revision, changes = revision + 1, []
        following = next_problem(
            problem,
            plan,
            parent=revision,
            now_s=event.at_s,
            reports=reports,
            changes=changes,
            taken_back=taken_back,
        )
        planned = plan_round(following.problem, params)  # the independent checker refuses with an exception
        morning.seconds.append(time.process_time() - began_s)
        old_plan, problem, plan = plan, following.problem, planned.plan
        morning.heard[event.kind] += 1
        new = account.arrivals(problem)
        account.cancelled |= _cancelled(changes, following.findings)
        lost = in_vain(plan) - in_vain(old_plan)
        morning.in_vain.update(causes(problem, event.kind, lost).values())
        where = f"seed {seed}, revision {revision + 1}, {problem.clock.format_clock(event.at_s)} {event.kind}"
        assert problem.replan is not None
        again = remade_problem(
            before, old_plan, parent=revision, now_s=event.at_s, events=problem.replan.events, taken_back=taken_back
        )
        faults = [
            *(["its events make another round"] if again != problem else []),
            *_arrival_faults(changes, new, following.findings),
            *account.faults(problem, plan),
            *past_faults(before, problem),
            *saved_by_going_straight(problem, lost),
        ]
        reference = None if taken_back else walked_on(problem, planned.draws, old_plan, plan)
        if reference is not None:
            morning.compared += 1
            values = tuple(goal.value for goal in plan.goals)
            if values > reference:
                faults.append(f"goals {values}, walking on would give {reference}")
        morning.faults += [f"{where}: {fault}" for fault in faults]
        kinds = Counter(change.kind for change in stop_changes(problem, plan))
        if taken_back is None:
            morning.moved.append(kinds[ChangeKind.MOVED])
        assert problem.replan is not None
        morning.num_promised.append(len(problem.replan.promised))
        _hand_out(walkers, problem, plan, event.at_s, rng)
        revision += 1
    morning.ends = ends(plan)
    if morning.ends["still to come"]:
        morning.faults.append(f"seed {seed}: visits still to come when the round is over")
    return morning


def _slip(
    problem: Problem,
    plan: Plan,
    revision: int,
    now_s: int,
    reports: Sequence[Reported],
    changes: Sequence[Change],
    params: SolveParams,
) -> TakenBack:
    """Replan for what was not so, and return what is to be taken back."""
    wrong = next_problem(problem, plan, parent=revision, now_s=now_s, reports=reports, changes=changes).problem
    assert wrong.replan is not None
    old = problem.replan.log if problem.replan else ()
    return TakenBack(
        goes_on_from=revision,
        plan=plan_round(wrong, params).plan,
        replan=wrong.replan,
        events=wrong.replan.log[len(old) :],
    )


def _walkers(problem: Problem, plan: Plan, rng: random.Random) -> list[Walker]:
    """Return those who tell what they do: three in four."""
    return [
        Walker(
            person=person,
            place=who.starts_at,
            clock_s=who.from_s,
            pace=rng.uniform(0.9, 1.3),
            to_do=[stop for route in plan.routes if route.phlebotomist == person for stop in route.stops],
        )
        for person, who in enumerate(problem.staff)
        if rng.random() < 0.75
    ]


def _hand_out(walkers: list[Walker], problem: Problem, plan: Plan, now_s: int, rng: random.Random) -> None:
    """Give everybody her new sheet; who joins tells what she does."""
    assert problem.replan is not None
    for person in range(len(problem.staff)):
        is_new = not problem.replan.past[person].stops and person >= 2 and not any(w.person == person for w in walkers)
        if is_new and problem.staff[person].name == "Extra Hand":
            who = problem.staff[person]
            walkers.append(Walker(person=person, place=who.starts_at, clock_s=who.from_s, pace=rng.uniform(0.9, 1.3)))
    for walker in walkers:
        walker.take_sheet(problem, plan, now_s)


def _walk(
    walkers: Sequence[Walker], problem: Problem, now_s: int, rates: Rates, rng: random.Random
) -> Iterator[Reported]:
    def outcome_of(visit: Visit) -> dict[OrderId, Outcome]:
        """Return what a visit comes to: one thing for all orders, but for single specimens that are of no use."""
        dice = random.Random(f"{visit.draw_id} {visit.order_ids} {rng_stem}")
        for outcome, share in (
            (Outcome.UNSUCCESSFUL, rates.failed),
            (Outcome.AWAY, rates.away),
            (Outcome.REFUSED, rates.refused),
        ):
            if dice.random() < share:
                return dict.fromkeys(visit.order_ids, outcome)
        single = {Outcome.PARTIAL: rates.partial, Outcome.RECOLLECT: rates.recollect}
        outcomes = dict.fromkeys(visit.order_ids, Outcome.COLLECTED)
        for outcome, share in single.items():
            if dice.random() < share:
                outcomes[dice.choice(visit.order_ids)] = outcome
        return outcomes

    rng_stem = rng.random()
    for walker in walkers:
        walker.walk_until(problem, now_s, outcome_of, rng)
        yield from walker.told()


def _cancelled(changes: Sequence[Change], findings: Sequence[Finding]) -> set[OrderId]:
    """Return the orders whose cancelling was accepted."""
    refused = {o for f in findings if f.code == "order-drawn" for o in f.order_ids}
    known = {o for f in findings if f.code == "change-known" for o in f.order_ids}
    return {OrderId(c.order_id) for c in changes if isinstance(c, Cancel)} - refused - known


def _arrival_faults(changes: Sequence[Change], new: set[OrderId], findings: Sequence[Finding]) -> list[str]:
    """Return a fault unless every test asked for at once has a number, or a finding says why not."""
    asked = sum(len(c.tests) for c in changes if isinstance(c, StatOrders))
    said = sum(f.code == "change-known" or f.severity is Severity.ERROR for f in findings)
    return [] if len(new) + said >= asked >= len(new) else [f"{asked} tests asked for, {len(new)} numbers, {said} said"]
