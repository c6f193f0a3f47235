"""Simulated mornings: rounds that go otherwise than planned, replanned at every event, with an account kept apart."""
