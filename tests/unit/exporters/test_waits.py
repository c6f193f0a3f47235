"""What a card says of a wait, and of needles where there are several."""

from __future__ import annotations

import pytest

from planner.exporters.view.build import build_view
from planner.exporters.view.cards.card_notes import card_notes
from planner.exporters.view.stop_view import VisitView
from planner.visits import order_windows
from planner.visits.linked import plan_gaps
from tests.three_wards import five_ward_tables, load_tables, plan_quickly

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def cards(tmp_path_factory: pytest.TempPathFactory) -> list[VisitView]:
    """The cards of five wards on which every ward has a bed 1A; two draws of one series an hour apart in Kite 2B.

    In Kite 1B two culture sets are ordered: each comes from a site of its own.
    """
    tables = five_ward_tables()
    first = next(order for order in tables["orders"] if order["order_number"] == "K0203-1")
    first |= {"series": "S1", "priority": "routine", "collect_at": "2026-03-10 06:00"}
    tables["orders"].append({**first, "order_number": "K0203-9", "collect_at": "2026-03-10 07:00"})
    cultures = next(order for order in tables["orders"] if order["test"] == "BC")
    tables["orders"].append({**cultures, "order_number": "K0202-9"})
    problem = load_tables(tables, tmp_path_factory.mktemp("linked") / "round")
    plan = plan_quickly(problem).plan
    windows, _ = order_windows(problem)
    view = build_view(problem, plan, windows, revision=1, gaps=plan_gaps(problem, plan))
    return [visit for route in view.routes for visit in route.visits]


def test_a_wait_is_a_row_of_its_own_with_what_it_is_good_for(cards: list[VisitView]) -> None:
    waiting = [card for card in cards if card.wait]
    assert waiting, "somebody waits for a window"
    for card in waiting:
        assert f"do not begin before {card.at}. Use it: " in card.wait
        assert not any("do not begin" in alert for alert in card.alerts)
        assert [note.words for note in card_notes(card) if note.label == "WAIT"] == [card.wait]


def test_a_visit_with_two_sites_says_two_needles(cards: list[VisitView]) -> None:
    two = [card for card in cards if any(", site 2" in tube.name for tube in card.tubes)]
    others = [card for card in cards if card not in two]
    assert [card.bed for card in two] == ["Kite (South) 1B"]
    assert all(card.needles == f"2 x {card.needle}, 2 sites" for card in two)
    assert others and all(card.needles == card.needle for card in others)
