"""Gathering what a drawing says: texts, dimensions, leaders, title blocks, tolerance frames.

Only what a person who opens the drawing sees is gathered: nothing on hidden layers.  A hostile
drawing may hold a hundred thousand texts; beyond a number they are counted only.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from kerfwright.adapters.dxf.annotation_text import (
    FAULTS,
    block_text,
    frame_text,
    line_text,
    paragraph_text,
)
from kerfwright.adapters.dxf.dimension_text import Dimension, read_dimension
from kerfwright.adapters.dxf.layers import Inherited, Layers, attribute, printable
from kerfwright.adapters.dxf.shapes import IDENTITY, Frame
from kerfwright.adapters.dxf.title_cells import Cell, foot_of, labels_of_values
from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.shortened import shortened
from kerfwright.foundation.units import MM_PER_INCH, UM_PER_MM
from kerfwright.trade.annotation import Annotation, AnnotationKind, Dimensioned, Measures
from kerfwright.trade.callout_titles import unit_said
from kerfwright.trade.part import LengthUnit

if TYPE_CHECKING:
    from ezdxf.document import Drawing

MOST_TEXTS: Final = 5000
"""Texts of a drawing that are read; the fullest sheet seen holds some hundreds."""
MOST_LETTERS: Final = 100_000
"""Letters of all texts together, about fifty pages: reading stays at a few seconds."""
_DEEPEST: Final = 8
"""Blocks in blocks on a paper sheet."""
_KINDS: Final = {
    "TEXT": AnnotationKind.TEXT,
    "MTEXT": AnnotationKind.TEXT,
    "ATTDEF": AnnotationKind.TITLE_BLOCK,
    "DIMENSION": AnnotationKind.DIMENSION,
    "LEADER": AnnotationKind.LEADER,
    "MULTILEADER": AnnotationKind.LEADER,
    "MLEADER": AnnotationKind.LEADER,
    "TOLERANCE": AnnotationKind.FRAME,
    "ACAD_TABLE": AnnotationKind.UNREAD,
    "ARC_DIMENSION": AnnotationKind.UNREAD,
    "LARGE_RADIAL_DIMENSION": AnnotationKind.UNREAD,
    "RTEXT": AnnotationKind.UNREAD,
    "OLE2FRAME": AnnotationKind.UNREAD,
    "OLEFRAME": AnnotationKind.UNREAD,
    "IMAGE": AnnotationKind.UNREAD,
    "PDFUNDERLAY": AnnotationKind.UNREAD,
}
_CONSTANT: Final = 2
"""Bit of a definition of a field whose value is the same wherever the block is inserted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """An annotation in drawing units; the unit may not be known yet."""

    kind: AnnotationKind
    text: str
    handle: str
    name: str
    layer: str
    label: str = ""
    sheet: str = ""
    at: tuple[float, float] | None = None
    points: tuple[tuple[float, float], ...] = ()
    dimension: Dimension | None = None
    cell: Cell | None = None


