"""Routes with little walking for large rounds, found by a compiled search."""
