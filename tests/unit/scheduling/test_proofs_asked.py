"""Which tiers the exact model is asked about: on a large round only those that it can still say something of."""

from __future__ import annotations

import pytest

from planner.domain.goals import Tier
from planner.pipeline import plan_round
from planner.scheduling import scheduler
from planner.solving.params import SolveParams
from tests.benchmark.rounds import generated_problem


def tiers_asked(monkeypatch: pytest.MonkeyPatch, visits: int, people: int) -> set[Tier]:
    """Return the tiers about which the exact model is asked, in a round of which no proof comes from counting."""
    asked: set[Tier] = set()
    with monkeypatch.context() as patch:
        patch.setattr(scheduler, "_prove_tier", lambda _search, _number, tier: asked.add(tier))
        patch.setitem(scheduler.SEARCH_WORK, "normal", 5)  # hardly any search: every tier but the first is left open
        plan_round(generated_problem(2, visits, people, every_rule=True), SolveParams())
    return asked


@pytest.mark.slow
def test_large_round_is_not_asked_about_the_effort(monkeypatch: pytest.MonkeyPatch) -> None:
    # 31 visits of 2 people are some 6,700 arcs. Above 2,000 the model proved and improved nothing of what the effort
    # is made of in 20 rounds of 20 to 48 visits, and took 1 to 4 s each; up to 1,700 it gave a bound in 11 of 13.
    assert tiers_asked(monkeypatch, 30, 2) <= {Tier.LEFT_OUT, Tier.SERVICE}


@pytest.mark.slow
def test_small_round_is_asked_about_every_open_tier(monkeypatch: pytest.MonkeyPatch) -> None:
    assert Tier.EFFORT in tiers_asked(monkeypatch, 12, 1)
