"""Every address of the server is described, has an example where it takes one, and answers it."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from described_client import DescribedClient
from kerfwright.adapters.papers.typeset import can_typeset
from kerfwright.app.enquiries import LAYER, LINES, OF_CONTOURS
from kerfwright.workbench.app import Settings, create_app
from kerfwright.workbench.gate import CHANGE_TOKEN
from kerfwright.workbench.pdf_pages import png
from page_client import WHEEL, changed, settled, waited
from seated import FIRM, log_in, quoted, seated_app

HOUR = "hour/machine_unattended_per_h"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    app = create_app(Settings(jobs=tmp_path))
    with DescribedClient(app, base_url="http://127.0.0.1") as found:
        yield found


def operations(client: TestClient, *, of_seats: bool = False) -> dict[tuple[str, str], Any]:
    paths = client.get("/api/openapi.json").json()["paths"]
    return {
        (method.upper(), path): one
        for path, methods in paths.items()
        for method, one in methods.items()
        if bool({"seats", "quotes"} & set(one["tags"])) == of_seats
    }


def example(client: TestClient, operation: Any) -> Any:
    """Return the example of what an operation takes; None where it takes nothing, or a file."""
    content = operation.get("requestBody", {}).get("content", {})
    if "application/json" not in content:
        return None
    name = content["application/json"]["schema"]["$ref"].rpartition("/")[2]
    document = client.get("/api/openapi.json").json()
    return document["components"]["schemas"][name]["examples"][0]


def names_in(schema: Any) -> Iterator[str]:
    """Return the names of the shapes that a schema is made of."""
    if isinstance(schema, dict):
        if "$ref" in schema:
            yield schema["$ref"].rpartition("/")[2]
        for one in schema.values():
            yield from names_in(one)
    elif isinstance(schema, list):
        for one in schema:
            yield from names_in(one)


def taken_shapes(client: TestClient, operation: Any) -> dict[str, Any]:
    """Return every shape in what an operation takes, by its name."""
    schemas = client.get("/api/openapi.json").json()["components"]["schemas"]
    found: dict[str, Any] = {}
    left = list(names_in(operation.get("requestBody", {})))
    while left:
        name = left.pop()
        if name not in found:
            found[name] = schemas[name]
            left += names_in(schemas[name])
    return found


def test_every_address_says_what_it_does(client: TestClient) -> None:
    for at, one in (operations(client) | operations(client, of_seats=True)).items():
        assert one["description"], at


def test_every_parameter_every_field_sent_and_every_upload_is_described(
    client: TestClient,
) -> None:
    fields, parameters = 0, 0
    for at, one in (operations(client) | operations(client, of_seats=True)).items():
        for parameter in one.get("parameters", ()):
            parameters += 1
            assert len(parameter.get("description", "")) > 10, (at, parameter["name"])
        for name, shape in taken_shapes(client, one).items():
            for field, schema in shape.get("properties", {}).items():
                fields += 1
                assert len(schema.get("description", "")) > 10, (at, name, field)
    assert fields > 80
    assert parameters > 80


def test_a_change_names_every_line_of_the_ledger_with_what_may_be_written(
    client: TestClient,
) -> None:
    schemas = client.get("/api/openapi.json").json()["components"]["schemas"]
    said = schemas["Change"]["properties"]["lines"]["description"].splitlines()
    for name in LINES:
        assert any(line.startswith(f"- `{name}`: ") for line in said), name
    for begin in (LAYER, *OF_CONTOURS):
        assert any(line.startswith(f"- `{begin}") for line in said), begin


def nest(client: TestClient, call: Any, names: dict[str, str]) -> None:
    """Call every address of a nest."""
    names["nest"] = number = call("POST", "/api/nests").json()["id"]
    while (client.get(f"/api/nests/{number}").json()["work"] or {}).get("share", 1) < 0.1:
        time.sleep(0.1)
    call("DELETE", "/api/nests/{nest}/running")
    while client.get(f"/api/nests/{number}").json()["work"]:
        time.sleep(0.1)
    assert call("GET", "/api/nests/{nest}").json()["laid"]["holds"]
    call("POST", "/api/nests/{nest}/tried")
    assert call("PUT", "/api/nests/{nest}/placements").json()["laid"]["placements"]
    place = {"kind": "escape-wheel", "sheet": 0, "turn_deg": 0}
    grid = [(50, 50), (150, 50), (50, 150), (150, 150)]
    moved = [
        place | {"copy_number": n, "x_mm": x, "y_mm": y} for n, (x, y) in enumerate(grid, start=1)
    ]
    client.put(f"/api/nests/{number}/placements", json={"moved": moved})
    call("POST", "/api/nests/{nest}/jobs")
    names["name"] = "nest.svg"
    call("GET", "/api/nests/{nest}/files/{name}")
    names["name"] = "rates"


@pytest.mark.skipif(not can_typeset(), reason="typst is not installed")
def test_every_address_answers_its_example(client: TestClient) -> None:
    left = operations(client)

    def call(method: str, path: str, **more: Any) -> Any:
        operation = left.pop((method, path))
        body = example(client, operation)
        if body is not None:
            more["json"] = body
        place = path
        for name, value in ({"job": job} | names).items():
            place = place.replace(f"{{{name}}}", value)
        answer = client.request(method, place, **more)
        assert answer.status_code < 300, (method, path, answer.text[:300])
        return answer

    job, names = "", {"name": "rates", "key": HOUR}
    call("POST", "/api/jobs", files=[("files", ("a.dxf", WHEEL.read_bytes()))])
    job = call("POST", "/api/jobs/sample").json()["id"]
    for path in ("/api/about", "/api/names", "/api/jobs", "/api/moved", "/api/tables"):
        call("GET", path)
    nest(client, call, names)
    call("DELETE", "/api/moved")
    waited(client, job, "verdict")
    at = f"/api/jobs/{job}"

    def match() -> dict[str, str]:
        return {"If-Match": str(client.get(at).json()["revision"])}

    call("GET", "/api/jobs/{job}")
    call("PATCH", "/api/jobs/{job}", headers=match())
    call("POST", "/api/jobs/{job}/undo", headers=match())
    call("POST", "/api/jobs/{job}/redo", headers=match())
    call("POST", "/api/jobs/{job}/savings")
    call("POST", "/api/jobs/{job}/stacks")
    names["what"] = "savings"
    call("DELETE", "/api/jobs/{job}/running/{what}")
    call("POST", "/api/jobs/{job}/draft")
    call("POST", "/api/jobs/{job}/proof")
    waited(client, job, "verdict")
    cut = ("cut/path", "cut/pieces", "cut/deviations")
    for path in ("reasons", "geometry", "wire", *cut, "papers", "measured"):
        call("GET", f"/api/jobs/{{job}}/{path}")
    own, job = job, client.post("/api/jobs/sample").json()["id"]
    revision = client.get(f"/api/jobs/{job}").json()["revision"]
    assert changed(client, job, revision, **{"taper H1": "1° out from top"}).status_code == 200
    waited(client, job, "verdict")
    call("GET", "/api/jobs/{job}/cut/space")
    call("GET", "/api/jobs/{job}/cut/walls")
    job = own
    names["name"] = "program.nc"
    call("GET", "/api/jobs/{job}/files/{name}")
    for method in ("PATCH", "POST"):
        revision = client.get(f"{at}/papers").json()["revision"]
        call(method, "/api/jobs/{job}/papers", headers={"If-Match": str(revision)})
    settled(client, f"{at}/papers", lambda desk: bool(desk["files"]))
    names |= {"name": "quote.pdf", "number": "1"}
    call("GET", "/api/jobs/{job}/papers/{name}")
    call("GET", "/api/jobs/{job}/papers/{name}/pages/{number}")
    names["batch"] = call("POST", "/api/jobs/{job}/measured").json()["batch"]
    call("DELETE", "/api/jobs/{job}/measured/{batch}")
    # Beyond twice what the rough pass holds.
    client.post(f"{at}/measured", json={"pass_number": 1, "time": "3 h", "size_error": "90 µm"})
    names |= {"pass_number": "1"}
    call("POST", "/api/jobs/{job}/measured/{pass_number}/confirm")
    # One by which the offset may have been set as the example says.
    client.post(f"{at}/measured", json={"pass_number": 1, "time": "3 h", "size_error": "5 µm"})
    call("POST", "/api/jobs/{job}/measured/offset-set")
    call("POST", "/api/jobs/{job}/measured/{pass_number}/mended")
    names["name"] = "rates"
    call("GET", "/api/tables/{name}")
    call("PUT", "/api/tables/{name}/values/{key}")
    call("DELETE", "/api/tables/{name}/values/{key}")
    names |= {"name": "materials", "row": "material/our-d2"}
    call("POST", "/api/tables/{name}/rows")
    call("DELETE", "/api/tables/{name}/rows/{row}")
    call("POST", "/api/jobs/{job}/places")
    dot = png(np.zeros((1, 1, 3), dtype=np.uint8))
    call("PUT", "/api/jobs/{job}/pinned", files={"file": ("sheet.png", dot)})
    call("GET", "/api/jobs/{job}/pinned")
    call("GET", "/api/jobs/{job}/pinned/pages/{number}")
    call("DELETE", "/api/jobs/{job}/pinned")
    names |= {"number": "1", "other": "2", "name": "estimate.json"}
    of_one = ("", "/reasons", "/against/{other}", "/files/{name}")
    for path in ("", *(f"/{{number}}{what}" for what in of_one)):
        call("GET", f"/api/jobs/{{job}}/versions{path}")
    call("POST", "/api/jobs/{job}/versions/{number}/take-back", headers=match())
    call("PUT", "/api/park")
    call("GET", "/api/park")
    call("POST", "/api/park/downs")
    names["mark"] = call("POST", "/api/jobs/{job}/marks").json()["id"]
    call("DELETE", "/api/jobs/{job}/marks/{mark}")
    call("POST", "/api/week")
    call("DELETE", "/api/week/running")
    settled(client, "/api/week", lambda week: week["tried"] is not None)
    call("POST", "/api/week/keep")
    for path in ("", "/calendar.ics"):
        call("GET", f"/api/week{path}")
    call("DELETE", "/api/week/tried")
    for path in ("/api/numbers", "/api/numbers.csv"):
        call("GET", path)
    call("DELETE", "/api/jobs/{job}")
    names["name"] = job
    call("GET", "/api/removed")
    call("POST", "/api/removed/{name}/bring-back")
    client.delete(at)
    call("DELETE", "/api/removed/{name}")
    assert not left


def test_every_address_of_seats_answers_its_example(tmp_path: Path) -> None:
    with DescribedClient(seated_app(tmp_path), base_url="http://127.0.0.1") as client:
        log_in(client, "owner")
        left = operations(client, of_seats=True)

        def call(method: str, path: str, **names: str) -> Any:
            body = example(client, left.pop((method, path)))
            more = {} if body is None else {"json": body}
            answer = client.request(method, path.format(**names), **more)
            assert answer.status_code < 300, (method, path, answer.text[:300])
            return answer

        call("GET", "/api/session")
        made = call("POST", "/api/seats").json()["name"]
        call("GET", "/api/seats")
        call("PATCH", "/api/seats/{seat}", seat=made)
        call("DELETE", "/api/seats/{seat}", seat=made)
        call("GET", "/api/audit")
        call("GET", "/api/audit.csv")
        body = example(client, left[("POST", "/api/session")])
        client.post("/api/seats", json=body | {"role": "attendant"})
        answer = call("POST", "/api/session")
        client.headers[CHANGE_TOKEN] = answer.json()["change_token"]
        call("PUT", "/api/session/password")
        log_in(client, "guest")
        job = quoted(tmp_path, "ours.dxf", FIRM)
        assert call("GET", "/api/quotes").json()["quotes"]
        call("GET", "/api/quotes/{job}/quote.pdf", job=job)
        call("DELETE", "/api/session")
        assert not left
