"""What every order is read against: the day, the span, staff, places and the walk between them."""
