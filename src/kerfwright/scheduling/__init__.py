"""The week of a shop: which load goes on which machine when, and when the attendant is there."""
