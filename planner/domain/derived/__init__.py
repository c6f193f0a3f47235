"""What follows from a round or its plan, worked out for whoever reads it; nothing else of the domain reads it."""
