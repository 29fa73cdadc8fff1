"""Profiles that a customer describes in words: gears, bores, slots, polygons, punch and die."""
