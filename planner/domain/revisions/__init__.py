"""What happened since the first plan: typed events, and what a revision changed."""
