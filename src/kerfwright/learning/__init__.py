"""Measured cuts move the figures of the tables and narrow their ranges."""
