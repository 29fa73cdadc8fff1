"""Time, consumption and price, each with a range and an itemised sum."""
