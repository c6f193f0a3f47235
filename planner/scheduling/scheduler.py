"""Plans the round: a first plan, a repeatable search, then each tier of goals proven or improved by the solver.

The solver takes longer to load than a replan to be searched, so it is loaded only where a proof is asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from planner.domain.draws import Draw
from planner.domain.goals import PARTS, Part, Tier
from planner.domain.plan import Goal, GoalPart, Plan, Unplanned
from planner.domain.problem import Problem
from planner.errors import SolverError
from planner.scheduling.exact.bounds import least_value
from planner.scheduling.rounds.assemble import assemble
from planner.scheduling.rounds.from_plan import round_from_plan
from planner.scheduling.rounds.kept import kept_round
from planner.scheduling.rounds.numbers import build_instance
from planner.scheduling.rounds.trays import settled_trays
from planner.scheduling.rounds.unplanned import unplanned_orders
from planner.scheduling.search.dear_wards import gather_by_ward, is_worth_gathering
from planner.scheduling.search.estimates import Estimator
from planner.scheduling.search.few_changes import restored, with_room
from planner.scheduling.search.handovers import tidy_handovers, without_empty
from planner.scheduling.search.recreate import first_round
from planner.scheduling.search.search import improve
from planner.scheduling.timing.insertion import empty_round
from planner.scheduling.timing.solution import Evaluator, Solution, part_prices, part_values
from planner.solving.outcome import SolveStatus
from planner.solving.params import SolveParams
from planner.solving.stopping import CTRL_C

SEARCH_WORK = {"quick": 120, "normal": 1_000, "thorough": 6_000}
"""Work of the search for each visit, in routes timed, by effort."""

TRIAL_WORK = 300
"""Work of a trial: whether other visits of a patient are worth a search shows close to the round in hand."""

COMPACT_REMOVALS = {"quick": 150, "normal": 500, "thorough": 5_000}
"""Removals for each visit that another first round, with little walking, is looked for with, by effort."""

AGAIN = {"quick": 0, "normal": 3, "thorough": 6}
AGAIN_VISITS = 45
"""How often a round is searched anew where orders are left out or late, and of how many visits in all."""

LEGS = {"quick": 1, "normal": 1, "thorough": 4}
"""Searches with other seeds, each from the best round of the one before."""

PROOF_WORK: dict[str, dict[Tier, float]] = {
    "quick": {Tier.LEFT_OUT: 0.2, Tier.SERVICE: 0.5, Tier.EFFORT: 0.25},
    "normal": {Tier.LEFT_OUT: 0.8, Tier.SERVICE: 1.3, Tier.EFFORT: 1.2},
    "thorough": {Tier.LEFT_OUT: 60.0, Tier.SERVICE: 120.0, Tier.EFFORT: 110.0},
}
"""Deterministic seconds of the solver for each tier that is not already at its least possible value."""

MAX_ARCS = 40_000
"""Above so many arcs the exact model is not built: the search stands alone, and says so by its bounds."""

MAX_EFFORT_ARCS = 2_000
"""The exact model says something of tier ``effort`` of small rounds only; on larger ones it is asked with effort
thorough."""

Listener = Callable[[str, Sequence[int], Sequence[int]], None]
"""Told of the stage, the values of the tiers and their bounds as they improve."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduleOutcome:
    """The plan (its tiers carry their bounds) and how the search ended."""

    plan: Plan
    hit_wall_guard: bool = False
    was_interrupted: bool = False
    trouble: tuple[str, ...] = ()
    """What went wrong in the solver; it cost a proof, never the plan."""
    routes_timed: int = 0


@dataclass(slots=True)
class _Search:
    """What the stages hand on to one another."""

    evaluator: Evaluator
    estimator: Estimator
    best: Solution
    bounds: list[int]
    params: SolveParams
    listener: Listener
    hit_wall_guard: bool = False
    was_interrupted: bool = False
    trouble: list[str] = field(default_factory=list)

    def must_end(self) -> bool:
        """Return whether the search is to end: the clock's guard has struck, or Ctrl-C was heard; remember which."""
        self.was_interrupted = self.was_interrupted or CTRL_C.is_asked
        if self.params.is_over:
            self.hit_wall_guard = True
        return self.hit_wall_guard or self.was_interrupted

    def keep(self, solution: Solution) -> None:
        """Keep a better round and tell the listener; of equals the one with fewer stops."""
        cleared = without_empty(self.evaluator, solution)
        if cleared is None:
            return
        solution = cleared
        if solution.values < self.best.values:
            self.best = solution
            self.tell("search")
        elif solution.values == self.best.values and _num_stops(solution) < _num_stops(self.best):
            self.best = solution

    def tell(self, stage: str) -> None:
        """Tell the listener how far the round is."""
        self.listener(stage, self.best.values, self.bounds)


