"""Errors, findings, units, tolerances, sources and ranges: what every layer above may use."""