@dataclass(slots=True, kw_only=True, eq=False)
class Notes:
    """What was gathered.

    Attributes
    ----------
    document : Drawing
    marks : list of Mark
    passed_over : int
        Texts beyond the limits.
    faulty : int
        Texts and dimensions whose data could not be read.
    """

    document: Drawing
    marks: list[Mark] = field(default_factory=list)
    passed_over: int = 0
    faulty: int = 0
    _letters: int = 0
    _tips: dict[str, tuple[float, float]] = field(default_factory=dict)

    def take(
        self, entity: Any, kind: str, frame: Frame, layer: str, *, sheet: str = "", room: str = ""
    ) -> None:
        """Take an entity down if it says something; texts of one room share coordinates."""
        what = _KINDS.get(kind)
        if what is None:
            return
        if kind == "ATTDEF" and not int(attribute(entity, "flags", 0)) & _CONSTANT:
            return
        if len(self.marks) >= MOST_TEXTS or self._letters >= MOST_LETTERS:
            self.passed_over += 1
            return
        try:
            mark = self._mark(entity, kind, what, frame, layer)
            if mark is not None and kind in ("TEXT", "MTEXT"):
                mark = replace(mark, cell=_cell(entity, mark.text, frame, room))
        except FAULTS:
            self.faulty += 1
            return
        if mark is not None:
            self._add(replace(mark, sheet=sheet, at=None if sheet else mark.at))

    def take_fields(self, insert: Any, layer: str, *, frame: Frame, sheet: str = "") -> None:
        """Take the filled-in fields of an inserted block down."""
        for field_ in insert.attribs:
            if attribute(field_, "invisible", 0) or int(attribute(field_, "flags", 0)) & 1:
                continue
            if len(self.marks) >= MOST_TEXTS or self._letters >= MOST_LETTERS:
                self.passed_over += 1
                continue
            try:
                text = line_text(str(attribute(field_, "text", "")))
                if not text:
                    continue
                mark = Mark(
                    kind=AnnotationKind.TITLE_BLOCK,
                    text=text,
                    label=printable(str(attribute(field_, "tag", ""))),
                    handle=str(attribute(field_, "handle", "")),
                    name=_name(field_, "ATTRIB"),
                    layer=layer,
                    sheet=sheet,
                    at=None if sheet else _place(field_, "insert", frame),
                )
            except FAULTS:
                self.faulty += 1
                continue
            self._add(mark)

    def take_sheets(self, layers: Layers) -> None:
        """Take down what the paper sheets say."""
        for layout in self.document.layouts:
            if layout.name.lower() != "model":
                self._take_all(layout, layers, Inherited(), printable(layout.name), ())

    def _take_all(
        self,
        entities: Iterable[Any],
        layers: Layers,
        inherited: Inherited,
        sheet: str,
        path: tuple[str, ...],
    ) -> None:
        for entity in entities:
            kind = entity.dxftype()
            at = layers.place(entity, inherited)
            if attribute(entity, "invisible", 0) or layers.hidden.get(at.layer.lower(), False):
                continue
            if kind != "INSERT":
                self.take(
                    entity, kind, IDENTITY, at.layer, sheet=sheet, room="/".join((sheet, *path))
                )
                continue
            self.take_fields(entity, at.layer, frame=IDENTITY, sheet=sheet)
            name = str(attribute(entity, "name", ""))
            block: Any = self.document.blocks.get(name)
            full = len(self.marks) >= MOST_TEXTS
            if block is None or name.lower() in path or len(path) >= _DEEPEST or full:
                continue
            self._take_all(block, layers, at, sheet, (*path, name.lower()))

    def _add(self, mark: Mark) -> None:
        self._letters += len(mark.text) + _LEAST_COST
        self.marks.append(mark)

    def _mark(
        self, entity: Any, kind: str, what: AnnotationKind, frame: Frame, layer: str
    ) -> Mark | None:
        handle = str(attribute(entity, "handle", ""))
        mark = Mark(kind=what, text="", handle=handle, name=_name(entity, kind), layer=layer)
        match kind:
            case "TEXT" | "ATTDEF":
                text = line_text(str(entity.dxf.get("text", "")))
                mark = replace(mark, text=text, at=_place(entity, "insert", frame))
            case "MTEXT":
                text = paragraph_text(entity.text)
                mark = replace(mark, text=text, at=_place(entity, "insert", frame))
            case "TOLERANCE":
                text = frame_text(str(entity.dxf.get("content", "")))
                mark = replace(mark, text=text, at=_place(entity, "insert", frame))
            case "LEADER":
                self._leader(entity, frame)
                return None
            case "MULTILEADER" | "MLEADER":
                mark = _multileader(mark, entity, frame)
            case "DIMENSION":
                mark = self._dimension(mark, entity, frame)
            case _:
                place = _place(entity, "insert", frame)
                return replace(mark, text=kind, at=place)
        return mark if mark.text else None

    def _leader(self, entity: Any, frame: Frame) -> None:
        """Remember what a leader points at, for the text that it belongs to."""
        belongs = entity.dxf.get("annotation_handle")
        if belongs and len(entity.vertices):
            self._tips[str(belongs)] = _mapped(frame, entity.vertices[0])

    def _dimension(self, mark: Mark, entity: Any, frame: Frame) -> Mark:
        picture = block_text(self.document, str(entity.dxf.get("geometry", "")))
        dimension = read_dimension(entity, picture=picture)
        points = tuple(_mapped(frame, p) for p in dimension.points)
        return replace(
            mark,
            text=dimension.text,
            at=_place(entity, "text_midpoint", frame) or (points[0] if points else None),
            points=points,
            dimension=dimension,
        )

    def units_said(self) -> dict[LengthUnit, Mark]:
        """Return the units that texts say the numbers are in, each with the first such text."""
        found: dict[LengthUnit, Mark] = {}
        for mark in self.marks:
            said = unit_said(mark.text)
            if said is not None:
                found.setdefault(said, mark)
        return found

    def annotations(self, *, unit: LengthUnit, scale: float) -> tuple[Annotation, ...]:
        """Return what was gathered in millimetres.

        Parameters
        ----------
        unit : LengthUnit
            Unit of the drawing.
        scale : float
            Millimetres per drawing unit.
        """
        return tuple(self._annotation(mark, unit, scale) for mark in self._with_labels())

    def _with_labels(self) -> list[Mark]:
        """Return the marks, each value of a title block's cell with its label, in one."""
        texts = [(m.text, None if m.handle in self._tips else m.cell) for m in self.marks]
        labels = labels_of_values(texts)
        told = set(labels.values())
        return [
            replace(mark, label=self.marks[labels[k]].text.strip()) if k in labels else mark
            for k, mark in enumerate(self.marks)
            if k not in told
        ]

    def _annotation(self, mark: Mark, unit: LengthUnit, scale: float) -> Annotation:
        tip = self._tips.get(mark.handle)
        points = mark.points if tip is None or mark.points else (tip,)
        x_mm, y_mm = (None, None) if mark.at is None else (v * scale for v in mark.at)
        return Annotation(
            kind=_at_leader(mark.kind) if tip is not None else mark.kind,
            text=mark.text,
            label=mark.label,
            where=Place(x_mm=x_mm, y_mm=y_mm, layer=mark.layer, entity=mark.name),
            sheet=mark.sheet,
            points_mm=tuple((x * scale, y * scale) for x, y in points),
            size=None if mark.dimension is None else _sized(mark.dimension, unit, scale),
        )


