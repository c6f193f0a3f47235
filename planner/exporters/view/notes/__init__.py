"""What a replan tells each person: what changed, what is due, what they lack, what is asked."""
