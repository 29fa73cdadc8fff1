"""How sure the figures of the laws of the feed are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

from kerfwright.foundation.sources import Source
from kerfwright.trade.material import Material

HEIGHT: Final = "height"
WIRE: Final = "wire"
MATERIAL: Final = "material"
"""What makes a feed less sure than in routine work, in the words of learning."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedSpread:
    """How sure each figure of the laws of the feed is: standard deviations of its logarithm.

    They split the spread of a feed among its causes.  In routine work the whole is
    ``feed_sigma_log``; where the figures bring more than there, that comes on top.

    Attributes
    ----------
    thin_plate_feed_log, plateau_log, height_scale_log, shop_derate_log : float
        v0, A_inf, H_f and K_s of the rough pass.
    plateau_diameter_log : float
        d_p of the rough pass.
    material_log, fine_wire_log, flushing_log : float
        K_m in steel, K_f, and how well closed nozzles close.
    skim_feed_log, skim_height_log : float
        Feed of a row of the pass table, and the power of the height.
    sources : mapping of str to Source
    routine_height_mm : float
        Height at which ``feed_sigma_log`` is the whole in steel with the usual wire; 0 in figures
        kept before there was one, by which it is the whole everywhere.
    wire_gain_share, wire_gain_elsewhere_share : float
        Spread of ``ln K_w`` over its size, in steel and in other materials.
    material_elsewhere_log : mapping of str to float
        K_m by family of material, of those in which it is less sure than in steel.
    """

    thin_plate_feed_log: float
    plateau_log: float
    plateau_diameter_log: float
    height_scale_log: float
    shop_derate_log: float
    material_log: float
    fine_wire_log: float
    flushing_log: float
    skim_feed_log: float
    skim_height_log: float
    sources: Mapping[str, Source]
    # Figures kept without these must keep the name that what was learned from them knows.
    routine_height_mm: float = field(default=0.0, repr=False)
    wire_gain_share: float = field(default=0.0, repr=False)
    wire_gain_elsewhere_share: float = field(default=0.0, repr=False)
    material_elsewhere_log: Mapping[str, float] = field(
        default_factory=lambda: MappingProxyType({}), repr=False
    )

    @property
    def later(self) -> tuple[object, ...]:
        """The figures that were not there from the start, for names of all figures."""
        if not self.routine_height_mm:
            return ()
        return (
            self.routine_height_mm,
            self.wire_gain_share,
            self.wire_gain_elsewhere_share,
            tuple(self.material_elsewhere_log.items()),
        )

    def of_material(self, material: Material) -> float:
        """Return how sure the rate factor of a material is, of its logarithm."""
        return self.material_elsewhere_log.get(material.family, self.material_log)


@dataclass(frozen=True, slots=True, kw_only=True)
class Beyond:
    """One cause that makes a feed less sure than in routine work.

    Attributes
    ----------
    what : str
        Height, wire or material.
    level : str
        Names the unknown: cuts with the same one share it.
    sigma_log : float
        Standard deviation that it adds, of the logarithm.
    """

    what: str
    level: str
    sigma_log: float
