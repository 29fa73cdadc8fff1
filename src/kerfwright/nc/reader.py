"""Read ISO 6983 text into a time line."""
