"""From a plan and what happened since to the next problem: changes, progress, add-ons."""
