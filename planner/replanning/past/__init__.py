"""What has happened by now: each route walked up to the moment, and what follows from outcomes."""
