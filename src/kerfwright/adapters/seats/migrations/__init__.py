"""Steps from each form of the seats to the next."""
