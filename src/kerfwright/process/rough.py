"""The rough pass: area rate and feed."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from kerfwright.foundation.errors import RangeError
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.process.technology import Flushing, RoughLaw, read_curve
from kerfwright.trade.machine import Machine
from kerfwright.trade.material import Material, Wire

_FORMULA = (
    "A/H, A = K_m K_s K_w K_f K_machine K_flushing / (1/(v0 H) + 1/(A_inf f_d)) "
    "/ (1 + (H/H_f)^2), f_d = min(1, sqrt(d/d_p)) / min(1, sqrt(d_0/d_p))"
)


def area_rate_mm2_per_min(height_mm: float, *, diameter_mm: float, law: RoughLaw) -> float:
    """Compute the area rate of the rough pass in steel with plain brass, at full rate.

    ``A = 1 / (1/(v0 H) + 1/(A_inf f_d)) / (1 + (H/H_f)^2)`` with
    ``f_d = min(1, sqrt(d/d_p)) / min(1, sqrt(d_0/d_p))``: thin plate is limited by the feed, then
    the wire by what it carries, tall work by its flushing.  ``A_inf`` is what the usual wire of
    diameter ``d_0`` carries, for which shops know their rates.

    Parameters
    ----------
    height_mm : float
        Height of the work, mm.
    diameter_mm : float
        Diameter of the wire, mm.
    law : RoughLaw

    Returns
    -------
    float
        Area of one wall per time, mm²/min.

    Raises
    ------
    RangeError
        If a length is not above 0.

    Notes
    -----
    Validity: not stated by the source.  Plateau and square root over the diameter were shown
    for 0.05 to 0.35 mm at a height of 32.7 mm, flat from 0.25 mm with an older pulse source and
    from 0.33 mm with a newer one: ``d_p`` is the middle of the two.  The peak over the height is
    common practice.

    References
    ----------
    Schacht, "Composite wire electrodes and alternative dielectrics for wire EDM", PhD thesis,
    KU Leuven, chapter III: structure over the wire diameter.  Constants: common practice.
    """
    if not height_mm > 0 or not diameter_mm > 0:
        raise RangeError(
            f"height {height_mm:g} mm and wire {diameter_mm:g} mm must be above 0",
            code="rate-out-of-range",
        )
    return rate_by_figures(
        height_mm,
        law.thin_plate_feed_mm_per_min,
        law.plateau_area_rate_mm2_per_min,
        law.plateau_diameter_mm,
        law.height_scale_mm,
        diameter_mm=diameter_mm,
        usual_mm=law.usual_diameter_mm,
    )


def rate_by_figures(
    height_mm: float,
    v0: float,
    a_inf: float,
    d_p: float,
    h_f: float,
    *,
    diameter_mm: float,
    usual_mm: float,
) -> float:
    """Compute :func:`area_rate_mm2_per_min` from bare figures, for spreads that move each."""
    of_plateau, usual = (min(1.0, math.sqrt(d / d_p)) for d in (diameter_mm, usual_mm))
    wire_limit = a_inf * of_plateau / usual
    return 1 / (1 / (v0 * height_mm) + 1 / wire_limit) / (1 + (height_mm / h_f) ** 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoughFeed:
    """The feed of the rough pass and its reason.

    Attributes
    ----------
    feed_mm_per_min : float
        Median along the wall.
    feed_sigma_log : float
        Standard deviation of its logarithm in routine work, that of the factor of open nozzles in
        it; :func:`kerfwright.process.feed_beyond.feed_unsure` has what other work adds.
    reason : Reason
    """

    feed_mm_per_min: float
    feed_sigma_log: float
    reason: Reason


def rough_feed(
    *,
    material: Material,
    height_mm: float,
    wire: Wire,
    machine: Machine,
    law: RoughLaw,
    flushing: Flushing = Flushing.SEALED,
) -> RoughFeed:
    """Compute the feed of the rough pass for a material, height, wire and machine.

    Parameters
    ----------
    material : Material
    height_mm : float
        Height of the work, mm.
    wire : Wire
    machine : Machine
    law : RoughLaw
    flushing : Flushing

    Raises
    ------
    RangeError
        If the height is not above 0.

    References
    ----------
    See :func:`area_rate_mm2_per_min`.  Hardness is no input: it does not change the rate
    (common practice, no source).
    """
    feed, sigma, factors = rough_figures(
        material=material,
        height_mm=height_mm,
        wire=wire,
        machine=machine,
        law=law,
        flushing=flushing,
    )
    return RoughFeed(
        feed_mm_per_min=feed,
        feed_sigma_log=sigma,
        reason=_reason(
            feed, material, wire, height_mm=height_mm, factors=factors, law=law, flushing=flushing
        ),
    )


def rough_figures(
    *,
    material: Material,
    height_mm: float,
    wire: Wire,
    machine: Machine,
    law: RoughLaw,
    flushing: Flushing = Flushing.SEALED,
) -> tuple[float, float, tuple[tuple[str, float], ...]]:
    """Compute the feed of :func:`rough_feed` in mm/min, its routine spread and its factors.

    Parameters are those of :func:`rough_feed`.

    Raises
    ------
    RangeError
        If the height is not above 0.
    """
    fine = read_curve(law.fine_wire, wire.diameter_mm)
    steel = area_rate_mm2_per_min(height_mm, diameter_mm=wire.diameter_mm, law=law)
    factors = (
        ("K_m", material.rate_factor),
        ("K_s", law.shop_derate),
        ("K_w", wire.rate_factor),
        ("K_f", fine),
        ("K_machine", machine.rate_factor),
        ("K_flushing", law.flushing[flushing]),
    )
    feed = steel * math.prod(value for _, value in factors) / height_mm
    sigma = math.hypot(law.feed_sigma_log, law.flushing_sigma_log.get(flushing, 0.0))
    return feed, sigma, factors


def _reason(
    feed_mm_per_min: float,
    material: Material,
    wire: Wire,
    *,
    height_mm: float,
    factors: tuple[tuple[str, float], ...],
    law: RoughLaw,
    flushing: Flushing,
) -> Reason:
    """Return the formula of the feed with its inputs."""
    return Reason(
        quantity="rough_feed_mm_per_min",
        value=feed_mm_per_min,
        formula=_FORMULA,
        inputs=(
            ("material", material.name),
            ("wire", f"{wire.diameter_mm:g} mm {wire.name}"),
            ("H_mm", height_mm),
            ("d_mm", wire.diameter_mm),
            *factors,
            ("v0_mm_per_min", law.thin_plate_feed_mm_per_min),
            ("A_inf_mm2_per_min", law.plateau_area_rate_mm2_per_min),
            ("d_p_mm", law.plateau_diameter_mm),
            ("d_0_mm", law.usual_diameter_mm),
            ("H_f_mm", law.height_scale_mm),
            ("A_mm2_per_min", feed_mm_per_min * height_mm),
        ),
        source=weakest(
            (
                law.sources.get("plateau_area_rate_mm2_per_min"),
                material.sources.get("rate_factor"),
                wire.sources.get("rate_factor"),
                *(law.sources.get(name) for name in _FIGURES),
                law.sources.get(f"flushing.{flushing}"),
            )
        ),
    )


_FIGURES: Final = (
    "shop_derate",
    "thin_plate_feed_mm_per_min",
    "plateau_diameter_mm",
    "usual_diameter_mm",
    "height_scale_mm",
    "fine_wire",
)
"""Of the law, beside the plateau: whatever is multiplied in."""


_FROM_WEAKEST: Final = (
    SourceTag.COMMON_PRACTICE,
    SourceTag.FROM_MEMORY,
    SourceTag.COMPUTED,
    SourceTag.READ,
    SourceTag.SHOP,
)


def weakest(sources: Iterable[Source | None]) -> Source:
    """Return the source of the least certain of some figures: a chain is as good as that.

    Parameters
    ----------
    sources : iterable of Source or None
        None of a figure that says none; of equals the first is named.

    Examples
    --------
    >>> str(weakest([Source(tag=SourceTag.SHOP), None, Source(tag=SourceTag.FROM_MEMORY)]))
    'from memory'
    """
    known = [source for source in sources if source is not None]
    return min(known, key=lambda source: _FROM_WEAKEST.index(source.tag))
