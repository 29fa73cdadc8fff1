"""How much less sure a feed is than in routine work, and what for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from kerfwright.foundation.sources import Shares
from kerfwright.process.feed_spread import HEIGHT, MATERIAL, WIRE, Beyond, FeedSpread
from kerfwright.process.rough import rate_by_figures
from kerfwright.process.technology import RoughLaw, SkimLaw, Technology, read_curve
from kerfwright.trade.material import Material, Wire

OVER_DIAMETER: Final = "d_p, plateau over the wire"
_STEEL: Final = "steel"
_OF_HEIGHT: Final = ("v0, thin plate", "A_inf, plateau", OVER_DIAMETER, "H_f, tall work")


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedUnsure:
    """How sure the feed of a pass is by the tables.

    Attributes
    ----------
    routine_log : float
        Standard deviation of its logarithm in routine work.
    beyond : tuple of Beyond
        What comes on top, each independent of all else.
    """

    routine_log: float
    beyond: tuple[Beyond, ...]

    @property
    def sigma_log(self) -> float:
        """Standard deviation of the logarithm of the feed, all in all."""
        return math.hypot(self.routine_log, *(one.sigma_log for one in self.beyond))


def feed_unsure(
    *, is_rough: bool, material: Material, height_mm: float, wire: Wire, technology: Technology
) -> FeedUnsure:
    """Return how sure the feed of a pass is: what it is in routine work, and what is beyond.

    ``s^2 = s_0^2 + sum max(0, s_k^2 - s_k0^2)`` over height, wire and material, with what the
    figures of the law bring, ``s_k``, and what they bring in routine work, ``s_k0``: steel, the
    usual wire, the routine height.  So machine, job and cut bring as much in tall work, with other
    wires and in other materials as in routine work.

    Parameters
    ----------
    is_rough : bool
    material : Material
    height_mm : float
    wire : Wire
    technology : Technology
    """
    rough, spread = technology.rough, technology.feed_spread
    routine_log = rough.feed_sigma_log if is_rough else technology.skim.feed_sigma_log
    if not spread.routine_height_mm:
        return FeedUnsure(routine_log=routine_log, beyond=())
    found = (
        _of_rough(material, height_mm, wire, rough, spread)
        if is_rough
        else _of_skim(material, height_mm, wire, technology)
    )
    return FeedUnsure(
        routine_log=routine_log, beyond=tuple(one for one in found if one.sigma_log > 0)
    )


def height_loadings(
    height_mm: float, *, diameter_mm: float, law: RoughLaw, spread: FeedSpread
) -> Shares:
    """Return what the figures over height and diameter bring of a rough feed, of its logarithm.

    The chord of the logarithm of the rate over a deviation either way of each figure.

    Parameters
    ----------
    height_mm : float
    diameter_mm : float
    law : RoughLaw
    spread : FeedSpread
    """
    figures = (
        (law.thin_plate_feed_mm_per_min, spread.thin_plate_feed_log),
        (law.plateau_area_rate_mm2_per_min, spread.plateau_log),
        (law.plateau_diameter_mm, spread.plateau_diameter_log),
        (law.height_scale_mm, spread.height_scale_log),
    )
    return _chords(height_mm, diameter_mm, law.usual_diameter_mm, figures)


@lru_cache(maxsize=4096)
def _chords(
    height_mm: float, diameter_mm: float, usual_mm: float, figures: tuple[tuple[float, float], ...]
) -> Shares:
    def log_rate(moved: int, by: float) -> float:
        values = [m * math.exp(by * s) if k == moved else m for k, (m, s) in enumerate(figures)]
        rate = rate_by_figures(height_mm, *values, diameter_mm=diameter_mm, usual_mm=usual_mm)
        return math.log(rate)

    return tuple(
        (name, (log_rate(k, 1.0) - log_rate(k, -1.0)) / 2) for k, name in enumerate(_OF_HEIGHT)
    )


def wire_gain_log(wire: Wire, *, material: Material, spread: FeedSpread) -> float:
    """Return how sure the rate factor of a wire is in a material, of its logarithm.

    Parameters
    ----------
    wire : Wire
    material : Material
    spread : FeedSpread
    """
    is_steel = material.family == _STEEL
    share = spread.wire_gain_share if is_steel else spread.wire_gain_elsewhere_share
    return share * abs(math.log(wire.rate_factor))


def fine_wire_log(wire: Wire, *, law: RoughLaw, spread: FeedSpread) -> float:
    """Return how sure the factor of fine wires is: for usual ones it is 1 by definition.

    Parameters
    ----------
    wire : Wire
    law : RoughLaw
    spread : FeedSpread
    """
    return spread.fine_wire_log if read_curve(law.fine_wire, wire.diameter_mm) < 1 else 0.0


def skim_height_loading(height_mm: float, *, law: SkimLaw, spread: FeedSpread) -> float:
    """Return what the power of the height brings of a skim's feed, of its logarithm.

    Parameters
    ----------
    height_mm : float
    law : SkimLaw
    spread : FeedSpread
    """
    tall = min(1.0, law.full_feed_height_mm / height_mm)
    # A power that is itself unsure: its chord over a deviation either way, as for every figure.
    return law.height_exponent * math.sinh(spread.skim_height_log) * math.log(tall)


def _of_rough(
    material: Material, height_mm: float, wire: Wire, law: RoughLaw, spread: FeedSpread
) -> tuple[Beyond, ...]:
    at, usual_mm = spread.routine_height_mm, law.usual_diameter_mm
    here, there = (
        dict(height_loadings(h_mm, diameter_mm=d_mm, law=law, spread=spread))
        for h_mm, d_mm in ((height_mm, wire.diameter_mm), (at, usual_mm))
    )
    over_diameter = here.pop(OVER_DIAMETER), there.pop(OVER_DIAMETER)
    diameter = (_more(*over_diameter), fine_wire_log(wire, law=law, spread=spread))
    return (
        Beyond(
            what=HEIGHT,
            level=f"rough law of {'thin plate' if height_mm < at else 'tall work'}",
            sigma_log=_more(math.hypot(*here.values()), math.hypot(*there.values())),
        ),
        Beyond(what=WIRE, level=_of_diameter(wire), sigma_log=math.hypot(*diameter)),
        Beyond(
            what=WIRE,
            level=f"rate factor of {wire.kind} in {material.family}",
            sigma_log=wire_gain_log(wire, material=material, spread=spread),
        ),
        Beyond(
            what=MATERIAL,
            level=_of_material(material),
            sigma_log=_more(spread.of_material(material), spread.material_log),
        ),
    )


def _of_skim(
    material: Material, height_mm: float, wire: Wire, technology: Technology
) -> tuple[Beyond, ...]:
    law, spread = technology.skim, technology.feed_spread
    q = law.rate_exponent
    fine = fine_wire_log(wire, law=technology.rough, spread=spread)
    height = abs(skim_height_loading(height_mm, law=law, spread=spread))
    return (
        Beyond(what=HEIGHT, level="skim law of tall work", sigma_log=height),
        Beyond(what=WIRE, level=_of_diameter(wire), sigma_log=q * fine),
        Beyond(
            what=MATERIAL,
            level=_of_material(material),
            sigma_log=q * _more(spread.of_material(material), spread.material_log),
        ),
    )


def _of_diameter(wire: Wire) -> str:
    return f"rate over the diameter, {wire.diameter_mm:g} mm"


def _of_material(material: Material) -> str:
    return f"rate factor of {material.id}"


def _more(here: float, there: float) -> float:
    """Return what has to be added to one deviation to make another; 0 where that is less."""
    return math.sqrt(max(0.0, here**2 - there**2))