def schedule(
    problem: Problem,
    draws: Sequence[Draw],
    params: SolveParams,
    unplanned: Sequence[Unplanned] = (),
    lost_weight: int = 0,
    listener: Listener = lambda _stage, _values, _bounds: None,
    start: Plan | None = None,
    is_trial: bool = False,
    trial_work: int = TRIAL_WORK,
) -> ScheduleOutcome:
    """Return a plan of the draws; the tiers of goals before a tier are never traded for it.

    ``unplanned`` are orders already known to have no place, ``lost_weight`` what they count in tier
    ``left-out``. ``start`` is a plan to begin from, of these draws or of others: the search ends with nothing
    worse, as far as it can still be walked. ``is_trial``: look only briefly (``trial_work``; 0: not at all) around the
    start, prove nothing, and list of what is left out no reasons (unless it was not looked for at all). Ctrl-C ends the
    search and keeps the best plan found. Same problem, parameters and version: same plan, unless the wall-clock guard
    struck, which the outcome says.
    """
    trays = settled_trays(problem)
    instance = build_instance(problem, draws, trays)
    evaluator = Evaluator(instance)
    estimator = Estimator(evaluator)
    begun = None if start is None else round_from_plan(problem, start, draws, evaluator)
    promised = None if is_trial else kept_round(problem, evaluator)
    first = promised or (begun if begun is not None and is_trial else first_round(estimator))
    search = _Search(
        evaluator=evaluator,
        estimator=estimator,
        best=without_empty(evaluator, first) or empty_round(evaluator),
        bounds=[0] * len(Tier),
        params=params.begun(),
        listener=listener,
    )
    CTRL_C.has_plan = True
    kept = None if promised is None else without_empty(evaluator, promised)
    if kept is not None:
        search.keep(tidy_handovers(evaluator, kept, range(len(kept.routes))))
        search.keep(with_room(estimator, search.best))
    if begun is not None:
        search.keep(begun)
    try:
        if is_trial:
            if trial_work:
                _improve(search, seed=params.seed, work=trial_work)
        else:
            if kept is None and begun is None and _falls_short(search):  # little walking gives room
                _start_compact(search)
            _search(search, is_kept=kept is not None)
            _search_again(search, first)
            if kept is not None:
                search.keep(restored(estimator, search.best))
            _prove(search)
    except KeyboardInterrupt:
        search.was_interrupted = True
    for number, tier in enumerate(Tier):
        if search.bounds[number] > search.best.values[number]:
            search.trouble.append(
                f"tier {tier.value}: bound {search.bounds[number]} above the value {search.best.values[number]}"
            )
            search.bounds[number] = 0
    left_out = () if is_trial and trial_work else unplanned_orders(problem, instance, draws, search.best)
    plan = assemble(
        problem,
        instance,
        draws,
        trays,
        search.best,
        goals_of(evaluator, search.best, search.bounds, lost_weight),
        [*problem.set_aside, *unplanned, *left_out],
    )
    return ScheduleOutcome(
        plan=plan,
        hit_wall_guard=search.hit_wall_guard,
        was_interrupted=search.was_interrupted,
        trouble=tuple(search.trouble),
        routes_timed=evaluator.num_timed,
    )


def goals_of(evaluator: Evaluator, solution: Solution, bounds: Sequence[int], lost_weight: int = 0) -> tuple[Goal, ...]:
    """Return the tiers of a round with their parts and bounds; what was lost before counts as left out."""
    values, prices = part_values(evaluator, solution), part_prices(evaluator.instance)
    values[Part.UNCOLLECTED] += lost_weight
    more = {Tier.LEFT_OUT: lost_weight}
    return tuple(
        Goal(
            name=tier.value,
            unit=tier.unit,
            value=value + more.get(tier, 0),
            bound=bound + more.get(tier, 0),
            parts=tuple(GoalPart(name=p.value, unit=p.unit, value=values[p], price=prices[p]) for p in PARTS[tier]),
        )
        for tier, value, bound in zip(Tier, solution.values, bounds, strict=True)
    )


def _num_stops(solution: Solution) -> int:
    return sum(map(len, solution.routes))


def _falls_short(search: _Search) -> bool:
    """Return whether orders are left out, or the service is worse than it must be as far as counting shows."""
    left_out, service, _effort = search.best.values
    return bool(left_out) or service > _counted(search, Tier.SERVICE)


