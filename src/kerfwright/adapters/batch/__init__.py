"""Batches at the edge: files of drawings, ledger, table, and the processes that plan."""
