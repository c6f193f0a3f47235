"""Running exact searches: parameters, outcomes, and the one place that touches the solver."""
