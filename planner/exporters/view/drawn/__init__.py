"""What is drawn as a picture: the map, the ways on it, the timeline."""
