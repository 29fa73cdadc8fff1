"""What is refused and with which status: said in the description of each address, and answered.

The statuses are those of RFC 9110 (15.5 and 15.6); 428 and 429 are of RFC 6585 (3, 4).  Whatever is
refused, by a route or around it, is answered in one form,
:class:`kerfwright.workbench.shapes.Fault`.
"""

from __future__ import annotations

import contextlib
import json
import math
import re
from typing import Any, Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException
from starlette.requests import HTTPConnection

from kerfwright.foundation.errors import FileError, InputError, KerfwrightError, MissingPackageError
from kerfwright.workbench.bench import ChangedElsewhereError
from kerfwright.workbench.limits import WaitError
from kerfwright.workbench.page_words import on_page
from kerfwright.workbench.shapes import Fault
from kerfwright.workbench.week_shapes import MOMENT, MOMENT_SAYS
from kerfwright.workbench.workers import WorkerLostError

Answers = dict[int | str, dict[str, Any]]

_WORDS: Final = {
    400: "the body cannot be taken apart: a form without its parts, or no UTF-8",
    401: "who asks is not logged in, where log-in is asked",
    403: "not asked by a page of this server, or not by a name that it answers to, or not for the "
    "role of who asks",
    404: "there is nothing of that name",
    409: "not as things stand: changed elsewhere meanwhile, not complete, or not proved",
    413: "more than is taken at a time",
    422: "a value that cannot be, or one of the shop's own files that cannot be used",
    428: "which revision is to be changed was not said",
    429: "more than is taken in this time; Retry-After says when again",
    500: "a fault on this side: a file that cannot be read or written, or one of ours",
}
_OF_CODE: Final = {
    **dict.fromkeys(
        (
            "job-unknown",
            "job-sealed",
            "file-unknown",
            "page-unknown",
            "pinned-none",
            "reason-unknown",
            "table-unknown",
            "value-unknown",
            "row-unknown",
            "batch-unknown",
            "nest-unknown",
            "version-unknown",
            "removed-unknown",
            "seat-unknown",
            "address-unknown",
            "mark-unknown",
            "week-unknown",
        ),
        404,
    ),
    **dict.fromkeys(
        (
            "nest-not-laid",
            "nest-refused",
            "not-proved",
            "nothing-leans",
            "nothing-to-undo",
            "nothing-to-redo",
            "job-incomplete",
            "job-not-planned",
            "row-there",
            "job-there",
            "version-not-asked",
            "seat-there",
            "owner-missing",
            "log-in-off",
            "park-changed",
            "park-missing",
            "week-none",
            "week-does-not-hold",
        ),
        409,
    ),
    **dict.fromkeys(("log-in-needed", "log-in-wrong"), 401),
    **dict.fromkeys(("not-for-this-role", "change-token"), 403),
    **dict.fromkeys(("log-in-wait", "uploads-wait"), 429),
    "body-too-large": 413,
    "pinned-too-large": 413,
    "revision-missing": 428,
    "enquiry-broken": 500,
    "version-damaged": 500,
}
"""Statuses of refusals by their code; 422 for every other."""
_OURS: Final = (FileError, MissingPackageError, WorkerLostError)


def refusals(*statuses: int) -> Answers:
    """Return what a description says of refusals.

    Parameters
    ----------
    *statuses : int
        Each that the address can answer.
    """
    return {one: {"model": Fault, "description": _WORDS[one]} for one in statuses}


def content(*media: str) -> Answers:
    """Return what a description says of an answer that is no JSON, or JSON as it lies on file.

    Parameters
    ----------
    *media : str
        Each media type that it may come in.
    """
    schemas = {
        one.partition(";")[0]: {} if one == "application/json" else {"schema": {"type": "string"}}
        for one in media
    }
    return {200: {"content": schemas, "description": "as it is"}}


ANYWHERE: Final = refusals(401, 403, 500)
"""Of every address: what is around all routes may refuse, and any may fail."""


def fault_shape(fault: KerfwrightError, *, line: str = "") -> Fault:
    """Return a fault as the page shows it."""
    return Fault(
        code=fault.code,
        message=fault.message,
        where=fault.where,
        remedy=on_page(fault.remedy),
        line=line,
    )


