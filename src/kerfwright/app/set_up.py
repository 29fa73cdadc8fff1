"""From what a person says of the set-up to the rules a plan is made by."""

from __future__ import annotations

from dataclasses import replace

from kerfwright.app.records import JobRequest
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import length_mm
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.flushing import state_of
from kerfwright.process.flushing_law import FlushingLaw
from kerfwright.process.technology import Flushing


def rules_of(request: JobRequest, rules: PlanningRules, *, law: FlushingLaw) -> PlanningRules:
    """Return the rules with the job's corners, nozzles and bath.

    Gaps given as numbers decide whether a nozzle counts as closed; one that is not given stands
    at its usual gap.

    Parameters
    ----------
    request : JobRequest
    rules : PlanningRules
        Of the shop.
    law : FlushingLaw

    Raises
    ------
    InputError
        If a gap cannot be read, or says something else than the state of the nozzles given.
    """
    upper, lower = (
        None if text is None else length_mm(text, what=f"{name} nozzle gap")
        for name, text in (("upper", request.upper_gap), ("lower", request.lower_gap))
    )
    nozzles = request.nozzles
    if upper is not None or lower is not None:
        usual = law.nozzle.usual_gap_mm
        nozzles = state_of(
            usual if upper is None else upper, usual if lower is None else lower, law=law
        )
        if request.nozzles not in {nozzles, Flushing.SEALED}:
            raise InputError(
                f"nozzles {request.nozzles.value!r} are asked, and the gaps given amount to "
                f"{nozzles.value!r}; a nozzle closes up to {law.nozzle.sealed_gap_mm:g} mm",
                code="set-up-contradiction",
                remedy="Give the gaps or the state of the nozzles, not both.",
            )
    return replace(
        rules,
        outside_corners=request.outside_corners,
        nozzles=nozzles,
        upper_gap_mm=upper,
        lower_gap_mm=lower,
        bath=request.bath,
    )
