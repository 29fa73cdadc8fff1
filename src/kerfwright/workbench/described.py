"""The description of the server (OpenAPI), made to say what it answers and nothing else."""

from __future__ import annotations

from typing import Any, Final

from fastapi import FastAPI

REVISION: Final = r'^\s*"?[0-9]{1,15}"?(\s*,\s*"?[0-9]{1,15}"?){0,9}\s*$'
"""Form of ``If-Match``: the ETag of the job, or several of which it may have any
(RFC 9110, 13.1.1); the marks of quotation may be left off."""
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
            for name in _UNUSED:
                document["components"]["schemas"].pop(name, None)
            self.openapi_schema = document
        return self.openapi_schema


def _mend(operation: dict[str, Any]) -> None:
    answers = operation["responses"]
    if "HTTPValidationError" in repr(answers.get("422")):
        del answers["422"]
    for one in operation.get("parameters", ()):
        if (one["in"], one["name"].lower()) == ("header", "if-match"):
            one["required"] = True
            one["schema"] = {"type": "string", "pattern": REVISION, "title": "If-Match"}
