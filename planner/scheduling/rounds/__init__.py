"""From visits and tubes to the numbers a search works on, and back to a plan."""
