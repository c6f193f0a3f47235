"""New tests that a tube already drawn can serve."""
