"""What a drawing says about itself, offered with its place and never applied.

Every text and dimension is read by :mod:`kerfwright.trade.callouts`; here dimensions are compared
with the lines they measure, and each offer gets the contour it most likely belongs to.
"""

from __future__ import annotations

import math
import re
import shlex
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from kerfwright.app.centre_distances import StandsAt, as_position, centres_of, is_distance
from kerfwright.app.fits_on_lines import FitFinder, is_fit
from kerfwright.app.picked_contours import OF_CONTOURS, to_be_picked
from kerfwright.app.said_twice import contradictions
from kerfwright.foundation.findings import Place
from kerfwright.foundation.kept import Kept
from kerfwright.foundation.units import MM_PER_INCH
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.segments import Segments
from kerfwright.trade.annotation import Annotation, AnnotationKind, Dimensioned, Measures
from kerfwright.trade.callout_limits import Side
from kerfwright.trade.callouts import interpret
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.fits import FitTable
from kerfwright.trade.part import LengthUnit, Part
from kerfwright.trade.statements import Asks, Reading, Statement, option

_ON_LINE_MM: Final = 0.05
"""A dimension's point this near a wall or a centre belongs to it: programs snap it there."""
_POINTS_AT_MM: Final = 0.5
"""A leader's tip this near a wall points at it: tips are put by hand."""
_ROUNDING_MM: Final = 0.006
_ROUNDING_SHARE: Final = 5e-4
"""What rounding of a written size may hide; more is a size that contradicts its line."""
_SAME_UNIT: Final = 1e-3
"""Share by which the length of a unit may miss that of an inch."""
_POINTING: Final = (AnnotationKind.LEADER, AnnotationKind.FRAME)
"""What is written at the end of a line that points at something."""
_NAMES_ITS_KIND: Final = re.compile(
    r"(?<![a-z])S?R(?:AD(?:IUS|II)?)?(?![a-z])|[Øø⌀]|%%c|\bDIA", re.IGNORECASE
)
_FIRST_SIZE: Final = re.compile(
    r"^[\s(]*(?:\d{1,4}\s?[x×]\s{0,3})?(?:(?:MAX|MIN)\.?\s{1,2})?(?=[.,]?\d)"
    r"(?!\d{1,4}\s?(?:places|plcs?\b|pl\b|off\b|req))",
    re.IGNORECASE,
)
_RADIUS_REMARK: Final = "a radius by the kind of its dimension: one wall from its centre"
_FRAME_REMARK: Final = "a geometrical tolerance: shown, not interpreted; read it on the drawing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Saying:
    """One statement of the drawing, offered with the place that it came from.

    Attributes
    ----------
    statement : Statement
    kind : AnnotationKind
        What it is written with.
    where : Place
        Entity, layer and point; the contour where it belongs to one alone.
    contour_ids : tuple of str
        Contours it most likely belongs to; empty for the whole drawing.
    sheet : str
        Name of the paper sheet, empty for the model itself.
    written_mm, drawn_mm : float or None
        Both sizes, where a dimension writes another one than is drawn.
    written : str
        The whole text that the statement is of.
    size : Dimensioned or None
        What a dimension measures; None of other words.
    """

    statement: Statement
    kind: AnnotationKind
    where: Place
    contour_ids: tuple[str, ...] = ()
    sheet: str = ""
    written_mm: float | None = None
    drawn_mm: float | None = None
    written: str = ""
    size: Dimensioned | None = None


def what_drawing_says(part: Part, *, catalogue: Catalogue, fits: FitTable) -> tuple[Saying, ...]:
    """Return everything the drawing says, offered in the order of the drawing.

    Parameters
    ----------
    part : Part
    catalogue : Catalogue
        Names of materials.
    fits : FitTable

    Returns
    -------
    tuple of Saying
        What was not understood is among them.
    """
    # Every change on the page plans the same part again: its texts say what they said.
    return _SAID.once(lambda: _said(part, catalogue, fits), part, catalogue, fits)


_SAID: Final = Kept(most=4)


def _said(part: Part, catalogue: Catalogue, fits: FitTable) -> tuple[Saying, ...]:
    walls = _Walls(part)
    belongs = walls.belonging(part.annotations)
    known: dict[tuple[str, str, str, LengthUnit], tuple[Statement, ...]] = {}
    sayings: list[Saying] = []
    for annotation, at in zip(part.annotations, belongs, strict=True):
        unit = _unit_of(annotation, part.drawing_unit)
        key = (_with_its_kind(annotation), annotation.text, annotation.label, unit)
        if key not in known:
            known[key] = _statements(annotation, unit, catalogue, fits)
        for said in known[key]:
            statement, own = _against_lines(said, annotation, at, walls)
            alone = own[0] if len(own) == 1 else None
            sizes = _two_sizes(statement, annotation.size) if annotation.size else None
            sayings.append(
                Saying(
                    statement=statement,
                    kind=annotation.kind,
                    where=replace(_mark_of(annotation, at), contour_id=alone),
                    contour_ids=own,
                    sheet=annotation.sheet,
                    written_mm=sizes[0] if sizes else None,
                    drawn_mm=sizes[1] if sizes else None,
                    written=annotation.text,
                    size=annotation.size,
                )
            )
    return _with_contradictions(sayings)


