"""What every worker needs before its first task: its modules, and the draws of a plan.

Loaded by the process that the workers are forks of; see :mod:`kerfwright.workbench.workers`.
"""

from __future__ import annotations

from kerfwright.adapters.tables import load_tables
from kerfwright.process.left_draws import prepare_draws
from kerfwright.workbench import tasks

__all__ = ["tasks"]

prepare_draws(len(load_tables(None).technology.passes))
