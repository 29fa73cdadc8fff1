"""The independent check: NC text in, deviation and events out; knows nothing of the makers."""
