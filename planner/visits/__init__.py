"""When each order may be drawn, and which orders of a patient one puncture serves."""

from planner.visits.draws import build_draws
from planner.visits.grouping import group_into_visits
from planner.visits.windows import order_windows

__all__ = ["build_draws", "group_into_visits", "order_windows"]
