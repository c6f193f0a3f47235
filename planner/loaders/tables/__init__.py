"""From a grid to records: which column is which, title rows, example rows."""
