"""The tables of a generated round say what the round is: read back, they give the same `Problem`."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path

import pytest

from planner.domain.catalogue import TransportMode
from planner.domain.places import PickupKind, WalkingTimes
from planner.domain.plan import Reason
from planner.domain.problem import Problem
from planner.loaders import load
from tests.benchmark.every_rule import UNDERSTOOD
from tests.benchmark.round_tables import DIFFICULT_VEINS, write_tables
from tests.benchmark.rounds import generated_problem


def as_tables_say(problem: Problem, folder: Path) -> Problem:
    """Return a generated round with what tables say in another way (see `round_tables`) as the reader has it."""
    return replace(
        problem,
        round_name=folder.name,
        patients={
            p.id: replace(p, alerts=(DIFFICULT_VEINS,)) if p.has_difficult_veins else p
            for p in problem.patients.values()
        },
        places={p.id: replace(p, label=p.id) for p in problem.places.values()},
        policy=replace(problem.policy, round=replace(problem.policy.round, day=problem.clock.day)),
    )


def _is_readers(alert: str) -> bool:
    """Whether the reader itself warns of beds whose patients have similar names."""
    return alert.startswith("name alert: ")


def differences(said: Problem, read: Problem) -> list[str]:
    """Return the fields that differ; where an order stands and what the reader assumed or set aside do not count."""
    left_out = {"assumptions", "set_aside", "patients", "walking"}
    read = replace(read, orders=tuple(replace(order, source=None) for order in read.orders))
    found = [
        f.name for f in fields(Problem) if f.name not in left_out and getattr(said, f.name) != getattr(read, f.name)
    ]
    own = {p.id: replace(p, alerts=tuple(a for a in p.alerts if not _is_readers(a))) for p in read.patients.values()}
    if dict(said.patients) != own:
        found.append("patients")
    stops = (
        {p.bed for p in read.patients.values()} | {p.starts_at for p in read.staff} | {p.place for p in read.pickups}
    )
    if any(said.walking.between(a, b) != read.walking.between(a, b) for a in stops for b in stops):
        found.append("walking")
    return found


@pytest.mark.slow
@pytest.mark.parametrize("every_rule", [False, True])
def test_tables_read_back_are_the_round(tmp_path: Path, every_rule: bool) -> None:
    problem = generated_problem(2, 30, 2, every_rule=every_rule)
    num_orders = write_tables(problem, tmp_path)
    loaded = load(tmp_path)
    assert loaded.problem is not None
    assert [f for f in loaded.findings if f.severity.name == "ERROR"] == []
    assert differences(as_tables_say(problem, tmp_path), loaded.problem) == []
    assert loaded.num_orders_read == num_orders == len(problem.orders) + len(problem.earlier_draws)
    assert [u.reason for u in loaded.problem.set_aside] == [Reason.ALREADY_DRAWN] * len(problem.earlier_draws)


def test_comparison_sees_every_field_that_is_read(tmp_path: Path) -> None:
    """A round one detail of which is changed after the tables are written is not the round that is read."""
    problem = generated_problem(3, 30, 2, every_rule=True)
    write_tables(problem, tmp_path)
    read, said = load(tmp_path).problem, as_tables_say(problem, tmp_path)
    assert read is not None
    first = next(iter(said.patients.values()))
    changed = {
        "patients": said.patients | {first.id: replace(first, drawn_24h_ul=1)},
        "orders": (replace(said.orders[0], infusion_end_s=1), *said.orders[1:]),
        "walking": WalkingTimes({pair: s + 1 for pair, s in said.walking.seconds.items()}),
        "staff": (replace(said.staff[0], break_s=60), *said.staff[1:]),
        "pickups": (replace(said.pickups[0], transit_s=1), *said.pickups[1:]),
        "earlier_draws": said.earlier_draws[1:],
        "policy": replace(said.policy, handover=replace(said.policy.handover, tray_limit=None)),
    }
    for name, value in changed.items():
        assert differences(replace(said, **{name: value}), read) == [name]


def test_every_rule_is_in_the_rounds_that_are_measured() -> None:
    """Of three rounds of 30 patients together: each rule that design and rule book name."""
    rounds = [generated_problem(seed, 30, 2, every_rule=True) for seed in (1, 2, 3)]
    orders = [(p, o, p.test_of(o)) for p in rounds for o in p.orders]
    patients = [patient for p in rounds for patient in p.patients.values()]
    assert {kind for p in rounds for kind in (pickup.kind for pickup in p.pickups)} == set(PickupKind)
    assert {precaution for patient in patients for precaution in patient.precautions} == set(UNDERSTOOD)
    assert {need for patient in patients for need in patient.needs} == {"child", "line"}
    assert any(patient.away for patient in patients) and any(patient.drawn_24h_ul for patient in patients)
    assert all(person.break_window and person.break_s for p in rounds for person in p.staff)
    assert all(p.policy.round.quiet_hours and p.policy.round.needed_by_s for p in rounds)
    assert all(p.policy.handover.tray_limit for p in rounds)
    assert all(any(c.is_one_way for c in p.corridors) for p in rounds)
    assert all(len({patient.ward for patient in p.patients.values()}) > 1 for p in rounds)
    assert any(p.earlier_draws for p in rounds)
    assert any(o.collect_from_s is not None for _p, o, _t in orders)
    assert any(o.collect_at_s is not None and o.series for _p, o, _t in orders)
    assert any(t.is_culture for _p, _o, t in orders)
    assert {t.mode for _p, _o, t in orders} == set(TransportMode)


def test_what_tables_cannot_say_is_refused(tmp_path: Path) -> None:
    problem = generated_problem(1, 4, 1)
    policy = replace(problem.policy, walking=replace(problem.policy.walking, speed_m_per_s=1.0))
    with pytest.raises(ValueError, match="policy"):
        write_tables(replace(problem, policy=policy), tmp_path)
