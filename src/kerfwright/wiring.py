"""Composition root: joins the use cases to files and tables."""
