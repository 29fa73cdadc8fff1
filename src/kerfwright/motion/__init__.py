"""Canonical moves: the narrow waist between planning and every machine."""
