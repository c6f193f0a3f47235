"""Who visits which bed when: routes with hand-overs, goals compared strictly in order."""

from planner.scheduling.scheduler import ScheduleOutcome, schedule

__all__ = ["ScheduleOutcome", "schedule"]
