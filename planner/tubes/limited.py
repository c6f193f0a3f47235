"""A child near the blood limit: which orders wait, and the fewest tubes that stay within it; one exact model.

Goals strictly in this order: (1) the least weight of postponed orders, (2) of these ways the one that saves most
blood, (3) with those orders postponed: fewest tubes, least blood, preferences. More but smaller tubes are taken
before any order is postponed. All visits of the child in the round are looked at together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import gcd
from typing import Any

from ortools.sat.python import cp_model

from planner.domain.catalogue import Handling, TubeCode
from planner.domain.orders import Patient
from planner.domain.problem import Problem
from planner.solving.cp_sat import run_cp_sat
from planner.solving.outcome import CpOutcome
from planner.solving.params import SolveParams
from planner.solving.stages import Term, minimise_in_turn
from planner.tubes.blood import BloodLimits
from planner.tubes.choice import Choice, own_containers
from planner.tubes.demands import Demand
from planner.tubes.discard import discard_volume_ul, needs_discard
from planner.tubes.fewer import most_of_each_kind, most_of_each_size
from planner.tubes.groups import Filled, Group, groups_of
from planner.tubes.kinds import goes_before_citrate, is_citrate
from planner.tubes.model import WORK_LIMIT, SharingModel
from planner.tubes.needle import is_winged


@dataclass(slots=True)
class _Shared:
    """One sharing problem of a visit, and how many tests of each class are postponed."""

    group: Group
    tubes: SharingModel
    postponed: list[cp_model.IntVar]


@dataclass(slots=True)
class _Visit:
    """Variables of one visit: sharing problems, chosen options of the rest, the discard tube."""

    shared: list[_Shared] = field(default_factory=list)
    own: list[tuple[Demand, list[cp_model.IntVar]]] = field(default_factory=list)
    terms: dict[str, list[Any]] = field(
        default_factory=lambda: {"weight": [], "tubes": [], "volume": [], "preference": []}
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitedChoice:
    """What is drawn in each visit (in the order given) and the demands that wait."""

    choices: tuple[Choice, ...]
    postponed: tuple[Demand, ...]


def choose_within(
    problem: Problem,
    patient: Patient,
    visits: Sequence[Sequence[Demand]],
    limits: BloodLimits,
    params: SolveParams,
) -> LimitedChoice:
    """Return what is drawn within the limits, and what waits; nothing at all when the limits allow nothing."""
    return _LimitedModel(problem, patient, visits, limits).solve(params)


class _LimitedModel:
    """The model of one child's visits. Volumes are in ``unit_ul`` microlitres."""

    def __init__(
        self, problem: Problem, patient: Patient, visits: Sequence[Sequence[Demand]], limits: BloodLimits
    ) -> None:
        self.problem, self.patient, self.limits = problem, patient, limits
        self.is_child = patient.is_child(problem.clock.day)
        self.discard_ul = discard_volume_ul(problem, is_child=self.is_child)
        self.most_ul = limits.round_ul if limits.draw_ul is None else min(limits.draw_ul, limits.round_ul)
        grouped = [self._groups(demands) for demands in visits]
        self.unit_ul = self._unit(visits, [group for groups in grouped for group in groups])
        self.model = cp_model.CpModel()
        self.visits = [self._visit(demands, groups) for demands, groups in zip(visits, grouped, strict=True)]
        self.model.add(sum(self._sum(visit, "volume") for visit in self.visits) <= limits.round_ul // self.unit_ul)

    def _groups(self, demands: Sequence[Demand]) -> tuple[Group, ...]:
        return groups_of(
            self.problem.catalogue,
            demands,
            is_child=self.is_child,
            told_apart_by=lambda d: (d.weight, Handling.DISCARD_FIRST in d.test.handling),
        )

    def _unit(self, visits: Sequence[Sequence[Demand]], groups: Sequence[Group]) -> int:
        """Return the largest unit of which every volume that can occur is a whole multiple."""
        volumes = [self.discard_ul]
        for group in groups:
            volumes += [size for kind in group.problem.kinds for size in kind.sizes]
            volumes += [ul for item in group.problem.classes for ul in (item.min_ul, item.add_ul)]
        volumes += [o.volume_ul for demands in visits for d in demands for o in d.options]
        return gcd(*volumes)

    def _visit(self, demands: Sequence[Demand], groups: Sequence[Group]) -> _Visit:
        visit = _Visit()
        for group in groups:
            self._add_group(visit, group)
        for demand in demands:
            if not demand.kinds:
                self._add_own(visit, demand)
        visit.terms["volume"].append(self._discard(visit) * (self.discard_ul // self.unit_ul))
        if self.limits.draw_ul is not None:
            self.model.add(self._sum(visit, "volume") <= self.limits.draw_ul // self.unit_ul)
        return visit

    def _add_group(self, visit: _Visit, group: Group) -> None:
        """Add a sharing problem in which any number of each class may wait."""
        postponed = [self.model.new_int_var(0, item.count, "postponed") for item in group.problem.classes]
        served = [item.count - late for item, late in zip(group.problem.classes, postponed, strict=True)]
        most = most_of_each_size(group.problem, self.most_ul)
        tubes = SharingModel(
            self.model, group.problem, most_of_each_kind(group.problem, most), served, self.unit_ul, most
        )
        visit.shared.append(_Shared(group=group, tubes=tubes, postponed=postponed))
        for members, late in zip(group.members, postponed, strict=True):
            visit.terms["weight"].append(members[0].weight * late)
        visit.terms["tubes"].append(tubes.num_used)
        visit.terms["volume"].append(tubes.volume)
        visit.terms["preference"].append(tubes.preference)

    def _add_own(self, visit: _Visit, demand: Demand) -> None:
        chosen = [self.model.new_bool_var("option") for _ in demand.options]
        self.model.add_at_most_one(chosen)
        visit.own.append((demand, chosen))
        visit.terms["weight"].append(demand.weight * (1 - sum(chosen)))
        pairs = list(zip(chosen, demand.options, strict=True))
        visit.terms["tubes"].append(sum(len(o.containers) * c for c, o in pairs))
        visit.terms["volume"].append(sum(o.volume_ul // self.unit_ul * c for c, o in pairs))
        visit.terms["preference"].append(sum(o.rank * c for c, o in pairs))

    def _discard(self, visit: _Visit) -> cp_model.IntVar:
        """Demand a discard tube where the rules ask for one (rule ``discard``)."""
        catalogue = self.problem.catalogue
        discard = self.model.new_bool_var("discard")
        uses = self._uses(visit)
        early = [used for code, used, _ in uses if goes_before_citrate(catalogue, code)]
        cleared = self.model.new_bool_var("cleared")
        self.model.add(cleared <= sum(early))
        for code, used, is_asked in uses:
            if not is_citrate(catalogue.tubes[code]):
                continue
            if is_asked:
                self.model.add_implication(used, discard)
            elif is_winged(self.problem, self.patient):
                self.model.add_bool_or(used.negated(), discard, cleared)
        return discard

    def _uses(self, visit: _Visit) -> list[tuple[TubeCode, cp_model.IntVar, bool]]:
        """Return (kind, whether it holds this, whether this asks for a discard) over all that may be drawn."""
        uses = []
        for shared in visit.shared:
            for tube in shared.tubes.tubes:
                for index, (_, any_) in tube.holds.items():
                    test = shared.group.members[index][0].test
                    is_asked = Handling.DISCARD_FIRST in test.handling
                    uses.append((shared.group.codes[tube.kind], any_, is_asked))
        for demand, chosen in visit.own:
            is_asked = Handling.DISCARD_FIRST in demand.test.handling
            for variable, option in zip(chosen, demand.options, strict=True):
                uses += [(code, variable, is_asked) for code in {c.kind for c in option.containers}]
        return uses

    @staticmethod
    def _sum(visit: _Visit, term: str) -> Any:
        return sum(visit.terms[term])

    def _total(self, term: str) -> Any:
        return sum(self._sum(visit, term) for visit in self.visits)

    def solve(self, params: SolveParams) -> LimitedChoice:
        """Search the goals in turn and return what is drawn and what waits."""
        work = WORK_LIMIT[params.effort]
        weights = sum(item.weight for visit in self.visits for item in self._demands(visit))
        self._hint_nothing_drawn()
        first = minimise_in_turn(
            self.model,
            [Term(expression=self._total("weight"), highest=weights)],
            params,
            deterministic_limit=work,
            keep=self._decisions(),
        )
        if first.outcome is None:
            return self._nothing(first.hit_wall_guard)
        outcomes = [first.outcome]
        if first.outcome.objective:
            self.model.minimize(self._total("volume"))
            least = run_cp_sat(self.model, params, deterministic_limit=work)
            outcomes.append(least if least.status.has_solution else first.outcome)
        self._fix_postponed(outcomes[-1])
        tubes = sum(len(t.tubes.tubes) for v in self.visits for t in v.shared) + sum(
            max(len(o.containers) for o in d.options) for v in self.visits for d, _ in v.own
        )
        ranks = sum(len(d.test.accepts) for v in self.visits for d in self._demands(v))
        last = minimise_in_turn(
            self.model,
            [
                Term(expression=self._total("tubes"), highest=tubes),
                Term(expression=self._total("volume"), highest=self.limits.round_ul // self.unit_ul),
                Term(expression=self._total("preference"), highest=ranks),
            ],
            params,
            deterministic_limit=work,
            keep=self._decisions(),
        )
        outcome = last.outcome or outcomes[-1]
        proven = first.is_proven and last.is_proven and all(o.is_proven for o in outcomes)
        struck = first.hit_wall_guard or last.hit_wall_guard or any(o.hit_wall_guard for o in outcomes)
        return self._read(outcome, proven, struck)

    @staticmethod
    def _demands(visit: _Visit) -> list[Demand]:
        shared = [d for s in visit.shared for members in s.group.members for d in members]
        return shared + [demand for demand, _ in visit.own]

    def _decisions(self) -> list[cp_model.IntVar]:
        found = []
        for visit in self.visits:
            for shared in visit.shared:
                found += [*shared.tubes.variables, *shared.postponed]
            found += [variable for _, chosen in visit.own for variable in chosen]
        return found

    def _hint_nothing_drawn(self) -> None:
        """Begin with everything postponed: within every limit, so that there always is a solution."""
        for visit in self.visits:
            for shared in visit.shared:
                for late, item in zip(shared.postponed, shared.group.problem.classes, strict=True):
                    self.model.add_hint(late, item.count)
                for variable in shared.tubes.variables:
                    self.model.add_hint(variable, 0)
            for _, chosen in visit.own:
                for variable in chosen:
                    self.model.add_hint(variable, 0)

    def _fix_postponed(self, outcome: CpOutcome) -> None:
        for visit in self.visits:
            for shared in visit.shared:
                for late in shared.postponed:
                    self.model.add(late == outcome.value(late))
            for _, chosen in visit.own:
                self.model.add(sum(chosen) == outcome.value(sum(chosen)))

    def _read(self, outcome: CpOutcome, is_proven: bool, struck: bool) -> LimitedChoice:
        choices: list[Choice] = []
        waiting: list[Demand] = []
        for visit in self.visits:
            filled: list[Filled] = []
            for shared in visit.shared:
                late = [outcome.value(variable) for variable in shared.postponed]
                filled += shared.group.named(shared.tubes.bins(outcome.value), late)
                for members, number in zip(shared.group.members, late, strict=True):
                    waiting += members[len(members) - number :]
            for demand, chosen in visit.own:
                option = next((n for n, variable in enumerate(chosen) if outcome.value(variable)), None)
                if option is None:
                    waiting.append(demand)
                else:
                    filled += own_containers(demand, option)
            winged = is_winged(self.problem, self.patient)
            discards = needs_discard(self.problem.catalogue, filled, is_winged=winged)
            choices.append(
                Choice(
                    filled=tuple(filled),
                    discard_ul=self.discard_ul if discards else 0,
                    is_proven=is_proven,
                    hit_wall_guard=struck,
                )
            )
        return LimitedChoice(choices=tuple(choices), postponed=tuple(waiting))

    def _nothing(self, struck: bool) -> LimitedChoice:
        """Return that everything waits: a limit stopped the search before it had begun."""
        empty = Choice(filled=(), discard_ul=0, is_proven=False, hit_wall_guard=struck)
        everything = tuple(demand for visit in self.visits for demand in self._demands(visit))
        return LimitedChoice(choices=(empty,) * len(self.visits), postponed=everything)
