"""Why the numbers of a part in space are what they are."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from kerfwright.app.shown_space import Extreme, ShownSpace, SpaceKind, SpaceWall
from kerfwright.app.sure_words import READ_BACK
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.sources import Reason, Source, SourceTag

_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
_READ_BACK: Final = Source(tag=SourceTag.COMPUTED, citation=READ_BACK)
_Inputs = tuple[tuple[str, float | str], ...]


def space_answers(space: ShownSpace) -> Iterator[Answer]:
    """Yield why heights, angles and travels of a part with leaning walls are what they are.

    Parameters
    ----------
    space : ShownSpace
    """
    for wall in space.walls:
        yield from _of_wall(wall, space)
    yield from _of_set_up(space)
    apart = space.guides_mm[1] - space.guides_mm[0]
    radius = space.tilt.guide_radius_mm
    yield from _of_worst(space)
    for name, found, formula in (
        ("angle", space.most_angle, "greatest arctan(distance aside / height) of all moves"),
        ("U", space.most_u, "greatest lean in X × distance of the guides, of all moves"),
        ("V", space.most_v, "greatest lean in Y × distance of the guides, of all moves"),
    ):
        inputs: _Inputs = (("line", float(found.line)), ("minute_min", found.minute))
        if name != "angle":
            inputs += (("guides apart_mm", apart), ("radius of the guides_mm", radius))
        yield _most(name, found, formula, inputs)


def _of_wall(wall: SpaceWall, space: ShownSpace) -> Iterator[Answer]:
    about = f"wall {wall.contour_id}"
    if wall.kind is not SpaceKind.UPRIGHT:
        yield _answer(
            about,
            "angle",
            "angle_deg",
            wall.leans_deg,
            "greatest angle of the lines in which the wire lies along the wall to the vertical",
            (("wall", wall.kind.value),),
        )
    for name, value in (("lower end", wall.lower_mm), ("upper end", wall.upper_mm)):
        yield _answer(
            about,
            name,
            "height_mm",
            value,
            "height above the underside of the work; a land and its relief meet at the edge",
            (("height of the work_mm", space.height_mm),),
        )


def _of_worst(space: ShownSpace) -> Iterator[Answer]:
    for number, worst in enumerate(space.off.worst, start=1):
        reach = "; no wire with the ruling of the wall gets there" if worst.is_out_of_reach else ""
        yield _answer(
            f"worst place in space {number}",
            "deviation",
            "deviation_um",
            worst.deviation_um,
            "distance in space of the wall from the axis of the wire - offset of the pass; below 0 "
            f"is cut too deep, 50 µm stand for more{reach}",
            (
                ("contour", worst.contour_id),
                ("pass", float(worst.pass_number)),
                ("x_mm", worst.x_mm),
                ("y_mm", worst.y_mm),
                ("height_mm", worst.height_mm),
            ),
            _READ_BACK,
        )


def _of_set_up(space: ShownSpace) -> Iterator[Answer]:
    machine = Source(tag=SourceTag.SHOP, citation=f"the definition of {space.machine}")
    for name, value in zip(("program plane", "second plane"), space.planes_mm, strict=True):
        yield _answer(
            "set-up",
            name,
            "height_mm",
            value,
            "as the program sets it, above the underside of the work",
            source=_READ_BACK,
        )
    tilt = space.tilt
    yield _answer(
        "set-up",
        "lower guide",
        "height_mm",
        space.guides_mm[0],
        "less the distance from the underside of the work down to the lower guide",
        (("lower_guide_mm", tilt.lower_guide_mm),),
        machine,
    )
    yield _answer(
        "set-up",
        "upper guide",
        "height_mm",
        space.guides_mm[1],
        "height of the work + the distance from its top up to the upper guide",
        (("height of the work_mm", space.height_mm), ("upper_guide_mm", tilt.upper_guide_mm)),
        machine,
    )
    for name, quantity, value in (
        ("angle", "angle_deg", tilt.max_angle_deg),
        ("U", "travel_mm", tilt.travel_u_mm),
        ("V", "travel_mm", tilt.travel_v_mm),
    ):
        yield _answer("limit", name, quantity, value, "as the machine states it", source=machine)


def _most(name: str, found: Extreme, formula: str, inputs: _Inputs) -> Answer:
    quantity = "angle_deg" if name == "angle" else "travel_mm"
    return _answer("wire's most", name, quantity, found.value, formula, inputs, _READ_BACK)


def _answer(
    about: str,
    name: str,
    quantity: str,
    value: float,
    formula: str,
    inputs: _Inputs = (),
    source: Source = _COMPUTED,
) -> Answer:
    return Answer(
        about=about,
        name=name,
        path="",
        reason=Reason(
            quantity=quantity, value=value, formula=formula, inputs=inputs, source=source
        ),
    )
