"""The technology of a set-up: how far its gaps keep the guides off the work."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Final

from kerfwright.foundation.kept import Kept
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.guide_distance import GuidesOff
from kerfwright.process.technology import Technology
from kerfwright.process.wire_physics import WirePhysics

_KNOWN: Final = Kept(most=64)
"""What follows from a technology is kept by its identity: the same set-up gives the same one."""


def at_set_up(
    technology: Technology, *, rules: PlanningRules, physics: WirePhysics | None
) -> Technology:
    """Return the technology for guides as far off as the gaps of the set-up keep them.

    Parameters
    ----------
    technology : Technology
        Of any set-up.
    rules : PlanningRules
        With the gaps of the set-up.
    physics : WirePhysics or None
        None: nothing is known of guides, and nothing taken from what is held.

    Returns
    -------
    Technology
        The same record for the same set-up.
    """
    off_mm = sum(rules.nozzles_off_mm)
    guides = (
        None
        if physics is None or not off_mm
        else GuidesOff(
            usual_gap_mm=physics.tension.guide_gap_mm,
            off_mm=off_mm,
            counts_from=rules.guides_give_way,
        )
    )
    if technology.guides == guides:
        return technology
    return _KNOWN.once(partial(replace, technology, guides=guides), technology, key=guides)