def _start_compact(search: _Search) -> None:
    """Look for a first round with little walking; the better of the two goes on."""
    from planner.scheduling.compact.compact_start import compact_start

    removals = COMPACT_REMOVALS[search.params.effort] * len(search.evaluator.instance.visits)
    start = compact_start(search.estimator, seed=search.params.seed, removals=removals, should_stop=search.must_end)
    search.keep(start)


def _search(search: _Search, *, is_kept: bool) -> None:
    """Improve the first round by ruin and recreate; one to be kept with few changes is not gathered by ward first."""
    search.tell("first plan")
    params, legs, evaluator = search.params, LEGS[search.params.effort], search.evaluator
    work = SEARCH_WORK[params.effort] * len(evaluator.instance.visits) // legs
    for leg in range(legs):
        seed, start, left = params.seed * legs + leg, search.best, work
        if not is_kept and is_worth_gathering(evaluator.instance):
            start, left = gather_by_ward(evaluator, start, seed=seed, work=work, should_stop=search.must_end)
        _improve(search, seed=seed, work=left, start=start)


def _search_again(search: _Search, first: Solution) -> None:
    """Search from the first round with other seeds while something is left out or late, as often as is cheap.

    What one search finds there hangs on chance: with a courier more, a round of twelve visits was worse than without.
    """
    num_visits = max(1, len(search.evaluator.instance.visits))
    params, again = search.params, min(AGAIN[search.params.effort], AGAIN_VISITS // num_visits)
    for number in range(1, again + 1):
        if _falls_short(search):
            work = SEARCH_WORK[params.effort] * num_visits
            _improve(search, seed=params.seed + 1_000 * number, work=work, start=first)


def _improve(search: _Search, *, seed: int, work: int, start: Solution | None = None) -> None:
    """Improve the best round, or another, with some more work."""
    search.keep(
        improve(
            search.evaluator,
            start or search.best,
            seed=seed,
            work=work,
            should_stop=search.must_end,
            on_better=search.keep,
            estimator=search.estimator,
        )
    )


def _prove(search: _Search) -> None:
    """Take the tiers in their order: prove the value, or find a better round and go on from there."""
    for number, tier in enumerate(Tier):
        search.bounds[number] = _counted(search, tier)
        is_open = search.best.values[number] > search.bounds[number]
        if search.params.proves and is_open and _is_small(search, tier) and not search.must_end():
            try:
                _prove_tier(search, number, tier)
            except SolverError as error:  # the plan in hand is good without the proof
                search.trouble.append(f"tier {tier.value}: {error}")


def _is_small(search: _Search, tier: Tier) -> bool:
    """Return whether the exact model of the round is small enough to ask it about a tier."""
    from planner.scheduling.exact.variables import count_arcs

    is_short = tier is Tier.EFFORT and search.params.effort != "thorough"
    return count_arcs(search.evaluator.instance) <= (MAX_EFFORT_ARCS if is_short else MAX_ARCS)


def _counted(search: _Search, tier: Tier) -> int:
    """Return the bound of a tier that counting gives."""
    instance = search.evaluator.instance
    if tier is Tier.LEFT_OUT and search.params.proves and search.best.values[0] and not search.must_end():
        from planner.scheduling.exact.capacity import least_uncollected

        try:
            return least_uncollected(instance, search.params, search.params.left_s)
        except SolverError as error:
            search.trouble.append(f"tier {tier.value}: {error}")
    return least_value(instance, tier, is_all_planned=_serves_all(search))


def _serves_all(search: _Search) -> bool:
    return sum(stop >= 0 for stops in search.best.routes for stop in stops) == len(search.evaluator.instance.visits)


def _prove_tier(search: _Search, number: int, tier: Tier) -> None:
    from planner.scheduling.exact.model import build_model
    from planner.solving.cp_sat import run_cp_sat

    built = build_model(search.evaluator.instance, search.best, tier)
    outcome = run_cp_sat(
        built.model,
        search.params,
        deterministic_limit=PROOF_WORK[search.params.effort][tier],
        wall_limit_s=search.params.left_s,
    )
    search.hit_wall_guard = search.hit_wall_guard or outcome.hit_wall_guard
    if outcome.status is SolveStatus.INFEASIBLE:
        raise SolverError("the model excludes the round in hand")
    if outcome.bound is not None:
        search.bounds[number] = max(search.bounds[number], outcome.bound)
    if outcome.status.has_solution:
        found = search.evaluator.solution(built.routes(outcome))
        if found is not None:
            search.keep(tidy_handovers(search.evaluator, found, range(len(found.routes))))
    search.tell(tier.value)
