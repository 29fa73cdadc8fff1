"""From words to walls that lean: ``H1: taper=1° out from top``."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final, TypedDict

from kerfwright.app.named_texts import named_texts
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import length_mm
from kerfwright.trade.walls import (
    LandAndRelief,
    Pairing,
    Reference,
    SideAngle,
    Taper,
    WallPart,
    WallWish,
)

TAPER_FORM: Final = "H1: taper=1° out from top"
"""How a leaning wall is asked for; further words in :data:`_NAMES`."""
TAPER_SHORT: Final = "1° out from top"
"""The same of one contour that is known."""
LAND_FORM: Final = "H1: land=3mm, relief=0.5°"
_NAMES: Final = (
    "taper", "corners", "except", "top", "match", "land", "relief", "first", "cuts", "sides",
)  # fmt: skip
_NAME: Final = re.compile(rf"\b({'|'.join(_NAMES)})\b\s*=", re.IGNORECASE)
_TAPER: Final = re.compile(
    r"([0-9]*[.,]?[0-9]+)\s*(?:°|deg|degrees?)\s+(in|out)(?:\s+(up|down)(?:wards?)?)?"
    r"\s+from\s+(?:the\s+)?(top|bottom|\S.*)",
    re.IGNORECASE,
)
_LAND: Final = re.compile(r"(\S.*?)(?:\s+at\s+(?:the\s+)?(top|bottom))?", re.IGNORECASE)
_RELIEF: Final = re.compile(
    r"([0-9]*[.,]?[0-9]+)\s*(?:°|deg|degrees?)(?:\s+(in|out)(?:wards?)?)?", re.IGNORECASE
)
_CUTS: Final = {"one": 1, "two": 2}
_SIDE: Final = re.compile(
    r"([0-9]+)(?:\s*-\s*([0-9]+))?\s*:\s*([0-9]*[.,]?[0-9]+)\s*(?:°|deg)"
    r"(?:\s*-\s*([0-9]*[.,]?[0-9]+)\s*(?:°|deg))?(?:\s*(in|out)\b)?[\s;]*",
    re.IGNORECASE,
)
_PAIR: Final = re.compile(r"(\S+?)\s*-\s*(\S+)")


class _Corners(TypedDict):
    keeps_radius: bool
    other_corners: frozenset[int]


def read_tapers(given: Mapping[str, str]) -> dict[str, WallWish]:
    """Return the leaning walls by contour.

    Parameters
    ----------
    given : mapping of str to str
        By ids with commas: ``{"H1": "taper=1° out from top, corners=constant"}`` or
        ``{"H1": "top=H1, match=corners"}`` or ``{"H1": "land=3mm, relief=0.5°"}``.

    Raises
    ------
    InputError
        Code ``taper-text`` if a text cannot be read, ``relief-into-land`` where a relief is to
        come in.

    Examples
    --------
    >>> read_tapers({"H1": "taper=0.5° in upwards from 8mm"})["H1"].height_mm(20.0)
    8.0
    """
    found: dict[str, WallWish] = {}
    for ids, text in given.items():
        names = [name.upper() for name in re.split(r"[,;\s]+", ids) if name]
        if not names:
            raise _unread(f"no contour is named before {text!r}")
        wall = _wall(text, ids)
        for name in names:
            if name in found:
                raise _unread(f"the wall of {name} is given twice")
            found[name] = wall
    return found


def as_wall(text: str) -> str:
    """Return a wall as it is read, where somebody wrote the taper alone.

    >>> as_wall("1° out from top, corners=constant"), as_wall("land=3mm, relief=0.5°")
    ('taper=1° out from top, corners=constant', 'land=3mm, relief=0.5°')
    """
    said = text.strip()
    return said if _NAME.match(said) else f"taper={said}"


def check_wall_line(ids: str, text: str) -> None:
    """Refuse a wall of some contours that a line of an enquiry cannot ask for.

    Parameters
    ----------
    ids : str
        With commas.
    text : str

    Raises
    ------
    InputError
        As :func:`read_tapers`; ``taper-of-two-drawings`` for a contour of the top.
    """
    walls = read_tapers({ids: as_wall(text)})
    if any(isinstance(wall, Pairing) for wall in walls.values()):
        raise InputError(
            f"{ids} is to end in another contour at the top, and a job here has one drawing",
            code="taper-of-two-drawings",
            remedy="Ask it on the command line: kerfwright plan with --taper and --top.",
        )


def _wall(text: str, ids: str) -> WallWish:
    texts = named_texts(text, _NAME, ids=ids, what="wall", unread=_unread)
    if "land" in texts and not texts.keys() & {"taper", "top", "match", "sides"}:
        return _land(texts, ids)
    if texts.keys() & {"land", "relief", "first", "cuts"}:
        raise _unread(f"{ids}: a land has a relief beside it, and nothing of another kind of wall")
    if "taper" in texts and not texts.keys() & {"top", "match"}:
        return _taper(texts, ids)
    if "top" in texts and not texts.keys() & {"taper", "corners", "except", "sides"}:
        how, pairs = _match(texts.get("match"), ids)
        return Pairing(top_id=texts["top"].upper(), how=how, pairs_mm=pairs)
    raise _unread(f"{ids}: {text!r} is neither a taper nor a contour of the top")


def _land(texts: Mapping[str, str], ids: str) -> LandAndRelief:
    said = _LAND.fullmatch(texts["land"])
    if said is None:
        raise _unread(f"the land of {ids}, {texts['land']!r}, cannot be read")
    if "relief" not in texts:
        raise _unread(f"the land of {ids} goes with the angle of its relief")
    slope = _RELIEF.fullmatch(texts["relief"])
    if slope is None:
        raise _unread(f"the relief of {ids}, {texts['relief']!r}, cannot be read")
    if slope[2] is not None and slope[2].lower() == "in":
        raise InputError(
            f"the relief of {ids} is to come in from the land: a straight wire that cuts it runs "
            "on through the land, into the part",
            code="relief-into-land",
            remedy="A relief opens away from the land. To narrow an opening all the way take one "
            f'taper, as "{TAPER_FORM}"; for a straight end beyond a narrowing one turn the work.',
        )
    first, cuts = texts.get("first"), texts.get("cuts")
    if first is not None and first.lower() not in set(WallPart):
        raise _unread(f"first of {ids} is land or relief, got {first!r}")
    if cuts is not None and cuts.lower() not in _CUTS:
        raise _unread(f"cuts of {ids} is one or two, got {cuts!r}")
    return LandAndRelief(
        land_mm=length_mm(said[1], what=f"land of {ids}"),
        angle_deg=_degrees(slope[1]),
        at_top=(said[2] or "top").lower() == "top",
        first=None if first is None else WallPart(first.lower()),
        full_cuts=None if cuts is None else _CUTS[cuts.lower()],
        **_corners(texts, ids),
    )


def _corners(texts: Mapping[str, str], ids: str) -> _Corners:
    """Return what the corners do under taper, as fields of a wish."""
    corners = texts.get("corners", "conical").lower()
    if corners not in {"conical", "constant"}:
        raise _unread(f"corners of {ids} are conical or constant, got {corners!r}")
    others = re.split(r"[\s+]+", texts["except"]) if "except" in texts else []
    if not all(number.isascii() and number.isdigit() for number in others):
        raise _unread(f"except of {ids} takes numbers of corners, got {texts['except']!r}")
    return {
        "keeps_radius": corners == "constant",
        "other_corners": frozenset(int(number) for number in others),
    }


def _taper(texts: Mapping[str, str], ids: str) -> Taper:
    said = _TAPER.fullmatch(texts["taper"])
    if said is None:
        raise _unread(_missing(texts["taper"], ids))
    angle, sense, way, where = said.groups()
    place = where.lower()
    corners = _corners(texts, ids)
    reference = {"top": Reference.TOP, "bottom": Reference.BOTTOM}.get(place, Reference.HEIGHT)
    if reference is Reference.HEIGHT and way is None:
        raise _unread(
            f"from a height inside the work the taper of {ids} goes upwards or downwards: say which"
        )
    usual = {Reference.TOP: "down", Reference.BOTTOM: "up"}.get(reference)
    if usual is not None and way is not None and way.lower() != usual:
        raise _unread(f"from the {place} the wall of {ids} can only go {usual}wards")
    return Taper(
        angle_deg=_degrees(angle),
        widens=sense.lower() == "out",
        reference=reference,
        reference_mm=length_mm(where, what=f"reference height of {ids}")
        if reference is Reference.HEIGHT
        else 0.0,
        upwards=(way or usual or "up").lower() == "up",
        sides=_sides(texts.get("sides", ""), ids),
        **corners,
    )


def _degrees(digits: str) -> float:
    """Return an angle with a decimal point or a comma."""
    return float(digits.replace(",", "."))


def _missing(text: str, ids: str) -> str:
    """Say what a text lacks to be a taper: an angle, which way it goes, from where."""
    said, begins = text.lower(), f"the taper of {ids}, {text!r},"
    number = re.match(r"[+-]?[0-9]*[.,]?[0-9]+", said)
    if number is None:
        return f"{begins} begins with no angle"
    if number[0][0] in "+-":
        return f"{begins} has a sign: in or out says which way the wall goes"
    if not re.match(r"\s*(?:°|deg)", said[number.end() :]):
        return f"{begins} has no ° behind its angle: a bare number could be mm for a height too"
    if not re.search(r"\b(?:in|out)\b", said):
        return f"{begins} does not say whether the contour gets smaller (in) or larger (out)"
    if not re.search(r"\bfrom\b", said):
        return f"{begins} does not say from where it is as drawn: from top, from bottom, from 8mm"
    return f"{begins} has words that no taper has, or in another order"


def _sides(text: str, ids: str) -> tuple[SideAngle, ...]:
    """Return the sides with an angle of their own: ``"2:0° 4-5:2° in 6:0°-2°"``."""
    found, at = [], 0
    while at < len(text):
        said = _SIDE.match(text, at)
        if said is None:
            raise _unread(f"sides of {ids} are numbers with angles, 2:0° 4-5:2° 6:0°-2°, {text!r}")
        first, last, begin, end, sense = said.groups()
        found.append(
            SideAngle(
                first=int(first),
                last=int(last or first),
                begin_deg=_degrees(begin),
                end_deg=_degrees(end or begin),
                widens=None if sense is None else sense.lower() == "out",
            )
        )
        at = said.end()
    return tuple(found)


def _match(text: str | None, ids: str) -> tuple[str | None, tuple[tuple[float, float], ...]]:
    if text is None:
        return None, ()
    if text.lower() in {"corners", "length"}:
        return text.lower(), ()
    pairs = []
    for word in text.split():
        said = _PAIR.fullmatch(word)
        if said is None:
            raise _unread(f"match of {ids} is corners, length or pairs 0mm-3mm 10mm-14mm")
        pairs.append(
            (
                length_mm(said[1], what=f"length along {ids}"),
                length_mm(said[2], what=f"length along the top of {ids}"),
            )
        )
    return "given", tuple(pairs)


def _unread(message: str) -> InputError:
    return InputError(
        message,
        code="taper-text",
        remedy=f'Write it as "{TAPER_FORM}", "H1: taper=1° in upwards from 8mm, corners=constant, '
        f'except=2 5", "{LAND_FORM}", or "H1: top=H1, match=corners".',
    )
