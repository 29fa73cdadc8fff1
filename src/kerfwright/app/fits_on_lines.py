"""Which contours a fit of the drawing is meant for: those it stands at, or whose size it is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from kerfwright.app.contour_sizes import nearest_size_mm, reaches
from kerfwright.app.papers.inspection import circle_of
from kerfwright.app.picked_contours import to_be_picked
from kerfwright.foundation.counts import counted
from kerfwright.trade.fits import Member
from kerfwright.trade.part import Part, PartContour, Role
from kerfwright.trade.statements import Reading, Statement

MEMBERS: Final = {Role.OPENING: Member.HOLE, Role.OUTLINE: Member.SHAFT}
"""The inside of an opening is a hole's size, the outside of an outline a shaft's."""
_Key = tuple[float, float, float]


class FitFinder:
    """The contours of a part, to be found by the fit that is written for them."""

    def __init__(self, part: Part) -> None:
        self._to_cut = part.to_cut
        self._known: dict[_Key, tuple[PartContour, ...]] = {}
        self._circles = {c.id for c in part.to_cut if circle_of(c.contour) is not None}

    def with_contours(
        self, said: Statement, standing: tuple[str, ...]
    ) -> tuple[tuple[tuple[Reading, tuple[str, ...]], ...], list[str]]:
        """Return each reading with the contours that it is meant for, the likeliest first.

        A fit is of a size of some contours, never of the whole job: one that is of no size that
        is drawn asks nothing until a person picks its contours.

        Parameters
        ----------
        said : Statement
            With a fit among its readings.
        standing : tuple of str
            Contours that its text stands at; empty where it stands at none.

        Returns
        -------
        tuple of pairs, list of str
            Readings with their contours, and what to know before one is taken.
        """
        ranked: list[tuple[int, Reading, tuple[str, ...]]] = []
        words: list[str] = []
        for reading in said.readings:
            if not is_fit(reading):
                ranked.append((_OTHER, reading, standing))
                continue
            found, word = self._meant(reading.data, standing)
            words += [word] * bool(word)
            is_its = any(_is_its_member(c, reading.data) for c in found)
            rank = _OF_NO_SIZE if not found else _OF_ITS_MEMBER if is_its else _OF_ITS_SIZE
            ids = tuple(c.id for c in found)
            ranked.append((rank, reading if found else to_be_picked(reading), ids))
        ranked.sort(key=lambda one: one[0])
        remarks = _remarks(ranked, standing) if any(r.option for r in said.readings) else []
        return tuple((reading, ids) for _, reading, ids in ranked), [*remarks, *words]

    def _meant(
        self, data: Mapping[str, float | int | str], standing: tuple[str, ...]
    ) -> tuple[list[PartContour], str]:
        found = list(self._of_size(data))
        if standing:
            found = [c for c in found if c.id in standing]
        of_member = [c for c in found if _is_its_member(c, data)] or found
        if standing:
            return self._counted(of_member, data)
        return [c for c in of_member if c.id in self._circles] or of_member, ""

    def _counted(
        self, found: list[PartContour], data: Mapping[str, float | int | str]
    ) -> tuple[list[PartContour], str]:
        """Return all contours alike where as many are drawn as are named; else what is open."""
        count = int(data.get("count", 1))
        if not found or count <= len(found):
            return found, ""
        is_round = found[0].id in self._circles
        alike = [
            c
            for c in self._of_size(data)
            if c.role is found[0].role and (c.id in self._circles) is is_round
        ]
        if len(alike) == count:
            return alike, ""
        return found, (
            f"{count} are named and {len(alike)} of that size are drawn: it goes to the "
            f"{len(found)} at which it stands, and {len(alike) - len(found)} are left open"
        )

    def counted(
        self, standing: tuple[str, ...], data: Mapping[str, float | int | str]
    ) -> tuple[tuple[str, ...], str]:
        """Return the contours that a size is meant for, and what to know of it.

        Parameters
        ----------
        standing : tuple of str
            Contours that its text stands at; empty where it stands at none.
        data : mapping
            Of its reading: ``nominal_mm`` or ``diameter_mm``, with ``count`` where one is named.

        Returns
        -------
        tuple of str, str
            Ids and a remark, which may be empty.
        """
        if standing:
            of_size = [c for c in self._of_size(data) if c.id in standing]
            found, word = self._counted(of_size, data)
            return (tuple(c.id for c in found) if len(found) > len(of_size) else standing), word
        alike = list(self._of_size(data))
        if "diameter_mm" in data:
            alike = [c for c in alike if c.id in self._circles]
        ids = tuple(c.id for c in alike)
        what = "circle" if "diameter_mm" in data else "contour"
        count = int(data.get("count", 1))
        if not ids:
            return ids, f"no {what} of that size is drawn"
        if len(ids) == count or (count == 1 and "size_half_um" not in data):
            return ids, ""
        doubt = "it goes to all of them" if count > 1 else "ask whether all are meant"
        verb = "are" if len(ids) > 1 else "is"
        return ids, f"{counted(len(ids), what)} of that size {verb} drawn: {doubt}"

    def are_of_size(self, ids: tuple[str, ...], data: Mapping[str, float | int | str]) -> bool:
        """Tell whether some contours have the size of a reading, every one of them."""
        return bool(ids) and {c.id for c in self._of_size(data)}.issuperset(ids)

    def _of_size(self, data: Mapping[str, float | int | str]) -> Iterable[PartContour]:
        nominal_mm = float(data.get("nominal_mm", data.get("diameter_mm", 0.0)))
        half_um, shift_um = (
            float(data.get(name, 0.0)) for name in ("size_half_um", "size_shift_um")
        )
        key = (nominal_mm, half_um, shift_um)
        if key not in self._known:
            self._known[key] = tuple(
                c
                for c in self._to_cut
                if reaches(
                    nearest_size_mm(c.contour, nominal_mm) - nominal_mm,
                    lower_um=shift_um - half_um,
                    upper_um=shift_um + half_um,
                )
            )
        return self._known[key]


_OF_ITS_MEMBER, _OF_ITS_SIZE, _OTHER, _OF_NO_SIZE = range(4)
"""Ranks of a reading, by what is drawn."""


def is_fit(reading: Reading) -> bool:
    """Tell whether a reading is a size with its fit."""
    return "symbol" in reading.data


def _is_its_member(one: PartContour, data: Mapping[str, float | int | str]) -> bool:
    is_hole = str(data["symbol"])[:1].isupper()
    return MEMBERS.get(one.role) is (Member.HOLE if is_hole else Member.SHAFT)


def _remarks(
    ranked: list[tuple[int, Reading, tuple[str, ...]]], standing: tuple[str, ...]
) -> list[str]:
    sizes = {_size(r): None for rank, r, _ in ranked if rank == _OF_NO_SIZE}
    first, ids = ranked[0][1:]
    if not sizes and not is_fit(first):
        return []
    where = ", ".join(standing) or "the part"
    remarks = [f"nothing on {where} is drawn of {' or '.join(sizes)}"] if sizes else []
    if not is_fit(first) or not ids:
        remarks.append(
            "pick the contour that it is meant for and write the fit there; of the whole job it "
            "would be asked of every wall"
        )
    elif not standing:
        count = int(first.data.get("count", 1))
        if count > 1 and len(ids) != count:
            remarks.append(_drawn(len(ids)))
        elif count == 1 and len(ids) > 1:
            remarks.append(f"{_drawn(len(ids))}: ask whether all are meant")
    return remarks


def _drawn(count: int) -> str:
    verb = "are" if count > 1 else "is"
    return f"{counted(count, 'contour')} of that size {verb} drawn"


def _size(reading: Reading) -> str:
    return f"{float(reading.data['nominal_mm']):g} mm"