def _mark_of(annotation: Annotation, at: StandsAt) -> Place:
    """Return where words are marked: at the tip of their leader, where that is at a contour."""
    where = annotation.where
    is_pointing = annotation.kind in _POINTING and annotation.points_mm and where.x_mm is not None
    if not (is_pointing and at.ids):
        return where
    x_mm, y_mm = annotation.points_mm[0]
    return replace(where, x_mm=x_mm, y_mm=y_mm)


def _with_contradictions(sayings: list[Saying]) -> tuple[Saying, ...]:
    """Return what is said, with a remark at each text that another one contradicts."""
    of_job = [k for k, one in enumerate(sayings) if not one.contour_ids]
    said = [(sayings[k].statement, sayings[k].where.entity or "") for k in of_job]
    for number, word in contradictions(said).items():
        one = sayings[of_job[number]]
        remark = "; ".join(words for words in (word, one.statement.remark) if words)
        sayings[of_job[number]] = replace(one, statement=replace(one.statement, remark=remark))
    return tuple(sayings)


def _statements(
    annotation: Annotation, unit: LengthUnit, catalogue: Catalogue, fits: FitTable
) -> tuple[Statement, ...]:
    text = annotation.text
    if annotation.kind is AnnotationKind.FRAME:
        return (Statement(asks=Asks.FRAME, text=text, remark=_FRAME_REMARK),)
    if annotation.kind is AnnotationKind.UNREAD:
        remark = "a kind of entity whose words are not read: look at it on the drawing"
        return (Statement(asks=Asks.NOT_UNDERSTOOD, text=text, remark=remark),)
    words = _with_its_kind(annotation)
    said = interpret(words, unit=unit, catalogue=catalogue, fits=fits, label=annotation.label)
    return said if words == text else tuple(_as_written(one) for one in said)


def _with_its_kind(annotation: Annotation) -> str:
    """Return what is written, with the R of a radius where only its kind of dimension says so."""
    text, size = annotation.text, annotation.size
    if size is None or size.measures is not Measures.RADIUS or _NAMES_ITS_KIND.search(text):
        return text
    return _FIRST_SIZE.sub(r"\g<0>R", text, count=1)


def _as_written(said: Statement) -> Statement:
    """Return a statement with the words of the drawing, which name no R."""
    if said.asks is not Asks.RADIUS:
        return said
    remark = "; ".join(words for words in (_RADIUS_REMARK, said.remark) if words)
    return replace(said, text=said.text.replace("R", "", 1), remark=remark)


def _unit_of(annotation: Annotation, drawing: LengthUnit) -> LengthUnit:
    """Return the unit that the numbers of an annotation are in."""
    if annotation.size is None:
        return drawing
    is_inch = math.isclose(annotation.size.shown_unit_mm, MM_PER_INCH, rel_tol=_SAME_UNIT)
    return LengthUnit.INCH if is_inch else LengthUnit.MILLIMETRE


def _against_lines(
    said: Statement, annotation: Annotation, at: StandsAt, walls: _Walls
) -> tuple[Statement, tuple[str, ...]]:
    """Compare a statement with the lines, and find its contours where it names a diameter."""
    ids = at.ids
    said = as_position(said, annotation.size, at)
    if any(is_fit(reading) for reading in said.readings):
        return _fit_against_lines(said, annotation, ids, walls)
    remarks = [said.remark] if said.remark else []
    if annotation.size is not None:
        contradiction = _contradiction(said, annotation.size)
        if contradiction:
            remarks.append(contradiction)
    data = said.readings[0].data if said.readings else {}
    names_size = "diameter_mm" in data or "size_half_um" in data
    names_size &= said.asks is not Asks.POSITION
    if names_size and (ids or annotation.size is None):
        ids, word = walls.fits.counted(ids, data)
        remarks += [word] * bool(word)
    readings = tuple(
        _of_contours(_as_limits(reading, ids, walls), ids) for reading in said.readings
    )
    if not ids and (names_size or annotation.size is not None):
        # The limits of one size are no demand on every wall.
        readings = tuple(to_be_picked(reading) for reading in readings)
        if annotation.size is not None and any(reading.of_picked for reading in readings):
            remarks.append("on no contour of the part")
    return replace(said, readings=readings, remark="; ".join(remarks)), ids


