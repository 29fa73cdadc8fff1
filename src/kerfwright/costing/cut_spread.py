"""The spread of a cutting time by cause: passes together, or as far apart as cuts have shown."""

from __future__ import annotations

import math
from typing import Final

from kerfwright.costing.coreless import PARTIAL_KERF
from kerfwright.process.experience import Learned, Loadings
from kerfwright.process.loadings import together

CUTTING: Final = "cutting rate"
JOB_TO_JOB: Final = "job to job"
CUT_TO_CUT: Final = "cut to cut"


def learned_loadings(
    known: Learned, nozzles: Loadings, *, operation: str, evenness: float, more_log: float
) -> Loadings:
    """Return the spread by cause of the time of some cuts with experience.

    What nobody measured moves all passes together, as the tables' rate does: jobs and cuts that
    differ by themselves even out, and would make a price surer that no cut made so.  Of the
    variance the share ``k`` that cuts have taught is split as it was learned, and ``1 - k`` stays
    in the one cause of the tables.

    Parameters
    ----------
    known : Learned
    nozzles : Loadings
        Of the factor of nozzles that do not close, by the time of the cuts.
    operation : str
    evenness : float
        How much cuts that scatter independently even out: 1 for one.
    more_log : float
        What more than the feed of the pass is unsure, of the logarithm.
    """
    taught, untaught = math.sqrt(known.feed_known), math.sqrt(1 - known.feed_known)
    apart = together(
        (taught, known.feed_loadings),
        (taught, ((JOB_TO_JOB, known.feed_job_log),)),
        (taught, ((f"{CUT_TO_CUT}, {operation}", known.feed_scatter_log * evenness),)),
        (untaught, ((CUTTING, known.feed_sigma_log),)),
        (1.0, nozzles),
    )
    kept = tuple((cause, sigma) for cause, sigma in apart if sigma)
    return (*kept, *(((PARTIAL_KERF, more_log),) if more_log else ()))
