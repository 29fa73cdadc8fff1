"""Write canonical moves as ISO 6983 text."""
