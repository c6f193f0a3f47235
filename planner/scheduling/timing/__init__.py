"""The clock of one route and the value of a round."""
