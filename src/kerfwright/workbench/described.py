"""The description of the server (OpenAPI), made to say what it answers and nothing else."""

from __future__ import annotations

from typing import Any, Final

from fastapi import FastAPI

REVISION: Final = r'^\s*"?[0-9]{1,15}"?(\s*,\s*"?[0-9]{1,15}"?){0,9}\s*$'
"""Form of ``If-Match``: the ETag of the job, or several of which it may have any
(RFC 9110, 13.1.1); the marks of quotation may be left off."""
INTRODUCTION: Final = """\
The workbench of a shop that cuts by wire, over HTTP: what the page does, a program may do.

A drawing is sent to `/api/jobs`, which answers the id of a job. `PATCH /api/jobs/{job}` sets what
is asked, line by line, under the revision that `ETag` of the job says. Plan, price and program are
computed behind it: `GET /api/jobs/{job}` has `draft` when the price is there and `verdict` when the
program is proved, and `work` lists what is still computed. Papers and files are of what is asked
now, or refused with 409.

Texts of lines carry their units (`6 mm`, `0.0002 in`, `Ra 0.8 µm`). A number whose name ends in a
unit is in that unit: `_mm`, `_um` (µm), `_s`, `_min`, `_kg`, `_deg`. Money is text, to the cent.

Every refusal has one form, `Fault`: a code that stays, what is wrong, where, and what to do. Where
log-in is asked, `POST /api/session` answers a cookie and a `change_token`, which every request that
changes something sends as the header `X-Kerfwright-Change`.
"""
IF_MATCH: Final = (
    "revision that is to be changed: the `ETag` of the job, or its `revision` in quotation marks; "
    "several may stand with commas between, of which the job may have any; where it has none, "
    "somebody changed it meanwhile and 409 is answered"
)
_UNUSED: Final = ("HTTPValidationError", "ValidationError")
"""Of the framework; a request of the wrong shape is answered as any other refusal here."""


class Described(FastAPI):
    """An application whose description is true."""

    def openapi(self) -> dict[str, Any]:
        """Return the description.

        The framework declares its own form of 422 wherever there is a parameter, which no route
        answers, and takes ``If-Match`` for optional, which is demanded with a status of its own.
        """
        if self.openapi_schema is None:
            document = super().openapi()
            for methods in document["paths"].values():
                for operation in methods.values():
                    _mend(operation)
            _name_lines(document["components"]["schemas"]["Change"]["properties"]["lines"])
            for name in _UNUSED:
                document["components"]["schemas"].pop(name, None)
            self.openapi_schema = document
        return self.openapi_schema


def _name_lines(lines: dict[str, Any]) -> None:
    """Name every line of the ledger, each with what may be written into it."""
    # On demand: this loads all that plans, which nobody who opens the page waits for.
    from kerfwright.app.line_hints import lines_said

    lines["description"] += f"\n\n{lines_said()}"


def _mend(operation: dict[str, Any]) -> None:
    answers = operation["responses"]
    if "HTTPValidationError" in repr(answers.get("422")):
        del answers["422"]
    for one in operation.get("parameters", ()):
        if (one["in"], one["name"].lower()) == ("header", "if-match"):
            one["required"] = True
            one["schema"] = {"type": "string", "pattern": REVISION, "title": "If-Match"}
