"""Reads laboratory orders from FHIR R4, R4B and R5 JSON: Bundles, single resources, one resource a line."""
