"""The tubes of each visit: fewest tubes, then least blood, within a child's limits, proven minimal."""

from planner.tubes.optimiser import TubeChoice, choose_tubes

__all__ = ["TubeChoice", "choose_tubes"]
