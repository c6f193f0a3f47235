"""What the commands print: the summary of a plan and of a replan."""
