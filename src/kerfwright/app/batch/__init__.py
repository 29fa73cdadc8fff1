"""Many drawings in one go: what is asked of each, what came out, and what all of it comes to."""
