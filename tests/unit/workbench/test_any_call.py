"""Whatever is sent to any address, the answer is one that its description names."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from random import Random
from typing import Any
from urllib.parse import quote

import numpy as np
import pytest
from tests.mutants import mutant
from tests.soak import SOAK

from described_client import DescribedClient
from kerfwright.workbench.app import Settings, create_app
from kerfwright.workbench.pdf_pages import png
from page_client import WHEEL, changed, dropped, waited

CALLS = 10_000 if SOAK else 200
_ODD: tuple[Any, ...] = (
    None, True, 0, -1, 1, 2**63, -1e308, 1e308, 0.1, "", " ", "0", "nan", "±", "\x00", "\ud800",
    "../..", "a" * 5000, [], [[]], {}, {"": ""}, [None] * 50,
)  # fmt: skip
_NAMES = (
    " ", "%2e%2e", "%00", "\x00", "a" * 300, "é", "sample", "1e5", "-1", "rates", "quote.pdf",
    "a:b", "x?y=1", "#", "..%5c",
)  # fmt: skip

_SHEETS = (
    png(np.zeros((5, 9), dtype=np.uint8)),
    b"\xff\xd8\xff\xc0\x00\x11\x08\x00\x05\x00\x09\x03\x01\x11\x00",
    (
        b"%PDF-1.4\n1 0 obj\n<</Type/Catalog/Pages 2 0 R>>\nendobj\n"
        b"2 0 obj\n<</Type/Pages/Kids[3 0 R]/Count 1>>\nendobj\n"
        b"3 0 obj\n<</Type/Page/Parent 2 0 R/MediaBox[0 0 90 60]>>\nendobj\n"
        b"trailer\n<</Root 1 0 R>>\n"
    ),
)
"""Small sheets to pin, whole until they are torn."""


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[DescribedClient]:
    app = create_app(Settings(jobs=tmp_path_factory.mktemp("jobs")))
    with DescribedClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False) as found:
        yield found


def bodies(client: DescribedClient, operation: Any) -> list[Any]:
    content = operation.get("requestBody", {}).get("content", {})
    if "application/json" not in content:
        return []
    name = content["application/json"]["schema"]["$ref"].rpartition("/")[2]
    examples: list[Any] = client.document["components"]["schemas"][name]["examples"]
    return examples


def upload(client: DescribedClient, operation: Any) -> tuple[str, bool]:
    """Return the field in which an operation takes files, and whether it takes several."""
    (schema,) = (one["schema"] for one in operation["requestBody"]["content"].values())
    name = schema["$ref"].rpartition("/")[2]
    ((field, about),) = client.document["components"]["schemas"][name]["properties"].items()
    return field, about.get("type") == "array"


def torn(content: bytes, seed: int) -> bytes:
    """Return a file changed in a few places."""
    return mutant(content.decode("latin-1"), seed=seed).encode("latin-1", "replace")


def twisted(value: Any, random: Random) -> Any:
    """Return a document with one of its values, or a key, made something else."""
    whole = copy.deepcopy(value)
    node = whole
    while True:
        if not isinstance(node, dict | list) or not node:
            return random.choice(_ODD)
        keys = list(node) if isinstance(node, dict) else range(len(node))
        key = random.choice(list(keys))
        deeper = isinstance(node[key], dict | list) and node[key] and random.random() < 0.6
        if deeper:
            node = node[key]
            continue
        match random.randrange(4):
            case 0 if isinstance(node, dict):
                del node[key]
            case 1 if isinstance(node, dict):
                node[str(random.choice(_ODD))] = node.pop(key)
            case 2 if isinstance(node[key], str):
                node[key] = mutant(node[key], seed=random.randrange(10**6))
            case _:
                node[key] = random.choice(_ODD)
        return whole


def test_any_call_is_answered_as_described(client: DescribedClient) -> None:
    job = dropped(client)["job"]["id"]
    assert changed(client, job, 1, material="C270", height="6 mm").status_code == 200
    waited(client, job, "verdict")
    operations = [
        (method, path, one)
        for path, methods in sorted(client.document["paths"].items())
        for method, one in sorted(methods.items())
    ]
    statuses: set[int] = set()
    taken: set[str] = set()
    for seed in range(CALLS):
        random = Random(seed)  # noqa: S311 no secret
        method, path, operation = operations[seed % len(operations)]
        if (method, path) == ("delete", "/api/jobs/{job}"):
            continue
        at = path
        for parameter in operation.get("parameters", ()):
            name = parameter["name"]
            if parameter["in"] == "path":
                sound = job if name == "job" else random.choice(_NAMES)
                said = random.choice(_NAMES) if random.random() < 0.1 else sound
                at = at.replace(f"{{{name}}}", quote(said, safe=""))
        if "{" in at:
            at = at.replace("{job}", job)
        more: dict[str, Any] = {
            "headers": {"If-Match": random.choice(("1", '"2"', "x", '"9"', ""))}
        }
        examples = bodies(client, operation)
        if examples:
            body = twisted(random.choice(examples), random)
            text = json.dumps(body)
            more["content"] = mutant(text, seed=seed) if random.random() < 0.2 else text
            more["headers"]["Content-Type"] = "application/json"
        elif "requestBody" in operation:
            field, is_list = upload(client, operation)
            name = random.choice((*_NAMES, "a.dxf")) or "b"
            sound = WHEEL.read_bytes() if is_list else random.choice(_SHEETS)
            more["files"] = [(field, (name, torn(sound, seed)))]
        try:
            answer = client.request(method.upper(), at, **more)
        except UnicodeEncodeError:
            # A header or an address that no client can send.
            continue
        statuses.add(answer.status_code)
        if "files" in more:
            # The file itself is looked at, and its field found.
            taken.add(answer.json()["code"] if answer.is_client_error else "")
        assert answer.status_code < 500, f"seed {seed}: {method} {at}: {answer.text[:300]}"
    assert {200, 404, 422} <= statuses
    assert taken <= {"", "pinned-broken", "pinned-kind", "job-unknown"}
    assert client.get(f"/api/jobs/{job}").status_code == 200


def test_any_sheet_is_pinned_or_refused_and_never_half(client: DescribedClient) -> None:
    at = f"/api/jobs/{dropped(client)['job']['id']}/pinned"
    shown, codes = None, set()
    for seed in range(CALLS // 4):
        sheet = torn(_SHEETS[seed % len(_SHEETS)], seed)
        answer = client.put(at, files={"file": (f"{seed}.pdf", sheet)})
        if answer.status_code == 200:
            shown = answer.json()
        else:
            assert answer.status_code == 422, f"seed {seed}: {answer.text[:300]}"
            codes.add(answer.json()["code"])
        # What is refused leaves what was pinned before.
        assert client.get(at).json() == (shown or {"pinned": None}), f"seed {seed}"
    assert shown is not None
    assert {"pinned-kind", "pinned-broken"} <= codes
