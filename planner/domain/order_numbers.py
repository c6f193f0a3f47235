"""Finds the order whose number a person wrote or read out."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

from planner.domain.orders import OrderId


def find_order(order_ids: Iterable[OrderId], text: str) -> OrderId | None:
    """Return the one order whose number is the text, case and lost leading zeros aside; None: none, or several."""
    ids = set(order_ids)
    for same in (str, str.casefold, _without_zeros):
        found = [order_id for order_id in ids if same(order_id) == same(text.strip())]
        if len(found) == 1:
            return found[0]
    return None


def nearest_orders(order_ids: Iterable[OrderId], text: str) -> str:
    """Return a hint with the order numbers most like a text."""
    close = get_close_matches(text.strip(), sorted(set(order_ids)), n=3, cutoff=0.6)
    return f"nearest: {', '.join(close)}" if close else "look at the sheet for its number"


def _without_zeros(text: str) -> str:
    return text.casefold().lstrip("0")
