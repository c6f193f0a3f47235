"""Reads a site's numbers from policy.toml or a sheet, and writes the defaults with their meaning."""
