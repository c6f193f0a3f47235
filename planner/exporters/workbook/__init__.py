"""The round as a printable workbook, and the starter workbook that a site fills in."""
