"""A client that holds every answer to the server's own description (OpenAPI)."""

from __future__ import annotations

import re
from typing import Any

from jsonschema import Draft202012Validator
from starlette.testclient import TestClient

from kerfwright.workbench.described import Described

_DESCRIPTIONS: dict[str, dict[str, Any]] = {}


def _description(app: Described) -> dict[str, Any]:
    """Return what an application says of itself, made once: no setting adds a route."""
    app.openapi_schema = _DESCRIPTIONS.get(app.title)
    return _DESCRIPTIONS.setdefault(app.title, app.openapi())


class DescribedClient(TestClient):
    """A test client whose answers are compared with what the server says of itself.

    Statuses, media types, headers and documents by JSON Schema 2020-12, which OpenAPI 3.1 takes
    for its own (4.8.24.5, from memory); ``seen`` holds every status that an operation answered.
    """

    def __init__(self, app: Described, **more: Any) -> None:
        super().__init__(app, **more)
        self.document = _description(app)
        self.seen: set[tuple[str, str, int]] = set()
        self._validators: dict[str, Draft202012Validator] = {}
        # What waits asks many times and is answered alike: held once.
        self._held: set[tuple[str, bytes]] = set()
        # A path that is more exact comes first: "sample" is the name of no job.
        paths = sorted(self.document["paths"], key=lambda path: path.count("{"))
        self._forms = [(re.compile(self._form(path)), path) for path in paths]

    def _form(self, path: str) -> str:
        return re.sub(
            r"\\\{(\w+)\\\}", lambda m: ".+" if m[1] in {"key", "row"} else "[^/]+", re.escape(path)
        )

    def request(self, method: str, url: Any, **more: Any) -> Any:
        answer = super().request(method, url, **more)
        at = str(url).partition("?")[0]
        for form, path in self._forms:
            operation = self.document["paths"][path].get(method.lower())
            if operation is not None and form.fullmatch(at):
                self.seen.add((method, path, answer.status_code))
                self._hold(answer, operation["responses"], f"{method} {path}")
                break
        return answer

    def _hold(self, answer: Any, described: dict[str, Any], where: str) -> None:
        said = f"{where} answered {answer.status_code}: {answer.text[:200]}"
        assert str(answer.status_code) in described, said
        one = described[str(answer.status_code)]
        for name in one.get("headers", {}):
            assert name in answer.headers, f"{said} without {name}"
        media = answer.headers.get("content-type", "").partition(";")[0]
        if not one.get("content"):
            assert not answer.content, said
            return
        assert media in one["content"], f"{said} as {media}"
        schema = one["content"][media].get("schema")
        if media == "application/json" and schema is not None:
            form = f"{where} {answer.status_code}"
            if (form, answer.content) in self._held:
                return
            if form not in self._validators:
                whole = {**schema, "components": self.document["components"]}
                self._validators[form] = Draft202012Validator(whole)
            faults = sorted(
                f"{'/'.join(map(str, e.path))}: {e.message[:200]}"
                for e in self._validators[form].iter_errors(answer.json())
            )
            assert not faults, f"{said}: {faults}"
            self._held.add((form, answer.content))
