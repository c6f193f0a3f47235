"""Discard volumes of a policy that no discard tube holds are refused (issue 19, fault 6: such rounds had no plan)."""

from __future__ import annotations

from datetime import date

import pytest

from planner.findings import Severity
from planner.pipeline import plan_round
from planner.solving.params import SolveParams

DAY = date(2026, 3, 4)
# Antithrombin asks for a discard tube [L1, L2].
ORDERS = "order_number,patient_number,family_name,birth_date,ward,bed,test\nA1,1,Okafor,1960-05-31,Ward 1,4,AT\n"
REFUSED = "policy-value-refused"


def refused(loaded) -> list[str]:
    return [f.message for f in loaded.findings if f.code == REFUSED and f.severity is Severity.ERROR]


@pytest.mark.parametrize("ml", [1.5, 2, 0])
def test_volume_that_no_discard_tube_holds_is_refused_with_the_sizes(load_folder, ml):
    files = {"orders.csv": ORDERS, "policy.toml": f"[tubes]\ndiscard_adult_ml = {ml}\n"}
    refusal = load_folder(files, round_date=DAY)
    assert refusal.problem is None
    (message,) = refused(refusal)
    assert "sizes of DIS in mL: 1)" in message
    loaded = load_folder(files, round_date=DAY, ignores_policy=True)
    assert loaded.problem.policy.tubes.discard_adult_ul == 1000
    # The round has a plan that the checker passes, with a discard tube that exists.
    plan_round(loaded.problem, SolveParams(effort="quick"))


def test_volume_is_taken_once_the_site_has_such_a_tube(load_folder):
    files = {
        "orders.csv": ORDERS,
        "policy.toml": "[tubes]\ndiscard_adult_ml = 1.5\ndiscard_child_ml = 0.3\n",
        "tubes.csv": "code,sizes\nDIS,adult:2.0;child:0.5\n",
    }
    loaded = load_folder(files, round_date=DAY)
    assert refused(loaded) == []
    assert loaded.problem.policy.tubes.discard_adult_ul == 1500
    planned = plan_round(loaded.problem, SolveParams(effort="quick"))
    (discard,) = [
        tube.tube
        for route in planned.plan.routes
        for visit in route.visits
        for tube in visit.tubes
        if tube.tube.is_discard
    ]
    assert (discard.size_ul, discard.volume_ul) == (2000, 1500)


def test_default_that_the_sites_tubes_do_not_hold_is_their_largest(load_folder):
    files = {"orders.csv": ORDERS, "tubes.csv": "code,sizes\nDIS,adult:0.8;child:0.4\n"}
    loaded = load_folder(files, round_date=DAY, ignores_policy=True)
    assert len(refused(loaded)) == 1
    assert loaded.problem.policy.tubes.discard_adult_ul == 800
    assert loaded.problem.policy.tubes.discard_child_ul == 500
