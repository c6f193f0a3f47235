"""The round as one self-contained HTML page, and that page printed by an installed browser."""
