"""Ruin and recreate over whole rounds."""