def _at_leader(kind: AnnotationKind) -> AnnotationKind:
    """Return what words at the end of a leader are: a frame stays one."""
    return kind if kind is AnnotationKind.FRAME else AnnotationKind.LEADER


_LEAST_COST: Final = 8
"""Letters that a text costs besides its own."""


def _sized(dimension: Dimension, unit: LengthUnit, scale: float) -> Dimensioned:
    """Bring a dimension to millimetres; a factor that only changes the unit is none."""
    factor, shown_mm = dimension.factor, scale
    other = MM_PER_INCH if unit is LengthUnit.INCH else 1 / MM_PER_INCH
    if math.isclose(factor, other, rel_tol=_SAME_FACTOR):
        factor, shown_mm = 1.0, scale / other
    is_length = dimension.measures is not Measures.ANGLE
    deviations = (dimension.upper, dimension.lower)
    upper_um, lower_um = (
        None if v is None or not is_length else round(v * shown_mm * UM_PER_MM, 6)
        for v in deviations
    )
    return Dimensioned(
        measures=dimension.measures,
        drawn_mm=None if dimension.drawn is None or not is_length else dimension.drawn * scale,
        factor=factor,
        shown_unit_mm=shown_mm,
        upper_um=upper_um,
        lower_um=lower_um,
        override=dimension.override,
        picture=dimension.picture,
    )


_SAME_FACTOR: Final = 1e-4
"""Programs write 25.4 or 0.03937."""


