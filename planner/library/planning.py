"""``planner.plan``: a checked plan of a round, with all that is worth saying about it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

from planner.domain.draws import Draw, OrderWindow
from planner.domain.orders import OrderId
from planner.domain.plan import Plan, Unplanned
from planner.domain.problem import Problem
from planner.findings import Finding, to_decide, unread
from planner.library.loading import LoadedRound, priced, require_orders
from planner.library.replan_findings import told_apart
from planner.loaders.policy.prices import Prices
from planner.pipeline import Listener, plan_round_or_less
from planner.solving.params import Effort, SolveParams

WALL_LIMITS_S = {Effort.QUICK: 120.0, Effort.NORMAL: 240.0, Effort.THOROUGH: 1800.0}
"""The guard for a stalled machine, by effort: several times what the work takes on two slow cores."""


class Digest(Protocol):
    """What a plan was made from: the same digest with the same options means the same plan."""

    def with_options(self, options: Mapping[str, object]) -> str:
        """Return hexadecimal digits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundPlan:
    """A plan that the independent checker has passed, and what is worth saying about it.

    ``problem`` is the round that it plans, ``findings`` are those of reading and of planning, ``windows`` and ``draws``
    what the plan was made from. ``params`` say how it was searched. ``refused`` is what the checker found in plans that
    it refused before: the orders that they name are left out of this one.
    """

    problem: Problem
    plan: Plan
    findings: tuple[Finding, ...]
    windows: Mapping[OrderId, OrderWindow] = field(repr=False)
    draws: tuple[Draw, ...] = field(repr=False)
    params: SolveParams
    sources: tuple[str, ...] = ()
    digest: Digest | None = field(default=None, repr=False, compare=False)
    refused: tuple[Finding, ...] = ()
    was_interrupted: bool = False
    hit_wall_guard: bool = False

    @property
    def left_out(self) -> tuple[Unplanned, ...]:
        """The orders that are not planned, those set aside when the round was read among them, with reasons."""
        return self.plan.unplanned

    @property
    def needs_decision(self) -> bool:
        """True when a person must decide something: of an order, or of something given that was not read."""
        return needs_decision(self.problem, self.plan, self.findings)

    @property
    def is_whole(self) -> bool:
        """True when the search ran to its end: the same input then gives the same plan on every machine."""
        return not self.was_interrupted and not self.hit_wall_guard


def plan(
    loaded: LoadedRound | Problem,
    *,
    effort: str = "normal",
    seed: int = 1,
    prices: Prices = (),
    listener: Listener = lambda _stage, _values, _bounds: None,
) -> RoundPlan:
    """Return a plan of a round: tubes, visits, routes, passed by the independent checker. Nothing is written.

    Where the checker refuses a plan, the round is planned again without the orders that it names; they are left out
    for a person to decide.

    Parameters
    ----------
    loaded
        What `planner.load` returned, or a problem made otherwise.
    effort
        How much work the search may do: ``"quick"``, ``"normal"`` or ``"thorough"``. Work, not seconds.
    seed
        From 0 to 2^31 - 1; another seed searches in another order.
    prices
        Prices to try in place of the site's, for this plan only: texts such as ``"moved_stop=5"``, or numbers by name.
        `planner.default_policy` lists names, units and ranges (section ``[prices]``).
    listener
        Called while the search runs: with its stage, and the goals' values and bounds.

    Raises
    ------
    InputError
        If there is no order to plan.
    CheckRefusedError
        If the checker refuses what is left too; it carries the findings.
    RequestError
        If a price is unknown, given twice, no number or out of range; it says all that is wrong.
    ValueError
        If the effort or the seed is none.
    """
    if isinstance(loaded, Problem):
        loaded = LoadedRound(
            problem=loaded, findings=(), sources=(), num_orders_read=len(loaded.orders), name=loaded.round_name
        )
    loaded = priced(loaded, prices)
    params = SolveParams(seed=seed, effort=Effort(effort), wall_limit_s=WALL_LIMITS_S[Effort(effort)])
    made = planned(require_orders(loaded), params, loaded.findings, listener)
    return replace(made, sources=loaded.sources, digest=loaded.digest)


def planned(problem: Problem, params: SolveParams, loading: Sequence[Finding], listener: Listener) -> RoundPlan:
    """Return the plan of a problem; ``loading`` is what was found when it was read.

    Raises
    ------
    CheckRefusedError
        If the checker refuses every plan.
    """
    made = plan_round_or_less(problem, params, listener)
    return RoundPlan(
        problem=problem,
        plan=made.plan,
        findings=(*loading, *made.findings),
        windows=made.windows,
        draws=made.draws,
        params=params,
        refused=made.refused,
        was_interrupted=made.was_interrupted,
        hit_wall_guard=made.hit_wall_guard,
    )


def needs_decision(problem: Problem, plan: Plan, findings: Iterable[Finding]) -> bool:
    """Return whether a plan leaves a decision to a person; of a replan too what was not applied or is to be done."""
    if problem.replan is None:
        return asks_for_person(plan.unplanned, findings)
    told = told_apart(findings)
    return bool(told.not_applied or told.to_do) or any(order.reason.needs_decision for order in plan.unplanned)


def asks_for_person(unplanned: Iterable[Unplanned], findings: Iterable[Finding]) -> bool:
    """Return whether a person must decide something: of an order set aside or planned, or of what was not read."""
    findings = tuple(findings)
    is_waiting = any(order.reason.needs_decision for order in unplanned)
    return is_waiting or bool(unread(findings)) or bool(to_decide(findings))
