"""Batches at the edge: files of drawings, journal, table, and the processes that plan."""
