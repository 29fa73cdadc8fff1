"""Why the prices of an earlier version are what they are: from the estimate that it keeps."""

from __future__ import annotations

import json
from collections.abc import Iterator
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.versions import files_of, read_version
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.errors import UnknownNameError
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Source, SourceTag

_ESTIMATE: Final = "estimate.json"


def version_reasons(folder: Path, number: int) -> tuple[Answer, ...]:
    """Return why each price of a version, and each line of it, has its value.

    Nothing is computed anew: figures, ranges and the words behind each line are those that were
    kept with it.

    Parameters
    ----------
    folder : Path
        Of the job.
    number : int

    Raises
    ------
    UnknownNameError
        Code ``version-unknown``; ``version-reason-unknown`` where its price was kept without what
        it is made of.
    FileError, InputError
        As :func:`kerfwright.adapters.versions.files_of`.
    """
    version = read_version(folder, number)
    kept = files_of(folder, number).get(_ESTIMATE)
    if kept is None:
        raise _unknown(number, "it has no estimate")
    try:
        estimate = json.loads(kept)
        return tuple(
            answer
            for price in estimate["prices"]
            for answer in _of_price(price, str(estimate["currency"]), version.number)
        )
    except (ValueError, KeyError, TypeError, InvalidOperation) as fault:
        raise _unknown(number, f"its estimate is of another form ({fault})") from fault


def _of_price(price: dict[str, Any], currency: str, number: int) -> Iterator[Answer]:
    quantity = int(price["quantity"])
    about = f"version {number}, price for {quantity}"
    place = f"estimate/prices/{quantity}"
    source = Source(tag=SourceTag.COMPUTED, citation=f"kept in version {number} as it was made")
    span = _range(price)
    yield Answer(
        about=about,
        name="each",
        path=f"{place}/each",
        reason=Reason(
            quantity=f"amount_{currency}",
            value=float(Decimal(price["each"])),
            formula="sum of the lines / quantity, to the cent",
            inputs=(
                ("quantity", float(quantity)),
                *((str(one["item"]), float(Decimal(one["likely"]))) for one in price["lines"]),
            ),
            source=source,
            range=span * (1 / quantity),
            shares=tuple(
                (str(one["cause"]), float(one["share_of_variance"]))
                for one in price.get("spread", ())
            ),
        ),
    )
    for one in price["lines"]:
        yield Answer(
            about=about,
            name=str(one["item"]),
            path=f"{place}/lines/{one['item']}",
            reason=Reason(
                quantity=f"amount_{currency}",
                value=float(Decimal(one["likely"])),
                formula=str(one["basis"]),
                inputs=(),
                source=source,
                range=_range(one),
            ),
        )


def _range(kept: dict[str, Any]) -> Range:
    low, likely, high = (float(Decimal(kept[name])) for name in ("low", "likely", "high"))
    return Range(low=low, likely=likely, high=high)


def _unknown(number: int, why: str) -> UnknownNameError:
    return UnknownNameError(
        f"version {number} keeps no reason of its price: {why}",
        code="version-reason-unknown",
        remedy="Ask this version again: the job is planned with the figures of now, and each "
        "price opens its reason.",
    )
