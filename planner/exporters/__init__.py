"""Writes a plan for people and programs: plan.json, the printable workbook, the terminal summary."""
