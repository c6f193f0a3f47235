"""A stat that cannot be drawn in time: what putting it first would cost."""
