"""Which entities of a drawing are contour lines and which are only there to be looked at."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, Any, Final

from ezdxf.lldxf.const import DXFError

from kerfwright.foundation.errors import UnknownNameError
from kerfwright.trade.part import LayerUse

if TYPE_CHECKING:
    from ezdxf.document import Drawing

_DRAUGHTING_LINES = re.compile(
    r"cent(er|re)|hidden|phantom|dash|dot|border|divide|mitte|verdeckt|iso0[2-9]w|iso1[0-5]w",
    re.IGNORECASE,
)
"""Names of line types that mean an axis, a hidden edge or a reference (DXF's standard line
types and their usual translations; common practice, no source)."""


def attribute(entity: Any, name: str, default: Any) -> Any:
    """Return an attribute of an entity; kinds that ezdxf does not know have none."""
    try:
        return entity.dxf.get(name, default)
    except DXFError:
        return default


def printable(text: str) -> str:
    """Return text without the half characters that bytes of a wrong code page leave."""
    return text.encode("utf-8", "replace").decode("utf-8")


class Reason(StrEnum):
    """Why an entity was not used for a contour."""

    ANNOTATION = "annotation; check lists what it says"
    UNREAD = "kind not read"
    LAYER = "layer off, frozen or not plotted"
    LINE_TYPE = "line type of an axis or a hidden edge"
    INVISIBLE = "marked invisible"
    IGNORED = "layer to be ignored"
    PERSON = "a person says that it is no contour"
    NOT_PLANE = "not in a plane parallel to XY"
    INVALID = "data that make no curve within 100 000 000 units of the origin"
    NOT_A_HOLE = "not a circle or point, on the layer of start holes"


@dataclass(frozen=True, slots=True)
class Inherited:
    """What the entities of a block take over from the block's insertion."""

    layer: str = "0"
    line_type: str = "Continuous"


@dataclass(slots=True, kw_only=True, eq=False)
class Layers:
    """Layers of a document and what a person says about them.

    Attributes
    ----------
    hidden : dict of str to bool
        By layer name in lower case.
    frozen : set of str
    line_type : dict of str to str
    uses : dict of str to LayerUse
    dashed : set of str
        Line types with gaps.
    """

    hidden: dict[str, bool]
    frozen: set[str]
    line_type: dict[str, str]
    uses: dict[str, LayerUse]
    dashed: set[str] = field(default_factory=set)

    @classmethod
    def of(cls, document: Drawing, uses: Mapping[str, LayerUse] | None) -> Layers:
        """Read the layer and line-type tables.

        Raises
        ------
        UnknownNameError
            If `uses` names a layer that the drawing does not have.
        """
        hidden: dict[str, bool] = {}
        frozen: set[str] = set()
        line_type: dict[str, str] = {}
        names: dict[str, str] = {}
        for layer in document.layers:
            name = printable(layer.dxf.name)
            key = name.lower()
            names[key] = name
            unplotted = layer.dxf.get("plot", 1) == 0
            hidden[key] = layer.is_off() or layer.is_frozen() or unplotted
            line_type[key] = layer.dxf.get("linetype", "Continuous")
            if layer.is_frozen():
                frozen.add(key)
        hidden["defpoints"] = True
        dashed = {
            entry.dxf.name.lower()
            for entry in document.linetypes
            if _DRAUGHTING_LINES.search(entry.dxf.name) or _has_gaps(entry)
        }
        wanted = _checked(uses or {}, names, document)
        return cls(hidden=hidden, frozen=frozen, line_type=line_type, uses=wanted, dashed=dashed)

    def place(self, entity: Any, inherited: Inherited) -> Inherited:
        """Return the layer and line type that hold for an entity."""
        layer = printable(attribute(entity, "layer", "0"))
        if layer == "0":
            layer = inherited.layer
        kind = attribute(entity, "linetype", "BYLAYER")
        if kind.upper() == "BYLAYER":
            kind = self.line_type.get(layer.lower(), "Continuous")
            # A person who names the layer outranks what the layer's table entry says.
            if self.uses.get(layer.lower()) in (LayerUse.OPENING, LayerUse.OUTLINE):
                kind = "Continuous"
        elif kind.upper() == "BYBLOCK":
            kind = inherited.line_type
        return Inherited(layer, kind)

    def use(self, layer: str) -> LayerUse | None:
        """Return what a person says about a layer."""
        return self.uses.get(layer.lower())

    def why_left_out(self, entity: Any, at: Inherited) -> Reason | None:
        """Return the reason for which an entity does not count, if there is one."""
        layer = at.layer.lower()
        if self.uses.get(layer) is LayerUse.CLAMP:
            # However it is drawn: a clamp that is not read is one that the nozzles run into.
            return None
        if attribute(entity, "invisible", 0):
            return Reason.INVISIBLE
        if layer not in self.uses and self.hidden.get(layer, False):
            return Reason.LAYER
        if at.line_type.lower() in self.dashed or _DRAUGHTING_LINES.search(at.line_type):
            return Reason.LINE_TYPE
        return None


def names_of(document: Drawing) -> dict[str, str]:
    """Return the names of all layers by their lower case, also those that no table lists."""
    found = [printable(layer.dxf.name) for layer in document.layers]
    for layout in (document.modelspace(), *document.blocks):
        found += [printable(attribute(entity, "layer", "0")) for entity in layout]
    names: dict[str, str] = {}
    for name in found:
        names.setdefault(name.lower(), name)
    return names


USE_PREFIX: Final = "kerfwright.layer."
"""Of custom properties of a DXF document: what a layer is for.  ``kerfwright nest`` writes them."""


def declared_uses(document: Drawing) -> dict[str, LayerUse]:
    """Return the uses of layers that the drawing itself declares, by name."""
    uses = {use.value: use for use in LayerUse}
    return {
        str(tag)[len(USE_PREFIX) :]: uses[str(value)]
        for tag, value in document.header.custom_vars
        if str(tag).startswith(USE_PREFIX) and str(value) in uses
    }


def _has_gaps(line_type: object) -> bool:
    """Return whether a line type's pattern has a gap (a negative length, group code 49)."""
    tags = getattr(getattr(line_type, "pattern_tags", None), "tags", ())
    return any(tag.code == 49 and tag.value < 0 for tag in tags)


def _checked(
    uses: Mapping[str, LayerUse], names: dict[str, str], document: Drawing
) -> dict[str, LayerUse]:
    wanted = {name.lower(): LayerUse(use) for name, use in uses.items()}
    if set(wanted) <= set(names):
        return wanted
    names = names_of(document)
    for name in uses:
        if name.lower() not in names:
            raise UnknownNameError(
                f'the drawing has no layer "{name}".',
                code="unknown-layer",
                remedy="Its layers are: " + ", ".join(sorted(names.values())) + ".",
            )
    return wanted
