"""The public functions of the package: read a round, plan, replan, check, write, explain. `planner` names them."""
