"""Why an order is where it is in a plan, and what single change would mend it."""
