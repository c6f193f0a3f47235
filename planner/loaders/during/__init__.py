"""Reads what arrives in the middle of a round: progress files, order lists, stat tests."""
