"""What stands on the card of one stop: words of care, windows, doses, isolation."""
