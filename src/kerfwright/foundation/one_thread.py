"""Threads of the linear algebra: one, since our matrices are small."""

from __future__ import annotations

from typing import Final

ONE_THREAD: Final = dict.fromkeys(
    ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "BLIS_NUM_THREADS"), "1"
)
"""Variables that say so to the libraries before they are loaded.

Threads that wait for each other over matrices of some hundred rows spin: on a busy machine
learning from 5 000 cuts took ten times the processor time that one thread needs.
"""
