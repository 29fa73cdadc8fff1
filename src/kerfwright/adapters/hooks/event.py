"""What others are told of a job: what stands on its quote, nothing of how that came about."""

from __future__ import annotations

import hashlib
import hmac
import json
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.job_folder import ESTIMATE
from kerfwright.adapters.marks_file import read_marks
from kerfwright.app.enquiries import Enquiry
from kerfwright.app.marks import MarkKind
from kerfwright.foundation.errors import InputError

_FORMAT, _VERSION = "kerfwright-job-event", 1
_LINES: Final = ("customer", "reference", "revision", "due", "material")
Document = dict[str, Any]


def event_of(enquiry: Enquiry, place: Path, *, at: datetime, name: str) -> Document:
    """Return what others are told of a job that came to a stage.

    Parameters
    ----------
    enquiry : Enquiry
    place : Path
        Its folder.
    at : datetime
        When that was seen, with its offset from UTC.
    name : str
        Of the event: told twice, it is the same.
    """
    ordered = [m.quantity for m in read_marks(place) if m.kind is MarkKind.ORDERED]
    currency, prices = _prices(place)
    return {
        "format": _FORMAT,
        "version": _VERSION,
        "event": name,
        "at": at.isoformat(timespec="seconds"),
        "stage": enquiry.stage.value,
        "job": {
            "id": enquiry.id,
            "title": enquiry.title,
            **{line: enquiry.asked.get(line, "") for line in _LINES},
            "quantity": ordered[-1] if ordered else None,
            "currency": currency,
            "prices": prices,
        },
    }


def _prices(place: Path) -> tuple[str, list[Document]]:
    try:
        estimate = json.loads((place / ESTIMATE).read_text(encoding="utf-8"))
        return str(estimate["currency"]), [
            {"quantity": int(p["quantity"]), "each": str(p["each"]), "total": str(p["likely"])}
            for p in estimate["prices"]
        ]
    except FileNotFoundError:
        return "", []
    except (OSError, ValueError, KeyError, TypeError) as fault:
        raise InputError(
            f"the estimate cannot be read: {fault}", code="estimate-broken",
            where=str(place / ESTIMATE),
        ) from fault  # fmt: skip


def body_of(event: Document) -> bytes:
    """Return an event as it is sent, signed and written."""
    return (json.dumps(event, ensure_ascii=False, indent=1) + "\n").encode()


def signature(secret: bytes, timestamp: str, body: bytes) -> str:
    """Return the signature of a call: HMAC with SHA-256 over ``timestamp.body``, hexadecimal.

    The timestamp is signed too, so that a call that was overheard cannot be sent again later.

    Parameters
    ----------
    secret : bytes
    timestamp : str
        Seconds since 1970, UTC.
    body : bytes

    References
    ----------
    RFC 2104, HMAC: Keyed-Hashing for Message Authentication.
    """
    return hmac.new(secret, timestamp.encode() + b"." + body, hashlib.sha256).hexdigest()
