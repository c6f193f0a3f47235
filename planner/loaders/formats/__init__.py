"""From bytes to a grid of text cells: CSV in any encoding, workbooks."""
