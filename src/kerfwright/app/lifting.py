"""The step of a refused job that lifts its refusals: what is beyond the process, as it is held."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from kerfwright.app.changes import Change
from kerfwright.app.demand_kinds import KINDS, Kind, and_text, names
from kerfwright.app.offers import Priced
from kerfwright.trade.requirement import Demand, Requirement

_KINDS = {f"{kind.name}-beyond-process": kind for kind in KINDS}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Beyond:
    """One limit that no passes hold, with what they do."""

    kind: Kind
    contour_ids: tuple[str, ...]
    """None for the job."""
    asked_um: float
    held_um: float

    def on(self, requirement: Requirement) -> Requirement:
        field = {self.kind.field: self.held_um}
        if not self.contour_ids:
            ids = [
                name
                for name, own in requirement.contours.items()
                if getattr(own, self.kind.field) is not None
            ]
            if getattr(requirement, self.kind.field) is not None:
                requirement = replace(requirement, **field)  # type: ignore[arg-type]
        else:
            ids = list(self.contour_ids)
        own = {n: replace(requirement.contours.get(n, Demand()), **field) for n in ids}
        return replace(requirement, contours={**requirement.contours, **own})

    def said(self, value: str) -> str:
        return f"{value} on {names(self.contour_ids)}" if self.contour_ids else value


def lifting_change(requirement: Requirement, base: Priced, quantity: int) -> Change | None:
    """Return the job with every limit that is beyond the process eased to what is held.

    None where none is; what else is refused may stay so.

    Parameters
    ----------
    requirement : Requirement
    base : Priced
        The job as asked.
    quantity : int
    """
    found = _beyond(base)
    if not found:
        return None
    wanted = requirement
    for one in found:
        wanted = one.on(wanted)
    kinds = list(dict.fromkeys(one.kind.name for one in found))
    return Change(
        demand=and_text(kinds),
        asked=and_text(one.said(one.kind.listed(one.asked_um)) for one in found),
        instead=and_text(one.said(one.kind.listed_offer(one.held_um)) for one in found),
        wording=found[0].kind.wording if len(found) == 1 else "Asking {instead} instead of {asked}",
        requirement=wanted,
        quantity=quantity,
        is_looser=True,
        is_lifting=True,
    )


def lifted(base: Priced, priced: Priced, *, currency: str) -> str:
    """Say what a job costs whose refusals a change lifts: the job as asked has no price.

    Parameters
    ----------
    base, priced : Priced
        The job as asked, and changed.
    currency : str
    """
    planned = {c.target.id for c in base.plan.contours}
    added = [c.target.id for c in priced.plan.contours if c.target.id not in planned]
    with_them = f", {names(added)} cut with the others" if added else ""
    return f"lifts what is refused: {currency} {priced.offer.each} a piece{with_them}"


def _beyond(base: Priced) -> Sequence[_Beyond]:
    unit = base.plan.part.drawing_unit
    groups: dict[tuple[str, float, float], list[str]] = {}
    for f in base.plan.findings:
        if f.code in _KINDS:
            held_um = _KINDS[f.code].rounded(float(f.data["sure_um"]), unit)
            ids = groups.setdefault((f.code, float(f.data["asked_um"]), held_um), [])
            ids += [f.where.contour_id] if f.where.contour_id is not None else []
    return [
        _Beyond(
            kind=_KINDS[code],
            contour_ids=tuple(dict.fromkeys(ids)),
            asked_um=asked_um,
            held_um=held_um,
        )
        for (code, asked_um, held_um), ids in groups.items()
    ]
