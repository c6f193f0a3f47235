"""Draws the view: the map of a route and the timeline, on paper and on the page."""