def _as_limits(reading: Reading, ids: tuple[str, ...], walls: _Walls) -> Reading:
    """Ask two written limits as they are of contours of that size: the drawn size is in between.

    As a zone of the wall they would lie about the line, which may show either of them.
    """
    if "limits" not in reading.data or not walls.fits.are_of_size(ids, reading.data):
        return reading
    return replace(reading, option=option("tolerance", str(reading.data["limits"])))


def _fit_against_lines(
    said: Statement, annotation: Annotation, ids: tuple[str, ...], walls: _Walls
) -> tuple[Statement, tuple[str, ...]]:
    """Find the contours that a fit is meant for, its likeliest size first."""
    found, remarks = walls.fits.with_contours(said, ids)
    readings = tuple(_of_contours(reading, own) for reading, own in found)
    first, own = found[0]
    ranked = replace(said, readings=readings)
    contradiction = _contradiction(ranked, annotation.size) if annotation.size else ""
    words = [said.remark, contradiction, *remarks]
    remark = "; ".join(one for one in words if one)
    return replace(ranked, remark=remark), own if is_fit(first) and own else ids


def _of_contours(reading: Reading, ids: tuple[str, ...]) -> Reading:
    """Ask of some contours what would else be asked of the whole job."""
    name, *values = shlex.split(reading.option.removeprefix("--")) or [""]
    if not ids or name not in OF_CONTOURS:
        return reading
    value = " ".join(values)
    return replace(reading, option=option("contour", f"{','.join(ids)}: {name}={value}"))


def _contradiction(said: Statement, size: Dimensioned) -> str:
    """Return words where a written size is not the drawn one."""
    sizes = _two_sizes(said, size)
    if sizes is None:
        return ""
    is_scaled = size.factor != 1 and not size.has_own_words
    scaled = "" if not is_scaled else f", {sizes[1] * size.factor:.4f} mm by the drawing's scale"
    side = said.readings[0].data.get("limit")
    limit = f" {Side(str(side)).words}" if side else ""
    return (
        f"written {sizes[0]:.4f} mm{limit} where {sizes[1]:.4f} mm is drawn{scaled}: the wire "
        "follows the line"
    )


def _two_sizes(said: Statement, size: Dimensioned) -> tuple[float, float] | None:
    """Return the written and the drawn size, mm, where they are not the same."""
    if size.drawn_mm is None or not said.readings:
        return None
    data = said.readings[0].data
    named = ("radius_mm",) if size.measures is Measures.RADIUS else ("nominal_mm", "diameter_mm")
    written = next((float(data[n]) for n in named if n in data), None)
    if written is None:
        return None
    side = data.get("limit")
    # Words in place of the measured value may give the size itself, whatever the factor.
    factors = {size.factor, 1.0} if size.has_own_words else {size.factor}
    for factor in factors:
        drawn_mm = size.drawn_mm * factor
        within_mm = _ROUNDING_MM + _ROUNDING_SHARE * drawn_mm
        is_kept = bool(side) and Side(str(side)).holds(drawn_mm, written, within_mm=within_mm)
        if is_kept or abs(written - drawn_mm) <= within_mm:
            return None
    return written, size.drawn_mm


class _Walls:
    """The contours of a part, to be found by points and by diameter."""

    def __init__(self, part: Part) -> None:
        self.fits = FitFinder(part)
        self._ids = [c.id for c in part.contours]
        self._owner = np.repeat(
            np.arange(len(part.contours)), [len(c.contour) for c in part.contours]
        )
        segments = [c.contour.segments for c in part.contours]
        self._index = NearestIndex(Segments.joined(segments)) if segments else None
        self._centres = [centres_of(part, is_round=is_round) for is_round in (True, False)]

    def belonging(self, annotations: Sequence[Annotation]) -> list[StandsAt]:
        """Return the contours on which, or at whose centre, the points of each annotation lie."""
        points = [p for a in annotations for p in a.points_mm]
        if not points or self._index is None:
            return [StandsAt() for _ in annotations]
        distance, segment = self._index.query(np.array(points, dtype=np.float64))
        owners = self._owner[segment]
        result: list[StandsAt] = []
        begin = 0
        for annotation in annotations:
            reach = _ON_LINE_MM if annotation.kind is AnnotationKind.DIMENSION else _POINTS_AT_MM
            found: dict[str, None] = {}
            centred: list[str] = []
            for k in range(begin, begin + len(annotation.points_mm)):
                if distance[k] <= reach:
                    found.setdefault(self._ids[owners[k]])
                else:
                    centred += self._around(points[k], annotation)
            begin += len(annotation.points_mm)
            result.append(StandsAt(walls=tuple(found), centres=tuple(centred)))
        return result

    def _around(self, point: tuple[float, float], annotation: Annotation) -> list[str]:
        """Return the contours whose centre a point is: circles first, others of a distance."""
        for centres in self._centres if is_distance(annotation.size) else self._centres[:1]:
            found = centres.near(point, within_mm=_ON_LINE_MM)
            if found:
                return found
        return []
