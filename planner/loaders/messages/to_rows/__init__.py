"""From requests of messages to rows of the order table."""
