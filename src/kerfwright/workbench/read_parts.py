"""Drawings as a worker process keeps them: an edit of the ledger reads no file again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Self

from kerfwright.adapters.owned_files import digest
from kerfwright.app.enquiries import Asked
from kerfwright.app.enquiry_lines import layer_uses_of, roles_of, solid_of, units_of
from kerfwright.app.records import JobRequest
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.recent import Recent
from kerfwright.trade.part import ContourUse, LayerUse, LengthUnit, Part
from kerfwright.trade.roles import parted, with_roles
from kerfwright.wiring.drawings import drawing_as_read

_MOST_PARTS: Final = 8
"""Drawings kept by a worker; the largest take some tens of megabytes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HowRead:
    """How somebody says that a file is to be read.

    Attributes
    ----------
    sha256 : str
        Of the file.
    unit : LengthUnit or None
    layer_uses : tuple of (str, LayerUse)
    roles : tuple of (str, ContourUse)
    solid : int or None
        Which solid of its file.
    along : str or None
        Way of the wire through it.
    """

    sha256: str
    unit: LengthUnit | None
    layer_uses: tuple[tuple[str, LayerUse], ...]
    roles: tuple[tuple[str, ContourUse], ...]
    solid: int | None
    along: str | None

    @classmethod
    def as_asked(cls, asked: Asked, sha256: str) -> Self:
        """Return what the lines of an enquiry say."""
        return cls(
            sha256=sha256,
            unit=units_of(asked),
            layer_uses=tuple(sorted(layer_uses_of(asked).items())),
            roles=tuple(sorted(roles_of(asked).items())),
            solid=solid_of(asked),
            along=asked.get("wire-along"),
        )

    @classmethod
    def as_requested(cls, request: JobRequest, sha256: str) -> Self:
        """Return what a request says."""
        return cls(
            sha256=sha256,
            unit=request.units,
            layer_uses=tuple(sorted(request.layer_uses.items())),
            roles=tuple(sorted(request.roles.items())),
            solid=request.solid,
            along=request.wire_along,
        )

    @property
    def key(self) -> str:
        """The same for files read alike."""
        return digest(repr(self).encode())


_parts: Recent[HowRead, Part] = Recent(_MOST_PARTS)
_drawn: Recent[HowRead, Part] = Recent(_MOST_PARTS)
"""The same with their contours by depth alone, before anybody's word on them."""


def read_drawn(drawing: Path, how: HowRead) -> Part:
    """Return a drawing with its roles; the file itself is read once."""
    roles = dict(how.roles)
    own, pieces = parted(roles)
    # Pieces that are left out make another drawing; roles only another reading of its contours.
    bare = replace(how, roles=tuple((name, roles[name]) for name in sorted(pieces)))

    def drawn() -> Part:
        return drawing_as_read(
            drawing,
            unit=how.unit,
            layer_uses=dict(how.layer_uses),
            pieces_out=pieces,
            solid=how.solid,
            along=how.along,
            kept_in=drawing.parent,
        )

    return _parts.once(how, lambda: with_roles(_drawn.once(bare, drawn), own))


def read_part(request: JobRequest, sha256: str) -> Part:
    """Return the drawing of a request with its roles."""
    return read_drawn(request.drawing, HowRead.as_requested(request, sha256))


def flat_part(drawing: Path, how: HowRead) -> Part:
    """Return a drawing that is to lie on a sheet.

    Raises
    ------
    InputError
        Code ``solid-in-nest``.
    """
    part = read_drawn(drawing, how)
    if part.solid is not None:
        raise InputError(
            "a solid has a height and walls of its own and cannot lie on a sheet",
            code="solid-in-nest",
            where=drawing.name,
            remedy="Give a drawing of the part as DXF, or cut the solid as a job of its own.",
        )
    return part
