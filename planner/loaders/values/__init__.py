"""From text to value: moments, dates, numbers, the words of a closed list."""
