"""How much pressure of the water a tab bears, in the instruction of its cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from kerfwright.planning.plan import ContourPlan, Tab
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.flushing import BAR_PER_MPA, rough_pressure_bar
from kerfwright.process.flushing_law import FlushingLaw


def with_tab_pressures(
    contours: Sequence[ContourPlan], height_mm: float, *, rules: PlanningRules, law: FlushingLaw
) -> list[ContourPlan]:
    """Return contours whose instruction for the water names the pressure that their tabs bear.

    Only where that is less than the pressure that the instruction has for height and wire.

    Parameters
    ----------
    contours : sequence of ContourPlan
    height_mm : float
    rules : PlanningRules
    law : FlushingLaw
    """
    return [_with_words(c, height_mm, rules, law) for c in contours]


def _with_words(
    contour: ContourPlan, height_mm: float, rules: PlanningRules, law: FlushingLaw
) -> ContourPlan:
    tab = contour.tab
    if tab is None or not contour.flushing.advice:
        return contour
    borne = borne_bar(tab, rules=rules, law=law)
    least, most = rough_pressure_bar(height_mm, contour.choice.wire.diameter_mm, law=law)
    if borne >= most:
        return contour
    said = f"No more than about {borne:.2g} bar: the tab bears no more"
    if borne < least:
        said = (
            f"The tab bears about {borne:.2g} bar"
            if borne >= _LEAST_BAR
            else "The tab bears no jet"
        )
        said += ": hold the piece otherwise before you flush harder"
    advice = f"{contour.flushing.advice} {said}."
    return replace(contour, flushing=replace(contour.flushing, advice=advice))


def borne_bar(tab: Tab, *, rules: PlanningRules, law: FlushingLaw) -> float:
    """Return the pressure at the nozzle at which a tab keeps its safety, 0 for none, bar.

    ``p = p_0 (S/S_0 (W + F) - W)/F``: the tab yields at ``S (W + F)``, the weight ``W`` and the
    push ``F`` of the flushing that it was sized for; the usual pressure at the nozzle ``p_0`` goes
    with that push.

    Parameters
    ----------
    tab : Tab
    rules : PlanningRules
    law : FlushingLaw

    References
    ----------
    Statics (computed); that the push goes with the pressure at the nozzle: common practice.
    """
    if not tab.flushing_n > 0:
        return float("inf")
    holds_n = tab.safety / rules.tab_safety * (tab.weight_n + tab.flushing_n)
    share = max(0.0, (holds_n - tab.weight_n) / tab.flushing_n)
    return BAR_PER_MPA * law.water.rough_pressure_mpa * share


_LEAST_BAR = 0.05
