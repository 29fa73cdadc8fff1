"""Steps from each form of the index to the next."""
