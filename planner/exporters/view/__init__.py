"""One view of a plan for all sheets: what is printed, in which words, before any format."""
