"""Reads the laboratory's tests and tubes, and finds a test by its code, LOINC or everyday name."""
