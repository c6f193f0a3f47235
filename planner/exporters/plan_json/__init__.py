"""plan.json, written and read: the two functions and the form that other parts of the program use."""

from planner.exporters.plan_json.plan_file import PLAN_FILE, SCHEMA, PlanFile
from planner.exporters.plan_json.reader import plan_from_json
from planner.exporters.plan_json.writer import plan_to_json

__all__ = ["PLAN_FILE", "SCHEMA", "PlanFile", "plan_from_json", "plan_to_json"]
