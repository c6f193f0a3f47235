"""The exact model of a round for CP-SAT, and the bounds that need no solver."""