def about_notes(notes: Notes, *, unit: LengthUnit, scale: float) -> list[Finding]:
    """Return findings on what was not read, and on a part that is drawn at a scale."""
    findings: list[Finding] = []
    if notes.passed_over or notes.faulty:
        findings.append(
            Finding(
                code="notes-not-all-read",
                severity=Severity.WARNING,
                message=(
                    f"{len(notes.marks)} texts and dimensions were read for what they say; "
                    f"{notes.passed_over} beyond the limit and {notes.faulty} with damaged data "
                    "were not."
                ),
                remedy="Read them on the drawing.",
                data={
                    "read": len(notes.marks),
                    "passed_over": notes.passed_over,
                    "damaged": notes.faulty,
                },
            )
        )
    for said, mark in notes.units_said().items():
        if said is not unit:
            findings.append(_unit_contradicted(mark, unit, scale))
    scaled = [
        a
        for a in notes.annotations(unit=unit, scale=scale)
        if a.size is not None
        and a.size.measures is not Measures.ANGLE
        and a.size.factor != 1
        and not a.size.has_own_words
    ]
    if scaled:
        writes = counted(len(scaled), "dimension writes", "dimensions write")
        factors = sorted({round(a.size.factor, 6) for a in scaled if a.size is not None})
        findings.append(
            Finding(
                code="drawn-at-a-scale",
                severity=Severity.WARNING,
                message=(
                    f"{writes} {factors[0]:g} times what is drawn: the "
                    f"part is drawn {1 / factors[0]:g} times its size, and would be cut so."
                ),
                where=scaled[0].where,
                remedy="Draw it at its size, or check that the factor is an error.",
                data={"count": len(scaled), "factor": factors[0]},
            )
        )
    return findings


def _unit_contradicted(mark: Mark, unit: LengthUnit, scale: float) -> Finding:
    x_mm, y_mm = (None, None) if mark.at is None else (v * scale for v in mark.at)
    return Finding(
        code="unit-contradicted",
        severity=Severity.WARNING,
        message=(
            f"The drawing says “{_start(mark.text)}”, but its lines are read in "
            f"{'inches' if unit is LengthUnit.INCH else 'millimetres'}."
        ),
        where=Place(x_mm=x_mm, y_mm=y_mm, layer=mark.layer, entity=mark.name),
        remedy="Compare one dimension with its line; if the note is right, say --units.",
    )


def words_on_units(notes: Notes) -> str:
    """Return what texts say of the unit, for a person who has to choose it; may be empty."""
    said = [f"“{_start(mark.text)}” ({mark.name})" for mark in notes.units_said().values()]
    return f"A note says {' and '.join(said)}." if said else ""


def _start(text: str) -> str:
    return shortened(" ".join(text.split()), _SHOWN)


_SHOWN: Final = 60


def _multileader(mark: Mark, entity: Any, frame: Frame) -> Mark:
    text = paragraph_text(entity.get_mtext_content())
    lines = [line for leader in entity.context.leaders for line in leader.lines if line.vertices]
    tips = tuple(_mapped(frame, line.vertices[0]) for line in lines[:_MOST_TIPS])
    return replace(mark, text=text, points=tips, at=tips[0] if tips else None)


_MOST_TIPS: Final = 16


def _name(entity: Any, kind: str) -> str:
    return f"{kind} {attribute(entity, 'handle', '')}".rstrip()


def _place(entity: Any, name: str, frame: Frame) -> tuple[float, float] | None:
    point = attribute(entity, name, None)
    return None if point is None else _mapped(frame, point)


def _cell(entity: Any, text: str, frame: Frame, room: str) -> Cell | None:
    """Return where a text stands; None where it does not stand upright."""
    try:
        foot = foot_of(entity, text)
        if foot is None:
            return None
        x, y, height = foot
        left, head = _mapped(frame, (x, y)), _mapped(frame, (x, y + height))
    except FAULTS:
        # Its words are read all the same.
        return None
    up = head[1] - left[1]
    is_upright = up > 0 and abs(head[0] - left[0]) <= up / 10
    return Cell(room=room, x=left[0], y=left[1], height_drawn=up) if is_upright else None


def _mapped(frame: Frame, point: Any) -> tuple[float, float]:
    given = np.array([[*tuple(point), 0.0][:3]], dtype=np.float64)
    x, y = (float(v) for v in frame.points(given)[0][:2])
    if not (abs(x) <= _LARGEST_UNITS and abs(y) <= _LARGEST_UNITS):
        raise ValueError("a place out of all proportion")
    return x, y


_LARGEST_UNITS: Final = 1e8
"""As for geometry: beyond it doubles lose the digits that matter."""