_HALF: Final = re.compile(rb"\\u[dD][89a-fA-F]")
"""Escape of half of a letter: whether its other half stands beside it is looked at then."""


async def expect_whole_letters(connection: HTTPConnection) -> None:
    """Refuse a body with half of a letter (a lone surrogate), which no file and no answer can hold.

    Raises
    ------
    InputError
        Code ``text-unreadable``.
    """
    # A socket of events has no body, and gets no request from the framework.
    if not isinstance(connection, Request):
        return
    if not connection.headers.get("content-type", "").startswith("application/json"):
        return
    body = await connection.body()
    if not _HALF.search(body):
        return
    with contextlib.suppress(UnicodeDecodeError, json.JSONDecodeError):
        try:
            json.dumps(json.loads(body), ensure_ascii=False).encode()
        except UnicodeEncodeError as fault:
            raise InputError(
                f"a text holds half of a letter, U+{ord(fault.object[fault.start]):04X}",
                code="text-unreadable",
                remedy="Write the text anew, or send it as UTF-8 without escapes.",
            ) from fault


def answer_refusals(app: FastAPI) -> None:
    """Let an application answer everything that it refuses as a fault."""
    app.add_exception_handler(KerfwrightError, _refused)
    app.add_exception_handler(RequestValidationError, _malformed)
    app.add_exception_handler(HTTPException, _unroutable)
    app.add_exception_handler(Exception, _failed)


def status_of(fault: KerfwrightError) -> int:
    """Return the status that a fault is answered with."""
    if isinstance(fault, ChangedElsewhereError):
        return 409
    if fault.code in _OF_CODE:
        return _OF_CODE[fault.code]
    return 500 if isinstance(fault, _OURS) else 422


def fault_answer(fault: Fault, status: int) -> JSONResponse:
    """Return a fault as an answer."""
    return JSONResponse(fault.model_dump(), status_code=status)


def _refused(_request: Request, fault: Exception) -> Response:
    if not isinstance(fault, KerfwrightError):
        raise fault
    return refusal_answer(fault)


def refusal_answer(fault: KerfwrightError) -> JSONResponse:
    """Return a refusal as an answer."""
    answer = fault_answer(fault_shape(fault), status_of(fault))
    if isinstance(fault, WaitError):
        answer.headers["Retry-After"] = str(math.ceil(fault.wait_s))
    return answer


def _malformed(_request: Request, fault: Exception) -> Response:
    """Answer a request of the wrong shape."""
    message = "; ".join(
        f"{'.'.join(str(p) for p in one['loc'])}: {_said_of(one)}"
        for one in (fault.errors() if isinstance(fault, RequestValidationError) else ())
    )
    remedy = "Each field is described in /api/openapi.json, with its form and limits."
    return fault_answer(Fault(code="malformed", message=message, remedy=remedy), 422)


def _said_of(one: dict[str, Any]) -> str:
    """Return what is wrong with one field; the pattern of a moment tells nobody how to write it."""
    if one.get("ctx", {}).get("pattern") == MOMENT:
        return f"Input should be a moment {MOMENT_SAYS}"
    return str(one["msg"])


def _unroutable(request: Request, fault: Exception) -> Response:
    """Answer what no route takes: another address, another method, a body that is none."""
    if not isinstance(fault, HTTPException):
        raise fault
    at = request.url.path
    shape = {
        404: Fault(code="address-unknown", message=f"there is nothing at {at}"),
        405: Fault(code="method-unknown", message=f"{at} does not take {request.method}"),
        400: Fault(code="body-unreadable", message=str(fault.detail)),
    }.get(fault.status_code, Fault(code="not-answered", message=str(fault.detail)))
    answer = fault_answer(shape, fault.status_code)
    answer.headers.update(fault.headers or {})
    return answer


def _failed(_request: Request, _fault: Exception) -> Response:
    """Answer a bug of ours, whose trace the server's log has, as a fault."""
    said = Fault(
        code="fault-of-ours",
        message="the server could not answer, which is a fault of ours",
        remedy="Try again, and report it with what the server wrote in its window.",
    )
    return fault_answer(said, 500)
