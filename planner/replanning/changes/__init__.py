"""What is reported during a round, applied to the problem kind by kind."""
