"""Whatever is sent to any address, the answer is one that its description names."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from random import Random
from typing import Any
from urllib.parse import quote

import pytest
from tests.mutants import mutant
from tests.soak import SOAK

from described_client import DescribedClient
from kerfwright.workbench.app import Settings, create_app
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
            text = mutant(WHEEL.read_text("utf-8"), seed=seed)
            more["files"] = [("files", (random.choice((*_NAMES, "a.dxf")) or "b", text.encode()))]
        try:
            answer = client.request(method.upper(), at, **more)
        except UnicodeEncodeError:
            # A header or an address that no client can send.
            continue
        statuses.add(answer.status_code)
        assert answer.status_code < 500, f"seed {seed}: {method} {at}: {answer.text[:300]}"
    assert {200, 404, 422} <= statuses
    assert client.get(f"/api/jobs/{job}").status_code == 200
